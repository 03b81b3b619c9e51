"""Controls of the simulated units: thermostat, economizer, compressors, electric heat, fan."""

from __future__ import annotations

import numpy as np

from commission.sequence.rules_enthalpy import enthalpy_btulb
from commission.sequence.simulated_state import Flags, Fleet, Floats

OFF_TIMER_S, RUN_TIMER_S, INTERSTAGE_S = 240.0, 180.0, 30.0
STAGE_UP_S, DIFFERENTIAL_F = 720.0, 0.75
MINIMUM_PERCENT = 15.0
FAN_OFF_COOLING_S, FAN_OFF_ELECTRIC_S = 60.0, 30.0
_LOOKS_EVERY = 5  # steps between looks at the outdoor sensor
DEFROST_AFTER_S, DEFROST_S = 1_800.0, 240.0


class Controls:
    """The control of each unit, as its configuration has it."""

    def __init__(self, fleet: Fleet) -> None:
        self.f = fleet
        self.steps = 0
        kinds = ("fixed dry bulb", "differential dry bulb", "fixed enthalpy",
                 "differential enthalpy")  # fmt: skip
        self.kind = {kind: fleet.changeover == kind for kind in kinds}

    def thermostat(self) -> None:
        """Set cooling and heating levels (number of stages called) from the room."""
        f = self.f
        warm, cold = f.room - f.cooling_setpoint, f.heating_setpoint - f.room
        swing = np.where(f.has("no_anti_short_cycle"), 0.05, DIFFERENTIAL_F)
        f.cool_level, f.cool_time = self._level(warm, swing, f.cool_level, f.cool_time, f.stages)
        heat_swing = np.full(f.size, DIFFERENTIAL_F)
        f.heat_level, f.heat_time = self._level(
            cold, heat_swing, f.heat_level, f.heat_time, f.heat_calls
        )
        nervous = f.has("short_cycling") & (f.share_of_day > 0.7) & f.occupied
        f.cool_level = np.where(nervous, f.now % 400 < 190, f.cool_level).astype(int)
        f.heat_level[f.cool_level > 0] = 0

    def _level(
        self, error: Floats, swing: Floats, level: Floats, held: Floats, most: Floats
    ) -> tuple[Floats, Floats]:
        on = np.where(level > 0, error > -swing, error > swing) & (most > 0)
        held = np.where(on, held + self.f.step_s, 0.0)
        by_error = 1 + np.maximum(error - 1.25, 0.0)
        wanted = np.floor(np.maximum(by_error, 1 + held / STAGE_UP_S)).astype(int)
        raised = np.minimum(np.maximum(wanted, level), most)
        return np.where(on, raised, 0), held

    def economizer(self) -> None:
        """Decide whether outdoor air suits, and where the damper is sent."""
        f = self.f
        if self.steps % _LOOKS_EVERY == 0:
            f.suits = self._suits() & f.economizer_fitted
        self.steps += 1
        economizing = f.suits & (f.cool_level > 0) & f.fan
        cut = f.has("not_integrated") & f.compressor.any(axis=1)
        cut |= f.has("compressor_first") & (f.cool_level < 2)
        opening = economizing & ~cut
        pace = 0.05 * f.step_s * (f.mixed - 54.0)
        sent = np.clip(f.damper_command + np.clip(pace, -3, 3), MINIMUM_PERCENT, 100.0)
        rest = np.where(f.fan & f.occupied, MINIMUM_PERCENT, 0.0)
        f.damper_command = np.where(opening, sent, rest) * f.damper_fitted
        self._move_damper()

    def _suits(self) -> Flags:
        f = self.f
        limit = np.where(f.suits, 66.0, 65.0)
        dry = f.outdoor < limit
        cooler = f.outdoor < f.returned - np.where(f.suits, 1.0, 2.0)
        outdoor_h = enthalpy_btulb(f.outdoor, f.outdoor_rh, 14.696)
        return_h = enthalpy_btulb(f.returned, np.full(f.size, 45.0), 14.696)
        suits = np.where(self.kind["fixed dry bulb"], dry, False)
        suits = np.where(self.kind["differential dry bulb"], cooler, suits)
        mild = f.outdoor < 70
        suits = np.where(self.kind["fixed enthalpy"], (outdoor_h < 28) & mild, suits)
        suits = np.where(self.kind["differential enthalpy"], (outdoor_h < return_h) & mild, suits)
        suits = suits & (~f.fixed_limit | (f.outdoor < 68.0))
        suits = np.where(f.has("changeover_high"), f.outdoor < 100, suits)
        return np.asarray(suits & ~f.has("changeover_low"))

    def _move_damper(self) -> None:
        f = self.f
        reach = 1.2 * f.step_s
        f.damper = f.damper + np.clip(f.damper_command - f.damper, -reach, reach)
        for fault, place in (("damper_stuck_0", 0.0), ("damper_stuck_50", 50.0),
                             ("damper_stuck_100", 100.0)):  # fmt: skip
            f.damper = np.where(f.has(fault), place, f.damper)
        held_open = f.has("damper_open_when_off") & ~f.fan
        f.damper = np.where(held_open, np.maximum(f.damper, 30.0), f.damper)

    def compressors(self) -> None:
        """Start and stop compressors within their timers."""
        f = self.f
        f.compressor_since += f.step_s
        f.last_start += f.step_s
        self._reverse()
        wanted = self._wanted()
        off_timer = np.where(f.has("no_anti_short_cycle"), 10.0, OFF_TIMER_S)
        off_timer = np.where(f.has("short_cycling"), 200.0, off_timer)
        run_timer = np.where(f.has("short_runs"), 40.0, RUN_TIMER_S)
        run_timer = np.where(f.has("no_anti_short_cycle"), 150.0, run_timer)
        run_timer = np.where(f.has("short_cycling"), 150.0, run_timer)
        allowed = ~self._tripped() & f.fan & ~f.has("compressor_dead")
        wanted &= ~(f.has("cooling_locked_out") & f.within_hot)[:, None]
        for place in range(f.compressor.shape[1]):
            self._one_compressor(place, wanted[:, place], allowed, off_timer, run_timer)
        self._wrong_compressors()

    def _one_compressor(
        self, place: int, wanted: Flags, allowed: Flags, off_timer: Floats, run_timer: Floats
    ) -> None:
        f = self.f
        running, since = f.compressor[:, place], f.compressor_since[:, place]
        apart = (f.last_start >= INTERSTAGE_S) | f.has("stages_together")
        start = wanted & allowed & ~running & (since >= off_timer) & apart
        tired = f.has("short_runs") & (since >= 40.0) & ~f.has("short_cycling")
        stop = running & ((~wanted & (since >= run_timer)) | self._tripped() | tired)
        changed = start | stop
        f.compressor[:, place] = (running | start) & ~stop
        f.compressor_since[:, place] = np.where(changed, 0.0, since)
        f.last_start = np.where(start, 0.0, f.last_start)

    def _wanted(self) -> Flags:
        """Return which compressor each unit wants, from its stages and the economizer."""
        f = self.f
        staged = np.where(f.stages >= 2, f.cool_level - 1, (f.cool_time > 900) * f.cool_level)
        first = f.suits & f.damper_fitted & ~f.has("compressor_first")
        level = np.where(first, np.maximum(staged, 0), f.cool_level)
        level = np.where(f.has("not_integrated") | f.has("stages_together"),
                         np.maximum(level, (f.cool_time > 400) * f.stages), level)  # fmt: skip
        at_once = f.has("stages_together") & (f.cool_level > 0) & ~f.suits
        level = np.where(at_once, f.stages, level)
        pumped = np.minimum(f.heat_level, f.stages) * f.pump
        pumped = np.where(f.gas & (f.heat_level > f.stages), 0, pumped)  # burner instead of pump
        level = np.where(f.cool_level > 0, level, pumped)
        count = np.ceil(f.compressors * level / f.stages).astype(int)
        places = np.arange(f.compressor.shape[1])
        wanted = places < count[:, None]
        swapped = f.has("swapped_cooling_stages") & (count == 1)
        wanted[swapped] = places == 1
        return np.asarray(wanted & (places < f.compressors[:, None]))

    def _tripped(self) -> Flags:
        f = self.f
        tripped = np.logical_or.reduce([
            f.trips["high_pressure_open"] & ~f.has("high_pressure_ignored"),
            f.trips["freeze_trip"] & ~f.has("freeze_ignored"),
            f.trips["condensate_trip"] & ~f.has("condensate_ignored"),
            f.trips["phase_trip"] & ~f.has("phase_fault_ignored"),
            f.trips["smoke_trip"] & ~f.has("smoke_ignored"),
            f.trips["leak_trip"] & ~f.has("leak_ignored"),
        ])  # fmt: skip
        return np.asarray(tripped)

    def _wrong_compressors(self) -> None:
        f = self.f
        welded = f.has("contactor_welded") & (f.share_of_day > 0.7)
        f.compressor[welded, 0] = True

    def _reverse(self) -> None:
        """Set the reversing valve, and defrost by run time below 40 °F."""
        f = self.f
        heating = f.pump & (f.heat_level > 0)
        f.reversed_to_heat = (
            np.where(f.cool_level > 0, False, f.reversed_to_heat | heating) & f.pump
        )
        frosting = f.compressor.any(axis=1) & f.reversed_to_heat & (f.outdoor < 40) & heating
        f.defrost_clock = np.where(
            frosting | f.defrost, f.defrost_clock + f.step_s, f.defrost_clock
        )
        length = np.where(f.has("defrost_long"), 1_200.0, DEFROST_S)
        begun = frosting & (f.defrost_clock >= DEFROST_AFTER_S)
        held = f.has("defrost_long") | (f.heat_level > 0)
        f.defrost = (f.defrost | begun) & (f.defrost_clock < DEFROST_AFTER_S + length) & held
        over = ~f.defrost & (f.defrost_clock >= DEFROST_AFTER_S)
        f.defrost_clock = np.where(over, 0.0, f.defrost_clock)

    def electric_heat(self) -> None:
        """Stage the heaters, ten seconds apart, with the fan."""
        f = self.f
        f.heater_since += f.step_s
        behind = np.where(f.pump, f.stages, 0)
        mild = f.pump & (f.outdoor > 45.0)
        wanted_count = np.clip(f.heat_level - behind, 0, f.heaters) * ~mild
        wanted_count = np.where(f.defrost & f.electric, np.maximum(wanted_count, 1), wanted_count)
        wanted_count = wanted_count * f.electric
        together = f.has("heaters_together")
        wanted_count = np.where(together & (wanted_count > 0), f.heaters, wanted_count)
        allowed = (f.fan | f.has("heater_without_fan")) & ~f.high_limit_open
        for place in range(f.heater.shape[1]):
            on = f.heater[:, place]
            start = ~on & (place < wanted_count) & allowed & ((f.heater_since >= 10) | together)
            f.heater[:, place] = (on | start) & (place < wanted_count) & allowed
            f.heater_since = np.where(start, 0.0, f.heater_since)
        welded = (f.has("heater_welded") | f.has("auxiliary_with_cooling")) & (f.share_of_day > 0.3)
        f.heater[welded, 0] = True

    def fan(self) -> None:
        """Run the fan for occupancy, calls and their delays."""
        f = self.f
        cooling = f.cool_level > 0
        running = f.compressor.any(axis=1)
        f.cool_off_for = np.where(cooling | running, 0.0, f.cool_off_for + f.step_s)
        heating = (f.heat_level > 0) & (f.electric | f.pump)
        hot = f.heater.any(axis=1)
        f.heater_off_for = np.where(heating | hot, 0.0, f.heater_off_for + f.step_s)
        continuous = (f.occupied & ~f.has("fan_auto_occupied")) | f.has("lost_schedule")
        f.fan_called = (f.occupied & ~f.has("fan_auto_occupied")) | cooling | heating
        wanted = f.fan_called | continuous | f.heat_fan | (f.cool_off_for < FAN_OFF_COOLING_S)
        wanted |= f.heater_off_for < FAN_OFF_ELECTRIC_S
        wanted = self._wrong_fan(wanted)
        f.fan_wanted_for = np.where(wanted, f.fan_wanted_for + f.step_s, 0.0)
        slow = np.where(f.has("slow_fan"), 150.0, 2.0)
        slow = np.where(f.has("fan_not_with_cooling") & cooling, 180.0, slow)
        f.fan = wanted & (f.fan | (f.fan_wanted_for >= slow))

    def _wrong_fan(self, wanted: Flags) -> Flags:
        f = self.f
        drops = f.has("compressor_without_fan") & f.compressor.any(axis=1)
        drops |= f.has("heater_without_fan") & f.heater.any(axis=1)
        drops |= f.trips["smoke_trip"] & ~f.has("smoke_ignored")
        drops |= f.trips["phase_trip"] & ~f.has("phase_fault_ignored")
        auto = f.has("fan_not_with_cooling") & (f.heat_level == 0) & (f.cool_level == 0)
        return np.asarray(wanted & ~drops & ~auto)
