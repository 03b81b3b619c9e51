"""Function rows: gas input, altitude, combustion."""

from __future__ import annotations

from commission.engineering import combustion, heating, moist_air
from commission.formula.declaration import Function, FunctionKind, takes
from commission.formula.reference_tables import FUEL_COLUMNS
from commission.formula.spreadsheet_text import cell_for, number, only_if, within
from commission.language import to_say

_STOICHIOMETRY = "Stoichiometry, complete combustion in dry air with 20.95 % oxygen"
_AIR = number(combustion.AIR_OXYGEN_PERCENT)
_FUEL_RANGE = "natural gas or propane; oxygen 0 to 15 %."


def _constant(name: str) -> str:
    """Text of one of the constants of the fuel in {0}."""
    return cell_for("fuels", "{0}", FUEL_COLUMNS.index(name) + 1)


def _oxygen(argument: str) -> str:
    return within(argument, combustion.OXYGEN_PERCENT)


_EXCESS_AIR = f"{_constant('Excess-air constant k')}*{{1}}/({_AIR}-{{1}})"
_CARBON_DIOXIDE_MAX = _constant("CO2 max, %")


def _gas_volume() -> str:
    pressure = f"({{2}}+{{0}}*{number(moist_air.PSI_PER_INCH_WATER)})"
    zero = number(moist_air.RANKINE_AT_ZERO_F)
    base = number(heating.BASE_TEMPERATURE_F + moist_air.RANKINE_AT_ZERO_F)
    return only_if(
        f"{{2}}>0,{within('{1}', heating.GAS_TEMPERATURE_F)},{pressure}>0",
        f"{pressure}/{number(heating.BASE_PRESSURE_PSIA)}*{base}/({{1}}+{zero})",
    )


def _altitude() -> str:
    factor = "1-{1}/100*{0}/1000"
    tests = f"{within('{0}', moist_air.ELEVATION_FT)},{within('{1}', heating.DERATING_PERCENT)}"
    return only_if(tests, f"IF({{0}}<={{2}},1,IF({factor}>0,{factor},NA()))")


def _efficiency() -> str:
    """Text of the losses: fuel {0}, oxygen {1}, stack {2}, air {3}, carbon monoxide {4}."""
    reference = number(combustion.REFERENCE_F)
    terms = []
    for power, order in ((1, "1st"), (2, "2nd"), (3, "3rd")):
        step = f"(({{2}}-{reference})^{power}-({{3}}-{reference})^{power})"
        flue, extra = _constant(f"Flue heat, {order}"), _constant(f"Excess-air heat, {order}")
        terms.append(f"({flue}+{_EXCESS_AIR}*{extra})*{step}")
    latent = (
        f"{_constant('Water, mol')}*({number(combustion.WATER_LATENT)}"
        f"+({number(combustion.WATER_LATENT_SLOPE)})*({{3}}-{reference}))"
    )
    unburnt = (
        f"({_constant('Dry flue gas, mol')}+{_EXCESS_AIR}*{_constant('Dry air, mol')})"
        f"*{{4}}/1000000*{number(combustion.CARBON_MONOXIDE_HEAT)}"
    )
    losses = "+".join((*terms, latent, unburnt))
    return only_if(
        f"{_oxygen('{1}')},{within('{2}', combustion.STACK_F)},"
        f"{within('{3}', combustion.COMBUSTION_AIR_F)},{{2}}>{{3}},"
        f"{within('{4}', combustion.CARBON_MONOXIDE_PPM)}",
        f"100*(1-({losses})/{_constant('Higher heating value, Btu/lbmol')})",
    )


def _altitude_band() -> str:
    tests = f"{within('{0}', moist_air.ELEVATION_FT)},{within('{1}', heating.DERATING_PERCENT)}"
    return only_if(f"{tests},{{3}}>{{2}},{{0}}<={{3}}", "IF({0}<={2},1,1-{1}/100)")


ROWS: tuple[Function, ...] = (
    Function(
        name="gas_flow_cfh",
        compute=heating.gas_flow_cfh,
        arguments=takes(dial="ft³", seconds="s"),
        result="ft³/h",
        spreadsheet=only_if("{0}>0,{1}>0", "3600*{0}/{1}"),
        symbol="3600 × {0} / {1}",
        valid="Above 0; every other appliance on the meter off.",
        source="Definition; NFPA 54 annex",
    ),
    Function(
        name="gas_volume_correction",
        compute=heating.gas_volume_correction,
        arguments=takes(gas_gauge="in. w.c.", gas_temperature="°F", barometer="psia"),
        result="",
        spreadsheet=_gas_volume(),
        symbol="({2} + {0} × 0.036127) / 14.73 × 519.67 / ({1} + 459.67)",
        valid="Gas at -40 to 150 °F; not with a heating value already stated for local pressure.",
        source="Ideal gas law to 14.73 psia and 60 °F",
    ),
    Function(
        name="gas_heat_input_btuh",
        compute=heating.gas_heat_input_btuh,
        arguments=takes(flow="ft³/h", heating_value="Btu/ft³"),
        result="Btu/h",
        spreadsheet=only_if("{0}>=0,{1}>0", "{0}*{1}"),
        symbol="{0} × {1}",
        valid="Flow and heating value at one pressure and temperature.",
        source="Definition",
    ),
    Function(
        name="altitude_derating",
        compute=heating.altitude_derating,
        arguments=takes(elevation="ft", percent_per_1000_ft="", threshold="ft"),
        result="",
        spreadsheet=_altitude(),
        symbol=to_say("altitude factor({0}, {1} % per 1,000 ft, above {2})"),
        valid="1 at or below the threshold, above it 1 - percent/100 x elevation/1000; 0 to 20 %.",
        source="NFPA 54, 4 % per 1,000 ft of total elevation once above 2,000 ft, as quoted in an "
        "equipment installation manual; the unit's literature governs",
    ),
    Function(
        name="altitude_band_derating",
        compute=heating.altitude_band_derating,
        arguments=takes(elevation="ft", percent="", lowest="ft", highest="ft"),
        result="",
        spreadsheet=_altitude_band(),
        symbol=to_say("altitude factor({0}, {1} % from {2} to {3})"),
        valid="1 at or below the band, 1 - percent/100 inside it, refused above it.",
        source="Canadian rule, 10 % from 2,000 to 4,500 ft, as quoted in an equipment "
        "installation manual",
    ),
    Function(
        name="input_ratio_from_manifold",
        compute=heating.input_ratio_from_manifold,
        arguments=takes(manifold="in. w.c.", rated="in. w.c."),
        result="",
        spreadsheet=only_if("{0}>=0,{1}>0", "SQRT({0}/{1})"),
        symbol="√({0} / {1})",
        valid="Rated pressure above 0; same orifices and gas, near the rated pressure.",
        source="Orifice equation",
    ),
    Function(
        name="excess_air_percent",
        compute=combustion.excess_air_percent,
        arguments=takes(fuel="text", oxygen="%"),
        result="%",
        spreadsheet=only_if(_oxygen("{1}"), f"100*{_EXCESS_AIR}"),
        symbol="100 × k({0}) × {1} / (20.95 − {1})",
        valid=_FUEL_RANGE,
        source=_STOICHIOMETRY,
        kind=FunctionKind.TABLE,
        tables=("fuels",),
    ),
    Function(
        name="carbon_dioxide_max_percent",
        compute=combustion.carbon_dioxide_max_percent,
        arguments=takes(fuel="text"),
        result="%",
        spreadsheet=_CARBON_DIOXIDE_MAX,
        symbol="CO2 max({0})",
        valid="natural gas (a utility's typical analysis) or propane.",
        source=_STOICHIOMETRY,
        kind=FunctionKind.TABLE,
        tables=("fuels",),
    ),
    Function(
        name="oxygen_from_carbon_dioxide_percent",
        compute=combustion.oxygen_from_carbon_dioxide_percent,
        arguments=takes(fuel="text", carbon_dioxide="%"),
        result="%",
        spreadsheet=only_if(
            f"{{1}}>=0,{{1}}<={_CARBON_DIOXIDE_MAX}",
            f"{_AIR}*(1-{{1}}/{_CARBON_DIOXIDE_MAX})",
        ),
        symbol="20.95 × (1 − {1} / CO2 max({0}))",
        valid="natural gas or propane; CO2 from 0 to the fuel's greatest; excess air.",
        source=_STOICHIOMETRY,
        kind=FunctionKind.TABLE,
        tables=("fuels",),
    ),
    Function(
        name="co_air_free_ppm",
        compute=combustion.co_air_free_ppm,
        arguments=takes(carbon_monoxide="ppm", oxygen="%"),
        result="ppm",
        spreadsheet=only_if(
            f"{within('{0}', combustion.CARBON_MONOXIDE_PPM)},{_oxygen('{1}')}",
            f"{{0}}*{_AIR}/({_AIR}-{{1}})",
        ),
        symbol="{0} × 20.95 / (20.95 − {1})",
        valid="CO 0 to 20,000 ppm, oxygen 0 to 15 %; burner on and steady.",
        source="Dilution by excess air",
    ),
    Function(
        name="combustion_efficiency_percent",
        compute=combustion.combustion_efficiency_percent,
        arguments=takes(fuel="text", oxygen="%", stack="°F", air="°F", carbon_monoxide="ppm"),
        result="%",
        spreadsheet=_efficiency(),
        symbol=to_say("η({0}, O2 {1}, stack {2}, air {3}, CO {4})"),
        valid=_FUEL_RANGE + " Stack 140 to 1000 °F, not condensing; air -40 to 140 °F.",
        source="Stoichiometry and NASA polynomials (GRI-Mech 3.0), on the higher heating value",
        kind=FunctionKind.TABLE,
        tables=("fuels",),
    ),
)
