"""The four kinds of rule judged over whole columns.

A measured duration is known to within the sampling on each side. It fails only where its
whole span lies beyond the limit. Where the span straddles the limit and sampling is coarser
than a tenth of the limit (or 1 s), it is undecided, and the finer sampling is named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from commission.language import spoken, spoken_count
from commission.sequence.findings import said_seconds
from commission.sequence.rules_condition import Given, States, states_of
from commission.sequence.rules_runs import (
    Rows,
    Seconds,
    greatest_durations,
    least_durations,
    runs_of,
    settled,
    throughout,
)
from commission.sequence.trend_log import ON, UNKNOWN
from commission.validation.verdict import Outcome


def _no_rows() -> Rows:
    return np.zeros(0, np.intp)


@dataclass(frozen=True, slots=True)
class Task:
    """One rule, one member: its conditions and bounds with every name and number set in."""

    conditions: Mapping[str, str]
    bounds: Mapping[str, float | None]
    said: str
    must_come: bool = False
    already: str = "pass"

    def bound(self, name: str) -> float | None:
        """Return a bound, or None where the rule has none."""
        return self.bounds.get(name)


@dataclass(frozen=True, slots=True)
class Log:
    """What judging reads: named columns (and limits and answers), and the clock."""

    given: Mapping[str, Given]
    moments: Seconds
    joined: NDArray[np.bool_]

    def states(self, text: str) -> States:
        """Return a condition's states, one a sample."""
        found = states_of(text, self.given)
        return found if found.ndim else np.full(len(self.moments), found, np.int8)


@dataclass(frozen=True, slots=True)
class Judged:
    """What was found: the verdict, the stretches at fault, the sentence."""

    outcome: Outcome
    sentence: str
    first: Rows = field(default_factory=_no_rows)
    last: Rows = field(default_factory=_no_rows)
    worst: int = -1
    needed_interval_s: float | None = None


def fine_enough_s(limit_s: float) -> float:
    """Return the sampling at which a limit on a duration can be judged: a tenth of it, or 1 s."""
    return max(1.0, 0.1 * limit_s)


def judge_task(kind: str, task: Task, log: Log) -> Judged:
    """Return what one rule finds."""
    return _KINDS[kind](task, log)


def _never(task: Task, log: Log) -> Judged:
    longer = task.bound("longer_s") or 0.0
    watched = settled(
        log.states(task.conditions.get("while", "1 == 1")),
        log.joined, log.moments, task.bound("settle_s") or 0.0,
    )  # fmt: skip
    wrong = log.states(task.conditions["never"])
    judged = (watched == ON) & (wrong != UNKNOWN)
    if not judged.any():
        return _not_shown(watched == ON)
    runs = runs_of(np.minimum(watched, wrong), log.joined)
    least = least_durations(runs, log.moments)
    greatest = greatest_durations(runs, log.moments, log.joined)
    certain = least > longer if longer > 0 else np.ones(len(runs), bool)
    if certain.any():
        return _never_broken(task, log, runs.chosen(certain), least[certain], longer)
    fine = fine_enough_s(longer)
    doubtful = (greatest > longer) & np.isfinite(greatest) & ((greatest - least) / 2 > fine)
    if doubtful.any():
        few = runs.chosen(doubtful)
        sentence = spoken_count(
            "{what} at one place, for up to {longest}; {longer} is allowed. Sampling every {fine} "
            "or finer would tell.",
            "{what} at {count} places, each for up to {longest}; {longer} is allowed. Sampling "
            "every {fine} or finer would tell.",
            len(few),
            what=_capital(task.said),
            longest=said_seconds(float(greatest[doubtful].max())),
            longer=said_seconds(longer),
            fine=said_seconds(fine),
        )
        return Judged(Outcome.INCONCLUSIVE, sentence, few.first, few.last,
                      int(few.first[0]), fine)  # fmt: skip
    return Judged(
        Outcome.PASS,
        spoken(
            "Not seen in {judged_time} judged{unseen}.",
            judged_time=_judged_time(judged, log),
            unseen=_unseen(log, longer),
        ),
    )


def _never_broken(task: Task, log: Log, runs: object, least: Seconds, longer: float) -> Judged:
    from_, last = runs.first, runs.last  # type: ignore[attr-defined]
    worst = int(np.argmax(least))
    times = spoken("once") if len(from_) == 1 else spoken("{count} times", count=len(from_))
    allowed = (
        spoken("; at most {longer} is allowed", longer=said_seconds(longer)) if longer > 0 else ""
    )
    held = (
        spoken("for {least}", least=said_seconds(float(least[worst])))
        if least[worst] > 0
        else spoken("at a single sample")
    )
    longest = f", {held}" if len(from_) == 1 else spoken(", the longest {held}", held=held)
    total = said_seconds(float(least.sum()))
    together = spoken(", {total} together", total=total) if len(from_) > 1 else ""
    sentence = f"{_capital(task.said)} {times}{longest}{together}{allowed}."
    return Judged(Outcome.FAIL, sentence, from_, last, int(from_[worst]))


def _not_shown(watched: NDArray[np.bool_]) -> Judged:
    why = (
        spoken("The columns it needs are blank whenever it could be judged.")
        if watched.any()
        else spoken("The log never shows the state in which it could be judged.")
    )
    return Judged(Outcome.MISSING, why)


def _unseen(log: Log, longer: float) -> str:
    """Return what sampling hides from a pass: a state that comes and goes between samples."""
    step = _usual_step_s(log)
    if not step > max(longer, 1.0):
        return ""
    return spoken("; what lasts less than {step} may fall between samples", step=said_seconds(step))


def _usual_step_s(log: Log) -> float:
    steps = np.diff(log.moments)[log.joined[1:]]
    return float(np.median(steps)) if steps.size else float("inf")


def _judged_time(judged: NDArray[np.bool_], log: Log) -> str:
    steps = np.diff(log.moments)
    seconds = float(steps[judged[1:] & judged[:-1] & log.joined[1:]].sum())
    return said_seconds(seconds) if seconds else spoken("{count} samples", count=int(judged.sum()))


@dataclass(frozen=True, slots=True)
class _Spans:
    """Measured durations: observed, and the least and greatest that sampling leaves open."""

    first: Rows
    last: Rows
    observed: Seconds
    least: Seconds
    greatest: Seconds
    failed: NDArray[np.bool_]  # the effect never came


def _delay(task: Task, log: Log) -> Judged:
    cause, effect = log.states(task.conditions["from"]), log.states(task.conditions["to"])
    causes = runs_of(cause, log.joined)
    causes = causes.chosen(causes.starts_seen)
    begun = effect[causes.first] == ON
    # "Already" means one sample before the cause; together with it is a delay of nought.
    before = begun & (effect[np.maximum(causes.first - 1, 0)] == ON)
    if task.already != "pass":
        late = before if task.already == "fail" else np.zeros(len(causes), bool)
    else:
        late = np.zeros(len(causes), bool)
    wanted = causes.chosen(~before | late)
    spans = _spans(wanted, late[~before | late], effect, task, log)
    passed_already = int((before & (task.already == "pass")).sum())
    return _judge_spans(spans, task, log, passed_already)


def _spans(
    causes: object, early: NDArray[np.bool_], effect: States, task: Task, log: Log
) -> _Spans:
    first, last = causes.first, causes.last  # type: ignore[attr-defined]
    on = np.flatnonzero(effect == ON)
    place = np.searchsorted(on, first)
    came_at = (
        np.where(place < len(on), on[np.minimum(place, max(len(on) - 1, 0))], -1)
        if len(on)
        else np.full(len(first), -1)
    )
    came = (came_at >= 0) & (came_at <= last + 1) & ~early
    # An effect at the very sample where the cause has just ended is taken as having come.
    reached = came & _joined_through(first, np.maximum(came_at, first), log)
    end = np.where(reached, came_at, last)
    moments = log.moments
    observed = moments[end] - moments[first]
    at_most = task.bound("at_most")
    never = (
        ~reached
        & ~early
        & (
            (observed > at_most if at_most is not None else np.zeros(len(first), bool))
            | (task.must_come & _ends_seen(last, log))
        )
    )
    keep = (reached | never | early) & _provided(first, end, task, log)
    least = np.where(reached, moments[np.maximum(end - 1, 0)] - moments[first], observed)
    greatest = np.where(reached, moments[end] - moments[np.maximum(first - 1, 0)], np.inf)
    failed = never | early
    return _Spans(first[keep], end[keep], observed[keep], np.minimum(least, observed)[keep],
                  greatest[keep], failed[keep])  # fmt: skip


def _joined_through(first: Rows, last: Rows, log: Log) -> NDArray[np.bool_]:
    """Return whether no break of the log lies between two rows."""
    breaks = np.cumsum(~log.joined, dtype=np.int32)
    return np.asarray(breaks[np.minimum(last, len(breaks) - 1)] == breaks[first])


def _ends_seen(last: Rows, log: Log) -> NDArray[np.bool_]:
    after = np.minimum(last + 1, len(log.joined) - 1)
    return np.asarray((last + 1 < len(log.joined)) & log.joined[after])


def _provided(first: Rows, last: Rows, task: Task, log: Log) -> NDArray[np.bool_]:
    text = task.conditions.get("provided", "")
    if not text:
        return np.ones(len(first), bool)
    return throughout(log.states(text), first, np.minimum(last, len(log.moments) - 1))


def _lasting(task: Task, log: Log) -> Judged:
    of = log.states(task.conditions["of"])
    runs = runs_of(of, log.joined)
    runs = runs.chosen(runs.starts_seen & _long_or_ended(runs, task, log))
    if "ended_while" in task.conditions:
        holding = log.states(task.conditions["ended_while"])
        after = np.minimum(runs.last + 1, len(of) - 1)
        runs = runs.chosen((holding[runs.last] == ON) & (holding[after] == ON))
    if "provided" in task.conditions:
        runs = runs.chosen(_provided(runs.first, runs.last, task, log))
    after = np.minimum(runs.last + 1, len(of) - 1)
    end = np.where(runs.ends_seen, after, runs.last)
    observed = log.moments[end] - log.moments[runs.first]
    greatest = greatest_durations(runs, log.moments, log.joined)
    spans = _Spans(runs.first, runs.last, observed, least_durations(runs, log.moments),
                   greatest, np.zeros(len(runs), bool))  # fmt: skip
    return _judge_spans(spans, task, log, 0)


def _long_or_ended(runs: object, task: Task, log: Log) -> NDArray[np.bool_]:
    """Return which stretches say something: ended in the log, or already longer than allowed."""
    at_most = task.bound("at_most")
    ended = runs.ends_seen  # type: ignore[attr-defined]
    if at_most is None:
        return np.asarray(ended)
    return np.asarray(ended | (least_durations(runs, log.moments) > at_most))  # type: ignore[arg-type]


def _judge_spans(spans: _Spans, task: Task, log: Log, passed_already: int) -> Judged:
    low, high = task.bound("at_least"), task.bound("at_most")
    if not len(spans.first):
        if passed_already:
            return Judged(
                Outcome.PASS,
                spoken("Already so each of {passed_already} times.", passed_already=passed_already),
            )
        return Judged(Outcome.MISSING, spoken("The log never shows it happen from start to end."))
    broken = spans.failed.copy()
    doubtful = np.zeros(len(broken), bool)
    if low is not None:
        broken |= spans.greatest < low
        doubtful |= _straddles(spans, low)
    if high is not None:
        broken |= spans.least > high
        doubtful |= _straddles(spans, high)
    if broken.any():
        return _spans_broken(spans, broken, task, log)
    said = _said_range(spans.observed)
    if doubtful.any():
        fine = min(fine_enough_s(bound) for bound in (low, high) if bound is not None)
        sentence = spoken(
            "{count} of {total} cannot be told at this sampling ({limit}; seen "
            "{said}). Sampling every {fine} or finer would tell.",
            count=int(doubtful.sum()),
            total=len(broken),
            limit=_said_limit(low, high),
            said=said,
            fine=said_seconds(fine),
        )
        rows = np.flatnonzero(doubtful)
        return Judged(Outcome.INCONCLUSIVE, sentence, spans.first[rows], spans.last[rows],
                      int(spans.first[rows[0]]), fine)  # fmt: skip
    times = spoken_count("{count} time", "{count} times", len(broken))
    return Judged(
        Outcome.PASS,
        spoken(
            "Seen {times}: {said} ({limit}).",
            times=times,
            said=said,
            limit=_said_limit(low, high),
        ),
    )


def _straddles(spans: _Spans, bound: float) -> NDArray[np.bool_]:
    half = (spans.greatest - spans.least) / 2
    return np.asarray(
        (spans.least <= bound) & (spans.greatest >= bound) & (half > fine_enough_s(bound))
    )


def _spans_broken(spans: _Spans, broken: NDArray[np.bool_], task: Task, log: Log) -> Judged:
    low, high = task.bound("at_least"), task.bound("at_most")
    rows = np.flatnonzero(broken)
    observed = spans.observed[rows]
    too_long = spans.failed[rows] | (observed > high if high is not None else False)
    worst = int(np.argmax(np.where(too_long, observed + 1e9, -observed)))
    came = ~spans.failed[rows]
    seen = f" ({_said_range(observed[came])})" if came.any() else ""
    sentence = spoken(
        "{what} {count} of {total} times{seen}; {limit} is wanted.",
        what=_capital(task.said),
        count=len(rows),
        total=len(broken),
        seen=seen,
        limit=_said_limit(low, high),
    )
    if spans.failed[rows].any():
        longest = said_seconds(float(observed[spans.failed[rows]].max()))
        sentence += spoken(
            " {count} never came (waited up to {longest}).",
            count=int(spans.failed[rows].sum()),
            longest=longest,
        )
    return Judged(Outcome.FAIL, sentence, spans.first[rows], spans.last[rows],
                  int(spans.first[rows[worst]]))  # fmt: skip


def _rate(task: Task, log: Log) -> Judged:
    most = task.bound("at_most")
    assert most is not None
    runs = runs_of(log.states(task.conditions["of"]), log.joined)
    starts = runs.first[runs.starts_seen]
    if not len(starts):
        return Judged(Outcome.MISSING, spoken("The log never shows it start."))
    at = log.moments[starts]
    # Starts in the hour that begins with each start; an hour is half open.
    counts = np.searchsorted(at, at + 3600.0, side="left") - np.arange(len(at))
    worst = int(np.argmax(counts))
    if counts[worst] > most:
        over = np.flatnonzero(counts > most)
        end = starts[np.minimum(over + counts[over] - 1, len(starts) - 1)]
        sentence = spoken(
            "{what}: {counts} in one hour; at most {most:.6g} is wanted ({count} in the "
            "whole log).",
            what=_capital(task.said),
            counts=int(counts[worst]),
            most=most,
            count=len(starts),
        )
        first, last = _merged(starts[over], end)
        return Judged(Outcome.FAIL, sentence, first, last, int(starts[worst]))
    # Half the shortest cycle allowed must hold at least two samples for each start to be seen.
    fine = 3600.0 / most / 4
    step = _usual_step_s(log)
    seen = spoken(
        "At most {counts} in any hour, {count} in the whole log",
        counts=int(counts[worst]),
        count=len(starts),
    )
    if step > fine:
        return Judged(
            Outcome.INCONCLUSIVE,
            spoken(
                "{seen}, but starts between samples ({step} apart) are not seen. Sampling every "
                "{fine} or finer would tell.",
                seen=seen,
                step=said_seconds(step),
                fine=said_seconds(fine),
            ),
            needed_interval_s=fine,
        )
    return Judged(Outcome.PASS, spoken("{seen} (at most {most:.6g} wanted).", seen=seen, most=most))


def _merged(first: Rows, last: Rows) -> tuple[Rows, Rows]:
    """Join stretches that overlap."""
    apart = np.concatenate(([True], first[1:] > np.maximum.accumulate(last)[:-1]))
    begins = np.flatnonzero(apart)
    return first[begins], np.maximum.reduceat(last, begins)


def _said_range(observed: Seconds) -> str:
    low, high = float(observed.min()), float(observed.max())
    return said_seconds(low) if low == high else f"{said_seconds(low)} to {said_seconds(high)}"


def _said_limit(low: float | None, high: float | None) -> str:
    parts = []
    if low is not None:
        parts.append(spoken("at least {low}", low=said_seconds(low)))
    if high is not None:
        parts.append(spoken("at most {high}", high=said_seconds(high)))
    return " and ".join(parts)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


_KINDS: Mapping[str, Callable[[Task, Log], Judged]] = {
    "never": _never, "delay": _delay, "lasting": _lasting, "rate": _rate,
}  # fmt: skip
