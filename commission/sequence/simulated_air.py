"""Weather, air and room of the simulated units: plain heat balances."""

from __future__ import annotations

import numpy as np

from commission.sequence.simulated_state import Fleet

# Share of the day, outdoor °F, heat gained in the room °F/s.
_DAY = np.array([0.0, 0.38, 0.46, 0.66, 0.70, 1.0])
_OUTDOOR_F = np.array([29.0, 32.0, 55.0, 60.0, 85.0, 91.0])
_GAIN_AT = np.array([0.0, 0.40, 0.44, 0.54, 0.55, 0.62, 0.63, 1.0])
_GAIN_FS = np.array([0.0003, 0.0003, 0.0035, 0.0035, 0.0058, 0.0058, 0.0022, 0.0022])
_OCCUPIED = (0.08, 0.92)
_ENVELOPE_S, _AIR_CHANGE_S = 10_800.0, 3_000.0
_COOLING_F, _BURNER_F, _HEATER_F, _PUMP_F, _FAN_F = 24.0, 48.0, 30.0, 26.0, 1.5
_HOT_FROM = 0.7


class AirSide:
    """What the air does between outdoors, coil, burner and room."""

    def __init__(self, fleet: Fleet) -> None:
        self.f = fleet

    def weather(self, now: float) -> None:
        """Set time, outdoor air, occupancy and setpoints."""
        f = self.f
        f.now, f.share_of_day = now, now / f.length_s
        outdoor = np.interp(f.share_of_day, _DAY, _OUTDOOR_F) + f.weather_shift
        f.outdoor = np.where(f.heated, outdoor, np.maximum(outdoor, 52.0))
        f.outdoor_rh = np.interp(f.outdoor, [30.0, 60.0, 90.0], [70.0, 50.0, 45.0])
        occupied = _OCCUPIED[0] <= f.share_of_day < _OCCUPIED[1]
        f.occupied = np.full(f.size, occupied)
        f.cooling_setpoint = np.full(f.size, 75.0 if occupied else 88.0)
        f.heating_setpoint = np.full(f.size, 70.0 if occupied else 60.0)
        f.within_hot = f.share_of_day > _HOT_FROM
        self._events()

    def _events(self) -> None:
        """Trip the protections whose wiring is at fault, in hot weather with a compressor on."""
        f = self.f
        hot = f.within(0.78, 0.83)
        running = f.compressor.any(axis=1)
        for trip, fault in (("high_pressure_open", "high_pressure_ignored"),
                            ("freeze_trip", "freeze_ignored"),
                            ("condensate_trip", "condensate_ignored"),
                            ("phase_trip", "phase_fault_ignored"),
                            ("smoke_trip", "smoke_ignored"),
                            ("leak_trip", "leak_ignored")):  # fmt: skip
            f.trips[trip] = f.has(fault) & running & hot
        choked = f.has("condenser_fan_dead") & running & (f.compressor_since.min(axis=1) > 200)
        f.trips["high_pressure_open"] = f.trips["high_pressure_open"] | (choked & (f.outdoor > 80))

    def step(self) -> None:
        """Move air and room one step."""
        f = self.f
        self._airflow()
        share = f.damper / 100.0
        share = np.where(f.has("linkage_slipped"), 0.10, share)
        share = np.where(f.has("little_outdoor_air"), share * 0.4, share)
        f.outdoor_share = share * (f.airflow > 0)
        f.returned = f.room + 0.5
        mixed = f.returned + share * (f.outdoor - f.returned)
        f.mixed = f.mixed + (mixed - f.mixed) * np.minimum(f.step_s / 20.0, 1.0)
        self._coil_and_burner()
        warmed = f.mixed + _FAN_F + f.rise - f.drop
        still = f.mixed
        target = np.where(f.airflow > 0.02, warmed, still)
        f.supply = f.supply + (target - f.supply) * np.minimum(f.step_s / 15.0, 1.0)
        self._room()

    def _airflow(self) -> None:
        f = self.f
        f.airflow = f.fan * 1.0
        f.airflow = np.where(f.has("broken_belt"), 0.0, f.airflow)
        f.airflow = np.where(f.has("blocked_duct"), 0.3 * f.fan, f.airflow)

    def _coil_and_burner(self) -> None:
        f = self.f
        share = f.compressor.sum(axis=1) / f.compressors
        heating = f.reversed_to_heat & ~f.defrost
        stuck = f.has("reversing_valve_stuck") | f.has("reversing_valve_miswired")
        pump_heats = heating & ~stuck
        # Air that comes colder is cooled less: nothing is left at 40 °F, where a coil nears ice.
        entering = np.clip((f.mixed - 40.0) / 35.0, 0.0, 1.1)
        cooling = share * _COOLING_F * entering * ~pump_heats
        cooling = np.where(f.defrost, 0.3 * cooling, cooling)
        cooling = np.where(f.has("low_charge"), 0.1 * cooling, cooling)
        cooling = np.where(f.has("undersized"), 0.35 * cooling, cooling)
        heater_share = f.heater.sum(axis=1) / np.maximum(f.heaters, 1)
        heater_share = np.where(f.has("heater_open"), 0.0, heater_share)
        rise = share * _PUMP_F * pump_heats + f.firing * _BURNER_F + heater_share * _HEATER_F
        f.drop = f.drop + (cooling - f.drop) * np.minimum(f.step_s / 60.0, 1.0)
        f.rise = f.rise + (rise - f.rise) * np.minimum(f.step_s / 45.0, 1.0)
        over = np.minimum(80.0 * f.firing / np.maximum(f.airflow, 1e-3), 300.0)
        f.exchanger = f.exchanger + (f.mixed + over - f.exchanger) * (f.step_s / 200.0)

    def _room(self) -> None:
        f = self.f
        gain = float(np.interp(f.share_of_day, _GAIN_AT, _GAIN_FS))
        through = (f.outdoor - f.room) / _ENVELOPE_S
        air = f.airflow * (f.supply - f.room) / _AIR_CHANGE_S
        f.room = f.room + f.step_s * (through + gain + air)
