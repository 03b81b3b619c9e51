"""Trend logs as ratios measured in one run: `python tests/bench/measure_trend.py`.

Nothing here is asserted: times belong to a machine and a day. A log of a simulated unit is
laid end to end to a day, a week and a month of seconds, written as CSV, read and judged
(--short leaves the month out: 2.6 million rows).
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from commission.sequence.simulated_faults import ECONOMIZER_GAS, UNIT_LIMITS
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import ON, TrendLog
from commission.sequence.trend_plot import overview_drawing
from commission.sequence.trend_store import packed

DAY, WEEK, MONTH = 86_400, 604_800, 2_592_000
COLUMNS = (
    "call_fan", "call_cool_1", "call_cool_2", "call_heat_1", "occupied", "indoor_fan",
    "compressor_1", "compressor_2", "inducer", "gas_valve_1", "flame", "outdoor_f", "return_f",
    "mixed_f", "supply_f",
)  # fmt: skip


def main() -> None:
    """Measure and print each row, one process for each length so that memory starts afresh."""
    if len(sys.argv) > 2 and sys.argv[1] == "--child":
        child(Path(sys.argv[2]))
        return
    lengths = (DAY, WEEK) if "--short" in sys.argv else (DAY, WEEK, MONTH)
    log = simulate_one(ECONOMIZER_GAS, step_s=1.0)
    with tempfile.TemporaryDirectory() as folder:
        for rows in lengths:
            path = Path(folder) / f"{rows}.csv"
            write(path, log, rows)
            print(f"\n{rows:,} rows x {len(COLUMNS) + 1} columns, "
                  f"{path.stat().st_size / 1e6:.1f} MB of text", flush=True)  # fmt: skip
            subprocess.run([sys.executable, __file__, "--child", str(path)], check=True)
            path.unlink()


def write(path: Path, log: TrendLog, rows: int) -> None:
    """Write the log, repeated to a number of rows a second apart."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write("stamp," + ",".join(COLUMNS) + "\n")
        for first in range(0, rows, 20_000):
            file.writelines(_lines(log, first, min(first + 20_000, rows)))


def _lines(log: TrendLog, first: int, last: int) -> Iterator[str]:
    places = np.arange(first, last) % len(log.moments)
    stamps = np.datetime_as_string(np.datetime64("2026-06-15T00:00:00") + np.arange(first, last))
    cells = [np.char.replace(stamps.astype("U19"), "T", " ").tolist()]
    for name in COLUMNS:
        column = log.columns[name][places]
        if column.dtype == np.int8:
            cells.append(["1" if value == ON else "0" for value in column.tolist()])
        else:
            cells.append([f"{value:.1f}" for value in column.tolist()])
    return (",".join(row) + "\n" for row in zip(*cells, strict=True))


def child(path: Path) -> None:
    """Read and judge one file, and print the ratios."""
    before = peak_mb()
    began = time.perf_counter()
    reading = find_reading(path)
    log = read_trend(path, reading)
    read_s = time.perf_counter() - began
    read_mb = peak_mb()
    began = time.perf_counter()
    findings = judge_trend(log, ECONOMIZER_GAS, UNIT_LIMITS)
    judge_s = time.perf_counter() - began
    most_mb = peak_mb()
    began = time.perf_counter()
    kept_mb = len(packed(log)) / 1e6
    pack_s = time.perf_counter() - began
    began = time.perf_counter()
    overview_drawing(log, findings, 516.0)
    draw_s = time.perf_counter() - began
    own = log.size_bytes / 1e6
    judged = sum(finding.outcome in ("pass", "fail", "inconclusive") for finding in findings)
    print(f"read                                   {read_s:8.2f} s")
    print(f"judged ({judged:3} of {len(findings):3} rules)                {judge_s:8.2f} s")
    print(f"judging / reading                      {judge_s / read_s:8.2f}     aim: at most 2")
    print(f"the columns' own size                  {own:8.1f} MB")
    print(f"packed for the project file            {kept_mb:8.2f} MB in {pack_s:.2f} s")
    print(f"the whole log drawn                    {draw_s:8.2f} s")
    for what, held_mb in (("in reading", read_mb), ("in all", most_mb)):
        share = (held_mb - before) / own
        print(f"most memory {what:10} / own size      {share:8.2f}     aim: at most 4")


def peak_mb() -> float:
    """Return the most memory this process has held, MB."""
    status = Path("/proc/self/status")
    if status.exists():  # getrusage would count what the parent held before this one began
        held = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(held.split()[1]) / 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


if __name__ == "__main__":
    main()
