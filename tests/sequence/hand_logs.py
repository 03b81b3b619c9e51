"""Small logs written by hand: each signal as a list of (second, value) changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from commission.sequence.findings import Finding
from commission.sequence.trend_log import OFF, ON, Column, TrendLog
from commission.sequence.trend_signals import SIGNALS

Changes = Sequence[tuple[float, float]]


def log_of(
    signals: Mapping[str, float | Changes], length_s: float, step_s: float = 1.0, start: float = 0.0
) -> TrendLog:
    """Return a log sampled regularly; a signal is one value, or changes that hold till the next."""
    moments = np.arange(start, length_s + step_s / 2, step_s)
    return log_at(signals, moments)


def log_at(signals: Mapping[str, float | Changes], moments: Sequence[float]) -> TrendLog:
    """Return a log sampled at given seconds, all joined."""
    at = np.asarray(moments, np.float64)
    joined = np.ones(len(at), bool)
    joined[0] = False
    columns = {name: _column(name, changes, at) for name, changes in signals.items()}
    lines = np.arange(2, len(at) + 2, dtype=np.int32)
    return TrendLog(at, joined, lines, columns, zone="UTC")


def _column(name: str, changes: float | Changes, at: np.ndarray) -> Column:
    pairs = [(-1e9, changes)] if isinstance(changes, int | float) else list(changes)
    times = np.array([time for time, _ in pairs])
    values = np.array([value for _, value in pairs], np.float64)
    held = values[np.clip(np.searchsorted(times, at, side="right") - 1, 0, None)]
    if SIGNALS[name].is_on_off:
        return np.where(held > 0, ON, OFF).astype(np.int8)
    return held.astype(np.float32)


def found(findings: Sequence[Finding], rule: str, member: int = 0) -> Finding:
    """Return one rule's finding."""
    return next(f for f in findings if f.rule == rule and f.member == member)
