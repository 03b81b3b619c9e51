"""Work that takes longer than a blink, done piece by piece while the window goes on answering."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from PySide6.QtCore import QObject, QTimer, Signal

_TURN_S = 0.005


class Slices(QObject):
    """Takes pieces of an iterator, for a few milliseconds in each round of the event loop.

    Signals:
        turned: a few pieces are done; the window has its turn.
    """

    turned = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._pieces: Iterator[None] | None = None
        self._is_working = False
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self.turn)

    def begin(self, pieces: Iterator[None]) -> None:
        """Take up a work, in the place of one that is under way; it yields after each piece."""
        self._pieces = pieces
        self._timer.start()

    def is_under_way(self) -> bool:
        """Return whether something is still to be done."""
        return self._pieces is not None

    def turn(self) -> None:
        """Do at least one piece, and no more than fit into a turn of processor time."""
        until = time.thread_time() + _TURN_S
        self._work(lambda: time.thread_time() < until)

    def finish(self) -> None:
        """Do all that is left now."""
        self._work(lambda: True)

    def _work(self, goes_on: Callable[[], bool]) -> None:
        if self._pieces is None or self._is_working:
            return
        self._is_working = True
        try:
            for _ in self._pieces:
                if not goes_on():
                    return
            self.stop()
        finally:
            self._is_working = False
            self.turned.emit()

    def pause(self) -> None:
        """Rest until `go_on`."""
        self._timer.stop()

    def go_on(self) -> None:
        """Work on after a rest."""
        if self._pieces is not None:
            self._timer.start()

    def stop(self) -> None:
        """Leave the rest undone."""
        self._timer.stop()
        self._pieces = None
