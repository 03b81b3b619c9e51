"""Gas heat of the simulated units: the ignition control's chain, one phase at a time."""

from __future__ import annotations

import numpy as np

from commission.sequence.simulated_state import Flags, Fleet

IDLE, PROVING, PURGING, IGNITING, FIRING, AFTER_PURGE, LOCKED_OUT = range(7)
PREPURGE_S, INTERPURGE_S, POST_PURGE_S = 20.0, 30.0, 20.0
WARM_UP_S, TRIAL_S, LIGHTS_S, TRIALS, LOCKOUT_S = 18.0, 6.0, 2.0, 3, 3_600.0
FAN_ON_S, FAN_OFF_S = 30.0, 90.0
LIMIT_OPENS_F, LIMIT_CLOSES_F = 200.0, 140.0


class GasHeat:
    """Inducer, vent pressure switch, igniter, valve, flame and their faults."""

    def __init__(self, fleet: Fleet) -> None:
        self.f = fleet
        self.phase = np.full(fleet.size, IDLE)
        self.time = np.zeros(fleet.size)
        self.trials = np.zeros(fleet.size, int)
        self.inducer_for = np.zeros(fleet.size)
        self.valve_for = np.zeros(fleet.size)
        self.purge_s = np.full(fleet.size, PREPURGE_S)

    def step(self) -> None:
        """Move each control one step along its chain."""
        f = self.f
        self.time += f.step_s
        call = f.gas & (f.heat_level > np.where(f.pump, f.stages, 0))
        call |= f.has("heating_with_cooling") & (f.cool_level > 0) & (f.share_of_day > 0.7)
        self._advance(call)
        self._drive()
        self._burn()
        self._stage()
        self._delays()
        self._limits()
        f.lockout = self.phase == LOCKED_OUT

    def _enter(self, which: Flags, phase: int) -> None:
        self.phase = np.where(which, phase, self.phase)
        self.time = np.where(which, 0.0, self.time)

    def _advance(self, call: Flags) -> None:
        f = self.f
        limited = f.high_limit_open & ~f.has("limit_ignored")
        limited |= f.rollout_open & ~f.has("rollout_ignored")
        ready = call & ~limited
        proved = f.vent_switch
        self._enter((self.phase == IDLE) & ready, PROVING)
        self._enter((self.phase == PROVING) & proved & ~f.has("failed_inducer"), PURGING)
        purge = np.where(f.has("no_prepurge"), 0.0, self.purge_s)
        self._enter((self.phase == PURGING) & (self.time >= purge) & proved, IGNITING)
        self._end_of_trial()
        lost = (self.phase == FIRING) & ~f.flame & ~f.has("no_flame_failure_response")
        self._retry(lost)
        vent_lost = (self.phase >= PURGING) & (self.phase <= FIRING) & ~proved
        vent_lost &= ~f.has("vent_loss_ignored") & ~f.has("inducer_drops_out")
        stop = (self.phase >= PROVING) & (self.phase <= FIRING) & (~ready | vent_lost)
        stop &= ~(f.has("gas_relay_welded") & (self.phase == FIRING) & (self.time < 900))
        self.trials = np.where(stop, 0, self.trials)
        self._enter(stop, AFTER_PURGE)
        post = np.where(f.has("no_post_purge"), 0.0, POST_PURGE_S)
        self._enter((self.phase == AFTER_PURGE) & (self.time >= post), IDLE)
        self._enter((self.phase == LOCKED_OUT) & (self.time >= LOCKOUT_S), IDLE)
        self.purge_s = np.where(self.phase == IDLE, PREPURGE_S, self.purge_s)

    def _end_of_trial(self) -> None:
        f = self.f
        igniting = self.phase == IGNITING
        lit = igniting & f.flame & (self.valve_for >= LIGHTS_S)
        self.trials = np.where(lit & ~f.has("weak_flame"), 0, self.trials)
        self._enter(lit, FIRING)
        warm = np.where(f.hot_surface, WARM_UP_S, 0.0)
        self._retry(igniting & ~lit & (self.time >= warm + TRIAL_S))

    def _retry(self, failed: Flags) -> None:
        """Purge and try again, or lock out after the last trial."""
        self.trials = np.where(failed, self.trials + 1, self.trials)
        last = failed & (self.trials >= TRIALS) & ~self.f.has("no_lockout")
        self.purge_s = np.where(failed, INTERPURGE_S, self.purge_s)
        self._enter(failed & ~last, PURGING)
        self._enter(last, LOCKED_OUT)
        self.trials = np.where(last, 0, self.trials)

    def _drive(self) -> None:
        """Set inducer, vent switch, igniter and valve from the phase."""
        f = self.f
        drops = f.has("inducer_drops_out") & (self.phase == FIRING) & (self.time > 60)
        f.inducer = (self.phase >= PROVING) & (self.phase <= AFTER_PURGE)
        f.inducer &= ~f.has("failed_inducer") & ~drops
        no_after = f.has("no_post_purge") & (self.phase == AFTER_PURGE)
        f.inducer &= ~no_after
        self.inducer_for = np.where(f.inducer, self.inducer_for + f.step_s, 0.0)
        lost = f.has("vent_loss_ignored") & (self.phase == FIRING) & (self.time > 60)
        f.vent_switch = (self.inducer_for >= 4) & ~f.has("blocked_vent") & ~lost
        f.vent_switch |= f.has("vent_switch_jumpered") | drops
        f.vent_switch &= f.gas
        warm = ~f.hot_surface | (self.time >= WARM_UP_S)
        f.valve = ((self.phase == IGNITING) & warm) | (self.phase == FIRING)
        self.valve_for = np.where(f.valve, self.valve_for + f.step_s, 0.0)
        f.igniter = self.phase == IGNITING

    def _burn(self) -> None:
        """Light and put out the flame."""
        f = self.f
        sparked = ~f.has("failed_igniter") & ~f.has("no_lockout")
        lights = f.valve & (self.valve_for > LIGHTS_S) & sparked
        f.flame = f.valve & (f.flame | lights)
        f.flame_for = np.where(f.flame, f.flame_for + f.step_s, 0.0)
        f.flame &= ~(f.has("weak_flame") & (f.flame_for > 25))
        gone = f.has("no_flame_failure_response") & (f.flame_for > 90)
        f.flame &= ~gone
        if f.has("gas_valve_leaks").any():
            leaking = f.has("gas_valve_leaks") & ~f.valve & (f.valve_off_for < 120)
            f.flame |= leaking & (f.valve_off_for < 1e5)

    def _stage(self) -> None:
        f = self.f
        step = f.heat_level - np.where(f.pump, f.stages, 0)
        second = (self.phase == FIRING) & (step >= 2) & (self.time >= 20) & (f.gas_stages >= 2)
        f.valve_2 = second
        swapped = f.has("swapped_gas_stages")
        f.firing = f.flame * np.where(f.gas_stages >= 2, np.where(second, 1.0, 0.65), 0.9)
        rate = np.clip(0.4 + 0.2 * (f.heating_setpoint - f.room), 0.4, 1.0)
        f.firing = np.where(f.modulating & f.flame, rate, f.firing)
        f.firing = np.where(f.has("low_gas_pressure"), 0.15 * f.flame, f.firing)
        self.first_valve = np.where(swapped, second, f.valve)
        self.second_valve = np.where(swapped, f.valve, second)
        f.valve_1_shown, f.valve_2_shown = self.first_valve, self.second_valve

    def _delays(self) -> None:
        f = self.f
        f.valve_off_for = np.where(f.valve, 0.0, f.valve_off_for + f.step_s)
        on_delay = np.where(f.has("fan_on_delay_long"), 150.0, FAN_ON_S)
        off_delay = np.where(f.has("fan_off_delay_missing"), 0.0, FAN_OFF_S)
        start = f.flame & (f.flame_for >= on_delay)
        f.heat_fan = (f.heat_fan | start) & (f.valve | (f.valve_off_for < off_delay))
        f.heat_fan |= f.high_limit_open

    def _limits(self) -> None:
        f = self.f
        above, below = f.exchanger > LIMIT_OPENS_F, f.exchanger < LIMIT_CLOSES_F
        f.high_limit_open = (f.high_limit_open | above) & ~below & f.gas
        inject = f.within(0.2, 0.3)
        for fault in ("limit_ignored", "rollout_ignored"):
            tripped = f.has(fault) & (self.phase == FIRING) & (self.time > 60) & inject
            if fault == "limit_ignored":
                f.high_limit_open |= tripped
            else:
                f.rollout_open = tripped
