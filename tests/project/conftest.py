"""A fresh project file, with a clock and ids that can be foretold."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, timezone
from itertools import count
from pathlib import Path

import pytest

from commission.project import ProjectFile

FORM = {"form_id": "packaged_rooftop_unit", "form_version": "0.1", "form_hash": "abc"}
MOUNTAIN = timezone(timedelta(hours=-6))


@pytest.fixture
def clock() -> Callable[[], datetime]:
    """A clock that moves on by a minute at each look."""
    minutes = count()
    began = datetime(2026, 9, 14, 8, 0, tzinfo=MOUNTAIN)
    return lambda: began + timedelta(minutes=next(minutes))


@pytest.fixture
def new_id() -> Callable[[], str]:
    """Ids id-1, id-2 ..."""
    numbers = count(1)
    return lambda: f"id-{next(numbers)}"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A name with what a URI would misread."""
    return tmp_path / "Yard 5 #2 100%?.rtuproject"


@pytest.fixture
def project(path: Path, clock, new_id) -> Iterator[ProjectFile]:
    """An open new project file."""
    with ProjectFile.create(path, title="Yard", clock=clock, new_id=new_id, **FORM) as made:
        yield made


@pytest.fixture
def unit_id(project: ProjectFile) -> str:
    """The id of a unit in it."""
    return project.add_unit("RTU-1").id
