"""What formulas measure: what must pass, and what must be refused with its kinds named."""

from __future__ import annotations

import pytest

from commission.errors import CommissionError
from commission.formula.dimensions import Sort, TextSort, fits, measure_of, sort_of
from commission.formula.parse import parse

UNITS_OF = {
    "t_f": "°F", "t2_f": "°F", "dt_f": "Δ°F", "p_psig": "psig", "p_psia": "psia",
    "dp_psi": "psi", "barometer_psia": "psia", "dp_inwc": "in. w.c.", "volts": "V", "amps": "A",
    "kw": "kW", "w": "W", "hp": "hp", "cfm": "cfm", "fpm": "fpm", "area_ft2": "ft²",
    "btuh": "Btu/h", "percent": "%", "ratio": "", "dial_ft3": "ft³", "seconds": "s",
    "minutes": "min", "length_ft": "ft", "width_ft": "ft", "width_in": "in.",
}  # fmt: skip
TEXTS = {"refrigerant", "answer"}


def names(name: str) -> Sort:
    return TextSort() if name in TEXTS else measure_of(UNITS_OF[name])


def verdict(text: str, unit: str, as_text: bool = False) -> str:
    """Return "" if the formula fits the unit, else what is wrong."""
    try:
        return fits(sort_of(parse(text), names), unit, as_text)
    except CommissionError as error:
        return str(error)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("p_psig + barometer_psia", "psia"),  # gauge + barometer = absolute
        ("barometer_psia + p_psig", "psia"),
        ("p_psia - barometer_psia", "psig"),  # absolute - absolute = gauge
        ("p_psia - barometer_psia", "psi"),
        ("p_psig - dp_psi", "psig"),
        ("t_f - t2_f", "Δ°F"),
        ("t_f + dt_f", "°F"),
        ("t_f - dt_f", "°F"),
        ("dt_f + dt_f", "Δ°F"),
        ("-dt_f", "Δ°F"),
        ("(t_f - t2_f) / dt_f", ""),
        ("100 * (t_f - t2_f) / dt_f", "%"),
        ("volts * amps", "W"),
        ("volts * amps / 1000", "kW"),  # a literal factor may convert
        ("3 ** 0.5 * volts * amps / 1000", "kW"),
        ("w + volts * amps", "W"),
        ("fpm * area_ft2", "cfm"),  # ft/min * ft2 = ft3/min, scales too
        ("cfm / area_ft2", "fpm"),
        ("length_ft * width_ft", "ft²"),
        ("length_ft ** 2", "ft²"),
        ("area_ft2 ** 0.5", "ft"),
        ("length_ft ** -2 * area_ft2", ""),
        ("width_ft * width_in / 12", "ft²"),
        ("3600 * dial_ft3 / seconds", "ft³/h"),
        ("gas_flow_cfh(dial_ft3, seconds)", "ft³/h"),
        ("kw_from_btuh(btuh)", "kW"),
        ("dew_f(refrigerant, p_psig + barometer_psia)", "°F"),
        ("t_f - dew_f(refrigerant, p_psia)", "Δ°F"),
        ("max(0, volts)", "V"),
        ("max(volts, volts, 0)", "V"),
        ("min(t_f, t2_f)", "°F"),
        ("abs(t_f - t2_f)", "Δ°F"),
        ("abs(t_f)", "°F"),
        ("12", "V"),
        ("volts + 5", "V"),
        ("1 * volts", "V"),
        ("ratio * volts", "V"),
        ("percent * volts / 100", "V"),
        ("0.9 * volts", "V"),
        ("volts if amps > 5 else 0", "V"),
        ("0 if amps > 5 else volts", "V"),
        ("volts if t_f > 80 and refrigerant == 'R-410A' else 0", "V"),
        ("sqrt(ratio)", ""),
        ("ratio ** ratio", ""),
    ],
)
def test_these_fit(text: str, unit: str) -> None:
    assert verdict(text, unit) == ""


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("t_f + t2_f", "°F", "adds something in '°F' to something in '°F'"),
        ("dt_f - t_f", "Δ°F", "takes something in '°F' from something in 'Δ°F'"),
        ("p_psia + barometer_psia", "psia", "adds something in 'psia' to something in 'psia'"),
        ("p_psig - barometer_psia", "psig", "takes something in 'psia'"),
        ("t_f - t2_f", "°F", "gives something in 'Δ°F', declared '°F'"),
        ("t_f", "Δ°F", "gives something in '°F', declared 'Δ°F'"),
        ("p_psig", "psia", "gives something in 'psig', declared 'psia'"),
        ("p_psig + barometer_psia", "psig", "gives something in 'psia', declared 'psig'"),
        ("p_psig + dp_inwc", "psig", "adds something in 'in. w.c.'"),  # scale
        ("volts + amps", "V", "adds something in 'A' to something in 'V'"),
        ("kw + w", "kW", "adds something in 'W' to something in 'kW'"),
        ("volts * amps", "kW", "gives something in 'W', declared 'kW'"),
        ("hp", "kW", "gives something in 'hp', declared 'kW'"),
        ("fpm * area_ft2", "fpm", "gives something in 'cfm', declared 'fpm'"),
        ("width_in * width_ft", "ft²", "declared 'ft²'"),  # 12 times too small
        ("length_ft ** 2", "ft", "gives something in 'ft²', declared 'ft'"),
        ("minutes + seconds", "min", "adds something in 's' to something in 'min'"),
        ("(t_f - t2_f) / dt_f", "%", "gives something in 'plain numbers', declared '%'"),
        ("2 * t_f", "°F", "'t_f' is a temperature on a scale; multiply differences only"),
        ("t_f / t2_f", "", "'t_f' is a temperature on a scale"),
        ("t_f ** 2", "", "'t_f' is a temperature on a scale"),
        ("-t_f", "°F", "'t_f' is counted from a zero point; it has no minus"),
        ("90 - t_f", "Δ°F", "takes a point away from a plain number"),
        ("2 ** volts", "", "such a power needs plain numbers"),
        ("volts ** ratio", "V", "such a power needs plain numbers"),
        ("sqrt(volts)", "", "'volts' passes something in 'V' to sqrt"),
        ("dew_f(refrigerant, p_psig)", "°F", "'p_psig' passes something in 'psig' to dew_f"),
        ("dew_f(p_psia, p_psia)", "°F", "which needs a text"),
        ("dew_f(refrigerant, refrigerant)", "°F", "'refrigerant' passes a text"),
        ("velocity_fpm(p_psig, ratio)", "fpm", "which needs something in 'in. w.c.'"),
        ("max(volts, amps)", "V", "'amps' passes something in 'A' to max"),
        ("max(0, volts, amps)", "V", "'amps' passes something in 'A' to max"),
        ("abs(refrigerant)", "", "'refrigerant' is a text, no number"),
        ("refrigerant + 1", "", "'refrigerant' is a text where a number is needed"),
        ("volts > amps", "", "sets something in 'V' against something in 'A'"),
        ("1 if volts > amps else 0", "", "sets something in 'V' against something in 'A'"),
        ("1 if refrigerant == 5 else 0", "", "sets a text against"),
        ("1 if refrigerant < 'R-22' else 0", "", "puts a text in order"),
        ("1 if volts else 0", "", "'volts' is something in 'V' where a condition is needed"),
        ("1 if not volts else 0", "", "where a condition is needed"),
        ("1 if volts and amps > 1 else 0", "", "where a condition is needed"),
        ("volts if ratio > 1 else amps", "V", "sets something in 'V' against something in 'A'"),
        ("volts if ratio > 1 else 'none'", "V", "against a text"),
        ("volts > 5", "V", "gives a condition, declared 'V'"),
        ("refrigerant", "V", "gives a text, declared 'V'"),
        ("(volts > 5) + 1", "", "is a condition where a number is needed"),
    ],
)
def test_these_are_refused_with_their_kinds(text: str, unit: str, message: str) -> None:
    assert message in verdict(text, unit)


def test_a_text_formula_must_give_a_text() -> None:
    assert verdict("refrigerant if volts > 5 else 'none'", "", as_text=True) == ""
    assert "declared text" in verdict("volts", "", as_text=True)
