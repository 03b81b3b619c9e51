"""What every test has: no window on a person's screen, no trace in a person's settings."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from no_skips import pytest_make_collect_report, pytest_runtest_makereport

__all__ = ["private_settings", "pytest_make_collect_report", "pytest_runtest_makereport"]

# Before any Qt import. A test that needs a real display starts a process of its own with
# QT_QPA_PLATFORM=xcb under the display that `.ci/start.py test` provides.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# One core may be recalculating a workbook meanwhile, so time limits an example would be noise;
# derandomized, so that a failure on one machine is the same failure on the next.
settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.load_profile("repeatable")


@pytest.fixture(scope="session", autouse=True)
def private_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Keep what the window remembers (recent files, its size) out of the person's own folders."""
    folder = tmp_path_factory.mktemp("settings")
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
            patch.setenv(variable, str(folder / variable.lower()))
        yield folder
