"""Work in a process of its own, for a thread of the window's that waits for it.

A thread that computes shares Python's interpreter with the window: each time the window wants it,
it waits for its turn, and through one piece of a library's own work it does not get it at all.
A process has an interpreter to itself. What the work says on its way comes back, and so does
what is wrong; being asked to stop, it stops where it next says something, and tidies up.
"""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.reduction import ForkingPickler
from types import MappingProxyType
from typing import Any, TypeVar

from commission.errors import CommissionError
from commission.language import language, speaking

Result = TypeVar("Result")
Told = Callable[[int, int, str], None]

_TICK_S = 0.03
_TOLD_EVERY_S = 0.03
_TO_END_S = 5.0


class WorkCancelledError(Exception):
    """The person has cancelled; raised from the call that tells of progress, and by `apart`."""


class WorkFailedError(Exception):
    """Nobody foresaw what was wrong in the process; the text says what it was."""


def apart(
    task: Callable[..., Result],
    *arguments: object,
    told: Told,
    cancelled: Callable[[], bool],
) -> Result:
    """Return `task(*arguments, tell)`, worked out in a process of its own.

    Args:
        task: A function of a module; it, what it takes and what it returns can be pickled.
        told: Called with what the task tells of its progress: done, total, what.
        cancelled: Asked about 30 times a second; True stops the task at its next word.
    Raises:
        WorkCancelledError: `cancelled` said so.
        CommissionError: What the task raised.
        WorkFailedError: Anything else was wrong.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs,), name="apart", daemon=True)
    process.start()
    theirs.close()
    try:
        ours.send((task, arguments, language()))
        content: Result = _answer(ours, told, cancelled)
        return content
    except (EOFError, OSError):
        process.join(_TO_END_S)
        ended = f"SystemExit: {process.exitcode}"  # as any other fault is named
        raise WorkFailedError(ended) from None
    finally:
        ours.close()  # it stops by this, too
        process.join(_TO_END_S)
        if process.is_alive():
            process.kill()
            process.join()


def _answer(connection: Connection, told: Told, cancelled: Callable[[], bool]) -> Any:
    """Wait for the end, and pass on what is told on the way to it."""
    is_to_stop = False
    while True:
        if not is_to_stop and cancelled():
            is_to_stop = True
            with suppress(OSError):  # it may have come to its end this very moment
                connection.send("stop")
        if not connection.poll(_TICK_S):
            continue
        kind, content = connection.recv()
        if kind == "told":
            told(*content)
        elif kind == "done":
            return content
        elif kind == "cancelled":
            raise WorkCancelledError
        elif kind == "refused":
            raise CommissionError(content)
        else:
            raise WorkFailedError(content)


def _proxied(content: Mapping[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(content)


# A form's declarations hold mappings that nobody may change, which Python does not pickle itself.
ForkingPickler.register(MappingProxyType, lambda proxy: (_proxied, (dict(proxy),)))


# -- within the process ------------------------------------------------------------------


def _serve(connection: Connection) -> None:
    """Do one task and answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is the window's to say when to stop
    task, arguments, spoken_here = connection.recv()
    tell = _Teller(connection)
    try:
        with speaking(spoken_here):
            answer: tuple[str, object] = "done", task(*arguments, tell)
    except WorkCancelledError:
        answer = "cancelled", None
    except CommissionError as error:
        answer = "refused", str(error)
    except Exception as error:
        answer = "failed", f"{type(error).__name__}: {error}"
    try:
        tell.last()
        connection.send(answer)
    except OSError:
        return  # nobody waits any more


class _Teller:
    """Tells of progress, not more often than a person can see; raises where it is to stop."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._untold: tuple[int, int, str] | None = None
        self._due_s = 0.0

    def __call__(self, done: int, total: int, what: str) -> None:
        """Tell, or keep it for a moment."""
        if self._connection.poll():  # asked to stop, or the window is gone
            raise WorkCancelledError
        self._untold = (done, total, what)
        if time.monotonic() >= self._due_s:
            self.last()

    def last(self) -> None:
        """Tell what was told last."""
        if self._untold is not None:
            self._connection.send(("told", self._untold))
            self._untold = None
            self._due_s = time.monotonic() + _TOLD_EVERY_S
