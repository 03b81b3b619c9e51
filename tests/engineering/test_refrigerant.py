"""Saturation tables against the CoolProp that is installed; compressor maps; refusals."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys
import timeit
from collections.abc import Callable

import CoolProp
import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import refrigerant
from commission.engineering.refrigerant import REFRIGERANTS, Curve
from commission.errors import CommissionError, ReadingError

# A point that fails on one machine is bridged, on another computed: the two differ by less.
BRIDGE = 5e-6  # in ln p, 0.0003 °F
NAMES = tuple(REFRIGERANTS)
BETWEEN_F = [at + 0.5 for at in range(-40, 155, 3)] + [at + 0.25 for at in range(100, 155, 4)]
LOOKUP_F = {Curve.DEW: refrigerant.dew_f, Curve.BUBBLE: refrigerant.bubble_f}
LOOKUP_PSIA = {Curve.DEW: refrigerant.dew_psia, Curve.BUBBLE: refrigerant.bubble_psia}
CURVES = [pytest.param(name, kind, id=f"{name} {kind}") for name in NAMES for kind in Curve]


def test_table_was_made_by_the_installed_coolprop() -> None:
    assert refrigerant.saturation_table().coolprop_version == CoolProp.__version__


@pytest.mark.parametrize("name", NAMES)
def test_shipped_table_is_what_is_built_now(name: str) -> None:
    built = refrigerant.build_saturation_tables([name])
    shipped = refrigerant.saturation_table()
    assert shipped.first_f == built.first_f
    for kind in Curve:
        assert shipped.curves[name, kind] == pytest.approx(built.curves[name, kind], abs=BRIDGE)


@pytest.mark.parametrize(("name", "kind"), CURVES)
def test_curve_is_whole_and_rising(name: str, kind: Curve) -> None:
    tables = refrigerant.saturation_table()
    logs = tables.curves[name, kind]
    assert len(logs) == REFRIGERANTS[name].last_f - tables.first_f + 1
    assert all(math.isfinite(value) for value in logs)
    steps = [after - before for before, after in itertools.pairwise(logs)]
    assert min(steps) > 0
    # ln p bends down smoothly: no step may differ from its neighbour by more than 1 %.
    assert all(abs(b / a - 1) < 0.01 for a, b in itertools.pairwise(steps))


@pytest.mark.parametrize(("name", "kind"), CURVES)
def test_lookup_between_grid_points_is_coolprop(name: str, kind: Curve) -> None:
    fluid, checked = REFRIGERANTS[name].coolprop_name, 0
    for at in BETWEEN_F:
        log = refrigerant.log_saturation_pressure(fluid, kind, at)
        if log is None:
            continue
        checked += 1
        found = LOOKUP_F[kind](name, math.exp(log))
        assert abs(found - at) < refrigerant.LARGEST_LOOKUP_ERROR_F, at
        pressure = LOOKUP_PSIA[kind](name, at)
        assert pressure == pytest.approx(math.exp(log), rel=5e-4), at
    assert checked > 0.85 * len(BETWEEN_F)


@pytest.mark.parametrize("name", NAMES)
def test_dew_is_never_below_bubble_and_glide_is_as_declared(name: str) -> None:
    for at in range(-40, 156, 5):
        assert refrigerant.bubble_psia(name, at) >= refrigerant.dew_psia(name, at) * (1 - 1e-9)
    pressure = refrigerant.bubble_psia(name, 40)
    glide = refrigerant.dew_f(name, pressure) - 40
    assert (glide > 1) is REFRIGERANTS[name].glide, glide


@pytest.mark.parametrize("name", NAMES)
def test_curves_end_short_of_the_critical_point(name: str) -> None:
    from CoolProp.CoolProp import PropsSI

    if REFRIGERANTS[name].coolprop_name.endswith(".mix"):
        # The library gives no critical point for most mixtures: the density of liquid must
        # still be well above that of vapour at the last temperature.
        kelvin = (REFRIGERANTS[name].last_f + 459.67) * 5 / 9
        fluid = REFRIGERANTS[name].coolprop_name
        liquid, vapor = (PropsSI("D", "T", kelvin, "Q", q, fluid) for q in (0, 1))
        assert liquid > 2 * vapor
        return
    critical_f = PropsSI("Tcrit", REFRIGERANTS[name].coolprop_name) * 9 / 5 - 459.67
    assert REFRIGERANTS[name].last_f <= critical_f - 5


@given(st.sampled_from(NAMES), st.sampled_from(list(Curve)), st.floats(-40, 155))
def test_pressure_and_temperature_go_round(name: str, kind: Curve, at: float) -> None:
    pressure = LOOKUP_PSIA[kind](name, at)
    edge = math.isclose(at, -40, abs_tol=1e-9) or math.isclose(at, 155, abs_tol=1e-9)
    if not edge:  # exp and ln may step over the edge by a last bit
        assert LOOKUP_F[kind](name, pressure) == pytest.approx(at, abs=1e-8)


@given(st.sampled_from(NAMES), st.floats(60, 270), st.floats(60, 270))
def test_temperature_rises_with_pressure(name: str, first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert refrigerant.dew_f(name, low) <= refrigerant.dew_f(name, high)
    assert refrigerant.bubble_f(name, low) <= refrigerant.dew_f(name, low) + 1e-6


@pytest.mark.parametrize(
    ("name", "kind", "gauge", "barometer", "temperature"),
    [
        ("R-410A", Curve.BUBBLE, 340.5, 14.696, 104.71),
        ("R-32", Curve.DEW, 120, 14.696, 39.59),
        ("R-454B", Curve.DEW, 110, 14.696, 41.19),
        ("R-407C", Curve.DEW, 70, 14.696, 44.54),
        ("R-407C", Curve.BUBBLE, 230, 14.696, 101.36),
        ("R-134a", Curve.DEW, 35, 14.696, 39.95),
        ("R-410A", Curve.DEW, 118, 12.228, 38.75),  # 5,000 ft; 39.84 with sea level's
    ],
)
def test_gauge_readings(
    name: str, kind: Curve, gauge: float, barometer: float, temperature: float
) -> None:
    """Computed beforehand with CoolProp 8.0.0, gauge + barometer."""
    assert LOOKUP_F[kind](name, gauge + barometer) == pytest.approx(temperature, abs=0.02)


@pytest.mark.parametrize(("name", "shift"), [("R-454B", 2.67), ("R-407C", 10.99)])
def test_bubble_in_place_of_dew_spoils_superheat(name: str, shift: float) -> None:
    pressure = 14.696 + (110 if name == "R-454B" else 70)
    wrong = refrigerant.dew_f(name, pressure) - refrigerant.bubble_f(name, pressure)
    assert wrong == pytest.approx(shift, abs=0.05)


def test_case_does_not_matter_and_near_misses_are_named() -> None:
    assert refrigerant.dew_f("r-410a", 132) == refrigerant.dew_f("R-410A", 132)
    with pytest.raises(ReadingError, match="Did you mean 'R-454B'"):
        refrigerant.dew_f("R454B", 132)


@pytest.mark.parametrize(
    "call",
    [
        lambda: refrigerant.dew_f("R-32", 5),
        lambda: refrigerant.bubble_f("R-32", 5000),
        lambda: refrigerant.dew_psia("R-32", -41),
        lambda: refrigerant.bubble_psia("R-32", 156),
        lambda: refrigerant.bubble_psia("R-32", math.nan),
    ],
)
def test_outside_the_table_names_the_range(call: Callable[[], float]) -> None:
    with pytest.raises(ReadingError, match=r"R-32.*-40 to 155 °F"):
        call()


@pytest.mark.parametrize("psia", [0, -3, math.nan])
def test_no_pressure_is_below_a_full_vacuum(psia: float) -> None:
    with pytest.raises(
        ReadingError, match=r"Absolute pressure \(R-32\) .*must be above 0 psia\. A g"
    ):
        refrigerant.dew_f("R-32", psia)
    with pytest.raises(ReadingError, match="zero the gauge in open air"):
        refrigerant.compression_ratio(psia, 300)


def test_a_map_is_refused_where_it_cannot_be() -> None:
    assert refrigerant.rated_by_map(POWER, 45, 130) == pytest.approx(3074.97, abs=0.01)
    with pytest.raises(ReadingError, match="not above the suction's, 130 °F"):
        refrigerant.rated_by_map(POWER, 130, 45)
    with pytest.raises(ReadingError, match="Check C1 to C10 in order and sign"):
        refrigerant.rated_by_map([-900.0, *[0.0] * 9], 45, 130)


def test_a_lookup_takes_microseconds_and_no_coolprop() -> None:
    code = (
        "import sys\n"
        "from commission.engineering import refrigerant\n"
        "refrigerant.dew_f('R-454B', 120.0)\n"
        "assert not any(name.startswith('CoolProp') for name in sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    refrigerant.saturation_table()
    lookup = min(timeit.repeat(lambda: refrigerant.dew_f("R-454B", 120.0), number=2000, repeat=5))
    logarithm = min(timeit.repeat(lambda: math.log(120.0), number=2000, repeat=5))
    assert lookup < 200 * logarithm


def test_a_damaged_table_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    from pathlib import Path

    broken = Path(str(tmp_path)) / "saturation.json"
    broken.write_text("{}", encoding="utf-8")
    monkeypatch.setattr(refrigerant, "TABLE_PATH", broken)
    refrigerant.saturation_table.cache_clear()
    try:
        with pytest.raises(CommissionError, match="Install again"):
            refrigerant.saturation_table()
    finally:
        refrigerant.saturation_table.cache_clear()


# Coefficients of a public worked example, a 3-ton R-410A map (seen); values by plain arithmetic.
MASS_FLOW = (
    217.3163128, 5.094492028, -0.593170311, 4.38e-02, -2.14e-02, 1.04e-02, 7.90e-05, -5.73e-05,
    1.79e-04, -8.08e-05,
)  # fmt: skip
POWER = (
    -561.3615705, -15.62601841, 46.92506685, -0.217949552, 0.435062616, -0.442400826, 2.25e-04,
    2.37e-03, -3.32e-03, 2.50e-03,
)  # fmt: skip


@pytest.mark.parametrize(
    ("coefficients", "suction", "discharge", "value"),
    [
        (MASS_FLOW, 45, 130, 459.448),
        (MASS_FLOW, 45, 110, 474.281),
        (POWER, 45, 130, 3074.97),
        (POWER, 50, 115, 2476.04),
        (POWER, 40, 120, 2690.74),
    ],
)
def test_compressor_map(
    coefficients: tuple[float, ...], suction: float, discharge: float, value: float
) -> None:
    assert refrigerant.compressor_map(coefficients, suction, discharge) == pytest.approx(
        value, abs=0.006
    )


@given(st.lists(st.floats(-10, 10), min_size=10, max_size=10), st.floats(0, 60), st.floats(60, 150))
def test_compressor_map_against_numpy(terms: list[float], suction: float, discharge: float) -> None:
    """Oracle: the coefficients set in a matrix of powers, AHRI 540's order."""
    matrix = numpy.zeros((4, 4))
    order = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
    for term, place in zip(terms, order, strict=True):
        matrix[place] = term
    oracle = numpy.polynomial.polynomial.polyval2d(suction, discharge, matrix)
    found = refrigerant.compressor_map(terms, suction, discharge)
    assert found == pytest.approx(float(oracle), rel=1e-9, abs=1e-6)


def test_compressor_map_needs_ten_coefficients() -> None:
    with pytest.raises(ReadingError, match="10 coefficients, 3 given"):
        refrigerant.compressor_map([1, 2, 3], 40, 120)


def test_compression_ratio() -> None:
    assert refrigerant.compression_ratio(130, 390) == 3
    with pytest.raises(ReadingError):
        refrigerant.compression_ratio(0, 390)
