"""The state of a fleet of simulated units: arrays with one element (or row) a unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from commission.errors import ReadingError
from commission.language import near_miss
from commission.sequence.configuration import Configuration
from commission.sequence.simulated_faults import FAULTS

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]
LONG_AGO = 1e6


@dataclass(frozen=True, slots=True)
class Run:
    """One unit to simulate."""

    configuration: Configuration
    fault: str = ""
    seed: int = 1


class Fleet:
    """What every part of the simulation reads and writes. Temperatures °F, times s."""

    def __init__(self, runs: Sequence[Run], length_s: float, step_s: float) -> None:
        self.runs, self.length_s, self.step_s = tuple(runs), length_s, step_s
        self.size = len(runs)
        self._faults = self._fault_masks()
        self._configure()
        self._start()

    @staticmethod
    def of(runs: Sequence[Run], length_s: float, step_s: float) -> Fleet:
        """Return a fleet at the start of its day."""
        return Fleet(runs, length_s, step_s)

    def has(self, fault: str) -> Flags:
        """Return which units have a fault."""
        return self._faults[fault]

    def _fault_masks(self) -> dict[str, Flags]:
        names = [fault.name for fault in FAULTS]
        for run in self.runs:
            if run.fault and run.fault not in names:
                raise ReadingError(
                    f"'{run.fault}' is not a simulated fault.{near_miss(run.fault, names)}"
                )
        given = np.array([run.fault for run in self.runs], dtype=object)
        return {name: given == name for name in names}

    def _configure(self) -> None:
        fitted = [run.configuration for run in self.runs]
        self.stages = np.array([c.cooling_stages for c in fitted])
        self.compressors = np.array([c.compressors for c in fitted])
        self.heaters = np.array([c.members["electric_heat"] for c in fitted])
        self.heat_calls = np.array([c.members["call_heat"] for c in fitted])
        self.gas = np.array([c.has_gas for c in fitted])
        self.gas_stages = np.array([c.gas_stages for c in fitted])
        self.modulating = np.array([c.gas_valve == "modulating" for c in fitted])
        self.hot_surface = np.array([c.ignition == "hot surface" for c in fitted])
        self.electric = np.array([c.has_electric for c in fitted])
        self.pump = np.array([c.has_heat_pump for c in fitted])
        self.heated = np.array([c.heat_type != "none" for c in fitted])
        self.changeover = np.array([c.economizer for c in fitted], dtype=object)
        self.fixed_limit = np.array([c.economizer_fixed_limit for c in fitted])
        self.economizer_fitted = self.changeover != "none"
        self.damper_fitted = np.array([c.outdoor_damper == "modulating" for c in fitted])

    def _start(self) -> None:
        n = self.size
        seeds = [run.seed for run in self.runs]
        self.generators = [np.random.default_rng(seed) for seed in seeds]
        self.weather_shift = np.array([g.uniform(-2.0, 2.0) for g in self.generators])
        self.now, self.within_hot = 0.0, False
        self.share_of_day = 0.0
        self.outdoor = np.full(n, 30.0)
        self.outdoor_rh = np.full(n, 50.0)
        self.room = np.full(n, 62.0)
        self.occupied = np.zeros(n, bool)
        self.cooling_setpoint, self.heating_setpoint = np.full(n, 85.0), np.full(n, 60.0)
        self.cool_level, self.heat_level = np.zeros(n, int), np.zeros(n, int)
        self.cool_time, self.heat_time = np.zeros(n), np.zeros(n)
        self.suits = np.zeros(n, bool)
        self.damper_command, self.damper = np.zeros(n), np.zeros(n)
        width = int(self.compressors.max())
        self.compressor = np.zeros((n, width), bool)
        self.compressor_since = np.full((n, width), LONG_AGO)
        self.last_start = np.full(n, LONG_AGO)
        self.reversed_to_heat = self.pump.copy()
        self.defrost, self.defrost_clock = np.zeros(n, bool), np.zeros(n)
        self.heater = np.zeros((n, max(int(self.heaters.max()), 1)), bool)
        self.heater_since = np.full(n, LONG_AGO)
        self.fan, self.fan_wanted_for, self.fan_called = (
            np.zeros(n, bool),
            np.zeros(n),
            np.zeros(n, bool),
        )
        self.cool_off_for, self.heater_off_for = np.full(n, LONG_AGO), np.full(n, LONG_AGO)
        self._start_gas(n)
        self._start_air(n)

    def _start_gas(self, n: int) -> None:
        self.inducer, self.vent_switch = np.zeros(n, bool), np.zeros(n, bool)
        self.igniter, self.flame = np.zeros(n, bool), np.zeros(n, bool)
        self.valve, self.valve_2 = np.zeros(n, bool), np.zeros(n, bool)
        self.lockout, self.high_limit_open = np.zeros(n, bool), np.zeros(n, bool)
        self.rollout_open, self.heat_fan = np.zeros(n, bool), np.zeros(n, bool)
        self.flame_for, self.valve_off_for = np.zeros(n), np.full(n, LONG_AGO)
        self.firing = np.zeros(n)
        self.valve_1_shown, self.valve_2_shown = np.zeros(n, bool), np.zeros(n, bool)

    def _start_air(self, n: int) -> None:
        self.outdoor_share = np.zeros(n)
        self.airflow, self.mixed, self.supply = np.zeros(n), np.full(n, 62.0), np.full(n, 62.0)
        self.returned = np.full(n, 63.0)
        self.drop, self.rise, self.exchanger = np.zeros(n), np.zeros(n), np.full(n, 70.0)
        self.trips = {
            name: np.zeros(n, bool)
            for name in ("high_pressure_open", "low_pressure_open", "freeze_trip",
                         "condensate_trip", "phase_trip", "smoke_trip", "leak_trip")
        }  # fmt: skip

    def within(self, first: float, last: float) -> bool:
        """Return whether the day is between two shares of its length."""
        return first <= self.share_of_day < last
