"""What is fitted on one unit, as far as the sequence of operation depends on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from types import MappingProxyType

from commission.definitions.model import Key
from commission.errors import ReadingError
from commission.formula.evaluate import State
from commission.language import near_miss, spoken
from commission.validation.calculation import Calculation

_WITH_GAS = ("gas", "heat pump with auxiliary gas")
_ASKED_WITH_GAS = ("gas_valve", "heat_stages", "draft_inducers", "ignition",
                   "rollout_switch_fitted", "vent_pressure_switch_fitted")  # fmt: skip
_WITH_ELECTRIC = ("electric", "heat pump with auxiliary electric")

# The choices and ranges of forms/configuration.toml; a test holds the two together.
CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "fan_speed_control": ("one speed", "stepped speeds", "variable speed"),
    "heat_type": (
        "none", "gas", "electric", "heat pump",
        "heat pump with auxiliary electric", "heat pump with auxiliary gas",
    ),
    "gas_valve": ("one stage", "two stage", "modulating"),
    "ignition": ("direct spark", "hot surface", "spark to intermittent pilot"),
    "economizer": (
        "none", "fixed dry bulb", "differential dry bulb", "fixed enthalpy",
        "differential enthalpy",
    ),
    "outdoor_damper": ("none", "manual, fixed", "motorised, two position", "modulating"),
    "relief": ("none", "gravity", "powered"),
    "control_kind": ("thermostat", "discharge air", "building automation"),
})  # fmt: skip
RANGES: Mapping[str, tuple[int, int]] = MappingProxyType({
    "cooling_stages": (1, 6), "circuits": (1, 4), "compressors": (1, 8), "indoor_fans": (1, 4),
    "condenser_fans": (1, 12), "heat_stages": (1, 4), "electric_heat_stages": (1, 6),
    "draft_inducers": (0, 4), "relief_fans": (1, 4),
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Configuration:
    """The answers that decide which rules apply; names are those of the form's fields."""

    cooling_stages: int = 1
    circuits: int = 1
    compressors: int = 1
    indoor_fans: int = 1
    condenser_fans: int = 1
    fan_speed_control: str = "one speed"
    heat_type: str = "none"
    gas_valve: str = "one stage"
    heat_stages: int = 1
    draft_inducers: int = 1
    ignition: str = "direct spark"
    electric_heat_stages: int = 1
    economizer: str = "none"
    economizer_fixed_limit: bool = False
    outdoor_damper: str = "none"
    relief: str = "none"
    relief_fans: int = 1
    control_kind: str = "thermostat"
    high_pressure_cutout_fitted: bool = False
    low_pressure_cutout_fitted: bool = False
    freeze_protection_fitted: bool = False
    phase_monitor_fitted: bool = False
    condensate_switch_fitted: bool = False
    smoke_detector_fitted: bool = False
    airflow_switch_fitted: bool = False
    filter_switch_fitted: bool = False
    rollout_switch_fitted: bool = False
    vent_pressure_switch_fitted: bool = False
    leak_detection_fitted: bool = False
    unanswered: tuple[str, ...] = ()

    @property
    def has_gas(self) -> bool:
        """Whether a burner is fitted."""
        return self.heat_type in _WITH_GAS

    @property
    def has_electric(self) -> bool:
        """Whether electric heat is fitted."""
        return self.heat_type in _WITH_ELECTRIC

    @property
    def has_heat_pump(self) -> bool:
        """Whether the compressors also heat."""
        return self.heat_type.startswith("heat pump")

    @property
    def has_auxiliary(self) -> bool:
        """Whether another heat stands behind a heat pump."""
        return self.heat_type.startswith("heat pump with")

    @property
    def gas_stages(self) -> int:
        """Valve stages a log can show: a modulating valve opens once and follows a signal."""
        return (2 if self.gas_valve == "two stage" else 1) if self.has_gas else 0

    @property
    def members(self) -> Mapping[str, int]:
        """How many of each repeated part there are."""
        return {
            "compressor": self.compressors,
            "condenser_fan": self.condenser_fans,
            "call_cool": self.cooling_stages,
            "call_heat": self._heat_calls(),
            "gas_valve": self.gas_stages,
            "electric_heat": self.electric_heat_stages if self.has_electric else 0,
        }

    def _heat_calls(self) -> int:
        if self.heat_type == "none":
            return 0
        pump = self.cooling_stages if self.has_heat_pump else 0
        electric = self.electric_heat_stages if self.has_electric else 0
        return max(pump + self.gas_stages + electric, 1)

    def facts(self) -> Mapping[str, str | float | bool]:
        """Return the names that a rule's `when` may use, each with its value."""
        answers = {
            field.name: getattr(self, field.name)
            for field in fields(self)
            if field.name != "unanswered"
        }
        return answers | {
            "has_gas": self.has_gas,
            "has_electric": self.has_electric,
            "has_heat_pump": self.has_heat_pump,
            "has_auxiliary": self.has_auxiliary,
            "has_economizer": self.economizer != "none",
            "gas_stages": self.gas_stages,
        }


_YES = {"yes": True, "no": False, True: True, False: False}


def configuration_from_answers(answers: Mapping[str, object]) -> Configuration:
    """Return the configuration that the form's answers describe.

    Args:
        answers: Field name -> answer, as entered ("2", 2, "yes", True, "gas"); other fields
            are passed over. One that is absent, None or "" takes the default of
            `Configuration`, and is named in `unanswered` where it matters.
    Raises:
        ReadingError: One or more answers are not among the form's choices or ranges; the
            message holds all of them.
    """
    known: dict[str, object] = {}
    faults, unanswered = [], []
    for field in fields(Configuration):
        if field.name == "unanswered":
            continue
        answer = answers.get(field.name)
        if answer is None or answer == "":
            unanswered.append(field.name)
            continue
        try:
            known[field.name] = _understood(field.name, answer)
        except ReadingError as error:
            faults.append(str(error))
    if faults:
        raise ReadingError("\n".join(faults))
    made = Configuration(**known)  # type: ignore[arg-type]
    return replace(made, unanswered=tuple(name for name in unanswered if _matters(name, made)))


def _matters(name: str, made: Configuration) -> bool:
    """Return whether the form asks a field of this unit."""
    if name in _ASKED_WITH_GAS:
        return made.has_gas
    asked = {
        "electric_heat_stages": made.has_electric,
        "relief_fans": made.relief == "powered",
        "economizer_fixed_limit": made.economizer not in ("none", "fixed dry bulb"),
    }
    return asked.get(name, True)


def configuration_of(calculation: Calculation) -> Configuration:
    """Return the configuration that a unit's readings describe.

    Raises:
        ReadingError: An answer is not among the form's choices or ranges.
    """
    answers: dict[str, object] = {}
    for field in fields(Configuration):
        value = calculation.values.get(Key(field.name))
        if value is not None and value.state is State.KNOWN:
            answers[field.name] = value.content
    return configuration_from_answers(answers)


def _understood(name: str, answer: object) -> object:
    if name in CHOICES:
        if answer not in CHOICES[name]:
            hint = near_miss(str(answer), CHOICES[name])
            raise ReadingError(
                spoken(
                    "{name}: '{answer}' is not one of {choices}.{hint}",
                    name=name,
                    answer=answer,
                    choices=", ".join(CHOICES[name]),
                    hint=hint,
                )
            )
        return answer
    if name in RANGES:
        return _whole(name, answer)
    key = answer.strip().lower() if isinstance(answer, str) else answer
    if key not in ("yes", "no", True, False):
        raise ReadingError(
            spoken(
                "{name}: '{answer}' is not yes or no. Answer one of them.", name=name, answer=answer
            )
        )
    return _YES[key]


def _whole(name: str, answer: object) -> int:
    low, high = RANGES[name]
    try:
        number = float(answer)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise ReadingError(
            spoken("{name}: '{answer}' is not a whole number.", name=name, answer=answer)
        ) from None
    if number != int(number) or not low <= number <= high:
        raise ReadingError(
            spoken(
                "{name}: {answer} must be a whole number from {low} to {high}.",
                name=name,
                answer=answer,
                low=low,
                high=high,
            )
        )
    return int(number)
