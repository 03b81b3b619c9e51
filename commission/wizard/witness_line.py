"""One reading of a sample at the window: recorded, witnessed, and what comes of it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout

from commission.definitions.model import Field
from commission.language import spoken
from commission.validation.sentences import pass_words
from commission.validation.witnessing import (
    Agreement,
    Witnessed,
    shown_difference,
    shown_value,
)
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.inputs import input_for
from commission.wizard.instruments import InstrumentPicker, instrument_name
from commission.wizard.parts import SignLabel, column, label, reveal, stretch_last, wrapping_row
from commission.wizard.sign import Sign

_SIGNS = {
    Agreement.AGREES: ("pass", "done"),
    Agreement.DIFFERS: ("fail", "fail"),
    Agreement.UNDECIDED: ("inconclusive", "inconclusive"),
    Agreement.AWAITED: ("missing", "missing"),
    Agreement.GONE: ("not_applicable", "missing"),
}


class WitnessLine(QFrame):
    """A line of the sample.

    Signals:
        entered: the line, and what was typed.
        instrument_picked: the line, and the instrument's id.
    """

    entered = Signal(object, str)
    instrument_picked = Signal(object, str)

    def __init__(
        self, document: Document, unit_id: str, line: Witnessed, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "entry")
        self._document = document
        self._unit_id = unit_id
        self.key = line.key
        asked = document.session.plan.entries[line.key.name]
        assert isinstance(asked, Field)
        self._asked = asked
        px = appearance.px
        name = document.results(unit_id).label(line.key)
        self.recorded = label("", "muted")
        self.input = input_for(asked, appearance, self)
        self.input.set_name(spoken("{name}: as the witness reads it", name=name), "")
        self.instrument = InstrumentPicker(document, asked.instrument, name, appearance, self)
        self.sign = SignLabel(appearance)
        self.outcome = label("", "muted")
        self.refusal = label("", "error")
        self.refusal.hide()
        self._lay_out(name, px)
        self.input.entered.connect(lambda text: self.entered.emit(self, text))
        self.instrument.picked.connect(lambda chosen: self.instrument_picked.emit(self, chosen))
        self.show_line(line)

    def _lay_out(self, name: str, px) -> None:
        words = column(px(2))
        words.addWidget(label(name))
        words.addWidget(self.recorded)
        typed = wrapping_row(px(8))
        typed.addWidget(self.input)
        unit = self._document.results(self._unit_id).shown_unit(self._asked.name)
        typed.addWidget(label(unit, "unit", wraps=False))
        told = column(px(2))
        told.addWidget(self.sign, 0, Qt.AlignmentFlag.AlignLeft)
        told.addWidget(self.outcome)
        told.addWidget(self.refusal)
        grid = QGridLayout(self)
        grid.setContentsMargins(px(12), px(8), px(12), px(8))
        grid.setHorizontalSpacing(px(12))
        for place, share in enumerate((5, 0, 4)):
            grid.setColumnStretch(place, share)
        grid.addLayout(words, 0, 0)
        middle = column(px(4))
        middle.addLayout(stretch_last(typed))
        if self._asked.instrument:
            middle.addWidget(self.instrument)
        else:
            self.instrument.hide()
        grid.addLayout(middle, 0, 1)
        grid.setColumnMinimumWidth(1, px(250))
        grid.addLayout(told, 0, 2)

    @property
    def kind(self) -> str:
        """The kind of instrument that the reading asks for; "" for none."""
        return self._asked.instrument

    def propose(self, instrument_id: str) -> None:
        """Show the instrument that a witness's next reading of this kind is taken with."""
        if not self.input.text():
            self.instrument.refill(instrument_id)

    def show_line(self, line: Witnessed) -> None:
        """Show what is known of the reading now."""
        results = self._document.results(self._unit_id)
        self.recorded.setText(self._recorded_words(line))
        if line.witnessed is not None:
            entered = line.witnessed.entered or shown_value(results, line.key, line.witnessed.value)
            self.input.set_stored(entered)
            self.instrument.refill(line.witnessed.instrument_id)
        else:
            self.input.set_stored("")
        picture, colour = _SIGNS[line.agreement]
        self.sign.show_sign(Sign(picture, spoken(line.agreement), colour))
        self.outcome.setText(self._outcome_words(line))
        self.input.setEnabled(line.agreement is not Agreement.GONE)

    def _recorded_words(self, line: Witnessed) -> str:
        if line.recorded is None:
            return spoken("Nothing is recorded any more.")
        project = self._document.session.project
        instruments = {one.id: instrument_name(one) for one in project.instruments()}
        parts = (
            shown_value(self._document.results(self._unit_id), line.key, line.recorded.value),
            pass_words(line.recorded.pass_name),
            self._document.person_name(line.recorded.person_id),
            instruments.get(line.recorded.instrument_id, ""),
        )
        return spoken("Recorded: {told}", told=", ".join(part for part in parts if part))

    def _outcome_words(self, line: Witnessed) -> str:
        results = self._document.results(self._unit_id)
        told = []
        if line.difference is not None:
            difference = shown_difference(results, line.key, line.difference)
            told.append(spoken("difference {difference}", difference=difference))
        if line.bound is not None:
            bound = shown_difference(results, line.key, line.bound)
            told.append(spoken("at most {bound}", bound=bound))
        if line.why:
            told.append(line.why)
        if line.witnessed is not None:
            told.append(self._document.person_name(line.witnessed.person_id))
        if not line.in_sample:
            told.append(spoken("not of the sample"))
        return ", ".join(part for part in told if part)

    def refuse(self, sentence: str) -> None:
        """Say why what was typed is not kept; "" for no refusal."""
        self.refusal.setText(sentence)
        reveal(self.refusal, bool(sentence))
        self.input.set_tone("error" if sentence else "")
        if sentence:
            self.input.reject_text()
