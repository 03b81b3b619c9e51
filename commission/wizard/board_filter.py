"""Which units the board shows: all, failing, stopped, with readings missing, or mine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QPushButton

from commission.language import spoken, to_say
from commission.validation.results import SectionState
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import button, label, stretch_last, wrapping_row

if TYPE_CHECKING:
    from commission.wizard.board_model import PageState

ALL = "all"
FILTERS = (
    (ALL, to_say("All")),
    ("failing", to_say("Failing")),
    ("stopped", to_say("Stopped")),
    ("missing", to_say("Missing")),
    ("mine", to_say("Mine")),
)
KEYS = {str(number): name for number, (name, _) in enumerate(FILTERS, start=1)}
"""The table's keys 1 to 5."""

_NONE = {
    "failing": to_say("No unit fails."),
    "stopped": to_say("No unit is stopped."),
    "missing": to_say("No unit has a reading missing."),
    "mine": to_say("Nothing here is recorded by {name} or theirs to put right."),
}
_UNREAD = (SectionState.MISSING, SectionState.EMPTY)


def _fails(pages: Sequence[PageState]) -> bool:
    return any(page.failed or page.state is SectionState.FAILING for page in pages)


def _stops(pages: Sequence[PageState]) -> bool:
    return any(page.state is SectionState.STOPPED for page in pages)


def _misses(pages: Sequence[PageState]) -> bool:
    return any(page.state in _UNREAD for page in pages)


BY_STATE: Mapping[str, Callable[[Sequence[PageState]], bool]] = {
    "failing": _fails,
    "stopped": _stops,
    "missing": _misses,
}


def mine(document: Document, unit_ids: Iterable[str]) -> frozenset[str]:
    """Return the units with a reading in force recorded by who records now, or their deficiency.

    Nobody's name owns nothing.

    Args:
        unit_ids: where to look, "" for the project's own pages; their results are worked out.
    """
    person = document.session.person_id
    if not person:
        return frozenset()
    name = document.person_name(person).casefold()
    found = {
        one.unit_id
        for one in document.session.project.deficiencies()
        if one.status == "open" and one.owner.strip().casefold() == name
    }
    for unit_id in unit_ids:
        section = document.form.section_of
        readings = document.results(unit_id).readings or {}
        if any(
            reading.person_id == person and (section(key.name).level == "unit") == bool(unit_id)
            for key, reading in readings.items()
        ):
            found.add(unit_id)
    return frozenset(found)


class BoardFilter(QFrame):
    """One button for each filter, with how many units it would show.

    Signals:
        chosen: the name of a filter.
    """

    chosen = Signal(str)

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self._document = document
        self.buttons: dict[str, QPushButton] = {}
        line = wrapping_row(appearance.px(4))
        for number, (name, words) in enumerate(FILTERS, start=1):
            made = button(spoken(words), partial(self.chosen.emit, name), "quiet")
            made.setCheckable(True)
            made.setChecked(name == ALL)
            made.setToolTip(spoken("Key {number} in the table", number=number))
            self.buttons[name] = made
            line.addWidget(made)
        self.nothing = label("", "muted", wraps=False)
        self.nothing.hide()
        line.addWidget(self.nothing)
        self.setLayout(stretch_last(line))

    def refresh(self, chosen: str, counts: Mapping[str, int], is_empty: bool) -> None:
        """Show which filter is chosen and how many units each shows."""
        for name, words in FILTERS:
            made = self.buttons[name]
            made.setChecked(name == chosen)
            count = counts.get(name)
            text = spoken(words)
            made.setText(f"{text} ({count})" if count is not None else text)
        self.nothing.setText(self._nothing(chosen) if is_empty else "")
        self.nothing.setVisible(is_empty)

    def _nothing(self, chosen: str) -> str:
        name = self._document.person_name(self._document.session.person_id)
        if chosen == "mine" and not name:
            return spoken("Nobody is named: say who records (Ctrl+Shift+N).")
        return spoken(_NONE.get(chosen, to_say("No unit.")), name=name)
