"""First-order uncertainty: against the `uncertainties` library, the GUM, and Monte Carlo."""

from __future__ import annotations

import math
import random
import statistics

import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from builders import By, calculation_of, form_of
from commission.definitions.model import Key
from commission.formula.evaluate import evaluate
from commission.formula.functions import FUNCTIONS
from commission.formula.parse import parse
from commission.formula.uncertainty import Budget, Instrument, budget, derivative
from commission.validation.calculation import Calculation
from tests.formula.trees import scope_of

# -- the instrument -----------------------------------------------------------------


def test_an_instrument_s_half_width_is_divided_by_root_three() -> None:
    # GUM (JCGM 100:2008) 4.3.7: a rectangular distribution of half-width a has u = a/sqrt(3).
    meter = Instrument(percent_of_reading=2.0, percent_of_span=1.0, span=50.0, plus_minus=0.3)
    assert meter.standard_uncertainty(30.0) == pytest.approx((0.6 + 0.5 + 0.3) / math.sqrt(3))
    assert meter.standard_uncertainty(-30.0) == meter.standard_uncertainty(30.0)


def test_its_constant_part_is_turned_into_the_reading_s_unit() -> None:
    # A gauge of +-1 kPa read in psi: 1 kPa is 0.145038 psi (exact definitions).
    page = '[[field]]\nname = "suction_psig"\nlabel = "Suction"\nunit = "psig"\n'
    calculation = calculation_of(
        form_of(page),
        {"suction_psig": By("gauge", 118)},
        instruments={"gauge": (Instrument(plus_minus=1.0), "kPa")},
    )
    expected = 0.1450377377 / math.sqrt(3)
    assert calculation.reading_uncertainty(Key("suction_psig")) == pytest.approx(expected)


# -- derivative ---------------------------------------------------------------------


@given(st.floats(0.5, 50), st.floats(-3, 3))
def test_the_derivative_is_that_of_calculus(at: float, power: float) -> None:
    found = derivative(lambda x: x**power, at)
    assert found == pytest.approx(power * at ** (power - 1), rel=1e-5, abs=1e-9)


def test_at_an_edge_the_derivative_is_taken_from_the_possible_side() -> None:
    def above_only(x: float) -> float:
        if x < 2:
            raise ValueError(x)
        return 3 * x

    assert derivative(above_only, 2.0) == pytest.approx(3, rel=1e-6)
    assert derivative(lambda x: -above_only(4 - x), 2.0) == pytest.approx(3, rel=1e-6)


def test_with_no_side_possible_there_is_no_derivative() -> None:
    with pytest.raises(ArithmeticError):
        derivative(lambda x: 1 / 0, 1.0)


# -- the budget ---------------------------------------------------------------------


def test_gum_h1_end_gauge() -> None:
    # GUM (JCGM 100:2008), H.1, table H.1: components in nm of the standard (25), the
    # comparison (9.7), the difference of expansion coefficients (2.9) and of temperatures
    # (16.6) combine to u_c = 32 nm.
    components = {"standard": 25.0, "comparison": 9.7, "expansion": 2.9, "temperature": 16.6}
    found = Budget(components)
    assert round(found.standard) == 32
    assert sum(found.shares().values()) == pytest.approx(1)
    assert next(iter(found.shares())) == "standard"
    assert found.expanded(2.92) == pytest.approx(93, abs=1)  # U99, effective 16 degrees


def test_a_budget_of_nothing_is_nought() -> None:
    assert Budget({}).standard == 0
    assert Budget({"a": 0.0}).shares() == {}


def test_readings_without_an_instrument_are_exact() -> None:
    found = budget({"a": 1.0, "b": 1.0}, {"a": 3.0, "b": 4.0}, {"a": "meter"})
    assert found.contributions == {"meter": 3.0}


FORMULAS = [
    ("a * b / c", lambda a, b, c: a * b / c),
    ("a - b + c", lambda a, b, c: a - b + c),
    ("(a - b) / (a + c)", lambda a, b, c: (a - b) / (a + c)),
    ("sqrt(a * b) + c ** 2", lambda a, b, c: umath.sqrt(a * b) + c**2),
    ("ln(a) * exp(b / 50) / c", lambda a, b, c: umath.log(a) * umath.exp(b / 50) / c),
    ("a ** 3 / (b * c) + 2 * a", lambda a, b, c: a**3 / (b * c) + 2 * a),
]


def page_with(text: str) -> str:
    fields = "".join(f'[[field]]\nname = "{n}"\nlabel = "{n.upper()}"\n' for n in "abc")
    steps = f"""
[[quantity]]
name = "step"
label = "Step"
formula = "{text}"
source = "Test"
[[quantity]]
name = "result"
label = "Result"
formula = "step + a"
source = "Test"
"""
    return fields + steps


@pytest.mark.parametrize(("text", "function"), FORMULAS)
@pytest.mark.parametrize("shared", [False, True])
def test_propagation_agrees_with_the_uncertainties_library(text, function, shared) -> None:
    # Oracle: the `uncertainties` package (exact derivatives, correlations followed by name).
    values = {"a": 20.0, "b": 12.0, "c": 5.0}
    accuracy = {"first": Instrument(plus_minus=0.4), "second": Instrument(percent_of_reading=1.5)}
    by = {"a": "first", "b": "first" if shared else "second", "c": "second"}
    calculation = calculation_of(
        form_of(page_with(text)),
        {name: By(by[name], value) for name, value in values.items()},
        instruments={name: (accuracy[name], "") for name in accuracy}
        | {"third": (accuracy["second"], "")},
    )
    errors = {name: uncertainties.ufloat(0, 1) for name in accuracy}  # one error an instrument
    inputs = {
        name: value + accuracy[by[name]].standard_uncertainty(value) * errors[by[name]]
        for name, value in values.items()
    }
    oracle = function(**inputs) + inputs["a"]
    assert calculation.values[Key("result")].number == pytest.approx(oracle.nominal_value)
    assert calculation.budget(Key("result")).standard == pytest.approx(oracle.std_dev, rel=1e-5)
    assert calculation.expanded(Key("result")) == pytest.approx(2 * oracle.std_dev, rel=1e-5)


def test_independent_instruments_agree_with_the_uncertainties_library() -> None:
    values = {"a": 20.0, "b": 12.0, "c": 5.0}
    meters = {name: Instrument(percent_of_reading=2, plus_minus=0.1) for name in values}
    calculation = calculation_of(
        form_of(page_with("a * b / c")),
        {name: By(name, value) for name, value in values.items()},
        instruments={name: (meter, "") for name, meter in meters.items()},
    )
    a, b, c = (
        uncertainties.ufloat(value, meters[name].standard_uncertainty(value))
        for name, value in values.items()
    )
    oracle = a * b / c + a
    assert calculation.budget(Key("result")).standard == pytest.approx(oracle.std_dev, rel=1e-5)


DIFFERENCE = """
[[field]]
name = "return_f"
label = "Return air"
unit = "°F"
[[field]]
name = "supply_f"
label = "Supply air"
unit = "°F"
[[quantity]]
name = "drop_f"
label = "Coil drop"
unit = "Δ°F"
formula = "return_f - supply_f"
source = "Definition"
"""


def difference(first: str, second: str) -> Calculation:
    thermometer = (Instrument(plus_minus=1.3), "°F")
    return calculation_of(
        form_of(DIFFERENCE),
        {"return_f": By(first, 76), "supply_f": By(second, 56)},
        instruments={"T-1": thermometer, "T-2": thermometer},
    )


def test_two_readings_by_one_thermometer_cancel_in_a_difference() -> None:
    # GUM 5.2.2 with r = 1: u(y) = |c1 u1 + c2 u2|; by two thermometers r = 0.
    assert difference("T-1", "T-1").expanded(Key("drop_f")) == pytest.approx(0, abs=1e-6)
    by_two = difference("T-1", "T-2")
    assert by_two.expanded(Key("drop_f")) == pytest.approx(2 * 1.3 / math.sqrt(3) * math.sqrt(2))
    assert by_two.dominating_reading(Key("drop_f")) in (Key("return_f"), Key("supply_f"))


# -- noise: repeatability and resolution ----------------------------------------------


def test_resolution_is_a_rectangle_one_step_wide() -> None:
    # GUM F.2.2.1: an indication of step d has u = d / sqrt(12) = 0.29 d.
    assert Instrument(resolution=1.0).own_uncertainty() == pytest.approx(0.29, abs=0.002)
    assert Instrument(resolution=0.5).own_uncertainty() == pytest.approx(0.5 / math.sqrt(12))
    # GUM 4.3.7: a half-width of a has u = a / sqrt(3).
    assert Instrument(repeatability=0.4).own_uncertainty() == pytest.approx(0.4 / math.sqrt(3))
    both = Instrument(plus_minus=1.0, repeatability=0.4, resolution=0.5)
    assert both.shared_uncertainty(7.0) == pytest.approx(1 / math.sqrt(3))
    parts = (both.shared_uncertainty(7.0), both.own_uncertainty())
    assert both.standard_uncertainty(7.0) == pytest.approx(math.hypot(*parts))


def test_noise_does_not_cancel_in_a_difference() -> None:
    # GUM 5.1.2 for the noise (independent), 5.2.2 with r = 1 for the calibration.
    thermometer = (Instrument(plus_minus=1.3, repeatability=0.2, resolution=0.1), "°F")
    calculation = calculation_of(
        form_of(DIFFERENCE),
        {"return_f": By("T-1", 76), "supply_f": By("T-1", 56)},
        instruments={"T-1": thermometer},
    )
    own = math.sqrt(2 * (0.2**2 / 3 + 0.1**2 / 12))
    assert calculation.expanded(Key("drop_f")) == pytest.approx(2 * own, rel=1e-6)
    assert calculation.budget(Key("drop_f")).shares() == pytest.approx({"T-1": 1.0})


@pytest.mark.parametrize(("text", "function"), FORMULAS)
def test_noise_and_shared_error_agree_with_the_uncertainties_library(text, function) -> None:
    # Oracle: `uncertainties`, one shared variable an instrument, one more for each reading.
    values = {"a": 20.0, "b": 12.0, "c": 5.0}
    accuracy = {
        "first": Instrument(plus_minus=0.4, repeatability=0.3, resolution=0.1),
        "second": Instrument(percent_of_reading=1.5, resolution=0.5),
    }
    by = {"a": "first", "b": "first", "c": "second"}
    calculation = calculation_of(
        form_of(page_with(text)),
        {name: By(by[name], value) for name, value in values.items()},
        instruments={name: (accuracy[name], "") for name in accuracy},
    )
    shared = {name: uncertainties.ufloat(0, 1) for name in accuracy}
    inputs = {
        name: value
        + accuracy[by[name]].shared_uncertainty(value) * shared[by[name]]
        + uncertainties.ufloat(0, accuracy[by[name]].own_uncertainty())
        for name, value in values.items()
    }
    oracle = function(**inputs) + inputs["a"]
    assert calculation.budget(Key("result")).standard == pytest.approx(oracle.std_dev, rel=1e-5)


def test_monte_carlo_of_an_imbalance_read_by_one_noisy_meter_agrees() -> None:
    # JCGM 101: 40,000 seeded trials; the meter's 2 % of reading cancels, its noise does not.
    dice = random.Random(20261125)
    tree = parse("100 * (a - b) / c")
    values = {"a": 471.0, "b": 466.0, "c": 468.0}
    trials = []
    for _ in range(40_000):
        gain = 1 + dice.uniform(-0.02, 0.02)
        tried = {
            name: value * gain + dice.uniform(-0.6, 0.6) + dice.uniform(-0.5, 0.5)
            for name, value in values.items()
        }
        trials.append(evaluate(tree, scope_of(**tried)).number)
    meter = Instrument(percent_of_reading=2.0, repeatability=0.6, resolution=1.0)
    calculation = calculation_of(
        form_of(page_with("100 * (a - b) / c")),
        {name: By("meter", value) for name, value in values.items()},
        instruments={"meter": (meter, "")},
    )
    # Sampling: within 2 %.
    assert calculation.budget(Key("step")).standard == pytest.approx(
        statistics.stdev(trials), rel=0.02
    )


def test_noise_is_turned_into_the_reading_s_unit() -> None:
    page = '[[field]]\nname = "suction_psig"\nlabel = "Suction"\nunit = "psig"\n'
    calculation = calculation_of(
        form_of(page),
        {"suction_psig": By("gauge", 118)},
        instruments={"gauge": (Instrument(resolution=1.0), "kPa")},
    )
    expected = 0.1450377377 / math.sqrt(12)
    assert calculation.reading_uncertainty(Key("suction_psig")) == pytest.approx(expected)


def test_no_instrument_means_no_uncertainty_is_claimed() -> None:
    calculation = calculation_of(form_of(DIFFERENCE), {"return_f": 76, "supply_f": 56})
    assert calculation.expanded(Key("drop_f")) is None


def test_monte_carlo_agrees() -> None:
    # JCGM 101 (propagation of distributions), 40,000 seeded trials: rectangular errors.
    dice = random.Random(20260914)
    tree = parse("4.5 * a * (b - c)")
    values = {"a": 2000.0, "b": 31.5, "c": 24.0}
    half_widths = {"a": 100.0, "b": 0.5, "c": 0.5}
    trials = []
    for _ in range(40_000):
        tried = {n: v + dice.uniform(-1, 1) * half_widths[n] for n, v in values.items()}
        trials.append(evaluate(tree, scope_of(**tried)).number)
    page = page_with("4.5 * a * (b - c)")
    calculation = calculation_of(
        form_of(page),
        {name: By(name, value) for name, value in values.items()},
        instruments={n: (Instrument(plus_minus=w), "") for n, w in half_widths.items()},
    )
    # Second-order terms and sampling: within 2 %.
    assert calculation.budget(Key("step")).standard == pytest.approx(
        statistics.stdev(trials), rel=0.02
    )


def test_a_wet_bulb_equal_to_its_dry_bulb_still_has_an_uncertainty() -> None:
    # One side of the reading is impossible there; the slope is taken from the other.
    page = """
[[field]]
name = "dry_f"
label = "Dry bulb"
unit = "°F"
[[field]]
name = "wet_f"
label = "Wet bulb"
unit = "°F"
[[quantity]]
name = "ratio"
label = "Humidity ratio"
unit = "lb/lb"
formula = "humidity_ratio_from_wet_bulb(dry_f, wet_f, 14.696)"
source = "ASHRAE Handbook, Fundamentals, ch. 1"
"""
    calculation = calculation_of(
        form_of(page),
        {"dry_f": By("T-1", 70), "wet_f": By("T-2", 70)},
        instruments={name: (Instrument(plus_minus=1.0), "°F") for name in ("T-1", "T-2")},
    )
    expanded = calculation.expanded(Key("ratio"))
    assert expanded is not None
    assert expanded > 1e-4


def test_sensitivities_chain_through_quantities_to_the_readings() -> None:
    calculation = calculation_of(
        form_of(page_with("a * b / c")),
        {"a": By("m", 20), "b": By("m", 12), "c": 5},
        instruments={"m": (Instrument(plus_minus=1), "")},
    )
    slopes = calculation.sensitivities(Key("result"))
    assert set(slopes) == {Key("a"), Key("b")}  # c was read by no named instrument
    assert slopes[Key("a")] == pytest.approx(12 / 5 + 1)
    assert slopes[Key("b")] == pytest.approx(20 / 5)


@pytest.mark.parametrize("name", [n for n, f in FUNCTIONS.items() if f.member_slope is not None])
def test_the_stated_slope_of_a_linear_aggregate_is_its_derivative(name: str) -> None:
    """GUM 5.1.3: the finite difference is the witness."""
    function = FUNCTIONS[name]
    assert function.member_slope is not None
    members = [3.0, 5.0, 11.0, 2.5]

    def moved(number: float) -> float:
        return float(function.compute([number, *members[1:]]))

    stated = function.member_slope(len(members))
    assert stated == pytest.approx(derivative(moved, members[0]), rel=1e-7)
