"""The command line: what it prints, and its exit status (0 fine, 1 found, 2 bad input)."""

from __future__ import annotations

import argparse
import csv
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from commission.__main__ import _parser, main
from commission.commands import BAD_INPUT, FINE, FOUND
from commission.definitions.load import load_form
from commission.project import ProjectFile
from commission.sequence.configuration import configuration_of
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_log import ON, TrendLog
from commission.validation.session import Session
from commission.validation.site import site_results


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo site, made once by the real command in a process of its own."""
    folder = tmp_path_factory.mktemp("demo")
    done = subprocess.run(
        [sys.executable, "-m", "commission", "demo", str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == FINE, done.stderr
    (folder / "printed.txt").write_text(done.stdout, encoding="utf-8")
    return folder


def test_demo_makes_project_workbook_and_package_and_prints_the_summary(demo: Path) -> None:
    assert {path.suffix for path in demo.iterdir()} >= {".rtuproject", ".xlsx", ".pdf"}
    printed = (demo / "printed.txt").read_text(encoding="utf-8")
    assert "RTU-1" in printed
    assert "stopped" in printed


def test_demo_again_keeps_the_project_as_it_is(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project = demo / "demo_site.rtuproject"
    before = project.read_bytes()
    assert main(["demo", str(demo)]) == FINE
    assert "is kept" in capsys.readouterr().out
    assert project.read_bytes() == before


def test_check_finds_the_faults_of_the_demo(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(demo / "demo_site.rtuproject")]) == FOUND
    printed = capsys.readouterr().out
    assert "STOP" in printed
    assert "fail" in printed
    assert "Traceback" not in printed


def test_check_as_json_holds_every_outcome(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--json", str(demo / "demo_site.rtuproject")]) == FOUND
    record = json.loads(capsys.readouterr().out)
    outcomes = {row["outcome"] for unit in record["units"] for row in unit["verdicts"]}
    assert outcomes == {"pass", "fail", "inconclusive", "missing", "not applicable"}
    assert record["stops"] >= 1


def test_check_of_one_unit(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--json", "--unit", "rtu-1", str(demo / "demo_site.rtuproject")])
    record = json.loads(capsys.readouterr().out)
    assert [unit["tag"] for unit in record["units"]] == ["RTU-1"]


def test_check_of_an_unfinished_project_without_failure_is_fine(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.rtuproject"
    assert main(["new", str(path), "--title", "A job", "--unit", "RTU-9"]) == FINE
    with Session.open(path, load_form()) as session:
        session.enter(session.units()[0].id, "circuits", (), "2")
    capsys.readouterr()
    assert main(["check", str(path)]) == FINE
    assert "0 fail" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check", "{folder}/absent.rtuproject"], "absent.rtuproject"),
        (["check", "{folder}/text.rtuproject"], "text.rtuproject"),
        (["workbook", "{demo}", "-o", "{folder}/no/such/folder/out.xlsx"], "out.xlsx"),
        (["package", "{demo}", "-o", "{folder}/no/such/folder/out.pdf"], "out.pdf"),
        (["check", "{demo}", "--unit", "RTU-77"], "RTU-1"),
        (["new", "{demo}"], "demo_site.rtuproject"),
    ],
)
def test_bad_input_is_a_sentence_and_status_two(
    demo: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    words: str,
) -> None:
    (tmp_path / "text.rtuproject").write_text("not a project", encoding="utf-8")
    place = {"folder": tmp_path, "demo": demo / "demo_site.rtuproject"}
    assert main([argument.format(**place) for argument in arguments]) == BAD_INPUT
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said


def test_a_project_rebuilt_from_its_record_makes_the_same_record(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, again = tmp_path / "first.json", tmp_path / "again.json"
    rebuilt = tmp_path / "rebuilt.rtuproject"
    assert main(["archive", str(demo / "demo_site.rtuproject"), "-o", str(first)]) == FINE
    assert main(["rebuild", str(first), str(rebuilt)]) == FINE
    assert main(["archive", str(rebuilt), "-o", str(again)]) == FINE
    assert first.read_bytes() == again.read_bytes()
    assert main(["compare", str(first), str(again)]) == FINE
    assert "0 verdicts changed" in capsys.readouterr().out


def test_the_package_carries_workbook_and_record_when_asked(demo: Path, tmp_path: Path) -> None:
    """The record inside is the one that `archive` writes, and it rebuilds the project."""
    project, package = demo / "demo_site.rtuproject", tmp_path / "whole.pdf"
    assert main(["package", str(project), "-o", str(package), "--embed"]) == FINE
    subprocess.run(["pdfdetach", "-saveall", "-o", tmp_path, package], check=True)
    alone = tmp_path / "alone.json"
    assert main(["archive", str(project), "-o", str(alone)]) == FINE
    assert (tmp_path / "demo_site.record.json").read_bytes() == alone.read_bytes()
    assert (tmp_path / "demo_site.xlsx").read_bytes() == (demo / "demo_site.xlsx").read_bytes()


def test_a_reading_typed_into_the_workbook_comes_home(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project, workbook = tmp_path / "job.rtuproject", tmp_path / "job.xlsx"
    shutil.copy(demo / "demo_site.rtuproject", project)
    assert main(["workbook", str(project), "-o", str(workbook)]) == FINE
    assert main(["readback", str(project), str(workbook)]) == FINE
    book = openpyxl.load_workbook(workbook)
    ((sheet, cell),) = book.defined_names["u1_suction_psig_1"].destinations
    book[sheet][cell] = "119,5"
    book.save(workbook)
    assert main(["readback", str(project), str(workbook)]) == FOUND
    assert main(["readback", str(project), str(workbook), "--accept"]) == FINE
    with ProjectFile.open(project, read_only=True) as opened:
        unit = opened.units()[0]
        reading = opened.readings(unit.id)["suction_psig", (1,)]
    assert (reading.value, reading.source) == (119.5, "workbook")


def test_merge_of_a_project_with_itself_is_the_same_project(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project, joined = str(demo / "demo_site.rtuproject"), str(tmp_path / "joined.rtuproject")
    assert main(["merge", project, project, "-o", joined]) == FINE
    assert main(["check", joined]) == FOUND
    assert main(["handover", joined, str(tmp_path / "sheets")]) == FINE
    assert (tmp_path / "sheets" / "07_Component.csv").exists()


@pytest.mark.parametrize(
    ("fault", "status", "words"),
    [("", FINE, "pass"), ("vent_switch_jumpered", FOUND, "Vent")],
)
def test_a_trend_log_is_judged_by_the_unit_s_configuration(
    demo: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    fault: str,
    status: int,
    words: str,
) -> None:
    """Logs of the simulated unit, set up as the demo's first: sound, and with one fault."""
    project = tmp_path / "demo_site.rtuproject"
    shutil.copyfile(demo / "demo_site.rtuproject", project)
    form = load_form()
    with ProjectFile.open(project) as opened:
        first = site_results(opened, form).units[0]
        # The form's design minimum is carried; the simulated unit brings less.
        opened.set_trend_limit(first.unit_id, "minimum_outdoor_air_cfm", 500, "As simulated")
    log = simulate_one(configuration_of(first.calculation), fault, hours=1.5)
    path = tmp_path / "trend.csv"
    write_log(log, path)
    assert main(["trend", str(project), str(path), "--unit", "RTU-1"]) == status
    assert words in capsys.readouterr().out


def test_a_trend_log_needs_its_unit_named(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    project = str(demo / "demo_site.rtuproject")
    assert main(["trend", project, "log.csv"]) == BAD_INPUT
    assert "--unit" in capsys.readouterr().err


def write_log(log: TrendLog, path: Path) -> None:
    """Write a log as a logger would: a stamp a row, on and off as 1 and 0."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["stamp", *log.columns])
        for row in range(len(log.moments)):
            cells = [
                int(column[row] == ON) if column.dtype == np.int8 else float(column[row])
                for column in log.columns.values()
            ]
            writer.writerow([log.clock(row), *cells])


def test_sources_names_one_for_every_formula_function_and_default_limit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["sources", "--csv"]) == FINE
    header, *rows = csv.reader(capsys.readouterr().out.splitlines())
    assert header == ["Kind", "Name", "Rule", "Unit", "Source"]
    assert {row[0] for row in rows} == {"function", "quantity", "default limit"}
    assert all(row[2].strip() and row[4].strip() for row in rows)


def test_every_command_of_the_readme_exists() -> None:
    readme = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    rows = [line.split("`")[1] for line in readme.splitlines() if line.startswith("| `")]
    actions = _parser()._actions
    commands = next(one for one in actions if isinstance(one, argparse._SubParsersAction))
    assert {row.split()[0] for row in rows} == set(commands.choices)
    for row in rows:
        with pytest.raises(SystemExit) as ended:
            main([row.split()[0], "--help"])
        assert ended.value.code == 0


def test_every_picture_of_the_readme_is_there() -> None:
    root = Path(__file__).parent.parent
    readme = (root / "README.md").read_text(encoding="utf-8")
    shown = set(re.findall(r"!\[[^\]]+\]\(([^)]+)\)", readme))
    made = {str(path.relative_to(root)) for path in (root / "demo_units/pictures").glob("*.png")}
    assert shown == made
