"""Programs that are killed at random moments (kill -9), to see what they leave behind.

`Killed` starts one Python that imports once and forks a child a run, so that hundreds of runs
are cheap. A script is a text that defines `run(argument)`; the child calls it, and what it
prints is told back, up to the moment of its death.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

KILLS = int(os.environ.get("COMMISSION_KILLS", "8"))
"""Runs that each test kills; the full proof is COMMISSION_KILLS=200."""

_PARENT = """
import os, sys
{script}
print("ready", flush=True)
while line := sys.stdin.readline():
    child = os.fork()
    if child == 0:
        print("pid", os.getpid(), flush=True)
        try:
            run(line.rstrip("\\n"))
            print("done", flush=True)
        except BaseException as fault:
            print("fault", type(fault).__name__, *str(fault).split(), flush=True)
        os._exit(0)
    os.waitpid(child, 0)
    print("end", flush=True)
"""


class Killed:
    """A program run again and again, and killed each time."""

    def __init__(self, script: str) -> None:
        self.program = subprocess.Popen(
            [sys.executable, "-c", _PARENT.format(script=script)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd="/",
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        assert self._line() == "ready"

    def _line(self) -> str:
        assert self.program.stdout is not None
        return self.program.stdout.readline().rstrip("\n")

    def run(self, argument: str, after_s: float | None, first: str = "") -> list[str]:
        """Return what a run said that was killed `after_s` seconds from its start.

        Args:
            after_s: None lets it end.
            first: the seconds count from the first line that begins so.
        """
        assert self.program.stdin is not None
        self.program.stdin.write(f"{argument}\n")
        self.program.stdin.flush()
        pid = int(self._line().split()[1])
        said: list[str] = []
        while first and not (said and said[-1].startswith((first, "done", "fault"))):
            said.append(self._line())
        if after_s is not None:
            _wait(pid, after_s)
            with suppress(ProcessLookupError):  # it had ended by itself
                os.kill(pid, signal.SIGKILL)
        while (line := self._line()) != "end":
            said.append(line)
        return said

    def __enter__(self) -> Killed:
        return self

    def __exit__(self, *_: object) -> None:
        assert self.program.stdin is not None
        self.program.stdin.close()
        self.program.wait(timeout=30)
        assert self.program.stdout is not None
        self.program.stdout.close()


def _wait(pid: int, seconds: float) -> None:
    """Wait so long, or until the process has ended."""
    until = time.monotonic() + seconds
    with suppress(ProcessLookupError):
        while (left := until - time.monotonic()) > 0:
            os.kill(pid, 0)
            time.sleep(min(left, 0.02))


def moments(seed: int, longest_s: float) -> list[float]:
    """Return seeded random moments to kill at, as many as `KILLS`."""
    dice = random.Random(seed)
    return [dice.uniform(0.0, longest_s) for _ in range(KILLS)]
