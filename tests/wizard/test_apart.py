"""Work in a process of its own: what comes back, what is told, and how it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType

import pytest

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.language import speaking, spoken
from commission.wizard.apart import Told, WorkCancelledError, WorkFailedError, apart
from wizard.export_writers import beside, is_slow

_LONGEST_S = 30.0

_WINDOW = """
import sys
sys.path[:0] = {path!r}
from pathlib import Path
from commission.wizard.apart import apart
from wizard.export_writers import is_slow
if __name__ == "__main__":
    never = lambda *_told: False
    apart(is_slow, None, Path({target!r}), told=never, cancelled=never)
"""


def never() -> bool:
    return False


def nobody(_done: int, _total: int, _what: str) -> None:
    """Nobody listens."""


def facts_of(form: Form, tell: Told) -> tuple[int, str, str, MappingProxyType[str, int]]:
    """Return where it runs, what the form is, and what is spoken there."""
    for number in range(2_000):
        tell(number, 2_000, "counted")
    return os.getpid(), form.content_hash, spoken("Workbook"), MappingProxyType({"one": 1})


def refuses(_tell: Told) -> None:
    raise OutputError("no room: make some.")


def fails(_tell: Told) -> None:
    raise ZeroDivisionError("odd")


def test_what_it_finds_comes_back_whole_in_the_language_spoken_here(form: Form) -> None:
    told: list[tuple[int, int, str]] = []
    with speaking("es"):
        process, content, word, mapping = apart(
            facts_of, form, told=lambda *step: told.append(step), cancelled=never
        )
        assert word == spoken("Workbook") != "Workbook"
    assert process != os.getpid()
    assert content == form.content_hash
    assert mapping == {"one": 1}
    assert told[-1] == (1_999, 2_000, "counted")
    assert [step[0] for step in told] == sorted({step[0] for step in told})
    assert len(told) < 1_000  # no more than a person can see


@pytest.mark.parametrize(
    ("task", "fault", "said"),
    [
        (refuses, OutputError.__base__, "no room: make some."),
        (fails, WorkFailedError, "ZeroDivisionError: odd"),
    ],
)
def test_what_is_wrong_comes_back_as_it_was_said(
    task: Callable[[Told], None], fault: type[Exception], said: str
) -> None:
    with pytest.raises(fault) as caught:
        apart(task, told=nobody, cancelled=never)
    assert str(caught.value) == said


def test_asked_to_stop_it_stops_and_tidies_up(tmp_path: Path) -> None:
    target = tmp_path / "out.txt"
    with pytest.raises(WorkCancelledError):
        apart(is_slow, None, target, told=nobody, cancelled=beside(target, "half").exists)
    assert beside(target, "ended").exists()
    assert not target.exists() and not beside(target, "half").exists()


def wait_for(there: Callable[[], bool]) -> bool:
    until = time.monotonic() + _LONGEST_S
    while not there() and time.monotonic() < until:
        time.sleep(0.02)
    return there()


@pytest.mark.skipif(sys.platform == "win32", reason="killed by a signal")
def test_it_stops_and_tidies_up_when_the_window_is_killed(tmp_path: Path) -> None:
    target = tmp_path / "out.txt"
    script = tmp_path / "window.py"
    script.write_text(_WINDOW.format(path=sys.path, target=str(target)), encoding="utf-8")
    with subprocess.Popen([sys.executable, str(script)]) as window:
        assert wait_for(beside(target, "half").exists)
        window.send_signal(signal.SIGKILL)
    assert wait_for(beside(target, "ended").exists)
    assert not target.exists() and not beside(target, "half").exists()
