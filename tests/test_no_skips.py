"""A skip is told on a person's machine and fails in CI, for a test as for a whole module."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent
ONE = """
import pytest
def test_passes():
    pass
@pytest.mark.skipif(True, reason="no such device")
def test_skipped_by_a_mark():
    pass
def test_skips_itself():
    pytest.skip("no such program")
@pytest.mark.xfail(reason="known", strict=True)
def test_known_to_fail():
    assert False
"""
WHOLE = """
import pytest
pytest.importorskip("no_such_library")
def test_never_reached():
    pass
"""


def outcome(folder: Path, ci: str) -> tuple[int, str]:
    (folder / "test_one.py").write_text(ONE, encoding="utf-8")
    (folder / "test_whole.py").write_text(WHOLE, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no_skips", "-p", "no:cacheprovider"]
    env = {**os.environ, "CI": ci, "PYTHONPATH": str(TESTS)}
    done = subprocess.run(
        [*command, "--continue-on-collection-errors", str(folder)],
        cwd=folder,
        env=env,
        capture_output=True,
        text=True,
    )
    return done.returncode, done.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="CI runs on Linux")
def test_skips_fail_in_ci(tmp_path: Path) -> None:
    code, told = outcome(tmp_path, "true")
    assert code == 1
    assert "1 failed, 1 passed, 1 xfailed, 2 errors" in told
    for reason in ("no such device", "no such program", "no_such_library"):
        assert reason in told


@pytest.mark.parametrize("ci", ["", "false"])
def test_skips_stay_skips_elsewhere(tmp_path: Path, ci: str) -> None:
    code, told = outcome(tmp_path, ci)
    assert code == 0
    assert "1 passed, 3 skipped, 1 xfailed" in told
