"""As found, as left and retests of one reading or value, beside one another on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QWidget

from commission.definitions.model import Field, Key
from commission.formula.evaluate import State
from commission.language import spoken
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import SignLabel, clear, label, reveal, wrapping_row
from commission.wizard.sign import Sign
from commission.wizard.states import sign_of


@dataclass(frozen=True, slots=True)
class AtPass:
    """How something stood after one pass; `counts` marks the pass that is in force."""

    pass_name: str
    value: str
    sign: Sign | None = None
    counts: bool = False


def by_pass(document: Document, unit_id: str, key: Key, checks: Sequence[Key] = ()) -> list[AtPass]:
    """Return how a field, quantity or check stood at each pass in which it changed, oldest first.

    Fewer than two passes are no comparison: then the list is empty.
    """
    names = document.passes.names(unit_id)
    if len(names) < 2:
        return []
    live = document.results(unit_id)
    found: list[AtPass] = []
    for name in names:
        results = live if name == names[-1] else document.passes.at(unit_id, name)
        if _is_of_pass(document, results, key, name, first=not found):
            found.append(_at(results, key, checks, name))
    if len(found) < 2:
        return []
    last = found[-1]
    return [*found[:-1], AtPass(last.pass_name, last.value, last.sign, True)]


def _is_of_pass(
    document: Document, results: UnitResults, key: Key, name: str, *, first: bool
) -> bool:
    """Whether something was read anew in a pass, or rests on what was."""
    plan = document.session.plan
    if key.index not in results.members(key.name) or not results.relevant(*key):
        return False
    if isinstance(plan.entries[key.name], Field):
        reading = results.reading(*key)
        return reading is not None and not reading.is_unread and reading.pass_name == name
    used = plan.used_by(key.name)
    state = results.value(*key).state
    if first and state is State.KNOWN:
        return True
    return any(
        reading.pass_name == name for at, reading in (results.readings or {}).items()
        if at.name in used
    )  # fmt: skip


def _at(results: UnitResults, key: Key, checks: Sequence[Key], name: str) -> AtPass:
    verdicts = results.calculation.verdicts
    judged = [verdicts[one] for one in checks if one in verdicts and results.relevant(*one)]
    shown = results.shown(*key) if key.name not in {one.name for one in checks} else ""
    sign = sign_of(judged[0]) if judged else None
    return AtPass(name, shown, sign)


class PassesLine(QWidget):
    """One row of passes; not there while there is but one."""

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__()
        self._document = document
        self._unit_id = unit_id
        self._key = key
        self._appearance = appearance
        self.shown: list[AtPass] = []
        self._line = wrapping_row(appearance.pad(24))
        self.setLayout(self._line)
        self.hide()

    def refresh(self, checks: Sequence[Key] = ()) -> None:
        """Show the passes as they are now."""
        passes = self._document.passes
        if passes.is_held_back and not passes.is_ready(self._unit_id):
            return
        found = by_pass(self._document, self._unit_id, self._key, checks)
        if found != self.shown:
            self.shown = found
            self._rebuild()
        reveal(self, bool(found))

    def words(self) -> str:
        """Return all that is shown, for assistive technology."""
        return "; ".join(
            ", ".join(filter(None, (_title(one), one.value, one.sign.word if one.sign else "")))
            for one in self.shown
        )

    def _rebuild(self) -> None:
        clear(self._line)
        self.setAccessibleName(spoken("Passes side by side: {words}", words=self.words()))
        for one in self.shown:
            self._line.addWidget(self._part(one))
        self._line.addStretch(1)

    def _part(self, one: AtPass) -> QWidget:
        part = QWidget()
        grid = QGridLayout(part)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(self._appearance.px(1))
        grid.addWidget(label(_title(one), "muted", wraps=False), 0, 0)
        below = wrapping_row(self._appearance.px(8))
        if one.value:
            below.addWidget(label(one.value, "" if one.counts else "past", wraps=False))
        if one.sign is not None:
            sign = SignLabel(self._appearance, 16)
            sign.show_sign(one.sign)
            below.addWidget(sign)
        grid.addLayout(below, 1, 0, Qt.AlignmentFlag.AlignLeft)
        return part


def _title(one: AtPass) -> str:
    words = pass_words(one.pass_name)
    words = words[:1].upper() + words[1:]
    return spoken("{pass_name} (counts now)", pass_name=words) if one.counts else words
