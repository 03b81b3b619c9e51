"""When Python's memory is tidied: in short pieces, and in the window's own thread.

Left alone, Python looks through all that is alive from whichever thread happens to make objects:
with a project open and a package being written that holds the window for a good part of a second,
and it may take a widget apart in a thread that must not touch one. So while the window runs this
is done from its event loop, after a round that had nothing to do: often for what is new, seldom
for the rest. What is there to stay, the form and the open project, is set aside and not
looked through at all.
"""

from __future__ import annotations

import gc
import math
import time

from PySide6.QtCore import QAbstractEventDispatcher, QObject, QTimer

_EVERY_MS = 100
_YOUNG = 2_000  # objects made since the last look
_OFTENER = 5  # looks at the young for one at the middle-aged
_OFTENER_STILL = 20  # of those for one at all
_MOST_YOUNG = 20_000  # objects; more of them are not left to wait
_LONGEST_WAIT = 3  # turns in which the loop may be too busy for it
_IDLE_S = 0.002  # processor time of a round of the loop that had nothing to do
_MOST_AT_ONCE = 80_000  # objects that can be looked through within a blink
_COUNTED_EVERY = 50  # turns; where there are many, counting them takes its time as well
_QUIET_TURNS = 600
_QUIET_S = 0.01  # processor time of all threads in a turn in which nobody does anything

_is_at_work = False
_is_set_aside = False


class Collector(QObject):
    """Takes over from Python's own collector until `end`."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        global _is_at_work
        gc.disable()
        _is_at_work = True
        self._quiet_turns = 0
        self._spent_s = time.process_time()
        self._is_due = False
        self._young_due = -1  # which generation; -1 for none
        self._waited_turns = 0
        self._is_waiting = False
        self._round_s = -math.inf
        self._dispatcher = QAbstractEventDispatcher.instance()
        self._counted_turns_ago = _COUNTED_EVERY
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self._turn)
        self._timer.start()

    def end(self) -> None:
        """Leave it to Python again."""
        global _is_at_work, _is_set_aside
        self._timer.stop()
        self._stop_waiting()
        _is_at_work = _is_set_aside = False
        gc.unfreeze()
        gc.enable()

    def _turn(self) -> None:
        young, middle, old = gc.get_count()
        spent_s = time.process_time()
        is_quiet = spent_s - self._spent_s < _QUIET_S
        self._spent_s = spent_s
        self._quiet_turns = self._quiet_turns + 1 if is_quiet else 0
        if young > _YOUNG:
            self._young_due = max(self._young_due, 1 if middle >= _OFTENER else 0)
        if old >= _OFTENER_STILL:
            self._is_due = True
        if not self._is_due and self._young_due < 0:
            return
        self._waited_turns += 1
        if young > _MOST_YOUNG or self._waited_turns > _LONGEST_WAIT:
            self._look()
        elif not self._is_waiting:
            self._is_waiting = True
            self._round_s = -math.inf
            self._dispatcher.aboutToBlock.connect(self._look_if_idle)

    def _look_if_idle(self) -> None:
        """Look between two rounds of the loop, if the last one took no time."""
        spent_s = time.thread_time()
        was_idle = spent_s - self._round_s < _IDLE_S
        self._round_s = spent_s
        if was_idle:
            self._look()

    def _look(self) -> None:
        """Look for what is due: the loop is idle, or it has been busy for too long."""
        self._stop_waiting()
        if self._young_due >= 0:
            gc.collect(self._young_due)
            self._young_due = -1
        if self._is_due:
            self._look_through()

    def _stop_waiting(self) -> None:
        self._waited_turns = 0
        if self._is_waiting:
            self._is_waiting = False
            self._dispatcher.aboutToBlock.disconnect(self._look_if_idle)

    def _look_through(self) -> None:
        """Look through all that is not set aside, if that is little or nobody is at work."""
        if self._quiet_turns < _QUIET_TURNS and not self._is_little():
            return
        gc.collect()
        self._is_due = False
        if _everything() > _MOST_AT_ONCE:
            gc.freeze()

    def _is_little(self) -> bool:
        self._counted_turns_ago += 1
        if self._counted_turns_ago <= _COUNTED_EVERY:
            return False
        is_little = _everything() <= _MOST_AT_ONCE
        if not is_little:
            self._counted_turns_ago = 0
        return is_little


def _everything() -> int:
    """Return how many objects a full look would go through."""
    return len(gc.get_objects(generation=2))


def set_aside() -> None:
    """A project has been opened: what is alive now is to stay.

    Where there was one before, what was set aside for that has to go first; that is looked for
    when nobody is at work.
    """
    global _is_set_aside
    if _is_at_work and not _is_set_aside:
        gc.freeze()
        _is_set_aside = True
    elif _is_at_work:
        gc.unfreeze()
