"""Every signal a rule can ask of a log: its name, unit, and the words headings call it by.

Words are those of the trade (terminals R G Y W, OAT, RAT, MAT, SAT): common practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from commission.language import spoken
from commission.sequence.configuration import Configuration


@dataclass(frozen=True, slots=True)
class Signal:
    """One thing a log may hold.

    Attributes:
        title: What it is called, in English; "{n}" stands for the member's number.
        unit: Unit of a measurement; None for an on/off signal.
        words: Alternatives, each a set of words that a heading must hold ("call cool"). A
            word ending in "#" stands with the member's number ("y#": Y1 or "Y 1").
        member_of: The repeated part; `name` then ends in the member's number.
    """

    name: str
    title: str
    words: tuple[str, ...]
    unit: str | None = None
    member_of: str = ""
    number: int = 0

    @property
    def label(self) -> str:
        """What it is called in the language spoken here, with the member's number."""
        return spoken(self.title, n=self.number) if self.number else spoken(self.title)

    @property
    def is_on_off(self) -> bool:
        """Whether the signal is a state and not a measurement."""
        return self.unit is None


def _state(name: str, title: str, *words: str, member_of: str = "") -> Signal:
    return Signal(name, title, words, None, member_of)


_STATES = (
    _state("call_fan", "Fan call (G)", "g", "fan call", "call fan", "fan g", "g fan call"),
    _state("call_cool_{n}", "Cooling call {n} (Y{n})", "y#", "cool call #", "cooling call #",
           "call cool #", "call cooling #", "cooling stage call #", "cool y#", "cooling call y#",
           "call cool y#", "call cooling y#", "cooling call # y#", member_of="call_cool"),
    _state("call_heat_{n}", "Heating call {n} (W{n})", "w#", "heat call #", "heating call #",
           "call heat #", "call heating #", "heating stage call #", "heat w#", "heating call w#",
           "call heat w#", "call heating w#", "heating call # w#", member_of="call_heat"),
    _state("occupied", "Occupied", "occupied", "occ", "occupancy", "occ mode", "occupied mode",
           "occupancy mode", "schedule"),
    _state("indoor_fan", "Indoor fan", "indoor fan", "supply fan", "blower", "sf", "ifm", "sfan",
           "indoor fan status", "supply fan status", "indoor blower", "fan status",
           "indoor fan on", "supply fan on", "evaporator fan", "indoor fan contactor"),
    _state("compressor_{n}", "Compressor {n}", "compressor #", "comp #", "c#", "cmp #",
           "compressor # status", "comp # status", "compressor # on", "compressor # contactor",
           member_of="compressor"),
    _state("condenser_fan_{n}", "Condenser fan {n}", "condenser fan #", "cond fan #", "cf #",
           "outdoor fan #", "ofm #", "condenser fan # status", "condenser fan # on",
           member_of="condenser_fan"),
    _state("inducer", "Draft inducer", "inducer", "draft inducer", "combustion fan", "idm",
           "inducer on", "combustion air fan", "inducer motor", "draft fan"),
    _state("vent_switch", "Vent pressure switch closed", "vent switch", "pressure switch",
           "draft switch", "vent pressure switch", "vent switch closed", "air proving switch",
           "vent pressure switch closed", "combustion air switch", "inducer pressure switch"),
    _state("igniter", "Igniter", "igniter", "ignitor", "spark", "hot surface igniter", "ignition"),
    _state("gas_valve_{n}", "Gas valve stage {n}", "gas valve #", "gv #", "main valve #",
           "gas valve stage #", "gas valve # on", "gas stage #", "valve stage #",
           "fire stage #", member_of="gas_valve"),
    _state("flame", "Flame proved", "flame", "flame proved", "flame sense", "flame status",
           "flame on", "flame signal", "flame proven"),
    _state("heat_pump_heating", "Reversing valve set to heating", "reversing valve", "rv",
           "reversing valve heating", "reversing valve heat"),
    _state("defrost", "Defrost", "defrost", "defrost on", "defrost active"),
    _state("electric_heat_{n}", "Electric heat stage {n}", "electric heat #", "heater stage #",
           "elec heat #", "heater #", "electric heater #", "aux heat #", "auxiliary heat #",
           "electric heat stage #", member_of="electric_heat"),
    _state("relief_fan", "Relief fan", "relief fan", "power exhaust", "exhaust fan",
           "powered relief"),
    _state("lockout", "Ignition lockout", "lockout", "ignition lockout", "flame lockout"),
    _state("high_limit_open", "High-limit switch open", "high limit", "limit switch",
           "high limit open", "limit open", "limit trip", "high temp limit"),
    _state("rollout_open", "Flame-rollout switch open", "rollout", "rollout switch",
           "flame rollout", "rollout open", "rollout switch open"),
    _state("high_pressure_open", "High-pressure cut-out open", "high pressure switch", "hps",
           "hp switch", "high pressure trip", "high pressure open", "high pressure cutout"),
    _state("low_pressure_open", "Low-pressure cut-out open", "low pressure switch", "lps",
           "lp switch", "low pressure trip", "low pressure open", "low pressure cutout"),
    _state("freeze_trip", "Freeze protection tripped", "freeze", "freezestat", "freeze stat",
           "freeze trip", "freeze protection", "low temp trip"),
    _state("condensate_trip", "Condensate overflow tripped", "condensate", "overflow",
           "condensate overflow", "condensate switch", "condensate trip", "float switch"),
    _state("phase_trip", "Phase monitor tripped", "phase monitor", "phase loss", "phase trip",
           "phase fault"),
    _state("smoke_trip", "Smoke detector tripped", "smoke", "smoke detector", "smoke trip",
           "duct smoke", "smoke alarm"),
    _state("leak_trip", "Refrigerant leak detected", "leak", "refrigerant leak", "leak detector",
           "leak trip"),
    _state("airflow_proved", "Airflow proved", "airflow proved", "airflow switch", "air switch",
           "airflow proving", "fan proof", "airflow proof", "fan proving switch"),
    _state("filter_dirty", "Filter switch closed (dirty)", "filter", "dirty filter",
           "filter switch", "filter alarm", "filter dirty"),
)  # fmt: skip

_MEASUREMENTS = (
    Signal("room_f", "Room temperature", ("room", "space", "zone", "room temp", "space temp",
           "zone temp", "room temperature", "space temperature", "zone temperature", "rmt",
           "spt", "zat", "zn t"), "°F"),
    Signal("cooling_setpoint_f", "Cooling setpoint", ("cooling setpoint", "cool setpoint",
           "clg setpoint", "cool sp", "cooling sp", "clgsp", "csp", "cooling set point",
           "occ cool setpoint"), "°F"),
    Signal("heating_setpoint_f", "Heating setpoint", ("heating setpoint", "heat setpoint",
           "htg setpoint", "heat sp", "heating sp", "htgsp", "hsp", "heating set point",
           "occ heat setpoint"), "°F"),
    Signal("outdoor_f", "Outdoor air temperature", ("oat", "oa temp", "outdoor temp",
           "outside temp", "outdoor air temp", "outside air temp", "outdoor temperature",
           "outdoor air temperature", "outside air temperature", "outside temperature",
           "ambient temp", "outdoor air", "oa t", "outdoor", "ambient"), "°F"),
    Signal("outdoor_rh_percent", "Outdoor relative humidity", ("outdoor rh", "oa rh", "oarh",
           "outdoor humidity", "outside rh", "outside humidity", "outdoor air rh",
           "outside air humidity", "outdoor air humidity", "oa humidity"), "%"),
    Signal("return_f", "Return air temperature", ("rat", "ra temp", "return temp",
           "return air temp", "return temperature", "return air temperature", "return air",
           "ra t", "return"), "°F"),
    Signal("return_rh_percent", "Return relative humidity", ("return rh", "ra rh", "rarh",
           "return humidity", "return air rh", "return air humidity", "ra humidity"), "%"),
    Signal("mixed_f", "Mixed air temperature", ("mat", "ma temp", "mixed temp",
           "mixed air temp", "mixed temperature", "mixed air temperature", "mixed air",
           "ma t", "mixed"), "°F"),
    Signal("supply_f", "Supply air temperature", ("sat", "dat", "sa temp", "da temp",
           "supply temp", "discharge temp", "supply air temp", "discharge air temp",
           "supply temperature", "supply air temperature", "discharge air temperature",
           "supply air", "discharge air", "leaving air temp", "lat", "da t", "sa t"), "°F"),
    Signal("damper_command_percent", "Outdoor damper command", ("damper command", "damper cmd",
           "oa damper command", "outdoor damper command", "economizer command", "econ cmd",
           "oad cmd", "oa damper cmd", "economizer output", "econ output", "economizer signal",
           "outside air damper command", "outdoor air damper command"), "%"),
    Signal("damper_percent", "Outdoor damper position", ("damper position", "damper pos",
           "oa damper position", "outdoor damper position", "damper feedback", "oa damper",
           "outdoor damper", "economizer position", "econ pos", "oad pos", "oa damper pos",
           "damper", "outside air damper", "outdoor air damper", "outside air damper position",
           "outdoor air damper position", "economizer damper"), "%"),
    Signal("outdoor_air_cfm", "Outdoor airflow", ("outdoor airflow", "oa flow", "oa airflow",
           "outside airflow", "outdoor air flow", "oa cfm", "outdoor cfm"), "cfm"),
    Signal("supply_airflow_cfm", "Supply airflow", ("supply airflow", "sa flow", "sa airflow",
           "supply air flow", "supply cfm", "sa cfm", "airflow"), "cfm"),
    Signal("fan_speed_percent", "Indoor fan speed", ("fan speed", "supply fan speed",
           "sf speed", "indoor fan speed", "vfd speed", "blower speed", "fan vfd"), "%"),
    Signal("firing_percent", "Firing rate", ("firing rate", "gas valve signal", "modulation",
           "heat output", "burner rate"), "%"),
    Signal("indoor_fan_a", "Indoor fan current", ("fan amps", "indoor fan amps",
           "supply fan amps", "fan current", "supply fan current", "indoor fan current",
           "blower amps", "sf amps", "blower current"), "A"),
    Signal("compressor_{n}_a", "Compressor {n} current", ("compressor # amps", "comp # amps",
           "compressor # current", "c# amps", "comp # current", "c# current"), "A",
           "compressor"),
    Signal("suction_psig_{n}", "Suction pressure {n}", ("suction pressure #", "suction #",
           "suction press #", "circuit # suction", "circuit # suction pressure"), "psig",
           "circuit"),
    Signal("discharge_psig_{n}", "Discharge pressure {n}", ("discharge pressure #",
           "head pressure #", "liquid pressure #", "circuit # discharge pressure",
           "discharge press #", "circuit # head pressure"), "psig", "circuit"),
    Signal("flame_ua", "Flame current", ("flame current", "flame ua", "flame microamps",
           "flame rectification"), "µA"),
    Signal("static_inwc", "Supply duct static pressure", ("static", "duct static",
           "static pressure", "supply static", "duct static pressure", "dsp"), "in. w.c."),
)  # fmt: skip

_MOST_MEMBERS: Mapping[str, int] = MappingProxyType({
    "compressor": 8, "condenser_fan": 12, "call_cool": 6, "call_heat": 8, "gas_valve": 4,
    "electric_heat": 6, "circuit": 4,
})  # fmt: skip


def _expanded() -> Iterator[Signal]:
    for signal in (*_STATES, *_MEASUREMENTS):
        if not signal.member_of:
            yield signal
            continue
        for number in range(1, _MOST_MEMBERS[signal.member_of] + 1):
            yield replace(
                signal,
                name=signal.name.replace("{n}", str(number)),
                number=number,
                words=_numbered(signal.words, number),
            )


def _numbered(words: tuple[str, ...], number: int) -> tuple[str, ...]:
    """Set the member's number into each alternative; member 1 may go without one."""
    numbered = [text.replace("#", f" {number}") for text in words]
    if number == 1:  # "compressor" alone means the first, but a lone letter means nothing
        bare = (text.replace("#", "") for text in words)
        numbered += [text for text in bare if len("".join(text.split())) > 1]
    return tuple(numbered)


SIGNALS: Mapping[str, Signal] = MappingProxyType({signal.name: signal for signal in _expanded()})

_BRACKET = re.compile(r"[(\[{].*?[)\]}]")
_WORD = re.compile(r"[a-z]+|\d+")
# Words of a heading that say where or that it is a point, not what it is.
_IDLE = frozenset("rtu unit ahu status state point value trend log on off the of f c deg".split())


def heading_words(heading: str) -> frozenset[str]:
    """Return a heading's words: lower case, no brackets, digits apart, camelCase split."""
    text = _BRACKET.sub(" ", heading)
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).lower()
    text = re.sub(r"\b(?:rtu|ahu|unit)[\s_-]*\d+", " ", text)
    text = re.sub(r"\bset[\s_-]*p(?:oin)?t\b", "setpoint", text)
    return frozenset(_WORD.findall(text))


_PATTERNS: tuple[tuple[frozenset[str], str], ...] = tuple(
    (frozenset(_WORD.findall(text.lower())), signal.name)
    for signal in SIGNALS.values()
    for text in signal.words
)


def suggested_signals(heading: str) -> tuple[str, ...]:
    """Return the signals a heading seems to name, best first; none where nothing fits.

    A canonical name stands for itself. Otherwise the alternative with the most words, all of
    them in the heading and fewest left over, wins; equals are all returned.
    """
    for plain in (heading.strip().lower(), _BRACKET.sub("", heading).strip().lower()):
        if plain in SIGNALS:
            return (plain,)
    words = heading_words(heading)
    numbers = {word for word in words if word.isdigit()}
    scores: dict[str, tuple[int, int]] = {}
    for pattern, name in _PATTERNS:
        if not pattern or not pattern <= words:
            continue
        if numbers - pattern:  # "Compressor 2" is not compressor 1
            continue
        left = len((words - pattern) - _IDLE)
        score = (len(pattern), -left)
        if left <= 2 and score > scores.get(name, (0, -99)):
            scores[name] = score
    best = max(scores.values(), default=None)
    return tuple(name for name, score in scores.items() if score == best)


def expected_signals(configuration: Configuration) -> tuple[str, ...]:
    """Return the signals that a log of this unit could hold, in the table's order."""
    members = dict(configuration.members) | {"circuit": configuration.circuits}
    return tuple(
        signal.name
        for signal in SIGNALS.values()
        if not signal.member_of or _member(signal.name) <= members.get(signal.member_of, 0)
    )


def _member(name: str) -> int:
    return int(re.findall(r"\d+", name)[-1])
