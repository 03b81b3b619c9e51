"""Limits of a log: typed beats the form's, the form's beats a default, and each says so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Check, Field, Form, Quantity
from commission.errors import ReadingError, UnitError
from commission.project import ProjectFile
from commission.sequence.simulated_faults import ECONOMIZER_GAS
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_limits import LimitInForce, Origin, limit_rows, limits_in_force
from commission.sequence.trend_shelf import limits_of_unit
from commission.units import convert
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.validation.verdict import Outcome


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture
def session(form: Form, tmp_path: Path) -> Iterator[tuple[Session, str]]:
    with Session.create(tmp_path / "one.rtuproject", form, "One unit") as session:
        unit = session.add_unit("RTU-1").id
        answers = {
            "heat_type": "gas", "gas_valve": "two stage", "heat_stages": "2", "cooling_stages": "2",
            "circuits": "2", "compressors": "2", "condenser_fans": "2", "draft_inducers": "1",
            "economizer": "fixed dry bulb", "outdoor_damper": "modulating",
        }  # fmt: skip
        for name, text in answers.items():
            session.enter(unit, name, (), text)
        yield session, unit


def limits(session: Session, unit: str) -> dict[str, LimitInForce]:
    return limits_in_force(session.project.trend_limits(unit), session.results(unit))


def test_every_name_that_is_carried_is_in_the_form_with_the_same_kind_of_unit(form: Form) -> None:
    carried = [(row, name) for row in limit_rows() for name in row.form]
    assert len(carried) > 20
    for row, name in carried:
        entry_name, _, part = name.partition(".")
        entry = form.by_name[entry_name]
        if isinstance(entry, Check):
            assert part in entry.parts, name
            entry = form.by_name[entry.judges]
        assert isinstance(entry, Field | Quantity), name
        try:
            convert(1.0, entry.unit, row.unit)
        except UnitError as error:
            pytest.fail(f"{row.name} from {name}: {error}")


def test_a_default_of_the_form_is_not_carried_but_one_that_a_person_confirms_is(session) -> None:
    session, unit = session
    assert limits(session, unit)["compressor_minimum_off_s"].origin is Origin.DEFAULT
    session.set_limit(unit, "compressor_off_time_enough", (), {}, "seen", confirmed=True)
    found = limits(session, unit)["compressor_minimum_off_s"]
    assert (found.origin, found.value) == (Origin.FORM, 180.0)


def test_a_limit_entered_in_the_form_is_carried_with_its_origin(session) -> None:
    session, unit = session
    session.set_limit(unit, "compressor_off_time_enough", (), {"low": 300}, "Sheet 7, page 2")
    found = limits(session, unit)["compressor_minimum_off_s"]
    assert (found.origin, found.value) == (Origin.FORM, 300.0)
    assert "from the form" in found.said and "Sheet 7, page 2" in found.said


def test_a_reading_of_the_form_is_carried(session) -> None:
    session, unit = session
    assert limits(session, unit)["minimum_outdoor_air_cfm"].origin is Origin.NONE
    session.enter(unit, "design_outdoor_airflow_cfm", (), "1200")
    found = limits(session, unit)["minimum_outdoor_air_cfm"]
    assert (found.origin, found.value) == (Origin.FORM, 1200.0)


def test_of_several_stages_the_loosest_counts(session) -> None:
    session, unit = session
    check = "temperature_rise_in_range"
    for stage, (low, high) in enumerate(((25, 45), (30, 60)), start=1):
        session.set_limit(unit, check, (stage,), {"low": low, "high": high}, f"Plate {stage}")
    found = limits(session, unit)
    assert (found["heat_rise_low_f"].value, found["heat_rise_high_f"].value) == (25.0, 60.0)
    assert "loosest of 2" in found["heat_rise_low_f"].said


def test_a_limit_typed_for_the_log_beats_the_form_and_can_be_taken_back(session) -> None:
    session, unit = session
    session.set_limit(unit, "compressor_off_time_enough", (), {"low": 300}, "Sheet 7")
    session.project.set_trend_limit(unit, "compressor_minimum_off_s", 240, "Control's menu")
    found = limits(session, unit)["compressor_minimum_off_s"]
    assert (found.origin, found.value, found.words) == (Origin.ENTERED, 240.0, "Control's menu")
    session.project.clear_trend_limit(unit, "compressor_minimum_off_s")
    assert limits(session, unit)["compressor_minimum_off_s"].value == 300.0


def test_limits_of_another_unit_do_not_count(session) -> None:
    session, unit = session
    other = session.add_unit("RTU-2").id
    session.project.set_trend_limit(other, "fan_start_s", 5, "Sheet")
    assert limits(session, unit)["fan_start_s"].origin is Origin.DEFAULT


def test_a_changed_limit_changes_the_verdict_and_the_sentence_says_whose_it_is(session) -> None:
    session, unit = session
    log = simulate_one(ECONOMIZER_GAS, hours=1.2)

    def verdict() -> tuple[Outcome, str]:
        found = judge_trend(log, ECONOMIZER_GAS, limits(session, unit))
        finding = next(f for f in found if f.rule == "prepurge_long_enough")
        return finding.outcome, finding.limit

    assert verdict()[0] is Outcome.PASS and "default, published" in verdict()[1]
    session.set_limit(unit, "prepurge_in_range", (), {"low": 60, "high": 90}, "Control sheet")
    outcome, limit = verdict()
    assert outcome is Outcome.FAIL
    assert "60 s (from the form" in limit and "Control sheet" in limit


def test_unknown_names_and_no_numbers_are_refused_together() -> None:
    with pytest.raises(ReadingError) as caught:
        limits_in_force({"fan_start": 3.0, "deadband_f": float("nan")})
    assert "Did you mean" in str(caught.value) or "fan_start_s" in str(caught.value)
    assert "not a finite number" in str(caught.value)


def test_a_typed_limit_of_a_rule_that_is_gone_is_left_aside(tmp_path: Path, form: Form) -> None:
    with Session.create(tmp_path / "two.rtuproject", form, "Two") as session:
        unit = session.add_unit("RTU-1").id
        session.project.set_trend_limit(unit, "gone_limit_s", 5, "Sheet")
        path = session.project.path
    with ProjectFile.open(path, read_only=True) as project:
        assert "gone_limit_s" in project.trend_limits(unit)
        (results,) = site_results(project, form).units
        assert set(limits_of_unit(project, results)) == {row.name for row in limit_rows()}
