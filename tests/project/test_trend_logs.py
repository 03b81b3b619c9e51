"""Trend logs and typed limits in the project file: kept, superseded, merged, never lost."""

from __future__ import annotations

import shutil

import pytest

from commission.errors import ProjectFileError, ReadingError
from commission.project import ProjectFile
from commission.project import trend_logs as shelf
from commission.project.merge import merge_projects

READ = {"delimiter": ";", "zone": "America/Denver"}
FACTS = {"samples": 3, "interval_s": 0.5}


def add(project, unit_id, name="roof.csv", data=b"abc", findings=()):
    return project.add_trend_log(
        unit_id, name, data, file_sha256="f" * 64, read_as=READ, facts=FACTS,
        findings=list(findings),
    )  # fmt: skip


def test_a_log_comes_back_after_opening_again(project, unit_id, path):
    made = add(project, unit_id, findings=[{"rule": "a", "count": 2}])
    project.close()
    with ProjectFile.open(path) as again:
        (log,) = again.trend_logs(unit_id)
        assert log.id == made.id
        assert (log.read_as, log.facts, log.data) == (READ, FACTS, b"abc")
        assert log.findings == ({"rule": "a", "count": 2},)


def test_findings_are_superseded_and_their_history_stays(project, unit_id):
    log = add(project, unit_id)
    revision = project.revision
    assert project.update_trend_findings(log.id, []).findings == ()
    assert project.revision == revision  # the same: nothing was written
    changed = project.update_trend_findings(log.id, [{"rule": "b"}])
    assert changed.findings == ({"rule": "b"},)
    assert [row["findings"] for row in project.rows("trend_log")] == ["[]", '[{"rule": "b"}]']


def test_same_samples_stand_once_and_a_log_taken_off_stays_in_the_file(project, unit_id):
    first, second = add(project, unit_id), add(project, unit_id, "again.csv")
    assert project._select("SELECT count(*) AS n FROM trend_data")[0]["n"] == 1
    project.remove_trend_log(first.id)
    assert [log.id for log in project.trend_logs()] == [second.id]
    assert len(project.rows("trend_log")) == 3


def test_too_large_a_log_is_refused_whole(project, unit_id, monkeypatch):
    monkeypatch.setattr(shelf, "MOST_TREND_BYTES", 2)
    with pytest.raises(ProjectFileError, match="NOT kept: its 3 bytes are more"):
        add(project, unit_id)
    assert project.trend_logs() == []


def test_a_log_of_no_unit_is_refused(project):
    with pytest.raises(ProjectFileError):
        add(project, "nobody")
    assert project._select("SELECT count(*) AS n FROM trend_data")[0]["n"] == 0


def test_limits_need_a_number_and_an_origin_and_can_be_taken_back(project, unit_id):
    with pytest.raises(ReadingError, match="Where a limit comes from is empty"):
        project.set_trend_limit(unit_id, "fan_start_s", 45, " ")
    with pytest.raises(ReadingError, match="not a number"):
        project.set_trend_limit(unit_id, "fan_start_s", float("nan"), "Sheet")
    project.set_trend_limit(unit_id, "fan_start_s", 45, "Sheet, page 2")
    assert project.trend_limits(unit_id)["fan_start_s"].value == 45.0
    project.clear_trend_limit(unit_id, "fan_start_s")
    assert project.trend_limits(unit_id) == {}
    assert [row["removed"] for row in project.rows("trend_limit")] == [0, 1]


def test_two_crews_logs_and_limits_are_joined(project, unit_id, path, tmp_path):
    project.set_trend_limit(unit_id, "fan_start_s", 45, "Sheet")
    project.close()
    theirs = tmp_path / "theirs.rtuproject"
    shutil.copyfile(path, theirs)
    for file, name, limit in ((path, "ours.csv", 50.0), (theirs, "theirs.csv", 55.0)):
        with ProjectFile.open(file) as one:
            add(one, unit_id, name, name.encode())
            one.set_trend_limit(unit_id, "fan_start_s", limit, "Sheet")
    report = merge_projects(path, theirs, tmp_path / "joined.rtuproject")
    assert [conflict.kind for conflict in report.conflicts] == ["trend_limit"]
    with ProjectFile.open(tmp_path / "joined.rtuproject") as joined:
        assert {log.data for log in joined.trend_logs()} == {b"ours.csv", b"theirs.csv"}
