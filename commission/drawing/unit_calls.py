"""What a unit has, the calls it can be given, and the parts that should run under each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from commission.drawing.readings import FigureReadings
from commission.language import spoken, to_say


class CallKind(StrEnum):
    """What is asked of the unit."""

    IDLE = "idle"
    FAN = "fan"
    ECONOMIZER = "economizer"
    COOLING = "cooling"
    HEAT_PUMP = "heat pump"
    GAS = "gas heat"
    ELECTRIC = "electric heat"


class Part(StrEnum):
    """A part or a stream of air that can be lit."""

    OUTDOOR_AIR = to_say("outdoor air")
    RETURN_AIR = to_say("return air")
    SUPPLY_AIR = to_say("supply air")
    RELIEF = to_say("relief")
    FAN = to_say("indoor fan")
    BURNER = to_say("burner, gas valve and draft inducer")
    ELECTRIC_HEAT = to_say("electric heat")
    CONDENSER_FANS = to_say("condenser fans")


@dataclass(frozen=True, slots=True)
class Call:
    """One call of a unit; `stage` counts from 1, 0 where there is only one."""

    kind: CallKind
    stage: int = 0

    @property
    def words(self) -> str:
        """What a person chooses it by."""
        return spoken(_WORDS[self.kind], n=self.stage)


IDLE = Call(CallKind.IDLE)
_WORDS = {
    CallKind.IDLE: to_say("No call"),
    CallKind.FAN: to_say("Fan alone"),
    CallKind.ECONOMIZER: to_say("Economizer, free cooling"),
    CallKind.COOLING: to_say("Cooling, stage {n}"),
    CallKind.HEAT_PUMP: to_say("Heat pump, stage {n}"),
    CallKind.GAS: to_say("Gas heat, firing rate {n}"),
    CallKind.ELECTRIC: to_say("Electric heat, stage {n}"),
}
MOST_STAGES = 6


@dataclass(frozen=True, slots=True)
class Fitted:
    """What a unit has, as its configuration was answered."""

    circuits: int
    cooling_stages: int
    circuit_of: tuple[int, ...]
    """Circuit of each compressor, from compressor 1 on."""
    indoor_fans: int
    condenser_fans: int
    metering: str
    heat: str
    gas_valve: str
    heat_stages: int
    inducers: int
    electric_stages: int
    damper: str
    economizer: bool
    relief: str

    @property
    def has_gas(self) -> bool:
        """Whether anything burns."""
        return "gas" in self.heat

    @property
    def has_electric(self) -> bool:
        """Whether there are electric elements."""
        return "electric" in self.heat

    @property
    def is_heat_pump(self) -> bool:
        """Whether the circuits can be reversed."""
        return "heat pump" in self.heat

    @property
    def has_outdoor_air(self) -> bool:
        """Whether there is an outdoor-air opening."""
        return self.damper not in ("", "none")

    def compressors_of(self, circuit: int) -> list[int]:
        """Return the numbers of the compressors of a circuit."""
        return [n for n, its in enumerate(self.circuit_of, start=1) if its == circuit]


def fitted(readings: FigureReadings) -> Fitted:
    """Return what the configuration says; an answer that is not there counts as not fitted."""

    def count(role: str, most: int, least: int = 0) -> int:
        number = readings.number(role)
        return max(least, min(most, round(number))) if number is not None else least

    circuits = count("circuits", 4)
    return Fitted(
        circuits=circuits,
        cooling_stages=count("cooling_stages", MOST_STAGES),
        circuit_of=_circuits_of_compressors(readings, count("compressors", 8), circuits),
        indoor_fans=count("indoor_fans", 4, 1),
        condenser_fans=count("condenser_fans", 12),
        metering=readings.text("metering"),
        heat=readings.text("heat_type"),
        gas_valve=readings.text("gas_valve"),
        heat_stages=count("heat_stages", 4, 1),
        inducers=count("draft_inducers", 4),
        electric_stages=count("electric_heat_stages", MOST_STAGES, 1),
        damper=readings.text("outdoor_damper"),
        economizer=readings.text("economizer") not in ("", "none"),
        relief=readings.text("relief"),
    )


def _circuits_of_compressors(
    readings: FigureReadings, compressors: int, circuits: int
) -> tuple[int, ...]:
    """Return each compressor's circuit; one not answered takes its turn."""
    name = readings.figure.uses.get("compressor_circuit")
    answered = {
        key.index[-1]: readings.results.value(*key).number
        for key in (readings.keys(name) if name else [])
        if key.index
    }
    found = []
    for number in range(1, compressors + 1):
        its = answered.get(number)
        turn = (number - 1) % circuits + 1 if circuits else 0
        found.append(round(its) if its is not None and 1 <= its <= circuits else turn)
    return tuple(found)


def calls_of(readings: FigureReadings) -> tuple[Call, ...]:
    """Return the calls that this unit can be given, the idle unit first."""
    unit = fitted(readings)
    found = [IDLE, Call(CallKind.FAN)]
    if unit.economizer and unit.has_outdoor_air:
        found.append(Call(CallKind.ECONOMIZER))
    found += [Call(CallKind.COOLING, n + 1) for n in range(unit.cooling_stages)]
    if unit.is_heat_pump:
        found += [Call(CallKind.HEAT_PUMP, n + 1) for n in range(unit.cooling_stages)]
    if unit.has_gas:
        found += [Call(CallKind.GAS, n + 1) for n in range(unit.heat_stages)]
    if unit.has_electric:
        found += [Call(CallKind.ELECTRIC, n + 1) for n in range(unit.electric_stages)]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Lit:
    """What should run under a call."""

    parts: frozenset[Part]
    compressors: frozenset[int]

    def circuits(self, unit: Fitted) -> frozenset[int]:
        """Return the circuits of the compressors that should run."""
        return frozenset(unit.circuit_of[number - 1] for number in self.compressors)


def lit(unit: Fitted, call: Call) -> Lit:
    """Return what should run under a call, the indoor fan with every one of them.

    Which compressors a stage takes is the usual share: stage n of N runs n/N of them, rounded
    up, in their order (common practice; the unit's own literature governs).
    """
    if call.kind is CallKind.IDLE:
        return Lit(frozenset(), frozenset())
    parts = {Part.FAN, Part.SUPPLY_AIR, Part.RETURN_AIR}
    if unit.has_outdoor_air:
        parts.add(Part.OUTDOOR_AIR)
    compressors: set[int] = set()
    if call.kind is CallKind.ECONOMIZER:
        parts.discard(Part.RETURN_AIR)
        if unit.relief not in ("", "none"):
            parts.add(Part.RELIEF)
    elif call.kind in (CallKind.COOLING, CallKind.HEAT_PUMP) and unit.cooling_stages:
        share = len(unit.circuit_of) * call.stage / unit.cooling_stages
        compressors |= set(range(1, math.ceil(share) + 1))
        parts.add(Part.CONDENSER_FANS)
    elif call.kind is CallKind.GAS:
        parts.add(Part.BURNER)
    elif call.kind is CallKind.ELECTRIC:
        parts.add(Part.ELECTRIC_HEAT)
    return Lit(frozenset(parts), frozenset(compressors))
