"""The demo's log: made by the simulated unit, kept with its unit, and kept by command as well."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from commission.__main__ import main
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.drawing.shapes import Text, flat
from commission.language import languages, speaking, spoken
from commission.project import ProjectFile, holder
from commission.project.scenario import project_from_scenario
from commission.project.schema import TABLES
from commission.resources import demo_units_folder
from commission.sequence.configuration import configuration_of
from commission.sequence.trend_demo import FAULT, KEPT_AT, NAME, TAG, add_demo_log
from commission.sequence.trend_plot import finding_drawing
from commission.sequence.trend_shelf import judged_logs
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.validation.verdict import Outcome


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, form: Form) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, form).close()
    assert add_demo_log(path, form, path.parent) == path.parent / NAME
    return path


def test_the_demo_s_log_shows_the_fault_that_the_demo_s_unit_has(demo: Path, form: Form) -> None:
    """The unit's damper does not work (demo_units), and the log's rules say so."""
    assert FAULT == "damper_stuck_0"
    with ProjectFile.open(demo, read_only=True) as project:
        unit = next(u for u in site_results(project, form).units if u.tag == TAG)
        (shown,) = judged_logs(project, unit)
        (record,) = project.trend_logs()
    failed = {f.rule for f in shown.findings if f.outcome is Outcome.FAIL}
    assert "damper_open_occupied" in failed
    assert not any(f.stops for f in shown.findings)
    assert record.facts["zone"] == "America/Denver" and not shown.log.remarks
    assert {f["rule"] for f in record.findings if f["outcome"] == "fail"} == failed
    assert any("from the form" in f.limit for f in shown.findings)


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_in_every_language_the_demo_s_project_and_log_are_the_same(
    code: str, demo: Path, form: Form, tmp_path: Path
) -> None:
    """A window that speaks another language makes the demo site too."""
    path = tmp_path / "demo.rtuproject"
    with speaking(code):
        project_from_scenario(demo_units_folder(), path, form).close()
        assert add_demo_log(path, form, tmp_path) == tmp_path / NAME
    assert (tmp_path / NAME).read_bytes() == (demo.parent / NAME).read_bytes()
    kept = []
    for one in (path, demo):
        with ProjectFile.open(one, read_only=True) as project:
            kept.append(project.trend_logs())
    assert kept[0] == kept[1]


def test_counts_and_figures_of_the_log_are_said_in_the_language_spoken(
    demo: Path, form: Form
) -> None:
    with ProjectFile.open(demo, read_only=True) as project, speaking("es"):
        unit = next(u for u in site_results(project, form).units if u.tag == TAG)
        (shown,) = judged_logs(project, unit)
        finding = next(f for f in shown.findings if f.outcome is Outcome.FAIL)
        configuration = configuration_of(unit.calculation)
        drawing = finding_drawing(shown.log, finding, configuration, 516.0)
        words = {shape.text for shape in flat(drawing.shapes) if isinstance(shape, Text)}
        assert spoken("Not as wanted") in words and "Not as wanted" not in words
        assert spoken("fail") in shown.summary() and "fail" not in shown.summary()


def test_the_command_reads_what_the_window_would(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["trend", str(demo), str(demo.parent / NAME), "--unit", TAG]
    assert main(words) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "The outdoor damper stood shut while occupied" in told
    with ProjectFile.open(demo, read_only=True) as project:
        assert len(project.trend_logs()) == 1  # judged only: nothing was kept


def test_the_command_keeps_a_log_once(
    tmp_path: Path, demo: Path, form: Form, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.rtuproject"
    with Session.create(path, form, "Own") as session:
        session.add_unit("RTU-9")
    words = ["trend", str(path), str(demo.parent / NAME), "--keep", "--zone", "America/Denver"]
    main(words)
    main(words)
    assert "the log is kept with RTU-9" in capsys.readouterr().out
    with ProjectFile.open(path, read_only=True) as project:
        (record,) = project.trend_logs()
        assert record.facts["zone"] == "America/Denver"
        assert "Outdoor damper position [%]" in project.text_setting("trend_mapping")


def test_the_demo_is_the_same_bytes_each_time_and_the_log_its_last_change(
    demo: Path, tmp_path: Path, form: Form, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Who had the file open leaves no trace in it, not even by how long its row was.
    monkeypatch.setattr(holder, "_process_started", lambda _process: "7")
    again = tmp_path / demo.name
    project_from_scenario(demo_units_folder(), again, form).close()
    with ProjectFile.open(again, read_only=True) as project:
        moments = [
            datetime.fromisoformat(row["at"]) for kind in TABLES for row in project.rows(kind)
        ]
    assert max(moments) < KEPT_AT
    add_demo_log(again, form, tmp_path)
    assert again.read_bytes() == demo.read_bytes()
    assert (tmp_path / NAME).read_bytes() == (demo.parent / NAME).read_bytes()
