"""A log packed for the project file comes back bit for bit; other bytes are refused."""

from __future__ import annotations

import dataclasses
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from commission.errors import ProjectFileError
from commission.sequence.simulated_faults import ECONOMIZER_GAS, UNIT_LIMITS
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import Remark, TrendLog
from commission.sequence.trend_store import (
    finding_from_plain,
    finding_to_plain,
    packed,
    unpacked,
)


def alike(one: TrendLog, other: TrendLog) -> bool:
    pairs = [(one.moments, other.moments), (one.joined, other.joined), (one.lines, other.lines)]
    pairs += [(column, other.columns[name]) for name, column in one.columns.items()]
    same = all(a.dtype == b.dtype and a.tobytes() == b.tobytes() for a, b in pairs)
    rest = ("remarks", "zone", "source")
    return same and all(getattr(one, name) == getattr(other, name) for name in rest)


ROWS = st.integers(1, 60)


@st.composite
def logs(draw: st.DrawFn) -> TrendLog:
    rows = draw(ROWS)
    numbers = arrays.arrays(np.float32, rows, elements=st.floats(width=32))
    moments = arrays.arrays(np.float64, rows, elements=st.floats(-1e12, 1e12))
    return TrendLog(
        draw(moments),
        draw(arrays.arrays(np.bool_, rows)),
        draw(arrays.arrays(np.int32, rows)),
        {"supply_f": draw(numbers), "flame": draw(arrays.arrays(np.int8, rows))},
        (Remark("gap", "1 gap Δ", (3, 4), 2),),
        draw(st.sampled_from(["", "UTC", "America/Denver"])),
        "roof 1.csv",
    )


@settings(max_examples=60, deadline=None)
@given(logs())
def test_every_bit_comes_back(log: TrendLog) -> None:
    assert alike(log, unpacked(packed(log)))


def test_a_day_takes_a_small_part_of_its_size() -> None:
    log = simulate_one(ECONOMIZER_GAS, hours=1.0)
    assert len(packed(log)) < 0.2 * log.size_bytes


DAY = simulate_one(ECONOMIZER_GAS, hours=0.1)


@pytest.mark.parametrize(
    "data",
    [b"", b"PK\x03\x04", packed(DAY)[:-40], packed(DAY)[:200], b"RTUTREND1\n\xff\xff\xff\xff{}"],
)
def test_other_bytes_are_refused_in_a_sentence(data: bytes) -> None:
    with pytest.raises(ProjectFileError, match="cannot be read"):
        unpacked(data)


def test_a_column_that_would_swell_is_refused() -> None:
    """Bytes that unpack to more than their samples take are not taken in (a zip bomb)."""
    good = packed(dataclasses.replace(DAY, columns={"flame": DAY.columns["flame"]}))
    flame = zlib.compress(DAY.columns["flame"].tobytes(), 6)
    assert good.endswith(flame)
    bomb = zlib.compress(bytes(50_000_000), 6)
    swollen = good[: -len(flame)].replace(
        f'"bytes": {len(flame)}'.encode(), f'"bytes": {len(bomb)}'.encode().ljust(0)
    )
    grown = len(swollen) - (len(good) - len(flame))
    size = int.from_bytes(good[10:14], "big") + grown
    with pytest.raises(ProjectFileError, match="samples"):
        unpacked(swollen[:10] + size.to_bytes(4, "big") + swollen[14:] + bomb)


def test_findings_come_back_from_plain_data() -> None:
    log = simulate_one(ECONOMIZER_GAS, "weak_flame", hours=1.0)
    findings = judge_trend(log, ECONOMIZER_GAS, UNIT_LIMITS)
    assert any(finding.rows for finding in findings)
    assert [finding_from_plain(finding_to_plain(f)) for f in findings] == findings
    with pytest.raises(ProjectFileError, match="cannot be read"):
        finding_from_plain({"rule": "x"})
