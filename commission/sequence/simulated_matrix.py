"""The proof of the rules: faults against findings, and sound units against none.

`python -m commission.sequence.simulated_matrix` prints it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from commission.definitions.model import Severity
from commission.sequence.configuration import Configuration
from commission.sequence.findings import Finding
from commission.sequence.simulated_faults import FAULTS, ONE_CIRCUIT, UNIT_LIMITS, Fault
from commission.sequence.simulated_state import Run
from commission.sequence.simulated_unit import simulate
from commission.sequence.trend_judge import judge_trend
from commission.validation.verdict import Outcome

SEEDS = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class Row:
    """One fault: what found it."""

    fault: Fault
    found: bool
    rules: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Alarm:
    """A finding on a unit with no fault: the rules are wrong, or the simulation is."""

    configuration: Configuration
    seed: int
    finding: Finding


def fault_rows(seeds: Sequence[int] = SEEDS) -> list[Row]:
    """Return, for each fault, the rules that failed on its logs; found means with every seed."""
    cases = [(fault, seed) for fault in FAULTS for seed in seeds]
    runs = [Run(fault.configuration, fault.name, seed) for fault, seed in cases]
    failed: dict[str, list[list[Finding]]] = {fault.name: [] for fault in FAULTS}
    for (fault, _), log in zip(cases, simulate(runs), strict=True):
        findings = judge_trend(log, fault.configuration, UNIT_LIMITS)
        failed[fault.name].append([f for f in findings if f.outcome is Outcome.FAIL])
    return [_row(fault, failed[fault.name]) for fault in FAULTS]


def _row(fault: Fault, logs: Sequence[Sequence[Finding]]) -> Row:
    named = [next((f for f in log if f.rule == fault.found_by), None) for log in logs]
    rules = tuple(dict.fromkeys(found.rule for log in logs for found in log))
    first = next((found for found in named if found), None)
    return Row(fault, None not in named, rules, first.sentence if first else "")


def false_alarms(
    configurations: Sequence[Configuration], seeds: Sequence[int] = SEEDS
) -> Iterator[Alarm]:
    """Yield every finding of severity stop or fail on units that have no fault."""
    runs = [Run(configuration, "", seed) for configuration in configurations for seed in seeds]
    for run, log in zip(runs, simulate(runs), strict=True):
        for found in judge_trend(log, run.configuration, UNIT_LIMITS):
            if found.outcome is Outcome.FAIL and found.severity is not Severity.NOTE:
                yield Alarm(run.configuration, run.seed, found)


_HEATS: tuple[dict[str, object], ...] = (
    {"heat_type": "none"},
    {"heat_type": "gas", "gas_valve": "one stage"},
    {"heat_type": "gas", "gas_valve": "two stage", "heat_stages": 2},
    {"heat_type": "gas", "gas_valve": "modulating", "ignition": "hot surface"},
    {"heat_type": "electric", "electric_heat_stages": 2},
    {"heat_type": "heat pump with auxiliary electric", "electric_heat_stages": 1},
    {"heat_type": "heat pump with auxiliary gas", "gas_valve": "one stage"},
    {"heat_type": "heat pump"},
)
_COOLS: tuple[dict[str, object], ...] = (
    {"cooling_stages": 1, "circuits": 1, "compressors": 1, "condenser_fans": 1},
    {"cooling_stages": 2, "circuits": 2, "compressors": 2, "condenser_fans": 2},
    {"cooling_stages": 2, "circuits": 1, "compressors": 2, "condenser_fans": 2},
    {"cooling_stages": 3, "circuits": 2, "compressors": 3, "condenser_fans": 4},
    {"cooling_stages": 4, "circuits": 2, "compressors": 4, "condenser_fans": 6},
)
_ECONOMIZERS: tuple[dict[str, object], ...] = (
    {"economizer": "none", "outdoor_damper": "none"},
    {"economizer": "fixed dry bulb", "outdoor_damper": "modulating"},
    {"economizer": "differential dry bulb", "outdoor_damper": "modulating"},
    {"economizer": "fixed enthalpy", "outdoor_damper": "modulating"},
    {"economizer": "differential enthalpy", "outdoor_damper": "modulating",
     "economizer_fixed_limit": True},
)  # fmt: skip


def forty_configurations() -> list[Configuration]:
    """Return every heat with every cooling, each with an economizer in turn, protections varied."""
    configurations = []
    for row, heat in enumerate(_HEATS):
        for column, cool in enumerate(_COOLS):
            economizer = _ECONOMIZERS[(row + column) % len(_ECONOMIZERS)]
            bare = (row + 2 * column) % 3 == 0
            base = Configuration() if bare else ONE_CIRCUIT
            configurations.append(replace(base, **{**cool, **heat, **economizer}))  # type: ignore[arg-type]
    return configurations


def main() -> int:
    """Print the matrix; return 1 where a fault went unfound or a sound unit gave a finding."""
    rows = fault_rows()
    for row in rows:
        others = len(row.rules) - row.found
        mark = "found " if row.found else "MISSED"
        print(f"{mark} {row.fault.name:28} by {row.fault.found_by:34} and {others:2} others  "
              f"{row.sentence or ', '.join(row.rules)}")  # fmt: skip
    configurations = forty_configurations()
    alarms = list(false_alarms(configurations))
    for alarm in alarms:
        print(f"ALARM  {alarm.finding.rule} seed {alarm.seed}: {alarm.finding.sentence} "
              f"{alarm.configuration}")  # fmt: skip
    found = sum(row.found for row in rows)
    print(f"{found} of {len(rows)} faults found by their rule; {len(alarms)} findings on "
          f"{len(configurations) * len(SEEDS)} runs without a fault.")  # fmt: skip
    return 0 if found == len(rows) and not alarms else 1


if __name__ == "__main__":
    sys.exit(main())
