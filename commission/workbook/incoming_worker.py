"""Files from outside are read in a process of their own, held to a time and a memory.

Whatever a made-up file does to a parser happens there; the program gets plain cells back, or
a sentence. The system's own limit on memory is set where there is one, and everywhere a
watch within the process ends it; the caller ends it too when the time is over.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from commission.errors import IncomingFileError
from commission.language import language, speaking, spoken
from commission.workbook.incoming_tables import IncomingTables

Result = TypeVar("Result")

_MB = 1_000_000
_TICK = 0.05
_TO_START = 60.0
_TOO_MUCH, _TOO_LONG = 97, 98  # what the process ends with


@dataclass(frozen=True, slots=True)
class WorkerLimits:
    """What reading one file may take: resident bytes, and seconds by the file's size."""

    memory_bytes: int = 600 * _MB
    seconds: float = 9.0
    seconds_per_mb: float = 9.0

    def time_for(self, path: Path) -> float:
        """Return how many seconds one file may take; a packed MB is ten of cells."""
        try:
            size = path.stat().st_size
        except OSError:
            size = 0
        return self.seconds + self.seconds_per_mb * size / _MB


WORKER_LIMITS = WorkerLimits()


class IncomingCancelled(IncomingFileError):  # noqa: N818  # nothing is wrong with the file
    """The person has cancelled; nothing was read."""


def read_tables(
    path: Path,
    *,
    computed: bool = False,
    cancelled: Callable[[], bool] | None = None,
    limits: WorkerLimits = WORKER_LIMITS,
) -> IncomingTables:
    """Return an .xlsx or .ods file from outside as plain cells.

    Args:
        path: The file.
        computed: Take the value kept for a formula instead of its text.
        cancelled: Asked about 20 times a second; True ends it at once.
        limits: What it may take.
    Raises:
        IncomingFileError: It is hostile, damaged, too large, too slow or no spreadsheet.
        IncomingCancelled: `cancelled` said so.
    """
    with IncomingWorker(limits) as worker:
        return worker.run(Path(path), _tables_of, computed, cancelled=cancelled)


def _tables_of(path: Path, computed: bool) -> IncomingTables:
    from commission.workbook.incoming import admit, tables

    return tables(admit(path), computed=computed)


class IncomingWorker:
    """A process that reads one file after another; it is started anew after one that broke it.

    `peak_bytes` is the most memory that the process has held so far.
    """

    def __init__(self, limits: WorkerLimits = WORKER_LIMITS) -> None:
        self.limits = limits
        self.peak_bytes = 0
        self.started = 0
        self._process: Any = None
        self._connection: Connection | None = None

    def __enter__(self) -> IncomingWorker:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def run(
        self,
        path: Path,
        task: Callable[..., Result],
        *arguments: object,
        cancelled: Callable[[], bool] | None = None,
    ) -> Result:
        """Return `task(path, *arguments)`, worked out in the process.

        Args:
            task: A function of a module; it and what it returns can be pickled.
        Raises:
            IncomingFileError: What the task raised, or that time or memory did not do.
            IncomingCancelled: `cancelled` said so.
        """
        connection = self._ready(path, cancelled)
        seconds = self.limits.time_for(path)
        connection.send((path, seconds, task, arguments, language()))
        kind, content, self.peak_bytes = self._answer(path, seconds, cancelled)
        if kind == "done":
            result: Result = content
            return result
        if kind == "memory":
            self._end()
            raise self._too_much(path)
        raise IncomingFileError(str(content))

    def close(self) -> None:
        """End the process, if one runs."""
        self._end()

    def _ready(self, path: Path, cancelled: Callable[[], bool] | None) -> Connection:
        if self._connection is not None and self._process.is_alive():
            return self._connection
        self._end()
        context = multiprocessing.get_context("spawn")
        self._connection, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(theirs, self.limits), name="incoming", daemon=True
        )
        self._process.start()
        theirs.close()
        self.started += 1
        self._answer(path, _TO_START, cancelled)
        return self._connection

    def _answer(
        self, path: Path, seconds: float, cancelled: Callable[[], bool] | None
    ) -> tuple[str, Any, int]:
        """Wait for the process's next word."""
        assert self._connection is not None
        last = time.monotonic() + seconds
        try:
            while not self._connection.poll(_TICK):
                if cancelled is not None and cancelled():
                    self._end()
                    raise IncomingCancelled(
                        spoken("{path}: cancelled; nothing was read.", path=path)
                    )
                if time.monotonic() > last + 1.0:
                    self._end()
                    raise self._too_long(path, seconds)
            answer: tuple[str, Any, int] = self._connection.recv()
        except (EOFError, OSError):
            raise self._broken(path, seconds) from None
        return answer

    def _broken(self, path: Path, seconds: float) -> IncomingFileError:
        self._process.join(5.0)
        code = self._process.exitcode
        self._end()
        if code == _TOO_LONG:
            return self._too_long(path, seconds)
        if code == _TOO_MUCH:
            return self._too_much(path)
        return IncomingFileError(
            spoken(
                "{path}: reading it broke off (code {code}); the program itself is not touched. "
                "Open it in a spreadsheet and save it anew.",
                path=path,
                code=code,
            )
        )

    def _too_long(self, path: Path, seconds: float) -> IncomingFileError:
        return IncomingFileError(
            spoken(
                "{path}: reading it took more than the {seconds:.0f} s that a file of its size "
                "may. Open it in a spreadsheet, take out what does not belong to it, and save "
                "it anew.",
                path=path,
                seconds=seconds,
            )
        )

    def _too_much(self, path: Path) -> IncomingFileError:
        return IncomingFileError(
            spoken(
                "{path}: reading it needs more than {memory_bytes:g} MB of memory. Open it in a "
                "spreadsheet, take out what does not belong to it, and save it anew.",
                path=path,
                memory_bytes=self.limits.memory_bytes / _MB,
            )
        )

    def _end(self) -> None:
        process, self._process = self._process, None
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()
        if process is not None:
            if process.is_alive():
                process.kill()
            process.join(5.0)


# -- within the process ------------------------------------------------------------------


def _serve(connection: Connection, limits: WorkerLimits) -> None:
    """Read files as asked, until the caller is gone."""
    import openpyxl  # noqa: F401  # before memory is limited, so that libraries do not count

    _limit_memory(limits.memory_bytes)
    watch = _Watch(limits.memory_bytes)
    threading.Thread(target=watch.run, daemon=True).start()
    connection.send(("ready", None, memory_used()))
    while True:
        try:
            path, seconds, task, arguments, spoken_here = connection.recv()
        except (EOFError, OSError):
            return
        watch.last = time.monotonic() + seconds
        with speaking(spoken_here):
            answer = _answered(path, task, arguments)
        with contextlib.suppress(BrokenPipeError):
            connection.send((*answer, peak_memory()))
        watch.last = None


def _answered(
    path: Path, task: Callable[..., object], arguments: tuple[object, ...]
) -> tuple[str, object]:
    try:
        return "done", task(path, *arguments)
    except IncomingFileError as fault:
        text = str(fault)
        return "refused", text if text.startswith(str(path)) else f"{path}: {text}"
    except MemoryError:
        return "memory", None
    except Exception as fault:
        return "refused", (
            spoken(
                "{path}: damaged inside ({name}: {fault}). Open it in a spreadsheet and save it "
                "anew.",
                path=path,
                name=type(fault).__name__,
                fault=str(fault)[:200],
            )
        )


class _Watch:
    """Ends the process when it holds too much, or a file takes too long."""

    def __init__(self, memory_bytes: int) -> None:
        self.memory_bytes = memory_bytes
        self.last: float | None = None

    def run(self) -> None:
        """Look about 20 times a second."""
        while True:
            time.sleep(_TICK)
            if memory_used() > self.memory_bytes:
                os._exit(_TOO_MUCH)
            last = self.last
            if last is not None and time.monotonic() > last:
                os._exit(_TOO_LONG)


def _limit_memory(further: int) -> None:
    """Let the address space grow by so much and no more, where the system can hold to it."""
    if sys.platform == "win32":
        return
    import resource

    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
    except (OSError, ValueError):
        return
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = pages * resource.getpagesize() + further
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def memory_used() -> int:
    """Return the bytes that this process holds in memory now (where unknown: at most so far)."""
    system: str = sys.platform
    if system == "linux":
        import resource

        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * resource.getpagesize()
    return peak_memory()


def peak_memory() -> int:
    """Return the most bytes that this process has held in memory; 0 where nobody says."""
    if sys.platform == "win32":
        return _windows_memory()
    with contextlib.suppress(OSError, StopIteration):
        # Not getrusage on Linux: its figure also holds what the starting process held.
        lines = Path("/proc/self/status").read_text().splitlines()
        return 1024 * int(next(one for one in lines if one.startswith("VmHWM:")).split()[1])
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024


def _windows_memory() -> int:
    import ctypes
    from ctypes import wintypes

    class Counters(ctypes.Structure):
        _fields_ = (
            ("cb", wintypes.DWORD),
            ("PageFaultCount", wintypes.DWORD),
            *((name, ctypes.c_size_t) for name in ("PeakWorkingSetSize", "WorkingSetSize")),
            *((f"quota_{number}", ctypes.c_size_t) for number in range(4)),
            *((name, ctypes.c_size_t) for name in ("PagefileUsage", "PeakPagefileUsage")),
        )

    counters = Counters()
    counters.cb = ctypes.sizeof(counters)
    windows: Any = getattr(ctypes, "windll")  # noqa: B009  # there on Windows only
    windows.kernel32.GetCurrentProcess.restype = wintypes.HANDLE
    asked = windows.kernel32.K32GetProcessMemoryInfo
    asked.argtypes = (wintypes.HANDLE, ctypes.POINTER(Counters), wintypes.DWORD)
    handle = windows.kernel32.GetCurrentProcess()
    return int(counters.WorkingSetSize) if asked(handle, ctypes.byref(counters), counters.cb) else 0
