"""Runs and edges of a condition along a log, with what sampling leaves open about each.

A state is known at samples only. An edge seen between samples a and b happened somewhere in
(a, b]; so every duration has a least and a greatest value, and both are carried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from commission.sequence.rules_condition import States
from commission.sequence.trend_log import OFF, ON

Rows = NDArray[np.intp]
Seconds = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Runs:
    """Stretches of samples where a condition held.

    Attributes:
        first, last: Rows of the first and last sample of each stretch.
        starts_seen, ends_seen: Whether the sample before (after) is joined and was False,
            so that the edge itself is in the log.
    """

    first: Rows
    last: Rows
    starts_seen: NDArray[np.bool_]
    ends_seen: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.first)

    def chosen(self, which: NDArray[np.bool_]) -> Runs:
        """Return only the stretches where `which` is True."""
        return Runs(
            self.first[which], self.last[which], self.starts_seen[which], self.ends_seen[which]
        )


def runs_of(state: States, joined: NDArray[np.bool_]) -> Runs:
    """Return the stretches where `state` is ON; one never reaches across a break in the log."""
    on = state == ON
    if not on.any():
        nothing = np.zeros(0, np.intp)
        return Runs(nothing, nothing, np.zeros(0, bool), np.zeros(0, bool))
    begins = on.copy()
    begins[1:] &= ~(on[:-1] & joined[1:])
    ends = on.copy()
    ends[:-1] &= ~(on[1:] & joined[1:])
    first, last = np.flatnonzero(begins), np.flatnonzero(ends)
    before, after = np.maximum(first - 1, 0), np.minimum(last + 1, len(state) - 1)
    starts_seen = (first > 0) & joined[first] & (state[before] == OFF)
    ends_seen = (last < len(state) - 1) & joined[after] & (state[after] == OFF)
    return Runs(first, last, starts_seen, ends_seen)


def least_durations(runs: Runs, moments: Seconds) -> Seconds:
    """Return how long each stretch lasted at least: first to last sample, s."""
    return np.asarray(moments[runs.last] - moments[runs.first])


def greatest_durations(runs: Runs, moments: Seconds, joined: NDArray[np.bool_]) -> Seconds:
    """Return how long each stretch can have lasted, neighbours included; inf at a break, s."""
    before, after = np.maximum(runs.first - 1, 0), np.minimum(runs.last + 1, len(moments) - 1)
    opens = (runs.first > 0) & joined[runs.first]
    closes = (runs.last < len(moments) - 1) & joined[after]
    longest = moments[after] - moments[before]
    return np.asarray(np.where(opens & closes, longest, np.inf))


def settled(state: States, joined: NDArray[np.bool_], moments: Seconds, settle_s: float) -> States:
    """Return ON only where `state` has been ON for at least `settle_s` without a break."""
    if settle_s <= 0:
        return state
    on = state == ON
    begins = on.copy()
    begins[1:] &= ~(on[:-1] & joined[1:])
    since = np.maximum.accumulate(np.where(begins, np.arange(len(on)), 0))
    long_enough = on & (moments - moments[since] >= settle_s)
    return np.where(long_enough, np.int8(ON), np.minimum(state, np.int8(1)) * ~on).astype(np.int8)


def throughout(state: States, first: Rows, last: Rows) -> NDArray[np.bool_]:
    """Return, for each pair of rows, whether `state` is ON at every sample between them."""
    misses = np.concatenate(([0], np.cumsum(state != ON, dtype=np.int32)))
    return np.asarray(misses[last + 1] == misses[first])
