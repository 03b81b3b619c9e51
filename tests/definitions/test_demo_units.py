"""The demo site: it answers the shipped forms, and its faults show where they should."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Check, Quantity
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results
from commission.validation.verdict import Outcome
from cooling_only_unit import of_kind

GAS_PAGES = {
    "prestart_gas", "gas_heat", "gas_heat_stages", "combustion", "functional_gas_heat",
    "protections_gas",
}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SiteResults]:
    form = load_form()
    path = tmp_path_factory.mktemp("demo") / "site.rtuproject"
    with project_from_scenario(demo_units_folder(), path, form) as project:
        yield site_results(project, form)


def test_demo_shows_every_verdict_and_stops(demo: SiteResults) -> None:
    outcomes = {v.outcome for unit in demo.everything() for v in unit.verdicts()}
    members = [
        unit.verdict(check.name, index).outcome
        for unit in demo.units
        for check in of_kind(demo.form, Check)
        for index in unit.members(check.name)
    ]
    assert outcomes | set(members) == set(Outcome)
    stopped = {unit.tag for unit, _ in demo.stops()}
    assert stopped == {"RTU-5", "RTU-6"}
    assert [unit.tag for unit in demo.units if unit.overrides] == ["RTU-5"]


def test_demo_units_fail_where_their_faults_are(demo: SiteResults) -> None:
    failed = {
        unit.tag: {v.check.name for v in unit.verdicts() if v.outcome is Outcome.FAIL}
        for unit in demo.units
    }
    assert not failed["RTU-1"]
    assert {"airflow_in_tolerance", "gas_input_in_tolerance"} <= failed["RTU-2"]
    assert {"supply_imbalance_in_limit", "outdoor_airflow_in_tolerance"} <= failed["RTU-4"]
    assert {"superheat_near_target", "subcooling_in_range"} <= failed["RTU-5"]
    assert "gas_leak_test_passed_done" in failed["RTU-6"]


def test_healthy_demo_unit_was_put_right(demo: SiteResults) -> None:
    healthy = demo.units[0]
    before = demo.as_found(healthy).verdict("outdoor_airflow_in_tolerance", (1,))
    after = healthy.verdict("outdoor_airflow_in_tolerance", (1,))
    assert (before.outcome, after.outcome) == (Outcome.FAIL, Outcome.PASS)


def test_demo_answers_whatever_is_asked_but_for_gas_not_begun(demo: SiteResults) -> None:
    unanswered = {
        (unit.tag, section.name)
        for unit in demo.units
        for section in unit.sections()
        if unit.progress(section).unanswered
    }
    assert {tag for tag, _ in unanswered} == {"RTU-6"}
    assert {page for _, page in unanswered} <= GAS_PAGES | {"electrical_fans", "functional_fan"}


def test_demo_computes_without_a_fault(demo: SiteResults) -> None:
    for unit in demo.units:
        values = unit.calculation.values
        assert not [str(key) for key, found in values.items() if found.state == "fault"]


def test_demo_patterns_point_where_the_faults_are(demo: SiteResults) -> None:
    """Possibilities only: RTU-2 was given too little air, RTU-5's second circuit too little gas."""
    patterns = {
        (unit.tag, index): str(unit.value("circuit_pattern", index).content)
        for unit in demo.units
        for index in unit.members("circuit_pattern")
    }
    assert "indoor air" in patterns.pop(("RTU-2", (1,)))
    assert "short of refrigerant" in patterns.pop(("RTU-5", (2,)))
    assert set(patterns.values()) == {"no usual pattern of a fault"}


def test_demo_cross_checks_hold_where_nothing_is_wrong(demo: SiteResults) -> None:
    checks = [c for c in of_kind(demo.form, Check) if "agree" in c.label]
    names = [c.name for c in checks if isinstance(demo.form.by_name[c.judges], Quantity)]
    assert len(names) >= 13
    outcomes = {
        (unit.tag, name): {unit.verdict(name, index).outcome for index in unit.members(name)}
        for unit in demo.units
        for name in names
    }
    assert not [key for key, found in outcomes.items() if Outcome.FAIL in found]
    made = {name for (_, name), found in outcomes.items() if Outcome.PASS in found}
    assert len(made) >= 9


def test_demo_instrument_past_its_calibration_is_used(demo: SiteResults) -> None:
    instruments = {item.id: item for item in demo.project.instruments()}
    healthy = demo.units[0]
    reading = healthy.reading("flame_current_ua", (1,))
    assert reading is not None
    assert instruments[reading.instrument_id].calibration_due < reading.at[:10]


def test_no_demo_reading_stands_behind_a_stop_that_nobody_went_past(demo: SiteResults) -> None:
    """What a closed page holds could not have been typed: such a demo never happened."""
    closed = [
        (unit, section)
        for unit in demo.everything()
        for section in unit.sections()
        if unit.blocking(section)
    ]
    assert closed
    behind = [
        f"{unit.tag}: {key}"
        for unit, section in closed
        for key, reading in (unit.readings or {}).items()
        if demo.form.section_of(key.name) is section and not reading.is_unread
    ]
    assert not behind
