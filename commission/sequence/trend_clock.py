"""Gaps, duplicates, steps back and irregular sampling: found, said, never filled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from commission.language import spoken, spoken_count
from commission.sequence.findings import said_seconds
from commission.sequence.trend_log import Column, Moments, Remark

_SHOWN = 20  # lines named in a remark
_SAMPLED = 100_000  # steps that the usual step is found from, evenly through the log


@dataclass(frozen=True, slots=True)
class Clocked:
    """Which rows are kept, which of those follow the one before, and what to say."""

    kept: NDArray[np.bool_]
    joined: NDArray[np.bool_]
    remarks: tuple[Remark, ...]


def clocked(
    moments: Moments, lines: NDArray[np.int32], columns: Mapping[str, Column], zone_known: bool
) -> Clocked:
    """Return the samples in file order with everything odd about their clock remarked.

    Args:
        moments: s, NaN where the stamp could not be read.
        zone_known: Whether a step of an hour can still be a daylight-saving change.
    """
    kept = np.isfinite(moments)
    remarks = _unreadable(kept, lines)
    same = _duplicates(moments, kept, columns)
    if same.any():
        sentence = spoken(
            "{count} samples repeat the one before in moment and value; each was counted once.",
            count=int(same.sum()),
        )
        remarks.append(_remark("duplicates", sentence, lines[same]))
        kept = kept & ~same
    whole = bool(kept.all())
    at, of_line = (moments, lines) if whole else (moments[kept], lines[kept])
    steps = np.diff(at, prepend=at[:1])
    joined = np.ones(len(at), bool)
    joined[:1] = False
    remarks += _shared(steps, of_line)
    remarks += _backwards(steps, at, of_line, joined, zone_known)
    remarks += _gaps(steps, at, of_line, joined, zone_known)
    return Clocked(kept, joined, tuple(remarks))


def _unreadable(kept: NDArray[np.bool_], lines: NDArray[np.int32]) -> list[Remark]:
    lost = ~kept
    if not lost.any():
        return []
    sentence = spoken(
        "{count} lines have no date and time that can be read; they are left out.",
        count=int(lost.sum()),
    )
    return [_remark("stamps", sentence, lines[lost])]


def _duplicates(
    moments: Moments, kept: NDArray[np.bool_], columns: Mapping[str, Column]
) -> NDArray[np.bool_]:
    same = np.zeros(len(moments), bool)
    same[1:] = (moments[1:] == moments[:-1]) & kept[1:] & kept[:-1]
    if not same.any():
        return same
    rows = np.flatnonzero(same)
    alike = np.ones(len(rows), bool)
    for column in columns.values():
        here, before = column[rows], column[rows - 1]
        equal = here == before
        if column.dtype != np.int8:
            equal |= np.isnan(here) & np.isnan(before)
        alike &= equal
    same[rows] = alike
    return same


def _shared(steps: Moments, lines: NDArray[np.int32]) -> list[Remark]:
    shared = steps == 0
    shared[:1] = False
    if not shared.any():
        return []
    sentence = spoken(
        "{count} samples share a moment with the one before but not its values; both "
        "are kept, in the order of the file.",
        count=int(shared.sum()),
    )
    return [_remark("same moment", sentence, lines[shared])]


def _backwards(
    steps: Moments, at: Moments, lines: NDArray[np.int32], joined: NDArray[np.bool_],
    zone_known: bool,
) -> list[Remark]:  # fmt: skip
    back = steps < 0
    if not back.any():
        return []
    joined[back] = False
    largest = said_seconds(float(-steps[back].min()))
    sentence = spoken_count(
        "The clock steps back once, by {largest}; nothing is concluded across a step.",
        "The clock steps back {count} times, by up to {largest}; nothing is concluded across a "
        "step.",
        int(back.sum()),
        largest=largest,
    )
    if not zone_known and (np.abs(steps[back] + 3_600) < 600).any():
        sentence += spoken(
            " A step of an hour looks like the end of daylight saving: name the time zone."
        )
    return [_remark("clock step", sentence, lines[back])]


def _gaps(
    steps: Moments, at: Moments, lines: NDArray[np.int32], joined: NDArray[np.bool_],
    zone_known: bool,
) -> list[Remark]:  # fmt: skip
    some = steps[1 :: max(len(steps) // _SAMPLED, 1)]
    forward = some[some > 0]
    if not forward.size:
        return []
    usual = float(np.median(forward))
    spread = float(np.percentile(forward, 95))
    regular = spread <= 1.6 * usual
    limit = 2.5 * usual if regular else max(20 * usual, 3_600.0)
    remarks = []
    if not regular:
        sentence = spoken(
            "Sampled irregularly: usually every {usual}, one step in twenty longer than {spread}. "
            "Each delay is judged by the samples around it.",
            usual=said_seconds(usual),
            spread=said_seconds(spread),
        )
        remarks.append(Remark("irregular", sentence))
    gap = steps > limit
    if gap.any():
        joined[gap] = False
        remarks.append(_gap_remark(steps, lines, gap, usual, zone_known))
    return remarks


def _gap_remark(
    steps: Moments, lines: NDArray[np.int32], gap: NDArray[np.bool_], usual: float,
    zone_known: bool,
) -> Remark:  # fmt: skip
    count = int(gap.sum())
    sentence = spoken_count(
        "A gap of {longest} in the samples (usually every {usual}); nothing is filled in, and "
        "nothing is concluded across a gap.",
        "{count} gaps in the samples (usually every {usual}), the longest {longest}, {total} "
        "together; nothing is filled in, and nothing is concluded across a gap.",
        count,
        usual=said_seconds(usual),
        longest=said_seconds(float(steps[gap].max())),
        total=said_seconds(float(steps[gap].sum())),
    )
    if not zone_known and (np.abs(steps[gap] - 3_600 - usual) <= usual).any():
        sentence += spoken(
            " A gap of an hour may be the start of daylight saving: name the time zone."
        )
    return _remark("gap", sentence, lines[gap])


def _remark(kind: str, sentence: str, lines: NDArray[np.int32]) -> Remark:
    return Remark(kind, sentence, tuple(int(line) for line in lines[:_SHOWN]), len(lines))
