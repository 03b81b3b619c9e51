"""Which reading, were it another, would explain a failed verdict: possibilities, no diagnosis.

A disagreement of readings is settled by reading again. What is worth reading again first is
found by trying: for each measured reading behind a verdict, the value at which the verdict would
just pass, all others as they are. A reading that would have to be far off, or impossible, explains
little; one that would have to be off by a slip of the hand explains much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from commission.definitions.model import Check, Field, Key, Kind
from commission.validation.calculation import Calculation, Given
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict

_TRIES = 6
_MANY = 6  # readings alike beyond which a single one explains little (points of a traverse)
_STEP = 1e-4
_NEAR = 1e-6
_FIRST_STEP = 0.01
_HALVINGS = 16


@dataclass(frozen=True, slots=True)
class Explanation:
    """One reading as it is, and as it would have to be (both in the form's own unit)."""

    key: Key
    reads: float
    would_read: float

    @property
    def share(self) -> float:
        """How far off it would have to be, as a share of what it reads."""
        return abs(self.would_read - self.reads) / max(abs(self.reads), 1e-9)


def measured_behind(calculation: Calculation, check: Check, index: tuple[int, ...]) -> list[Key]:
    """Return the measured number readings that a check of a member may rest on."""
    used = calculation.plan.used_by(check.judges)
    own = dict(zip(calculation.plan.repeats[check.name], index, strict=True))
    return [
        key
        for key, given in calculation.given.items()
        if key.name in used
        and isinstance(given.content, int | float)
        and _is_measured(calculation, key)
        and _fits(calculation, key, own)
    ]


def _is_measured(calculation: Calculation, key: Key) -> bool:
    field = calculation.plan.entries[key.name]
    return (
        isinstance(field, Field)
        and bool(field.instrument)
        and field.kind in (Kind.NUMBER, Kind.INTEGER)
        and key.name not in calculation.plan.structural
        and calculation.relevant(key)
    )


def _fits(calculation: Calculation, key: Key, own: dict[str, int]) -> bool:
    """Whether a reading is not of another member of what the check itself repeats by."""
    repeats = calculation.plan.repeats[key.name]
    return all(
        own.get(repeat, number) == number for repeat, number in zip(repeats, key.index, strict=True)
    )


def explanations(results: UnitResults, verdict: Verdict) -> Iterator[Explanation]:
    """Return, one reading at a time, what would explain a failed verdict.

    The live results are not touched: all is tried on a second calculation of the readings as
    they are at this call, so that the trying may go on in a thread of its own.
    """
    live = results.calculation
    given, limits, instruments = dict(live.given), dict(live.limits), dict(live.instruments)

    def tried() -> Iterator[Explanation]:
        if verdict.outcome is not Outcome.FAIL or verdict.margin is None:
            return
        twin = Calculation(live.plan, given, limits, instruments, live.decision)
        check = Key(verdict.check.name, verdict.index)
        for key in measured_behind(twin, verdict.check, verdict.index):
            if len(twin.members(key.name)) <= _MANY:
                found = _explained(twin, check, key)
                if found is not None:
                    yield found

    return tried()


def _explained(calculation: Calculation, check: Key, key: Key) -> Explanation | None:
    given = calculation.given[key]
    assert isinstance(given.content, int | float)
    reads = float(given.content)
    try:
        found = _where_it_passes(calculation, check, key, given)
    finally:
        calculation.give(key, given)
    if found is None or not _is_possible(calculation, key, found):
        return None
    return Explanation(key, reads, found)


Margin = Callable[[float], float | None]


def _where_it_passes(calculation: Calculation, check: Key, key: Key, given: Given) -> float | None:
    """Return the reading at which the check's margin is nothing, or None if none is near."""
    assert isinstance(given.content, int | float)
    reads = float(given.content)

    def margin(reading: float) -> float | None:
        calculation.give(key, Given(reading, "", given.instrument))
        return calculation.verdicts[check].margin

    now = margin(reads)
    near = margin(reads + max(abs(reads), 1.0) * _STEP)
    if now is None or near is None or near == now:
        return None
    at = _by_secants(margin, reads, now, near)
    return at if at is not None else _by_search(margin, reads, now, near > now)


def _by_secants(margin: Margin, reads: float, now: float, near: float) -> float | None:
    before, margin_before = reads, now
    at, margin_at = reads + max(abs(reads), 1.0) * _STEP, near
    for _ in range(_TRIES):
        if margin_at == margin_before:
            return None
        following = at - margin_at * (at - before) / (margin_at - margin_before)
        before, margin_before = at, margin_at
        found = margin(following)
        if found is None:
            return None
        at, margin_at = following, found
        if abs(found) <= _NEAR * max(abs(now), 1.0):
            return at
    return None


def _by_search(margin: Margin, reads: float, now: float, upward: bool) -> float | None:
    """Walk away in the better direction until it passes, then halve; for kinked verdicts."""
    step = max(abs(reads), 1.0) * _FIRST_STEP * (1 if upward else -1)
    failing = reads
    for _ in range(_TRIES):
        passing = reads + step
        found = margin(passing)
        if found is None:
            return None
        if found >= 0:
            break
        failing, step = passing, step * 2
    else:
        return None
    for _ in range(_HALVINGS):
        middle = (failing + passing) / 2
        found = margin(middle)
        if found is not None and found >= 0:
            passing = middle
        else:
            failing = middle
    return passing


def _is_possible(calculation: Calculation, key: Key, reading: float) -> bool:
    field = calculation.plan.entries[key.name]
    assert isinstance(field, Field)
    bounds = field.possible
    return bounds is None or bounds[0] <= reading <= bounds[1]


@dataclass(frozen=True, slots=True)
class Companion:
    """Another verdict that rests on readings of this one, with those readings' names."""

    verdict: Verdict
    shared: tuple[str, ...]


def companions(results: UnitResults, verdict: Verdict) -> list[Companion]:
    """Return the other failed verdicts that rest on measured readings of a verdict."""
    plan = results.calculation.plan
    own = {key.name for key in measured_behind(results.calculation, verdict.check, verdict.index)}
    found = []
    for other in results.verdicts():
        same = other.check is verdict.check and other.index == verdict.index
        if same or other.outcome is not Outcome.FAIL or other.check.judges == verdict.check.judges:
            continue
        shared = tuple(sorted(own & plan.used_by(other.check.judges)))
        if shared:
            found.append(Companion(other, shared))
    return found
