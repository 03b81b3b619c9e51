"""In CI a skipped test is a failed one: what it lacks is to be installed, not passed over.

Skips remain where they are meant: on a person's own machine, and on systems that CI is not.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Generator
from typing import Any

import pytest

IN_CI = os.environ.get("CI", "").casefold() not in ("", "0", "false") and sys.platform == "linux"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, Any, Any]:
    """Turn the skip of one test into a failure."""
    return failed_if_skipped((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, Any, Any]:
    """Turn the skip of a whole module into a failure."""
    return failed_if_skipped((yield))


def failed_if_skipped(report: Any) -> Any:
    """Return a report that has failed where one was skipped in CI; expected failures stay."""
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        place = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = (
            f"{report.nodeid}: {place}. In CI nothing is skipped: install what it lacks "
            "(.ci/start.py, pyproject.toml)."
        )
    return report
