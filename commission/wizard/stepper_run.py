"""The stopwatch of one step: started at the call, one press an event. No window in here.

Times come from a monotonic clock that can be given, so that tests need not wait.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from commission.errors import ReadingError
from commission.language import spoken
from commission.sequence.functional_model import CALL, FunctionalStep, StepMark
from commission.units import convert

Clock = Callable[[], float]


class StepRun:
    """One run of one step: when the call was made, and when each event came."""

    def __init__(self, step: FunctionalStep, clock: Clock = time.monotonic) -> None:
        self.step = step
        self._clock = clock
        self._came: dict[str, float] = {}

    @property
    def timed(self) -> tuple[StepMark, ...]:
        """The marks that are events, in order."""
        return tuple(mark for mark in self.step.marks if mark.is_timed)

    @property
    def is_running(self) -> bool:
        """Whether the call was made."""
        return CALL in self._came

    @property
    def elapsed_s(self) -> float:
        """Seconds since the call, 0 before it."""
        return self._clock() - self._came[CALL] if self.is_running else 0.0

    @property
    def is_over(self) -> bool:
        """Whether every event has come."""
        return self.is_running and all(mark.name in self._came for mark in self.timed)

    def next_mark(self) -> StepMark | None:
        """Return the first event that has not come yet."""
        return next((mark for mark in self.timed if mark.name not in self._came), None)

    def call(self) -> None:
        """Start at the call; events of an earlier start are forgotten."""
        self._came = {CALL: self._clock()}

    def mark(self, mark: StepMark) -> float:
        """Take down that an event came now.

        Returns:
            Seconds since the event that it is counted from.
        Raises:
            ReadingError: The call was not made, or the event it is counted from has not come.
        """
        now = self._clock()
        if mark.after not in self._came:
            before = next(
                (one.event for one in self.timed if one.name == mark.after), spoken("the call")
            )
            raise ReadingError(
                spoken(
                    "{event}: it is counted from '{before}', which has not come. Mark that "
                    "first, or type the seconds.",
                    event=mark.event,
                    before=before,
                )
            )
        self._came[mark.name] = now
        return now - self._came[mark.after]

    def came_s(self, mark: StepMark) -> float | None:
        """Return seconds after the call at which an event came, None if it has not."""
        return self._came[mark.name] - self._came[CALL] if mark.name in self._came else None


def typed_time(seconds: float, unit: str) -> str:
    """Return an elapsed time as it is entered in a field: to 0.1 s, or 0.01 min."""
    digits = 1 if unit == "s" else 2
    return f"{convert(seconds, 's', unit):.{digits}f} {unit}"
