"""A wheel carries the forms, icons, demo units and fonts, and an installed copy finds them.

The wheel is built and installed here without a network, and asked from another folder by a
process of its own, so that the source tree cannot stand in for what the wheel lacks.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from commission import resources
from commission.errors import CommissionError

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = {"forms": "*.toml", "icons": "*.svg", "demo_units": "*.toml"}
FACES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSans-Oblique.ttf", "LICENSE.txt")

ASK = """
import json, commission
from commission import resources
print(json.dumps({
    "code": commission.__file__,
    "forms": str(resources.forms_folder()),
    "icons": str(resources.icons_folder()),
    "demo_units": str(resources.demo_units_folder()),
}))
"""

WORK = """
from commission.__main__ import main
for line in (
    "new job.rtuproject --unit RTU-1", "workbook job.rtuproject", "package job.rtuproject",
    "archive job.rtuproject", "handover job.rtuproject sheets", "tests job.rtuproject",
    "sources --csv",
):
    assert main(line.split()) < 2, line
"""

WORK_APART = """
from pathlib import Path
from commission.definitions.load import load_form
from commission.validation.session import Session
from commission.wizard.apart import apart
from commission.wizard.demo_work import demo_made
from commission.wizard.export_work import PACKAGE, WORKBOOK, Order, written

def wanted(*_told):
    return False

form, job = load_form(), Path("job.rtuproject")
with Session.create(job, form, "Job") as session:
    session.add_unit("RTU-1")
for output in (WORKBOOK, PACKAGE):
    order = Order(job, form, output, job.with_suffix(output.suffix), "es")
    apart(written, order, told=wanted, cancelled=wanted)
apart(demo_made, Path("demo.rtuproject"), told=wanted, cancelled=wanted)
"""

SAY_IN_SPANISH = """
from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.language import choose_language, spoken
english = load_form()
choose_language("es")
spanish = translated(english, "es")
pairs = zip(english.sections, spanish.sections, strict=True)
print(sum(one.title != other.title for one, other in pairs), spoken("Workbook"))
"""


def run(*command: str, cwd: Path, **variables: str) -> str:
    """Run a command and return what it prints; a failure shows all that it printed."""
    done = subprocess.run(
        command,
        cwd=cwd,
        env={**os.environ, **variables},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder), cwd=ROOT)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("installed")
    pip = (sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    run(*pip, "--no-index", "--no-deps", "--target", str(folder), str(wheel), cwd=folder)
    return folder


@pytest.fixture(scope="module")
def answers(installed: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    printed = run(sys.executable, "-c", ASK, cwd=elsewhere, PYTHONPATH=str(installed))
    found: dict[str, str] = json.loads(printed)
    return found


def names_in(folder: Path, pattern: str) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob(pattern))


def test_installed_copy_runs_its_own_code(answers: dict[str, str], installed: Path) -> None:
    assert Path(answers["code"]).is_relative_to(installed)


@pytest.mark.parametrize(("name", "pattern"), FOLDERS.items())
def test_installed_copy_finds_its_folder(
    name: str, pattern: str, answers: dict[str, str], installed: Path
) -> None:
    folder = Path(answers[name])
    assert folder.is_relative_to(installed)
    assert names_in(folder, pattern) == names_in(ROOT / name, pattern) != []


def test_installed_copy_does_its_work(installed: Path, tmp_path: Path) -> None:
    """One job from end to end needs the forms, tables, faces and schema that travel."""
    printed = run(sys.executable, "-c", WORK, cwd=tmp_path, PYTHONPATH=str(installed))
    made = {path.name for path in tmp_path.iterdir()}
    assert made >= {"job.rtuproject", "job.xlsx", "job.pdf", "job.record.json", "sheets"}
    assert len(list((tmp_path / "sheets").glob("*.csv"))) > 5
    assert "RTU-1: signals" in printed
    assert len(printed.splitlines()) > 200


def test_installed_copy_works_in_processes_of_its_own(installed: Path, tmp_path: Path) -> None:
    """What the window has done apart, with the copy's own code and data."""
    run(sys.executable, "-c", WORK_APART, cwd=tmp_path, PYTHONPATH=str(installed))
    made = {path.name for path in tmp_path.iterdir()}
    assert made >= {"job.xlsx", "job.pdf", "demo.rtuproject"}


def test_installed_copy_speaks_spanish(installed: Path, tmp_path: Path) -> None:
    said = run(sys.executable, "-c", SAY_IN_SPANISH, cwd=tmp_path, PYTHONPATH=str(installed))
    changed, word = said.split(maxsplit=1)
    assert int(changed) > 10
    assert word.strip() not in ("", "Workbook")


def test_wheel_carries_the_fonts_and_their_licence(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        carried = set(archive.namelist())
    assert {f"commission/package/fonts/{face}" for face in FACES} <= carried


def test_wheel_carries_every_module_and_data_file_of_the_program(wheel: Path) -> None:
    ours = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "commission").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    with zipfile.ZipFile(wheel) as archive:
        assert ours <= set(archive.namelist())


def test_wheel_carries_nothing_of_the_tests_or_of_a_job(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        carried = archive.namelist()
    assert [name for name in carried if name.endswith(".rtuproject")] == []
    tops = {name.split("/")[0] for name in carried}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"commission"}


def test_source_tree_is_its_own_place() -> None:
    assert resources.forms_folder() == ROOT / "forms"
    assert resources.icons_folder() == ROOT / "icons"
    assert resources.demo_units_folder() == ROOT / "demo_units"


def test_absent_folder_is_named_with_where_it_was_looked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(resources, "INSTALLED_PARENT", tmp_path / "installed")
    monkeypatch.setattr(resources, "SOURCE_PARENT", tmp_path / "source")
    with pytest.raises(CommissionError, match=r"^forms: .*missing") as caught:
        resources.forms_folder()
    assert str(tmp_path / "installed" / "forms") in str(caught.value)
    assert str(tmp_path / "source" / "forms") in str(caught.value)
