"""What pages and outputs read: pages, progress, states, blocking, shown values, limits."""

from __future__ import annotations

from typing import Any

import pytest

from builders import By, NotApplicable, calculation_of, form_of
from commission.definitions.model import Key
from commission.formula.uncertainty import Instrument
from commission.project import Override, Reading
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome
from tests.validation.small_site import small_form
from tests.validation.test_calculation import WHOLE

LIMITS = {"amps_at_most": {"high": 40.0}, "superheat_in_range": {"low": 5.0, "high": 15.0}}


def results_of(changes: dict[str, Any] | None = None, **more: Any) -> UnitResults:
    values = {**WHOLE, **(changes or {})}
    limits = more.pop("limits", LIMITS)
    return UnitResults(calculation_of(small_form(), values, limits=limits), "RTU-1", "u1", **more)


def state(results: UnitResults, name: str) -> SectionState:
    return results.state(results.form.section_by_name[name])


@pytest.mark.parametrize(
    ("person", "expected"), [("", SectionState.BLOCKED), ("agent", SectionState.DONE)]
)
def test_a_stop_marked_not_applicable_lets_go_only_by_name(
    person: str, expected: SectionState
) -> None:
    """Whoever says that a stop does not apply answers for it, as for an override."""
    marked = Reading(
        *("r1", "u1", "lockout", (), None, "no power on site", "as found", "n/a no power on site"),
        *("", "", person, "2026-09-14T08:00:00-06:00", "window", ""),
    )
    results = results_of(
        {"lockout": NotApplicable("no power on site")}, readings={Key("lockout"): marked}
    )
    assert state(results, "electrical") is expected
    ((verdict, readings),) = results.waivers()
    assert (verdict.check.name, readings) == ("lockout_done", [marked])


def test_a_unit_has_the_pages_of_its_level_that_its_configuration_needs() -> None:
    assert [s.name for s in results_of().sections()] == [
        "configuration", "safety", "electrical", "cooling",
    ]  # fmt: skip
    without = results_of({"compressors": 0, "circuits": 0})
    assert [s.name for s in without.sections()] == ["configuration", "safety"]
    project = UnitResults(calculation_of(small_form(), WHOLE))
    assert [s.name for s in project.sections()] == ["site"]


@pytest.mark.parametrize(
    ("changes", "section", "expected"),
    [
        ({}, "electrical", SectionState.DONE),
        ({}, "cooling", SectionState.DONE),
        ({"lockout": "not done"}, "safety", SectionState.STOPPED),
        ({"lockout": "not done"}, "electrical", SectionState.BLOCKED),
        ({"lockout": None}, "electrical", SectionState.BLOCKED),
        ({"lockout": NotApplicable("no power on site")}, "electrical", SectionState.BLOCKED),
        ({"guards": "not done"}, "safety", SectionState.FAILING),
        ({"guards": None}, "safety", SectionState.MISSING),
        ({"guards": None, "lockout": None}, "safety", SectionState.EMPTY),
        ({"pair_volts": [200, 208, 216]}, "electrical", SectionState.STOPPED),
        ({"pair_volts": [207, None, 209]}, "electrical", SectionState.MISSING),
        ({"rated_volts": 240}, "electrical", SectionState.FAILING),
        ({"pair_volts": [0, 0, 0]}, "electrical", SectionState.FAILING),
        ({"suction_line_f": [40, 50]}, "cooling", SectionState.FAILING),
        ({"suction_psig": [799, 120]}, "cooling", SectionState.MISSING),  # beyond the curve
        ({"pair_volts": [0, 0, 0], "rated_volts": None}, "electrical", SectionState.INCONCLUSIVE),
        ({"suction_psig": None, "suction_line_f": None}, "cooling", SectionState.EMPTY),
        ({"circuits": 0}, "cooling", SectionState.NOT_APPLICABLE),
    ],
)
def test_the_state_of_a_page(changes: dict[str, Any], section: str, expected: SectionState) -> None:
    assert state(results_of(changes), section) is expected


def test_a_page_whose_limit_is_not_entered_is_not_done() -> None:
    assert state(results_of(limits={}), "cooling") is SectionState.MISSING


def test_progress_counts_required_readings_that_are_asked() -> None:
    results = results_of({"suction_psig": [118, None], "suction_line_f": [NotApplicable("x"), 50]})
    progress = results.progress(results.form.section_by_name["cooling"])
    assert (progress.asked, progress.answered, progress.unanswered) == (4, 3, 1)
    assert progress.outcomes == {Outcome.NOT_APPLICABLE: 1, Outcome.MISSING: 1}
    site = UnitResults(calculation_of(small_form(), {"elevation_ft": 0}))
    assert site.progress().asked == 1  # the barometer is not required
    assert results.progress().stops == 0


def test_a_stop_blocks_until_a_named_person_goes_past_it() -> None:
    stopped = results_of({"lockout": "not done"})
    electrical = stopped.form.section_by_name["electrical"]
    assert [verdict.check.name for verdict in stopped.blocking(electrical)] == ["lockout_done"]
    assert [verdict.check.name for verdict in stopped.stops()] == ["lockout_done"]
    override = Override("o1", "u1", "lockout_done", (), "A. Person", "temporary supply", "t")
    past = results_of({"lockout": "not done"}, overrides=[override])
    assert past.blocking(electrical) == []
    assert [verdict.check.name for verdict in past.stops()] == ["lockout_done"]  # it stays a stop
    assert past.override_of(past.verdict("lockout_done")) is override
    other = Override("o2", "u1", "lockout_done", (2,), "A. Person", "x", "t")
    assert results_of({"lockout": "not done"}, overrides=[other]).blocking(electrical)


def test_values_as_shown() -> None:
    results = results_of(
        {"suction_psig": [118.04, None], "suction_line_f": [NotApplicable("x"), 50]}
    )
    assert results.shown("suction_psig", (1,)) == "118.0 psig"
    assert results.shown("suction_psig", (2,)) == ""
    assert results.shown("suction_line_f", (1,)) == "n/a"
    assert results.shown("metering") == "thermal valve"
    assert results.shown("circuits") == "2"
    assert results_of({"pair_volts": [0, 0, 0]}).shown("volts_imbalance") == "out of range"


def test_values_as_shown_in_a_metric_project() -> None:
    results = results_of(unit_system="SI")
    assert results.shown_unit("suction_psig") == "kPa"
    assert results.shown("suction_psig", (1,)) == "813.6 kPa"  # 118 psi, 6.894757 kPa each
    assert results.shown("suction_line_f", (1,)) == "11.11 °C"
    verdict = results.verdict("superheat_in_range", (1,))
    assert results.limit_text(verdict) == "2.778 to 8.333 K"


def test_the_limit_as_people_write_it() -> None:
    results = results_of()
    assert results.limit_text(results.verdict("superheat_in_range", (1,))) == "5.0 to 15.0 Δ°F"
    assert results.limit_text(results.verdict("volts_imbalance_at_most")) == "at most 2.00 %"
    assert results.limit_text(results.verdict("lockout_done")) == "done"
    unlimited = results_of(limits={})
    assert unlimited.limit_text(unlimited.verdict("amps_at_most", (1,))) == ""


def test_labels_name_the_member() -> None:
    results = results_of()
    assert results.label(Key("suction_psig", (2,))) == "Suction pressure, Circuit 2"
    assert results.label(Key("amps", (1, 3))) == "Current, Compressor 1 · L3-L1"
    assert results.label(Key("lockout")) == "Lockout applied"


def test_the_verdicts_on_a_value_are_those_that_judge_it() -> None:
    results = results_of()
    names = [verdict.check.name for verdict in results.verdicts_on("superheat_f", (1,))]
    assert names == ["superheat_in_range"]  # the one for fixed orifices does not apply


def test_uncertainty_shares_name_the_instrument_that_would_settle_it() -> None:
    values = {
        **WHOLE, "suction_line_f": [By("T-1", 52), 50], "suction_psig": [By("G-1", 118), 120],
    }  # fmt: skip
    calculation = calculation_of(
        small_form(),
        values,
        instruments={
            "T-1": (Instrument(plus_minus=0.5), "°F"),
            "G-1": (Instrument(plus_minus=5.0), "psig"),
        },
    )
    results = UnitResults(calculation, "RTU-1", "u1")
    shares = results.uncertainty_shares("superheat_f", (1,))
    assert next(iter(shares)) == "G-1"
    assert sum(shares.values()) == pytest.approx(1)
    assert results.dominating_reading("superheat_f", (1,)) == Key("suction_psig", (1,))
    assert results.uncertainty_shares("superheat_f", (2,)) == {}


def test_shown_work_of_an_aggregate_lists_its_members() -> None:
    line = results_of().work("mean_volts")
    assert line is not None
    assert line.numbers == "mean(207 V, 208 V, 209 V)"
    assert line.result == "208.0 V"


def test_a_form_with_no_page_for_a_unit_has_none() -> None:
    form = form_of(
        '[section]\nname = "site"\ntitle = "Site"\nlevel = "project"\n'
        '[[field]]\nname = "title"\nlabel = "Title"\nkind = "text"\n'
    )
    assert UnitResults(calculation_of(form, {}), "RTU-1", "u1").sections() == ()
