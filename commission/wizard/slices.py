"""Work that takes longer than a blink, done piece by piece while the window goes on answering."""

from __future__ import annotations

import time
import weakref
from collections import deque
from collections.abc import Callable, Iterator

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal
from shiboken6 import isValid

_TURN_S = 0.005


class Slices(QObject):
    """Takes pieces of an iterator, for a few milliseconds in each round of the event loop.

    Where several works are under way they take turns, one a round: together they would hold the
    window for as many times a few milliseconds.

    Signals:
        turned: a few pieces are done; the window has its turn.
    """

    turned = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._pieces: Iterator[None] | None = None
        self._is_working = False

    def begin(self, pieces: Iterator[None]) -> None:
        """Take up a work, in the place of one that is under way; it yields after each piece."""
        self._pieces = pieces
        _Rounds.of_the_loop().join(self)

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
        _Rounds.of_the_loop().leave(self)

    def go_on(self) -> None:
        """Work on after a rest."""
        if self._pieces is not None:
            _Rounds.of_the_loop().join(self)

    def stop(self) -> None:
        """Leave the rest undone."""
        self.pause()
        self._pieces = None


class _Rounds(QObject):
    """Gives one work its turn in each round of the event loop."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._waiting: deque[weakref.ref[Slices]] = deque()
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._next)

    @classmethod
    def of_the_loop(cls) -> _Rounds:
        """Return those of the application, made when first asked for."""
        application = QCoreApplication.instance()
        assert application is not None
        found = application.findChild(cls)
        return found if found is not None else cls(application)

    def join(self, work: Slices) -> None:
        """Let a work have its turns from now on."""
        if weakref.ref(work) not in self._waiting:
            self._waiting.append(weakref.ref(work))
        self._timer.start()

    def leave(self, work: Slices) -> None:
        """Let a work have no turns any more."""
        if weakref.ref(work) in self._waiting:
            self._waiting.remove(weakref.ref(work))

    def _next(self) -> None:
        for _ in range(len(self._waiting)):
            work = self._waiting.popleft()()
            if work is not None and isValid(work):
                self._waiting.append(weakref.ref(work))
                work.turn()
                return
        self._timer.stop()
