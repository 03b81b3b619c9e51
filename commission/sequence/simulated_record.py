"""What the simulated units' loggers write: every signal, with sensors' noise and bias."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from commission.sequence.configuration import Configuration
from commission.sequence.simulated_state import Flags, Fleet, Floats
from commission.sequence.trend_log import OFF, ON, Column, TrendLog
from commission.sequence.trend_signals import expected_signals

# 2026-06-15 00:00:00 UTC: any day will do, a fixed one repeats.
_BEGINS = 1_781_481_600.0
_NOISE_F = 0.15
_NOISY = frozenset({"room_f", "outdoor_f", "return_f", "mixed_f", "supply_f"})
_BIAS_F = MappingProxyType({
    "outdoor_f": ("outdoor_sensor_biased", 15.0), "mixed_f": ("mixed_sensor_biased", -12.0),
    "supply_f": ("supply_sensor_biased", 10.0), "return_f": ("return_sensor_biased", 10.0),
})  # fmt: skip


class Recorder:
    """Keeps each step's signals of all units, and gives one log a unit."""

    def __init__(self, fleet: Fleet, steps: int) -> None:
        self.f, self.steps = fleet, steps
        self.shown = [_shown(run.configuration) for run in fleet.runs]
        self.wanted = {name for names in self.shown for name in names}
        # (steps, units): a step's values are written side by side.
        self.kept: dict[str, NDArray[np.int8] | NDArray[np.float32]] = {}
        self.condenser_fans = max(run.configuration.condenser_fans for run in fleet.runs)
        # Each unit's noise is its own seed's, so that a log does not depend on its neighbours.
        self.noise = np.stack(
            [generator.normal(0.0, _NOISE_F, 512) for generator in fleet.generators], axis=1
        )

    def record(self, step: int) -> None:
        """Keep this step's signals."""
        f = self.f
        for name, values in (self._calls() | self._parts() | self._protections()).items():
            self._keep(name, step, values, np.int8)
        for place, (name, numbers) in enumerate(self._measured().items()):
            noise = self.noise[(step * 7 + place * 61) % 512] if name in _NOISY else 0.0
            fault, bias = _BIAS_F.get(name, ("", 0.0))
            shift = bias * f.has(fault) if fault else 0.0
            self._keep(name, step, numbers + noise + shift, np.float32)

    def _keep(
        self, name: str, step: int, values: Flags | Floats, kind: type[np.int8] | type[np.float32]
    ) -> None:
        if name not in self.wanted:
            return
        if name not in self.kept:
            self.kept[name] = np.zeros((self.steps, self.f.size), kind)  # type: ignore[assignment]
        self.kept[name][step] = values

    def _calls(self) -> dict[str, Flags]:
        f = self.f
        calls = {"call_fan": f.fan_called, "occupied": f.occupied}
        for number in range(1, int(f.stages.max()) + 1):
            calls[f"call_cool_{number}"] = f.cool_level >= number
        for number in range(1, int(f.heat_calls.max()) + 1):
            calls[f"call_heat_{number}"] = f.heat_level >= number
        return calls

    def _parts(self) -> dict[str, Flags]:
        f = self.f
        running = f.compressor.any(axis=1)
        outdoor_fan = running & ~f.defrost & ~f.has("condenser_fan_dead")
        parts = {
            "indoor_fan": f.fan, "inducer": f.inducer, "vent_switch": f.vent_switch,
            "igniter": f.igniter, "flame": f.flame, "lockout": f.lockout,
            "gas_valve_1": f.valve_1_shown, "gas_valve_2": f.valve_2_shown,
            "defrost": f.defrost, "condenser_fan_1": outdoor_fan,
            "heat_pump_heating": f.reversed_to_heat & ~f.defrost
            & ~f.has("reversing_valve_miswired"),
        }  # fmt: skip
        for number in range(f.compressor.shape[1]):
            parts[f"compressor_{number + 1}"] = f.compressor[:, number]
        for number in range(f.heater.shape[1]):
            parts[f"electric_heat_{number + 1}"] = f.heater[:, number]
        for number in range(2, self.condenser_fans + 1):
            parts[f"condenser_fan_{number}"] = outdoor_fan & (f.outdoor > 60.0 + 5 * number)
        return parts

    def _protections(self) -> dict[str, Flags]:
        f = self.f
        clean = np.zeros(f.size, bool)
        return dict(f.trips) | {
            "high_limit_open": f.high_limit_open, "rollout_open": f.rollout_open,
            "airflow_proved": (f.airflow > 0.2) | f.has("airflow_switch_stuck"),
            "filter_dirty": clean,
        }  # fmt: skip

    def _measured(self) -> dict[str, Floats]:
        f = self.f
        unloaded = np.where(f.has("broken_belt"), 1.4, 4.5)
        return {
            "room_f": f.room, "cooling_setpoint_f": f.cooling_setpoint,
            "heating_setpoint_f": f.heating_setpoint, "outdoor_f": f.outdoor,
            "outdoor_rh_percent": f.outdoor_rh, "return_f": f.returned,
            "return_rh_percent": np.full(f.size, 45.0), "mixed_f": f.mixed, "supply_f": f.supply,
            "damper_command_percent": f.damper_command, "damper_percent": f.damper,
            "outdoor_air_cfm": 4_000.0 * f.outdoor_share * f.airflow,
            "indoor_fan_a": unloaded * f.fan,
        }  # fmt: skip

    def logs(self) -> Iterator[TrendLog]:
        """Yield each unit's log, with only the signals its configuration has."""
        moments = np.asarray(_BEGINS + np.arange(self.steps) * self.f.step_s, np.float64)
        joined = np.ones(self.steps, bool)
        joined[0] = False
        lines = np.arange(2, self.steps + 2, dtype=np.int32)
        for place, run in enumerate(self.f.runs):
            source = f"simulated, seed {run.seed}"
            yield TrendLog(moments, joined, lines, self._columns(place), zone="UTC", source=source)

    def _columns(self, place: int) -> dict[str, Column]:
        names = (name for name in self.shown[place] if name in self.kept)
        return {name: self._column(self.kept[name][:, place]) for name in names}

    @staticmethod
    def _column(values: NDArray[np.int8] | NDArray[np.float32]) -> Column:
        if values.dtype == np.int8:
            return np.where(values, np.int8(ON), np.int8(OFF))
        return np.ascontiguousarray(values, np.float32)


def _shown(configuration: Configuration) -> list[str]:
    """Return the signals that a logger on this unit has."""
    c = configuration
    hidden: set[str] = set()
    if not c.has_gas:
        hidden |= {"inducer", "vent_switch", "igniter", "flame", "lockout", "rollout_open"}
    if not c.has_heat_pump:
        hidden |= {"heat_pump_heating", "defrost"}
    if c.outdoor_damper != "modulating":
        hidden |= {"damper_percent", "damper_command_percent", "outdoor_air_cfm"}
    return [name for name in expected_signals(c) if name not in hidden]
