"""Function rows: a fuel gas of the supplier's own analysis."""

from __future__ import annotations

from commission.engineering import combustion
from commission.formula.declaration import Function, takes
from commission.formula.spreadsheet_text import number, only_if, within
from commission.language import to_say

_AIR = number(combustion.AIR_OXYGEN_PERCENT)
_PER_OXYGEN = number((1 - combustion.AIR_OXYGEN) / combustion.AIR_OXYGEN)
_ATOMS = {"carbon": "", "hydrogen": "", "nitrogen": "", "carbon_dioxide": ""}
_ATOM_TESTS = "{0}>0,{1}>=0,{2}>=0,{3}>=0"
_NEED = "({0}+{1}/4)"
_DRY = f"({{0}}+{{3}}+{{2}}+{_PER_OXYGEN}*{_NEED})"
_VALID = "A mole of gas: carbon above 0, the others 0 or more; complete combustion in dry air."
_STOICHIOMETRY = "Stoichiometry, complete combustion in dry air with 20.95 % oxygen"


def _excess(oxygen: str) -> str:
    """Text of excess air as a share of the air needed."""
    ratio = number(combustion.AIR_OXYGEN)
    return f"({ratio}*{_DRY}/{_NEED}*{oxygen}/({_AIR}-{oxygen}))"


def _heating_value() -> str:
    values = [row.heating_value_btuft3 for row in combustion.COMPONENTS.values()]
    terms = "+".join(f"{number(value)}*{{{at}}}" for at, value in enumerate(values))
    tests = "{0}>=0,{1}>=0,{2}>=0,{3}>=0,{0}+{1}+{2}+{3}<=101"
    return only_if(tests, f"({terms})/100*14.73/14.696")


def _losses() -> str:
    """Text of the losses, Btu/lbmol: oxygen {5}, stack {6}, air {7}, carbon monoxide {8}."""
    reference = number(combustion.REFERENCE_F)
    heats = zip(
        combustion.CARBON_DIOXIDE_HEAT,
        combustion.WATER_HEAT,
        combustion.OXYGEN_HEAT,
        combustion.NITROGEN_HEAT,
        (1, 2, 3),
        strict=True,
    )
    excess, terms = _excess("{5}"), []
    for carbon_dioxide, water, oxygen, nitrogen, power in heats:
        flue = (
            f"({{0}}+{{3}})*{number(carbon_dioxide)}+{{1}}/2*{number(water)}"
            f"+({{2}}+{_PER_OXYGEN}*{_NEED})*{number(nitrogen)}"
        )
        air = f"{_NEED}*({number(oxygen)}+{_PER_OXYGEN}*{number(nitrogen)})"
        step = f"(({{6}}-{reference})^{power}-({{7}}-{reference})^{power})"
        terms.append(f"({flue}+{excess}*{air})*{step}")
    latent = (
        f"{{1}}/2*({number(combustion.WATER_LATENT)}"
        f"+({number(combustion.WATER_LATENT_SLOPE)})*({{7}}-{reference}))"
    )
    dry = f"({_DRY}+{excess}*{_NEED}/{number(combustion.AIR_OXYGEN)})"
    unburnt = f"{dry}*{{8}}/1000000*{number(combustion.CARBON_MONOXIDE_HEAT)}"
    return "+".join((*terms, latent, unburnt))


def _efficiency() -> str:
    tests = ",".join(
        (
            _ATOM_TESTS,
            "{4}>0",
            within("{5}", combustion.OXYGEN_PERCENT),
            within("{6}", combustion.STACK_F),
            within("{7}", combustion.COMBUSTION_AIR_F),
            "{6}>{7}",
            within("{8}", combustion.CARBON_MONOXIDE_PPM),
        )
    )
    heat = f"({{4}}*{number(combustion.FT3_PER_LBMOL)})"
    return only_if(tests, f"100*(1-({_losses()})/{heat})")


ROWS: tuple[Function, ...] = (
    Function(
        name="gas_heating_value_btuft3",
        compute=combustion.heating_value_btuft3,
        arguments=takes(methane="%", ethane="%", propane="%", butane="%"),
        result="Btu/ft³",
        spreadsheet=_heating_value(),
        symbol="(1010.0 × {0} + 1769.7 × {1} + 2516.1 × {2} + 3262.3 × {3}) / 100 × 14.73 / 14.696",
        valid="Per cent by volume, at most 101 % together; dry gas at 14.73 psia and 60 °F, ideal.",
        source="GPA 2145 (from memory)",
    ),
    Function(
        name="dry_flue_moles",
        compute=combustion.dry_flue_moles,
        arguments=takes(**_ATOMS),
        result="",
        spreadsheet=only_if(_ATOM_TESTS, _DRY),
        symbol="{0} + {3} + {2} + 3.7733 × ({0} + {1} / 4)",
        valid=_VALID,
        source=_STOICHIOMETRY,
    ),
    Function(
        name="oxygen_from_carbon_dioxide_max_percent",
        compute=combustion.oxygen_from_carbon_dioxide_max_percent,
        arguments=takes(carbon_dioxide="%", carbon_dioxide_max="%"),
        result="%",
        spreadsheet=only_if("{1}>0,{0}>=0,{0}<={1}", f"{_AIR}*(1-{{0}}/{{1}})"),
        symbol="20.95 × (1 − {0} / {1})",
        valid="CO2 from 0 to the gas's greatest; excess air.",
        source=_STOICHIOMETRY,
    ),
    Function(
        name="excess_air_of_gas_percent",
        compute=combustion.excess_air_of_gas_percent,
        arguments=takes(**_ATOMS, oxygen="%"),
        result="%",
        spreadsheet=only_if(
            f"{_ATOM_TESTS},{within('{4}', combustion.OXYGEN_PERCENT)}", f"100*{_excess('{4}')}"
        ),
        symbol=to_say("excess air({4} of a gas with C {0}, H {1}, N2 {2}, CO2 {3})"),
        valid=_VALID + " Oxygen 0 to 15 %.",
        source=_STOICHIOMETRY,
    ),
    Function(
        name="efficiency_of_gas_percent",
        compute=combustion.efficiency_of_gas_percent,
        arguments=takes(
            **_ATOMS,
            heating_value="Btu/ft³",
            oxygen="%",
            stack="°F",
            air="°F",
            carbon_monoxide="ppm",
        ),
        result="%",
        spreadsheet=_efficiency(),
        symbol=to_say("η(C {0}, H {1}, N2 {2}, CO2 {3}, {4}; O2 {5}, stack {6}, air {7}, CO {8})"),
        valid=_VALID + " Oxygen 0 to 15 %, stack 140 to 1000 °F, not condensing; air -40 to "
        "140 °F.",
        source="Stoichiometry and NASA polynomials (GRI-Mech 3.0), on the higher heating value",
    ),
)
