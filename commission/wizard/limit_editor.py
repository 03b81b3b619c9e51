"""The limit of a check, edited where its verdict stands: parts, and where they come from."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QFrame, QGridLayout, QLineEdit, QWidget

from commission.definitions.model import Check, Field, Key, Kind
from commission.errors import CommissionError
from commission.formula.evaluate import State
from commission.language import spoken, to_say
from commission.units import convert, shown_unit
from commission.validation.entry import understand
from commission.validation.verdict import Outcome
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.document import Document
from commission.wizard.parts import button, hint, label, stretch_last, wrapping_row

_BACK_ALL = to_say("The default counts again, or the project's limit, or none")
_BACK_ONE = to_say("The default of this one counts again, or the project's limit, or none")
_BACK_EVERY = to_say("The default of all counts again, or the project's limit, or none")

_PART_WORDS = {
    "low": to_say("Low"),
    "high": to_say("High"),
    "target": to_say("Target"),
    "tolerance": to_say("Tolerance, plus or minus"),
    "tolerance_percent": to_say("Tolerance, plus or minus percent of target"),
}


class LimitEditor(QFrame):
    """Inputs for the parts of one check's limit and for its origin."""

    done = Signal()

    def __init__(
        self, document: Document, unit_id: str, key: Key, appearance: Appearance, parent: QWidget
    ) -> None:
        super().__init__(parent)
        self.setProperty("role", "nested")
        self._document = document
        self._unit_id = unit_id
        self._key = key
        self._check: Check = document.check_of(key.name)
        self._system = document.results(unit_id).unit_system
        self.parts: dict[str, QLineEdit] = {}
        self._px = appearance.px
        self._label_width = appearance.px(184)
        self.origin = QLineEdit()
        self.refusal = label("", "error")
        self.refusal.hide()
        self.shared = label(
            spoken(
                "Entered for the whole project. It counts here until this unit has a limit of its "
                "own."
            ),
            "muted",
        )
        self.everywhere = QCheckBox(spoken("For all of them, not only this one"))
        self.everywhere.setChecked(True)
        self._build(appearance)
        self.everywhere.setVisible(bool(key.index))
        self._fill()

    def _build(self, appearance: Appearance) -> None:
        grid = QGridLayout(self)
        edge = appearance.px(12)
        grid.setContentsMargins(edge, edge, edge, edge)
        grid.setHorizontalSpacing(appearance.px(10))
        grid.setVerticalSpacing(appearance.px(8))
        grid.setColumnStretch(1, 1)
        for part in self._check.parts:
            self.parts[part] = line = QLineEdit()
            line.setFixedWidth(appearance.px(130))
            self._add(grid, spoken(_PART_WORDS[part]), line, self._unit_of(part))
            line.returnPressed.connect(self.save)
        hint(self.origin, spoken("Document, page, date"))
        self._add(grid, spoken("Where it comes from"), self.origin, "")
        self.origin.returnPressed.connect(self.save)
        grid.addWidget(self.everywhere, grid.rowCount(), 1, 1, 2)
        grid.addWidget(self.shared, grid.rowCount(), 0, 1, 3)
        grid.addWidget(self.refusal, grid.rowCount(), 0, 1, 3)
        buttons = wrapping_row(appearance.px(8))
        self.keep = button(spoken("Keep this limit"), self.save, "primary")
        self.confirm = button(spoken("Confirm the default"), self.confirm_default)
        self.back = button(spoken("Take it back"), self.take_back)
        self.close_button = button(spoken("Close"), self.done.emit, "quiet")
        for made in (self.keep, self.confirm, self.back, self.close_button):
            buttons.addWidget(made)
        grid.addLayout(stretch_last(buttons), grid.rowCount(), 0, 1, 3)

    def _add(self, grid: QGridLayout, words: str, line: QLineEdit, unit: str) -> None:
        place = grid.rowCount()
        named = label(words)
        named.setFixedWidth(self._label_width)
        named.setBuddy(line)
        line.setAccessibleName(f"{self._check.label}: {words}")
        line.setAccessibleDescription(unit)
        grid.addWidget(named, place, 0)
        if unit or line is not self.origin:
            value = wrapping_row(self._px(8))
            value.addWidget(line)
            value.addWidget(label(unit, "unit", wraps=False))
            value.addStretch(1)
            grid.addLayout(value, place, 1, 1, 2)
        else:
            grid.addWidget(line, place, 1, 1, 2)

    def _unit_of(self, part: str) -> str:
        if part == "tolerance_percent":
            return "%"
        return shown_unit(self._stored_unit(part), self._system)

    def _stored_unit(self, part: str) -> str:
        if part == "tolerance_percent":
            return "%"
        if part == "tolerance" and self._check.unit == "°F":
            return "Δ°F"
        return self._check.unit

    def _fill(self) -> None:
        limit = self._document.results(self._unit_id).limit(*self._key)
        for part, line in self.parts.items():
            number = limit.parts[part].number
            if number is not None:
                stored, shown = self._stored_unit(part), self._unit_of(part)
                value = convert(number, stored, shown) if stored else number
                line.setText(f"{value:.6g}")
        if not limit.is_default:
            self.origin.setText(limit.origin)
        self.confirm.setVisible(limit.is_default)
        entered = self._entered_key()
        self.back.setVisible(entered is not None)
        if entered is not None:
            whose = _BACK_ALL
            if self._key.index:
                whose = _BACK_ONE if entered.index else _BACK_EVERY
            self.back.setToolTip(spoken(whose))
            self.everywhere.setChecked(not entered.index)
        limits = self._document.results(self._unit_id).calculation.limits
        is_shared = entered is None and bool({self._key, Key(self._key.name)} & set(limits))
        self.shared.setVisible(is_shared)

    def _is_computed(self, part: str) -> bool:
        """Return whether a part comes from the form's own formula, and nobody has entered it."""
        limits = self._document.results(self._unit_id).calculation.limits
        entered = limits.get(self._key) or limits.get(Key(self._key.name))
        is_entered = entered is not None and part in entered.parts
        return getattr(self._check, part) is not None and not is_entered

    def _typed_parts(self, parts: dict[str, float]) -> dict[str, float]:
        """Leave out what the form computes and nobody typed: it may differ from member to member.

        A limit kept exactly as it was shown is meant as it was shown.
        """
        typed = {
            part: number
            for part, number in parts.items()
            if self.parts[part].isModified() or not self._is_computed(part)
        }
        return typed or parts

    def _entered_key(self) -> Key | None:
        """Return where this unit's own limit is entered: for this member, for all, or None."""
        limits = self._document.session.project.limits(self._unit_id)
        own, shared = self._key, Key(self._key.name)
        return next((key for key in (own, shared) if tuple(key) in limits), None)

    def _target_key(self) -> Key:
        return Key(self._key.name) if self.everywhere.isChecked() else self._key

    def start(self) -> None:
        """Put the cursor into the first part."""
        first = next(iter(self.parts.values()), self.origin)
        first.setFocus(Qt.FocusReason.ShortcutFocusReason)
        first.selectAll()

    def save(self) -> None:
        """Keep the parts as typed, or say why not."""
        parts: dict[str, float] = {}
        faults: list[str] = []
        for part, line in self.parts.items():
            try:
                meant = understand(self._as_field(part), line.text(), self._system)
            except CommissionError as error:
                faults.append(str(error))
                set_role(line, "error", "tone")
                continue
            set_role(line, "", "tone")
            if isinstance(meant.content, float):
                parts[part] = meant.content
            else:
                faults.append(spoken("{part}: enter a number.", part=spoken(_PART_WORDS[part])))
        if faults:
            self._refuse(" ".join(faults))
            return
        refusal = self._document.set_limit(
            self._unit_id, self._target_key(), self._typed_parts(parts), self.origin.text()
        )
        self._finish(refusal)

    def _as_field(self, part: str) -> Field:
        unit = self._stored_unit(part)
        return Field(part, _PART_WORDS[part], Kind.NUMBER, self._check.section, unit=unit)

    def confirm_default(self) -> None:
        """Record that the default limit is right as it stands."""
        key = self._target_key()
        self._finish(
            self._document.set_limit(self._unit_id, key, {}, self.origin.text(), confirmed=True)
        )

    def take_back(self) -> None:
        """Withdraw what was entered."""
        entered = self._entered_key()
        if entered is not None:
            self._finish(self._document.clear_limit(self._unit_id, entered))

    def _finish(self, refusal: str) -> None:
        if refusal:
            self._refuse(refusal)
        else:
            self.done.emit()

    def _refuse(self, sentence: str) -> None:
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def keyPressEvent(self, event) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.done.emit()
        else:
            super().keyPressEvent(event)


def limit_words(document: Document, unit_id: str, key: Key) -> str:
    """Return a limit and its origin in one line: "Limit: at most 2.0 % (default, ...)"."""
    results = document.results(unit_id)
    verdict = results.verdict(*key)
    check = verdict.check
    if not check.parts:
        return spoken("Must be: {expected}", expected=spoken(check.expected))
    text = results.limit_text(verdict)
    if not text:
        no_limit = verdict.outcome is Outcome.MISSING and verdict.value.state is State.KNOWN
        waiting = verdict.sentence if no_limit else ""
        return waiting or spoken("No limit yet: enter it from the unit's literature.")
    origin = verdict.limit.origin
    if verdict.limit.is_default:
        limit = text.rstrip(".")
        return spoken(
            "Limit: {limit}. Default, not confirmed ({origin})", limit=limit, origin=origin
        )
    if verdict.limit.confirmed:
        return spoken("Limit: {limit} (default, confirmed; {origin})", limit=text, origin=origin)
    return spoken("Limit: {limit} ({origin})", limit=text, origin=origin)


def origin_words(document: Document, unit_id: str, key: Key) -> str:
    """Return where a limit comes from, for below a sentence that names the limit already."""
    limit = document.results(unit_id).limit(*key)
    if limit.is_default:
        return spoken("The limit is a default, not confirmed: {origin}", origin=limit.origin)
    if limit.confirmed:
        return spoken("The limit is a default, confirmed: {origin}", origin=limit.origin)
    return spoken("Limit from: {origin}", origin=limit.origin) if limit.origin else ""
