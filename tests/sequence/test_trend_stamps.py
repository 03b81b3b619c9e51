"""Stamps against Python's own datetime, and daylight saving against zoneinfo."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import ReadingError
from commission.sequence.trend_stamps import read_stamps
from commission.sequence.trend_zone import utc_moments

EPOCH = datetime(1970, 1, 1)
moments = st.datetimes(datetime(1971, 1, 1), datetime(2099, 12, 31)).map(
    lambda moment: moment.replace(microsecond=0)
)
FORMATS = [
    ("%Y-%m-%d %H:%M:%S", "ymd"), ("%Y/%m/%d %H:%M:%S", "ymd"), ("%Y%m%dT%H%M%S", "ymd"),
    ("%Y-%m-%dT%H:%M:%S", "ymd"), ("%m/%d/%Y %H:%M:%S", "mdy"), ("%d.%m.%Y %H:%M:%S", "dmy"),
    ("%m/%d/%Y %I:%M:%S %p", "mdy"), ("%d-%b-%Y %H:%M:%S", "dmy"), ("%b %d, %Y %H:%M:%S", "mdy"),
    ("%d%b%Y:%H:%M:%S", "dmy"), ("%A, %d %B %Y %H:%M:%S", "dmy"),
]  # fmt: skip


@pytest.mark.parametrize(("layout", "order"), FORMATS)
@given(told=st.lists(moments, min_size=1, max_size=20))
def test_stamps_agree_with_datetime(layout: str, order: str, told: list[datetime]) -> None:
    got = read_stamps([moment.strftime(layout) for moment in told], order, ".").local
    assert got.tolist() == [(moment - EPOCH).total_seconds() for moment in told]


@pytest.mark.parametrize(
    ("cell", "order", "seconds", "offset"),
    [
        ("1/2/26 3:04 PM", "mdy", datetime(2026, 1, 2, 15, 4), None),
        ("1/2/26 12:04 am", "mdy", datetime(2026, 1, 2, 0, 4), None),
        ("2026-01-02 24:00:00", "ymd", datetime(2026, 1, 3), None),
        ("2026-01-02T03:04:05.250Z", "ymd", datetime(2026, 1, 2, 3, 4, 5, 250_000), 0),
        ("2026-01-02 03:04:05,5", "ymd", datetime(2026, 1, 2, 3, 4, 5, 500_000), None),
        ("2026-01-02T03:04:05-06:00", "ymd", datetime(2026, 1, 2, 3, 4, 5), -21_600),
        ("2026-01-02T03:04:05+0530", "ymd", datetime(2026, 1, 2, 3, 4, 5), 19_800),
        ("2026-01-02 03:04+02", "ymd", datetime(2026, 1, 2, 3, 4), 7_200),
    ],
)
def test_particular_stamps(cell: str, order: str, seconds: datetime, offset: int | None) -> None:
    got = read_stamps([cell], order, ".")
    assert got.local[0] == pytest.approx((seconds - EPOCH).total_seconds(), abs=1e-6)
    assert np.isnan(got.offset[0]) if offset is None else got.offset[0] == offset


@pytest.mark.parametrize("cell", ["", "n/a", "2026-02-30 00:00", "2026-13-01", "total", "7"])
def test_what_is_no_stamp_is_not_a_number(cell: str) -> None:
    assert np.isnan(read_stamps([cell, "2026-01-02 03:04"], "ymd", ".").local).tolist() == [
        True, False
    ]  # fmt: skip


def test_counted_stamps() -> None:
    assert read_stamps(["1781481600.5"], "epoch s", ".").local[0] == 1_781_481_600.5
    assert read_stamps(["1781481600500"], "epoch ms", ".").local[0] == 1_781_481_600.5
    # A spreadsheet's day 25569 is 1970-01-01 (common practice: 1900 date system).
    assert read_stamps(["25569,5"], "serial day", ",").local[0] == 43_200.0


def local_clock(zone: str, first: datetime, last: datetime, step_s: int) -> tuple[list, list]:
    """Return UTC seconds, and what a clock that follows `zone` shows at each."""
    place = ZoneInfo(zone)
    true, shown = [], []
    moment = first.replace(tzinfo=UTC)
    while moment <= last.replace(tzinfo=UTC):
        true.append((moment.replace(tzinfo=None) - EPOCH).total_seconds())
        wall = moment.astimezone(place).replace(tzinfo=None)
        shown.append((wall - EPOCH).total_seconds())
        moment += timedelta(seconds=step_s)
    return true, shown


CHANGES = [
    ("America/Denver", datetime(2026, 3, 8)), ("America/Denver", datetime(2026, 11, 1)),
    ("Europe/Berlin", datetime(2026, 3, 29)), ("Europe/Berlin", datetime(2026, 10, 25)),
    ("Australia/Lord_Howe", datetime(2026, 4, 4)), ("America/Phoenix", datetime(2026, 3, 8)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("zone", "day", "step_s"),
    # The half hour of Lord Howe cannot be seen in hourly stamps.
    [(*change, step) for change in CHANGES for step in (60, 900, 3_600)
     if step < 3_600 or "Howe" not in change[0]],
)  # fmt: skip
def test_a_clock_that_follows_daylight_saving(zone: str, day: datetime, step_s: int) -> None:
    true, shown = local_clock(zone, day - timedelta(hours=20), day + timedelta(hours=40), step_s)
    got, remarks = utc_moments(np.array(shown), zone)
    assert got.tolist() == true
    assert len(remarks) == (0 if zone == "America/Phoenix" else 1)


@pytest.mark.parametrize("day", [datetime(2026, 3, 8), datetime(2026, 11, 1)])
def test_a_clock_that_stands_still_through_the_change(day: datetime) -> None:
    hours = np.arange(0, 48 * 3_600.0, 60.0) + (day - timedelta(hours=12) - EPOCH).total_seconds()
    got, remarks = utc_moments(hours, "America/Denver")
    assert np.diff(got).tolist() == np.diff(hours).tolist()  # no hour lost, none gained
    assert "does not follow" in remarks[0].sentence


def test_a_zone_that_is_not_known() -> None:
    with pytest.raises(ReadingError, match="Mountain"):
        utc_moments(np.array([0.0]), "Mountain")
