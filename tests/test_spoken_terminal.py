"""What commands print with --language is said in that language, or was typed by a person."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from commission.__main__ import SAID_IN, main
from commission.definitions.load import load_form
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.units import UNITS
from commission.validation.session import Session
from commission.workbook import write_workbooks
from tests.spoken_marks import CODE, LOG, speak_marks, stored_texts, strangers

TAG = "RTU-1"
# What is typed after `commission`, and what only a file may be called.
NAMES = ("unit", "tag", "yes", "keep", "xlsx", "csv", "America", "Denver", "utf", "UTC")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, load_form()).close()
    return path


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project of one unit: its workbook is soon written."""
    path = tmp_path_factory.mktemp("small") / "small.rtuproject"
    with Session.create(path, load_form(), "Depot") as session:
        unit = session.add_unit(TAG)
        for name, text in (("heat_type", "gas"), ("phases", "3"), ("rated_volts", "460")):
            session.enter(unit.id, name, (), text)
    return path


def entered(path: Path, value: str) -> Path:
    with Session.open(path, load_form()) as session:
        session.enter(session.units()[0].id, "unit_serial", (), value)
    return path


def log_of(demo: Path, folder: Path) -> list[Path | str]:
    log = folder / "log.csv"
    log.write_text(LOG, encoding="utf-8")
    return ["trend", demo, log, "--unit", TAG, "--all"]


def merging(small: Path, folder: Path) -> list[Path | str]:
    ours, theirs = (shutil.copy(small, folder / name) for name in ("a.rtuproject", "b.rtuproject"))
    entered(Path(ours), "A1"), entered(Path(theirs), "B2")
    return ["merge", ours, theirs, "-o", folder / "joined.rtuproject"]


def schedule(small: Path, folder: Path) -> list[Path | str]:
    path = folder / "units.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [
                ["Tag", "Heat type", "Serial", "Wheels"],
                ["RTU-9", "coal", "X1", "4"],
                ["", "", "", "2"],
            ]
        )
    return ["schedule", small, path]


def returned(small: Path, folder: Path) -> list[Path | str]:
    path = write_one(small, folder / "back.xlsx")
    book = openpyxl.load_workbook(path)
    for name, typed in (("u1_unit_serial", "=1+1"), ("u1_rated_volts", "many")):
        sheet, cell = next(iter(book.defined_names[name].destinations))
        book[sheet][cell.replace("$", "")] = typed
    book.save(path)
    return ["readback", small, path]


def write_one(project: Path, path: Path) -> Path:
    with ProjectFile.open(project, read_only=True) as opened:
        return write_workbooks(opened, load_form(), path).path


CALLS: dict[str, Callable[[Path, Path], list[Path | str]]] = {
    "check": lambda demo, _: ["check", demo, "--unit", TAG, "--all"],
    "tests": lambda demo, _: ["tests", demo, "--unit", TAG, "--steps"],
    "trend": log_of,
    "merge": merging,
    "schedule": schedule,
    "readback": returned,
}


def test_each_command_that_speaks_is_walked() -> None:
    assert sorted(CALLS) == sorted(SAID_IN)


@pytest.mark.parametrize("name", CALLS)
def test_what_a_command_prints_is_said_or_was_typed(
    name: str,
    demo: Path,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    project = demo if name in ("check", "tests", "trend") else small
    words = [str(word) for word in CALLS[name](project, tmp_path)]
    monkeypatch.setenv("COLUMNS", "100000")  # so that no cell is broken over lines
    speak_marks(monkeypatch)
    capsys.readouterr()
    main([*words, "--language", CODE])
    done = capsys.readouterr()
    data = [*stored_texts(project), *words, *(path.name for path in tmp_path.iterdir())]
    data += ["coal", "many", "Wheels", "Heat type", "Serial", "Setting 7", "Compressor 1"]
    data += ["Indoor fan", "Date and time", "=1+1", "unit_serial", "Configuration!", "Nameplate!"]
    form = load_form()
    symbols = [str(getattr(entry, "symbol", "") or "") for entry in form.by_name.values()]
    found = strangers(done.out + done.err, data, [*UNITS, *NAMES, *symbols])
    assert len(done.out) > 200
    assert not found, "\n".join(f"{word}: ... {place} ..." for word, place in found.items())
