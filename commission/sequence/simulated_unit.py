"""A simulated rooftop unit: many units stepped at once, one array element a unit.

A compressed day of five hours takes each unit through setback, recovery, heating, mild
weather with a load bump, hot weather and unoccupied again. Air and room are plain heat
balances scaled so that a cycle takes 10 to 20 minutes; sensors carry a small noise from the
seed. It is made to exercise the rules, not to predict a unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from commission.sequence.configuration import Configuration
from commission.sequence.simulated_air import AirSide
from commission.sequence.simulated_controls import Controls
from commission.sequence.simulated_gas import GasHeat
from commission.sequence.simulated_record import Recorder
from commission.sequence.simulated_state import Fleet, Run
from commission.sequence.trend_log import TrendLog

HOURS = 5.0
STEP_S = 2.0


def simulate(
    runs: Sequence[Run], hours: float = HOURS, step_s: float = STEP_S
) -> Iterator[TrendLog]:
    """Yield one log a run, with every signal its configuration has.

    Args:
        runs: Configuration, fault (or "") and seed of each; the same run gives the same log.
        step_s: Control and sampling step, 1 to 5 s.
    """
    fleet = Fleet.of(runs, hours * 3600.0, step_s)
    controls, gas, air = Controls(fleet), GasHeat(fleet), AirSide(fleet)
    steps = int(hours * 3600.0 / step_s)
    recorder = Recorder(fleet, steps)
    for step in range(steps):
        air.weather(step * step_s)
        controls.thermostat()
        controls.economizer()
        controls.compressors()
        controls.electric_heat()
        gas.step()
        controls.fan()
        air.step()
        recorder.record(step)
    yield from recorder.logs()


def simulate_one(
    configuration: Configuration, fault: str = "", seed: int = 1, hours: float = HOURS,
    step_s: float = STEP_S,
) -> TrendLog:  # fmt: skip
    """Return the log of one unit."""
    return next(simulate([Run(configuration, fault, seed)], hours, step_s))


__all__ = ["HOURS", "STEP_S", "Run", "simulate", "simulate_one"]
