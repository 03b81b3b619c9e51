"""What of a log fits into a plot: runs of states and extremes of numbers, a pixel column each.

A plot of a week has a thousand samples to a column. Each column keeps the least and the
greatest of its numbers, and each run its place, so that no spike and no short run is lost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from commission.sequence.configuration import Configuration
from commission.sequence.findings import Finding
from commission.sequence.rules import rule_book
from commission.sequence.rules_condition import holds, names_of
from commission.sequence.rules_runs import runs_of
from commission.sequence.trend_log import TrendLog

Pair = tuple[float, float]
_LEAST_S, _LEAST_SAMPLES = 600.0, 40


@dataclass(frozen=True, slots=True)
class View:
    """A part of a log: rows `first` to `last`, both shown."""

    log: TrendLog
    first: int
    last: int

    @property
    def begin(self) -> float:
        """Moment of the first sample shown, s."""
        return float(self.log.moments[self.first])

    @property
    def end(self) -> float:
        """Moment of the last sample shown, s; later than `begin`."""
        return max(float(self.log.moments[self.last]), self.begin + 1.0)

    @property
    def rows(self) -> slice:
        """The rows shown."""
        return slice(self.first, self.last + 1)


def whole(log: TrendLog) -> View:
    """Return the view of a whole log, whatever steps its clock makes."""
    return View(log, 0, len(log.moments) - 1)


def about(log: TrendLog, finding: Finding) -> View:
    """Return the worst stretch of a finding with as much again before and after it."""
    if not finding.rows:
        return whole(log)
    worst = finding.worst_row
    first, last = next(
        (pair for pair in finding.rows if pair[0] <= worst <= pair[1]), finding.rows[0]
    )
    moments = log.moments
    length = float(moments[last] - moments[first])
    usual = log.interval_s if np.isfinite(log.interval_s) else 1.0
    margin = max(length, _LEAST_S / 2, _LEAST_SAMPLES * usual / 2)
    # Rows, not moments, bound the search: a clock may step back.
    begin = _reach(moments[: first + 1][::-1], -margin)
    end = _reach(moments[last:], margin)
    return View(log, first - begin, min(last + end, len(moments) - 1))


def _reach(moments: NDArray[np.float64], margin: float) -> int:
    """Return how many rows on the clock has gone by `margin` seconds (negative: back)."""
    gone = (moments - moments[0]) * np.sign(margin)
    beyond = np.flatnonzero((gone > abs(margin)) | (gone < 0))
    return int(beyond[0]) - 1 if beyond.size else len(moments) - 1


def runs_shown(view: View, name: str, columns: int) -> list[Pair]:
    """Return the stretches in which a state is on, as (start, end) s; near ones become one.

    Args:
        columns: Columns of pixels in the plot; runs that share one are not told apart.
    """
    log = view.log
    state, joined = log.columns[name][view.rows], log.joined[view.rows]
    runs = runs_of(state, joined)  # type: ignore[arg-type]
    moments = log.moments[view.rows]
    after = np.minimum(runs.last + 1, len(moments) - 1)
    start = moments[runs.first]
    end = np.where(joined[after] & (after > runs.last), moments[after], moments[runs.last])
    return merged(start, end, (view.end - view.begin) / columns)


def merged(start: NDArray[np.float64], end: NDArray[np.float64], apart: float) -> list[Pair]:
    """Return stretches in order, those less than `apart` from the one before joined to it."""
    if not len(start):
        return []
    order = np.argsort(start, kind="stable")
    start, end = start[order], np.maximum.accumulate(end[order])
    begins = np.flatnonzero(np.concatenate(([True], start[1:] - end[:-1] > apart)))
    lasts = np.concatenate((begins[1:] - 1, [len(start) - 1]))
    return list(zip(start[begins].tolist(), end[lasts].tolist(), strict=True))


def curve_shown(view: View, name: str, columns: int) -> list[list[Pair]]:
    """Return a measurement as lines of (moment, value), broken where nothing is known.

    With more than two samples a column, a column becomes its least and greatest value.
    """
    log = view.log
    values = log.columns[name][view.rows].astype(np.float64)
    moments, joined = log.moments[view.rows], log.joined[view.rows]
    if len(values) > 2 * columns:
        moments, values, joined = _extremes(moments, values, joined, view, columns)
    known = np.isfinite(values)
    begins = known & ~(np.concatenate(([False], known[:-1])) & joined)
    pieces = np.cumsum(begins)[known]
    points = np.column_stack((moments[known], values[known]))
    cuts = np.flatnonzero(np.diff(pieces)) + 1
    return [
        [(float(x), float(y)) for x, y in piece] for piece in np.split(points, cuts) if piece.size
    ]


def _extremes(
    moments: NDArray[np.float64], values: NDArray[np.float64], joined: NDArray[np.bool_],
    view: View, columns: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:  # fmt: skip
    """Return two points a column: its least and greatest, nearest first to the column before."""
    share = (moments - view.begin) / (view.end - view.begin)
    column = np.clip((share * columns).astype(np.intp), 0, columns - 1)
    edge = np.concatenate(([True], column[1:] != column[:-1])) | ~joined
    starts = np.flatnonzero(edge)
    least = np.fmin.reduceat(values, starts)
    greatest = np.fmax.reduceat(values, starts)
    upward = np.arange(len(starts)) % 2 == 0
    pairs = np.column_stack((np.where(upward, least, greatest), np.where(upward, greatest, least)))
    follows = np.column_stack((joined[starts], np.ones(len(starts), bool)))
    return np.repeat(moments[starts], 2), pairs.ravel(), follows.ravel()


def breaks_shown(view: View) -> list[Pair]:
    """Return the gaps in the samples, as (last before, first after) s."""
    rows = np.flatnonzero(~view.log.joined[view.first + 1 : view.last + 1]) + view.first + 1
    moments = view.log.moments
    pairs = zip(moments[rows - 1].tolist(), moments[rows].tolist(), strict=True)
    return [(before, after) for before, after in pairs if after > before]


def stretches_shown(view: View, finding: Finding, columns: int) -> list[Pair]:
    """Return the failing stretches that lie in the view, as (start, end) s."""
    inside = [pair for pair in finding.rows if pair[1] >= view.first and pair[0] <= view.last]
    if not inside:
        return []
    rows = np.clip(np.array(inside), view.first, view.last)
    moments = view.log.moments
    return merged(moments[rows[:, 0]], moments[rows[:, 1]], (view.end - view.begin) / columns)


def columns_of(
    finding: Finding, log: TrendLog, configuration: Configuration
) -> tuple[list[str], list[str]]:
    """Return the states and the measurements of the log that a finding rests on."""
    facts = configuration.facts()
    names: dict[str, None] = {}
    open_names = list(finding.signals)
    seen: set[str] = set()
    while open_names:
        name = open_names.pop(0)
        if name in seen:
            continue
        seen.add(name)
        if name in log.columns:
            names[name] = None
            continue
        names |= dict.fromkeys(_members(name, log.columns))
        open_names += _made_of(name, facts)
    states = [name for name in names if log.columns[name].dtype == np.int8]
    return states, [name for name in names if name not in states]


def _members(name: str, columns: Mapping[str, object]) -> list[str]:
    return [column for column in columns if column.removeprefix(f"{name}_").isdigit()]


def _made_of(name: str, facts: Mapping[str, str | float | bool]) -> list[str]:
    if name.endswith("_enthalpy"):
        place = name.removesuffix("_enthalpy")
        return [f"{place}_f", f"{place}_rh_percent"]
    for row in rule_book().derived:
        if row.name == name and (not row.when or holds(row.when, facts)):
            return list(names_of(row.formula))
    return []
