"""A trend log in memory: moments, columns, and what was found odd about its clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

Moments = NDArray[np.float64]
Column = NDArray[np.int8] | NDArray[np.float32]

# On/off columns are stored in three values, so that `and` is the least of two and `or` the
# greatest (Kleene's logic): what is not known stays not known.
OFF, UNKNOWN, ON = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Remark:
    """Something about the file that a person should know before trusting a verdict."""

    kind: str
    sentence: str
    lines: tuple[int, ...] = ()
    count: int = 1


@dataclass(frozen=True, slots=True)
class TrendLog:
    """Samples in order.

    Attributes:
        moments: Seconds since 1970-01-01 UTC (of the file's own clock where `zone` is "").
        joined: True where a sample follows the one before it with no gap and no clock step;
            nothing is concluded across a place where it is False.
        lines: Line of the file each sample stands on, counted from 1.
        columns: Signal name -> int8 (OFF, UNKNOWN, ON) or float32 in the signal's unit (NaN
            where not known).
        zone: IANA name, "UTC", "UTC-06:00", or "" where nobody has said.
    """

    moments: Moments
    joined: NDArray[np.bool_]
    lines: NDArray[np.int32]
    columns: Mapping[str, Column]
    remarks: tuple[Remark, ...] = ()
    zone: str = ""
    source: str = ""

    @property
    def size_bytes(self) -> int:
        """Size of the columns themselves: moments and signals."""
        return self.moments.nbytes + sum(column.nbytes for column in self.columns.values())

    @property
    def interval_s(self) -> float:
        """The usual time between samples: the median where samples are joined; NaN for none."""
        steps = np.diff(self.moments)[self.joined[1:]]
        steps = steps[steps > 0]
        return float(np.median(steps)) if steps.size else float("nan")

    def clock(self, row: int) -> str:
        """Return the moment of a sample as the file's clock shows it, to the second."""
        return clock_time(float(self.moments[row]), self.zone).strftime("%Y-%m-%d %H:%M:%S")


def clock_time(moment: float, zone: str) -> datetime:
    """Return a moment by the clock of a log's zone, to the second."""
    # Not fromtimestamp: that refuses moments before 1970 on some systems.
    utc = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=round(moment))
    return utc.astimezone(zone_of(zone) if zone else UTC)


def zone_of(name: str) -> tzinfo:
    """Return the zone called "UTC", "UTC-06:00" or an IANA name.

    Raises:
        KeyError, ValueError: no such zone.
    """
    if name.startswith("UTC"):
        rest = name[3:]
        if not rest:
            return UTC
        sign = -1 if rest[0] == "-" else 1
        hours, _, minutes = rest[1:].partition(":")
        return timezone(sign * timedelta(hours=int(hours), minutes=int(minutes or 0)))
    return ZoneInfo(name)
