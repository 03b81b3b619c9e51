"""What would explain a failed verdict: readings at which it would just pass, each alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form, Key
from commission.validation.calculation import Calculation, Given, GivenLimit
from commission.validation.explanation import companions, explanations, measured_behind
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome

TOP = """
id = "explained"
version = "1"
title = "Two ways to one number"
sections = ["air.toml"]
[[repeat]]
name = "point"
label = "Point {n}"
count = "8"
maximum = 8
[[repeat]]
name = "leg"
label = "Leg {n}"
count = "3"
maximum = 3
"""
AIR = """
[section]
name = "air"
title = "Air"
stage = "Running"
[[field]]
name = "air_w"
label = "Heat by air, for each degree"
unit = "W"
instrument = "hood"
[[field]]
name = "power_w"
label = "Power"
unit = "W"
instrument = "meter"
possible = [0, 40000]
[[field]]
name = "rise"
label = "Rise"
unit = ""
instrument = "thermometer"
[[field]]
name = "plate_w"
label = "Printed power"
unit = "W"
[[field]]
name = "reading_fpm"
label = "Velocity"
repeat = "point"
unit = "fpm"
instrument = "anemometer"
[[field]]
name = "leg_v"
label = "Leg"
repeat = "leg"
unit = "V"
instrument = "meter"
[[quantity]]
name = "ratio"
label = "Heat by air over heat by meter"
unit = ""
formula = "air_w * rise / power_w"
source = "Definition"
decimals = 3
[[quantity]]
name = "mean_fpm"
label = "Mean velocity"
unit = "fpm"
formula = "mean_of(reading_fpm)"
source = "Arithmetic mean"
[[check]]
name = "ratio_near_one"
label = "Air side against meter"
judges = "ratio"
limit = "range"
low = 0.9
high = 1.1
basis = "common practice"
severity = "fail"
[[quantity]]
name = "uneven_percent"
label = "Unevenness"
unit = "%"
formula = "imbalance_of(leg_v)"
source = "NEMA MG 1, 12.45"
[[check]]
name = "even_enough"
label = "Legs alike"
judges = "uneven_percent"
limit = "at most"
high = 2
basis = "common practice"
severity = "fail"
[[check]]
name = "rise_small"
label = "Rise"
judges = "rise"
limit = "at most"
severity = "fail"
[[check]]
name = "mean_enough"
label = "Mean velocity"
judges = "mean_fpm"
limit = "at least"
low = 500
basis = "common practice"
severity = "fail"
"""

READ = {"air_w": 633.0, "power_w": 10000.0, "rise": 20.0, "plate_w": 10500.0}


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    folder = tmp_path_factory.mktemp("explained")
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "air.toml").write_text(AIR, encoding="utf-8")
    return load_form(folder)


@pytest.fixture
def results(form: Form) -> UnitResults:
    given = {Key(name): Given(value) for name, value in READ.items()}
    given |= {Key("reading_fpm", (n,)): Given(400.0) for n in range(1, 9)}
    limits = {Key("rise_small"): GivenLimit({"high": 15.0}, "the unit's literature")}
    return UnitResults(Calculation(Plan(form), given, limits), "RTU-1", "1")


def test_each_reading_alone_at_which_it_would_just_pass(results: UnitResults) -> None:
    # ratio = 633 x 20 / 10000 = 1.266; high is 1.1: by hand
    verdict = results.verdict("ratio_near_one")
    assert verdict.outcome is Outcome.FAIL
    found = {one.key.name: one.would_read for one in explanations(results, verdict)}
    assert found == pytest.approx(
        {"air_w": 633 * 1.1 / 1.266, "rise": 20 * 1.1 / 1.266, "power_w": 10000 * 1.266 / 1.1}
    )


def test_the_live_results_stay_as_they_were(results: UnitResults) -> None:
    before = dict(results.calculation.values), dict(results.calculation.verdicts)
    assert list(explanations(results, results.verdict("ratio_near_one")))
    assert (results.calculation.values, results.calculation.verdicts) == before


def test_every_explanation_makes_the_verdict_pass(results: UnitResults) -> None:
    live = results.calculation
    for one in explanations(results, results.verdict("ratio_near_one")):
        given = {**live.given, one.key: Given(one.would_read)}
        again = Calculation(live.plan, given, dict(live.limits))
        assert again.verdicts[Key("ratio_near_one")].margin == pytest.approx(0, abs=1e-5)


def test_a_passing_verdict_needs_none_and_one_of_many_alike_explains_none(
    results: UnitResults,
) -> None:
    live = results.calculation
    fine = Calculation(live.plan, {**live.given, Key("power_w"): Given(12660.0)})
    passing = fine.verdicts[Key("ratio_near_one")]
    assert passing.outcome is Outcome.PASS
    assert list(explanations(replace(results, calculation=fine), passing)) == []
    failing = results.verdict("mean_enough")
    assert failing.outcome is Outcome.FAIL
    assert list(explanations(results, failing)) == []


def test_an_impossible_reading_explains_nothing(form: Form) -> None:
    given = {Key(name): Given(value) for name, value in READ.items()}
    given[Key("air_w")] = Given(2532.0)  # by the meter it would be 46,036 W: above 40,000
    results = UnitResults(Calculation(Plan(form), given), "RTU-1", "1")
    found = {one.key.name for one in explanations(results, results.verdict("ratio_near_one"))}
    assert found == {"air_w", "rise"}


def test_what_is_printed_is_not_misread(results: UnitResults, form: Form) -> None:
    keys = measured_behind(results.calculation, results.verdict("ratio_near_one").check, ())
    assert Key("plate_w") not in keys and Key("power_w") in keys


def test_other_failures_on_the_same_readings_are_named(results: UnitResults) -> None:
    found = companions(results, results.verdict("ratio_near_one"))
    assert [(one.verdict.check.name, one.shared) for one in found] == [("rise_small", ("rise",))]


def test_a_verdict_with_a_kink_is_explained_too(form: Form) -> None:
    # 470, 460, 450: both ends are 10 from the mean of 460, 2.17 %. With leg 1 at x and 450 lowest:
    # (mean - 450) / mean = 0.02, so mean = 450 / 0.98 and x = 3 * mean - 910; leg 3 likewise.
    given = {Key("leg_v", (n,)): Given(v) for n, v in enumerate((470.0, 460.0, 450.0), start=1)}
    results = UnitResults(Calculation(Plan(form), given), "RTU-1", "1")
    found = {
        one.key.index: one.would_read
        for one in explanations(results, results.verdict("even_enough"))
    }
    assert found[(1,)] == pytest.approx(3 * 450 / 0.98 - 910, abs=0.01)
    assert found[(3,)] == pytest.approx(3 * 470 / 1.02 - 930, abs=0.01)
    assert (2,) not in found


def test_where_no_reading_alone_explains_it_none_is_named(form: Form) -> None:
    # 460 and 440 are 2.2 % from their own mean: whatever leg 1 reads, one of them is too far off.
    given = {Key("leg_v", (n,)): Given(v) for n, v in enumerate((480.0, 460.0, 440.0), start=1)}
    results = UnitResults(Calculation(Plan(form), given), "RTU-1", "1")
    found = {one.key.index for one in explanations(results, results.verdict("even_enough"))}
    assert (1,) not in found and (2,) not in found
