"""Uncertainty goes through a typed table: by its slopes, at its knots and at its edges.

Oracles: the `uncertainties` package on the interpolation written out (exact derivatives,
correlation followed by name), and Monte Carlo (JCGM 101:2008) on the table itself.
"""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Mapping
from typing import Any

import pytest
import uncertainties

from builders import By, calculation_of, form_of
from commission.definitions.model import Key
from commission.engineering.chart import Chart, from_text
from commission.formula.uncertainty import Instrument
from commission.validation.calculation import Calculation

PAGE = """
[[field]]
name = "outdoor_f"
label = "Outdoor dry bulb"
unit = "°F"
[[field]]
name = "indoor_f"
label = "Indoor wet bulb"
unit = "°F"
[[field]]
name = "measured_f"
label = "Superheat, read"
unit = "Δ°F"
[[field]]
name = "chart_table"
label = "Charging chart"
kind = "table"
rows = {label = "Indoor wet bulb", unit = "°F", decimals = 0}
columns = {label = "Outdoor dry bulb", unit = "°F", decimals = 0}
body = {label = "Superheat", unit = "Δ°F", decimals = 1}
[[field]]
name = "bent_table"
label = "Curve with a bend"
kind = "table"
rows = {label = "Outdoor dry bulb", unit = "°F", decimals = 0}
body = {label = "Pressure", unit = "psig", decimals = 1}
[[quantity]]
name = "target_f"
label = "Superheat the chart asks"
unit = "Δ°F"
formula = "from_table(chart_table, indoor_f, outdoor_f)"
source = "Linear interpolation"
[[quantity]]
name = "off_target_f"
label = "Off the chart by"
unit = "Δ°F"
formula = "measured_f - target_f"
source = "Definition"
[[quantity]]
name = "wet_bulb_meant_f"
label = "Wet bulb at which the superheat read is asked"
unit = "°F"
formula = "row_from_table(chart_table, measured_f, outdoor_f)"
source = "Linear interpolation"
[[quantity]]
name = "pressure_psig"
label = "Pressure of the curve"
unit = "psig"
formula = "from_table(bent_table, outdoor_f)"
source = "Linear interpolation"
"""
CHART = "/\t85\t95\t105\n60\t12\t9\t6.5\n64\t18\t14.5\t11\n68\t26\t21\t17"
BENT = "70\t100\n80\t110\n90\t140"
METER = Instrument(plus_minus=0.6)


def calculated(
    readings: Mapping[str, object], instruments: Mapping[str, Instrument]
) -> Calculation:
    given = {"chart_table": CHART, "bent_table": BENT, **readings}
    return calculation_of(
        form_of(PAGE), given, instruments={n: (one, "°F") for n, one in instruments.items()}
    )


def between(
    corners: tuple[float, float, float, float], down: Any, across: Any
) -> uncertainties.UFloat:
    """Bilinear interpolation written out; shares from 0 to 1."""
    first, second, third, fourth = corners
    upper = first + (second - first) * across
    lower = third + (fourth - third) * across
    return upper + (lower - upper) * down


@pytest.mark.parametrize("shared", [False, True])
def test_a_table_of_two_directions_agrees_with_the_uncertainties_library(shared: bool) -> None:
    standard = METER.standard_uncertainty(0)
    wet = dry = uncertainties.ufloat(0, standard)
    if not shared:
        dry = uncertainties.ufloat(0, standard)
    # 62.5 °F and 97 °F lie in the cell of rows 60-64, columns 95-105.
    oracle = between((9, 6.5, 14.5, 11), (62.5 + wet - 60) / 4, (97 + dry - 95) / 10)
    found = calculated(
        {"indoor_f": By("one", 62.5), "outdoor_f": By("one" if shared else "other", 97)},
        {"one": METER, "other": METER},
    )
    assert found.values[Key("target_f")].number == pytest.approx(oracle.nominal_value)
    assert found.budget(Key("target_f")).standard == pytest.approx(oracle.std_dev, rel=1e-5)


def test_it_goes_on_from_the_table_into_what_rests_on_it() -> None:
    # 66 °F and 90 °F: rows 64-68, columns 85-95; the superheat read by a third instrument.
    wet, dry, gauge = (uncertainties.ufloat(0, METER.standard_uncertainty(0)) for _ in range(3))
    asked = between((18, 14.5, 26, 21), (66 + wet - 64) / 4, (90 + dry - 85) / 10)
    oracle = 19 + gauge - asked
    found = calculated(
        {"indoor_f": By("a", 66), "outdoor_f": By("b", 90), "measured_f": By("c", 19)},
        {"a": METER, "b": METER, "c": METER},
    )
    key = Key("off_target_f")
    assert found.values[key].number == pytest.approx(oracle.nominal_value)
    assert found.expanded(key) == pytest.approx(2 * oracle.std_dev, rel=1e-5)
    assert found.dominating_reading(key) == Key("indoor_f")  # 1.9 Δ°F a °F; the others 0.4 and 1


def test_a_table_turned_round_agrees_with_the_uncertainties_library() -> None:
    gauge, dry = (uncertainties.ufloat(0, METER.standard_uncertainty(0)) for _ in range(2))
    share = (101 + dry - 95) / 10
    upper, lower = 9 + (6.5 - 9) * share, 14.5 + (11 - 14.5) * share
    oracle = 60 + 4 * (10 + gauge - upper) / (lower - upper)
    found = calculated(
        {"measured_f": By("a", 10), "outdoor_f": By("b", 101)}, {"a": METER, "b": METER}
    )
    key = Key("wet_bulb_meant_f")
    assert found.values[key].number == pytest.approx(oracle.nominal_value)
    assert found.budget(key).standard == pytest.approx(oracle.std_dev, rel=1e-5)


@pytest.mark.parametrize(
    ("indoor_f", "outdoor_f", "within"),
    [
        (62.5, 97.0, 0.01),
        (66.0, 88.0, 0.01),
        # On a row of the table the slope changes from 1.375 to 1.75: the mean of both.
        (64.0, 90.0, 0.03),
    ],
)
def test_monte_carlo_on_the_table_agrees(indoor_f: float, outdoor_f: float, within: float) -> None:
    dice = random.Random(20261129)
    chart = from_text(CHART)
    assert isinstance(chart, Chart)
    half = METER.plus_minus
    drawn = [
        chart.read(indoor_f + dice.uniform(-half, half), outdoor_f + dice.uniform(-half, half))
        for _ in range(60_000)
    ]
    found = calculated(
        {"indoor_f": By("a", indoor_f), "outdoor_f": By("b", outdoor_f)},
        {"a": METER, "b": METER},
    )
    standard = found.budget(Key("target_f")).standard
    assert standard == pytest.approx(statistics.stdev(drawn), rel=within)


@pytest.mark.parametrize(
    ("outdoor_f", "slope"),
    [
        (75.0, 1.0),
        (85.0, 3.0),
        (80.0, 2.0),  # the bend: between the slopes of both sides
        (70.0, 1.0),  # the edges: nothing is read outside, so from inside
        (90.0, 3.0),
    ],
)
def test_the_slope_at_a_knot_and_at_an_edge(outdoor_f: float, slope: float) -> None:
    found = calculated({"outdoor_f": By("a", outdoor_f)}, {"a": METER})
    assert found.budget(Key("pressure_psig")).standard == pytest.approx(
        slope * 0.6 / math.sqrt(3), rel=1e-5
    )
    assert found.budget(Key("pressure_psig")).contributions.keys() == {"a"}
