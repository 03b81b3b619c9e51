"""Units made of configuration answers alone, for the tests of what follows from them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache, cached_property
from itertools import product

from commission.definitions.load import load_form
from commission.definitions.model import Key
from commission.validation.calculation import Calculation, Given
from commission.validation.plan import Plan

HEATS = ("none", "gas", "electric", "heat pump", "heat pump with auxiliary electric",
         "heat pump with auxiliary gas")  # fmt: skip
VALVES = ("one stage", "two stage", "modulating")
ECONOMIZERS = ("none", "fixed dry bulb", "differential dry bulb", "fixed enthalpy",
               "differential enthalpy")  # fmt: skip
PROTECTIONS = (
    "high_pressure_cutout", "low_pressure_cutout", "freeze_protection", "phase_monitor",
    "condensate_switch", "smoke_detector", "airflow_switch", "filter_switch", "rollout_switch",
    "vent_pressure_switch", "leak_detection",
)  # fmt: skip
GAS = ("gas", "heat pump with auxiliary gas")
ELECTRIC = ("electric", "heat pump with auxiliary electric")


@cache
def plan() -> Plan:
    """Return the shipped form's plan."""
    return Plan(load_form())


class ConfigurationOnly(Plan):
    """Computes the configuration page alone; what is asked elsewhere is found when asked for."""

    @cached_property
    def order(self) -> tuple[str, ...]:
        return tuple(entry.name for entry in self.form.section_by_name["configuration"].entries)


@cache
def short_plan() -> Plan:
    """Return the shipped form's plan for thousands of units."""
    return ConfigurationOnly(load_form())


def answers(**given: object) -> dict[str, object]:
    """Return a whole configuration: the plainest unit, with what is given in its place."""
    plainest: dict[str, object] = {
        "phases": "3", "cooling_stages": 1, "circuits": 1, "compressors": 1, "indoor_fans": 1,
        "condenser_fans": 1, "fan_speed_control": "one speed", "fan_speeds": 1,
        "heat_type": "none", "gas_valve": "one stage", "heat_stages": 1, "draft_inducers": 1,
        "ignition": "direct spark", "electric_heat_stages": 1, "economizer": "none",
        "economizer_fixed_limit": "no", "outdoor_damper": "none", "relief": "none",
        "relief_fans": 1, "control_kind": "thermostat", "crankcase_heater_fitted": "no",
    }  # fmt: skip
    plainest |= {f"{name}_fitted": "no" for name in PROTECTIONS}
    unknown = set(given) - set(plainest)
    assert not unknown, unknown
    return plainest | given


def unit(short: bool = False, **given: object) -> Calculation:
    """Return a unit whose configuration is answered, and nothing else.

    A `short` one has no values and verdicts past its configuration.
    """
    held = {Key(name): Given(_content(value)) for name, value in answers(**given).items()}
    return Calculation(short_plan() if short else plan(), given=held)


def _content(value: object) -> float | str:
    return float(value) if isinstance(value, int) else str(value)


def fitted(*names: str) -> dict[str, str]:
    """Return the answers that these protections are fitted."""
    return {f"{name}_fitted": "yes" for name in names}


def sample() -> Iterator[Mapping[str, object]]:
    """Yield the full product of stages, circuits, heat, valve, economizer and protections.

    Protections: none, all, and each alone; 6 x 3 valves only where a burner is fitted.
    """
    sets = [(), PROTECTIONS, *((name,) for name in PROTECTIONS)]
    for stages, circuits, heat, economizer, held in product(
        (1, 2, 4), (1, 2, 4), HEATS, ECONOMIZERS, sets
    ):
        for valve in VALVES if heat in GAS else VALVES[:1]:
            yield {
                "cooling_stages": stages,
                "circuits": circuits,
                "compressors": max(stages, circuits),
                "heat_type": heat,
                "gas_valve": valve,
                "heat_stages": 1 if valve == "one stage" else 2,
                "electric_heat_stages": stages,
                "economizer": economizer,
                "outdoor_damper": "none" if economizer == "none" else "modulating",
                **fitted(*held),
            }
