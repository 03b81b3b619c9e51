"""What has changed, shown: the line at hand at once, the others between rounds of the loop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from PySide6.QtCore import QObject

from commission.definitions.model import Key
from commission.wizard.document import Document
from commission.wizard.entry_row import EntryRow
from commission.wizard.grid import GridBlock
from commission.wizard.slices import Slices

Line = EntryRow | GridBlock


@dataclass(frozen=True, slots=True)
class Change:
    """Keys that were computed anew (None: any may have been), and whether anything was stored."""

    keys: frozenset[Key] | None
    is_stored: bool = True

    def joined(self, later: Change) -> Change:
        """Return this change and a later one as one."""
        all_keys = None if self.keys is None or later.keys is None else self.keys | later.keys
        return Change(all_keys, self.is_stored or later.is_stored)


class Following(QObject):
    """Lets lines follow a change, those before one's eyes first, and never holds up the next key.

    Args:
        is_in_view: whether a line can be seen now.
    """

    def __init__(
        self, document: Document, is_in_view: Callable[[Line], bool], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._is_in_view = is_in_view
        self._due: dict[Line, Change] = {}
        self._slices = Slices(self)

    def follow(self, lines: Iterable[Line], at_hand: Line | None, change: Change) -> None:
        """Show a change in the line at hand now, in the others as soon as there is time."""
        for line in lines:
            due = self._due.get(line)
            self._due[line] = due.joined(change) if due is not None else change
        if at_hand is not None and at_hand in self._due:
            self._show(at_hand)
        if self._due:
            self._slices.begin(self._others())

    def is_under_way(self) -> bool:
        """Return whether lines still have to follow."""
        return bool(self._due)

    def settle(self) -> None:
        """Show now all that is due."""
        self._slices.finish()

    def forget(self) -> None:
        """Let nothing be due: all of it was shown anew, or is taken away."""
        self._slices.stop()
        self._due.clear()

    def _others(self) -> Iterator[None]:
        while self._due:
            seen = next(filter(self._is_in_view, self._due), None)
            self._show(seen if seen is not None else next(iter(self._due)))
            yield

    def _show(self, line: Line) -> None:
        change = self._due.pop(line)
        with self._document.passes.held_back():
            line.refresh(change.keys, stored=change.is_stored)
