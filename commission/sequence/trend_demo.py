"""An invented log for the demo site: the simulated unit with one fault, as a logger's file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from commission.definitions.model import Form
from commission.errors import ReadingError
from commission.language import speaking, spoken
from commission.project import ProjectFile
from commission.project.scenario import ScenarioClock, numbered_ids
from commission.sequence.configuration import configuration_of
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_log import ON, TrendLog
from commission.sequence.trend_shelf import judged, keep_log
from commission.sequence.trend_signals import SIGNALS
from commission.sequence.trend_store import digest_of_file
from commission.validation.site import site_results

TAG, FAULT, SEED = "RTU-4", "damper_stuck_0", 4
ZONE, BEGINS = "America/Denver", datetime(2026, 9, 15, 6, 0)
STEP_S = 5.0
# When the log came into the project: fixed, so that the demo's project, workbook and package are
# the same bytes each time they are made.
KEPT_AT = datetime(2026, 11, 10, 16, 0, tzinfo=timezone(timedelta(hours=-7)))
NAME = "demo_trend_rtu_4.csv"


def add_demo_log(path: Path, form: Form, folder: Path) -> Path | None:
    """Write the demo's log beside the demo's project and keep it there with its unit.

    The same project always gives the same file. Nothing is done where the unit is not there.

    Args:
        path: the demo's project file.
        folder: where the logger's file goes.
    Raises:
        ReadingError: the file cannot be written.
    """
    clock, new_id = ScenarioClock(KEPT_AT), numbered_ids(NAME)
    with ProjectFile.open(path, clock=clock, new_id=new_id) as project:
        units = site_results(project, form).units
        unit = next((results for results in units if results.tag == TAG), None)
        if unit is None or project.read_only:
            return None
        log = simulate_one(configuration_of(unit.calculation), FAULT, SEED, step_s=STEP_S)
        target = folder / NAME
        with speaking("en"):  # the logger's file is the same, whatever the window speaks
            lines = list(_lines(log))
        _write(lines, target)
        with speaking("en"):
            reading = replace(find_reading(target), zone=ZONE, questions=())
            shown = judged(read_trend(target, reading), unit, project)
        keep_log(project, unit.unit_id, shown, reading, digest_of_file(target))
    return target


def _write(lines: Sequence[str], target: Path) -> None:
    try:
        with target.open("w", encoding="utf-8", newline="") as file:
            file.writelines(f"{line}\n" for line in lines)
    except OSError as error:
        raise ReadingError(
            spoken(
                "{target}: the demo's log cannot be written ({strerror}). Choose another folder.",
                target=target,
                strerror=error.strerror,
            )
        ) from None


def _lines(log: TrendLog) -> Iterator[str]:
    headings = [_heading(name) for name in log.columns]
    yield ",".join(["Date and time", *headings])
    seconds = np.round(log.moments - log.moments[0]).astype("timedelta64[s]")
    stamps = np.datetime_as_string(np.datetime64(BEGINS, "s") + seconds)
    cells = [[stamp.replace("T", " ") for stamp in stamps.tolist()]]
    for column in log.columns.values():
        if column.dtype == np.int8:
            cells.append(["on" if value == ON else "off" for value in column.tolist()])
        else:
            cells.append([f"{value:.1f}" for value in column.tolist()])
    yield from map(",".join, zip(*cells, strict=True))


def _heading(name: str) -> str:
    signal = SIGNALS[name]
    return f"{signal.label} [{signal.unit}]" if signal.unit else signal.label
