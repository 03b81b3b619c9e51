"""Witnessing: a sample drawn over a unit's readings, and a second person's readings beside them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QScrollArea, QVBoxLayout, QWidget

from commission.definitions.model import Key
from commission.errors import CommissionError, ReadingError
from commission.language import spoken, to_say
from commission.validation.entry import parse_number
from commission.validation.witness_entry import draw_for, enter_witnessed
from commission.validation.witnessing import RULE, USUAL_SHARE, Verification, verification
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.parts import bounded, button, clear, column, label, reveal, row, wrapping_row
from commission.wizard.witness_line import WitnessLine

_INTRO = to_say(
    "A second person reads a sample of the readings again. What they read stands beside what was "
    "recorded and replaces nothing."
)
_AGAIN = to_say("Draw another sample")


class WitnessPlace(QWidget):
    """Who witnesses which unit, the sample, and one line for each of its readings."""

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._appearance = appearance
        self.unit_id = ""
        self.witness_id = ""
        self.lines: dict[Key, WitnessLine] = {}
        self._instruments: dict[str, str] = {}
        px = appearance.px
        self.units, self.witnesses = Choice(appearance), Choice(appearance)
        self.share = QLineEdit(f"{100 * USUAL_SHARE:g}")
        self.share.setFixedWidth(px(64))
        self.share.setAccessibleName(spoken("Share of the readings, percent"))
        self.draw_button = button(spoken("Draw a sample"), self.draw, "primary")
        self.sentence = label("")
        self.refusal = label("", "error")
        self.refusal.hide()
        self._lay_out(px)
        self.units.activated.connect(self._unit_chosen)
        self.witnesses.activated.connect(self._witness_chosen)
        self.share.returnPressed.connect(self.draw)
        for signal in (document.units_changed, document.replaced):
            signal.connect(self._refresh_if_seen)

    def _lay_out(self, px) -> None:
        head = wrapping_row(px(10))
        for words, widget in (
            (spoken("Unit"), self.units),
            (spoken("Witnessed by"), self.witnesses),
        ):
            named = label(words, wraps=False)
            named.setBuddy(widget)
            widget.setAccessibleName(words)
            widget.setMinimumWidth(px(150))
            pair = row(px(10))
            pair.addWidget(named)
            pair.addWidget(widget, 1)
            head.addLayout(pair, 1)
        head.addWidget(self.share)
        head.addWidget(label("%", wraps=False))
        head.addWidget(self.draw_button)
        content = QWidget()
        content.setObjectName("ground")
        inner = QWidget()
        self.column = column()
        inner.setLayout(self.column)
        holder = QVBoxLayout(content)
        holder.setContentsMargins(0, 0, 0, 0)
        holder.addLayout(bounded(inner, px(1080)))
        holder.addStretch(1)
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setWidget(content)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(8))
        layout.addWidget(label(spoken("Witness"), "title"))
        layout.addWidget(label(spoken(_INTRO)))
        layout.addLayout(head)
        layout.addWidget(self.sentence)
        layout.addWidget(self.refusal)
        layout.addWidget(label(spoken(RULE), "muted"))
        layout.addWidget(self.area, 1)

    # -- showing -------------------------------------------------------------------

    def _refresh_if_seen(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Show units, people and the sample as they are now."""
        ids = [unit.id for unit in self._document.units()]
        if self.unit_id not in ids:
            self.unit_id = ids[0] if ids else ""
        fill(self.units, [(self._document.tag(one), one) for one in ids], self.unit_id)
        people = [(one.name, one.id) for one in self._document.session.project.people()]
        fill(self.witnesses, [(spoken("nobody"), ""), *people], self.witness_id)
        self.draw_button.setEnabled(bool(ids))
        found = self._found()
        self._show(found)
        self.draw_button.setText(spoken(_AGAIN) if found.draw else spoken("Draw a sample"))

    def _found(self) -> Verification:
        if not self.unit_id:
            return Verification(None, ())
        session = self._document.session
        return verification(session.project, session.results(self.unit_id))

    def _show(self, found: Verification) -> None:
        self.sentence.setText(found.sentence)
        if list(self.lines) != [line.key for line in found.lines]:
            clear(self.column)
            self.lines = {}
            for line in found.lines:
                made = WitnessLine(self._document, self.unit_id, line, self._appearance)
                made.entered.connect(self._entered)
                made.instrument_picked.connect(self._picked)
                made.input.wants_next.connect(self._next)
                self.lines[line.key] = made
                self.column.addWidget(made)
        else:
            for line in found.lines:
                self.lines[line.key].show_line(line)
        self._propose()

    def start(self) -> None:
        """Put the focus where work goes on: who witnesses, the draw, or the next line."""
        waiting = [line for line in self.lines.values() if not line.input.text()]
        if not self.witness_id:
            self.witnesses.setFocus(Qt.FocusReason.OtherFocusReason)
        elif waiting:
            waiting[0].input.editor().setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.draw_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _next(self) -> None:
        """Go on to the next reading of the sample."""
        lines = list(self.lines.values())
        here = next((n for n, one in enumerate(lines) if one.input is self.sender()), None)
        if here is not None and here + 1 < len(lines):
            editor = lines[here + 1].input.editor()
            editor.setFocus(Qt.FocusReason.TabFocusReason)
            self.area.ensureWidgetVisible(lines[here + 1])

    # -- choosing, drawing ---------------------------------------------------------

    def _unit_chosen(self, place: int) -> None:
        self.unit_id = str(self.units.itemData(place) or "")
        clear(self.column)
        self.lines = {}
        self.refuse("")
        self.refresh()

    def _witness_chosen(self, place: int) -> None:
        self.witness_id = str(self.witnesses.itemData(place) or "")

    def draw(self) -> None:
        """Draw a sample over the unit's readings; an earlier one stays in the file's rows."""
        refusal = self._document.attempt(
            lambda: draw_for(self._document.session, self.unit_id, self._typed_share()),
            spoken("The sample is drawn. Undo takes it back."),
        )
        self.refuse(refusal)
        if not refusal:
            self._kept()
            self.start()

    def _typed_share(self) -> float:
        number, rest, _ = parse_number(self.share.text())
        if rest.strip() not in ("", "%"):
            raise ReadingError(spoken("Share of the readings: enter a percentage, such as 20."))
        return number / 100

    # -- entering ------------------------------------------------------------------

    def _entered(self, line: WitnessLine, text: str) -> None:
        self._store(line, text, str(line.instrument.currentData() or ""))

    def _picked(self, line: WitnessLine, instrument_id: str) -> None:
        self._instruments[line.kind] = instrument_id
        self._propose()
        if line.input.text().strip():
            self._store(line, line.input.text(), instrument_id)

    def _propose(self) -> None:
        for line in self.lines.values():
            line.propose(self._instruments.get(line.kind, ""))

    def _store(self, line: WitnessLine, text: str, instrument_id: str) -> None:
        try:
            enter_witnessed(
                self._document.session,
                self.unit_id,
                line.key,
                text,
                person_id=self.witness_id,
                instrument_id=instrument_id,
            )
        except CommissionError as error:
            line.refuse(str(error))
            return
        line.refuse("")
        self._kept()

    def _kept(self) -> None:
        self._document.committed.emit(self.unit_id, frozenset())
        self.refresh()

    def refuse(self, sentence: str) -> None:
        """Say why no sample is drawn; "" for no refusal."""
        self.refusal.setText(sentence)
        reveal(self.refusal, bool(sentence))
