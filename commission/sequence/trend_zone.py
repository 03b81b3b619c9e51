"""The file's own clock -> UTC, daylight-saving changes included."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from commission.errors import ReadingError
from commission.language import spoken
from commission.sequence.trend_log import Remark, zone_of

Seconds = NDArray[np.float64]
_HOUR = 3_600.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class _Change:
    """A change of the zone's offset: when (UTC), and the offsets before and after, s."""

    moment: float
    before: float
    after: float


def utc_moments(local: Seconds, zone: str) -> tuple[Seconds, list[Remark]]:
    """Return UTC seconds for seconds by a clock of `zone`, in file order; and remarks.

    The repeated hour of autumn is told apart by the clock's own step back. A clock that does
    not follow a change is read with the offset it began with, and a remark says so.

    Raises:
        ReadingError: No such zone.
    """
    if not zone or zone == "UTC":
        return local, []
    try:
        place = zone_of(zone)
    except (KeyError, ValueError, ZoneInfoNotFoundError):
        raise ReadingError(
            spoken(
                "Time zone '{zone}' is not known. Use a name such as 'America/Denver', 'UTC' or "
                "'UTC-06:00'.",
                zone=zone,
            )
        ) from None
    known = local[np.isfinite(local)]
    if not known.size:
        return local, []
    first = _offset(place, float(known.min()))
    changes = _changes(place, float(known.min()), float(known.max()))
    offset = np.full(len(local), first)
    remarks = []
    for change in changes:
        taken, remark = _taken(local, change, zone)
        remarks.append(remark)
        if taken is None:
            return local - first, remarks
        offset = np.where(taken, change.after, offset)
    return local - offset, remarks


def _offset(place: object, seconds: float) -> float:
    moment = (_EPOCH + timedelta(seconds=seconds)).astimezone(place)  # type: ignore[arg-type]
    shift = moment.utcoffset()
    return shift.total_seconds() if shift else 0.0


def _changes(place: object, first: float, last: float) -> list[_Change]:
    """Return the changes of a zone's offset between two local times, found hour by hour."""
    if not isinstance(place, ZoneInfo):
        return []
    found = []
    hour = np.floor(first / _HOUR) * _HOUR - 14 * _HOUR
    before = _offset(place, hour)
    while hour <= last + 14 * _HOUR:
        hour += _HOUR / 2
        after = _offset(place, hour)
        if after != before:
            found.append(_Change(hour, before, after))
        before = after
    inside = (c for c in found if first <= c.moment + max(c.before, c.after))
    return [change for change in inside if change.moment + min(change.before, change.after) <= last]


def _taken(local: Seconds, change: _Change, zone: str) -> tuple[NDArray[np.bool_] | None, Remark]:
    """Return which samples come after a change, or None where the clock did not follow it."""
    low = change.moment + min(change.before, change.after)
    high = change.moment + max(change.before, change.after)
    within = (local >= low) & (local < high)
    when = (_EPOCH + timedelta(seconds=change.moment + change.before)).strftime("%Y-%m-%d %H:%M")
    if change.after > change.before:  # spring: the hour between does not exist
        if within.any():
            return None, _not_followed(when, zone, int(within.sum()))
        sentence = spoken(
            "Daylight saving began at {when} ({zone}); the clock went forward with it.",
            when=when,
            zone=zone,
        )
        return local >= high, Remark("daylight saving", sentence)
    return _autumn(local, within, low, high, when, zone)


def _autumn(
    local: Seconds, within: NDArray[np.bool_], low: float, high: float, when: str, zone: str
) -> tuple[NDArray[np.bool_] | None, Remark]:
    differences = np.diff(local)
    forward = differences[differences > 0]
    usual = float(np.median(forward)) if forward.size else 0.0
    # Half the change short of the usual step: true of an hourly log's 1:30, 1:30 as well.
    steps = np.flatnonzero(differences < usual - 0.5 * (high - low)) + 1
    back = [row for row in steps if low - _HOUR <= local[row] < high and local[row - 1] >= low]
    if not back and within.any() and (local >= high).any() and (local < low).any():
        return None, _not_followed(when, zone, int(within.sum()))
    second = local >= high
    if back:
        second = second & (np.arange(len(local)) >= back[0])
        second |= within & (np.arange(len(local)) >= back[0])
    sentence = (
        spoken("Daylight saving ended at {when} ({zone}); ", when=when, zone=zone)
        + (spoken("the hour that the clock shows twice was told apart by its step back.")
           if back else spoken("no sample falls in the hour that the clock shows twice."))
    )  # fmt: skip
    if not back and within.any():
        sentence = spoken(
            "Daylight saving ended at {when} ({zone}); {count} samples stand in the hour "
            "that the clock shows twice and are taken as its first showing.",
            when=when,
            zone=zone,
            count=int(within.sum()),
        )
    return second, Remark("daylight saving", sentence)


def _not_followed(when: str, zone: str, count: int) -> Remark:
    return Remark(
        "daylight saving",
        spoken(
            "The file's clock does not follow the change of {zone} at {when} ({count} "
            "samples in the changed hour): it is read with one offset throughout, the one "
            "it began with. Confirm how the logger's clock was set.",
            zone=zone,
            when=when,
            count=count,
        ),
        count=count,
    )
