"""A trend log held to every rule that its unit's configuration calls for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from commission.engineering.controls import economizer_high_limit_f
from commission.language import spoken
from commission.project.records import TrendLimit
from commission.sequence.configuration import Configuration
from commission.sequence.findings import Finding
from commission.sequence.rules import Rule, RuleBook, rule_book
from commission.sequence.rules_condition import Given, holds, names_of, states_of
from commission.sequence.rules_enthalpy import enthalpy_btulb
from commission.sequence.rules_judge import Judged, Log, Task, judge_task
from commission.sequence.trend_limits import LimitInForce, limit_rows, limits_in_force
from commission.sequence.trend_log import UNKNOWN, TrendLog
from commission.sequence.trend_signals import SIGNALS
from commission.validation.verdict import Outcome

Limits = Mapping[str, float | TrendLimit | LimitInForce]
Told = Callable[[int, int, str], None]
_NOTHING: Limits = MappingProxyType({})
# Stages that come only on top of the first (common practice; rules of their own judge that),
# so that a log of the first stage alone says whether any is on. Compressors are not: any may
# run alone.
_STAGED = frozenset({"call_cool", "call_heat", "gas_valve", "electric_heat"})


__all__ = ["judge_trend", "limit_rows", "limits_of_zone"]
_InForce = Mapping[str, LimitInForce]


def judge_trend(
    log: TrendLog, configuration: Configuration, limits: Limits = _NOTHING,
    progress: Told | None = None,
) -> list[Finding]:  # fmt: skip
    """Return a finding for each rule and member, in the order of the rule files.

    Args:
        limits: Limit name -> value from the unit's literature or the design, or the limits in
            force (`limits_in_force`); the rest are the defaults, marked as such in each finding.
        progress: Called with (rules judged, rules in all, what); it may raise to cancel.
    Raises:
        ReadingError: A limit has no such name, or is not a number.
    Valid: rules that do not apply to the configuration are returned as "not applicable",
        rules whose columns are not in the log as "missing".
    """
    book = rule_book()
    in_force = limits_in_force(limits)
    facts = configuration.facts()
    given = _given(log, configuration, in_force, book)
    reader = Log(given, log.moments, log.joined)
    findings: list[Finding] = []
    for done, rule in enumerate(book.rules):
        if progress:
            progress(done, len(book.rules), spoken("judging by the rules"))
        findings += _findings(rule, reader, log, configuration, facts, in_force)
    return findings


def limits_of_zone(climate_zone: str) -> dict[str, float]:
    """Return the economizer's limits for a climate zone, to be given to `judge_trend`.

    Raises:
        ReadingError: Not a zone of the table.
    Source: ASHRAE 90.1-2013 Table 6.5.1.1.3 (`economizer_high_limit_f` says what was seen).
    """
    limit = economizer_high_limit_f(climate_zone)
    return {"economizer_low_limit_f": limit, "economizer_high_limit_f": limit}


def _given(
    log: TrendLog, configuration: Configuration, limits: _InForce, book: RuleBook
) -> dict[str, Given]:
    """Return every name a condition may use: limits, columns, and what comes of them.

    Not the configuration's answers: those decide `when`, and `gas_valve` is one of them too.
    """
    given: dict[str, Given] = {}
    given |= {name: limit.value for name, limit in limits.items() if limit.value is not None}
    given |= log.columns
    for part, count in configuration.members.items():
        _add_any(given, part, count, len(log.moments))
    _add_enthalpies(given, limits["barometer_psia"].value or 14.696)
    facts = configuration.facts()
    for row in book.derived:
        if row.name in given or (row.when and not holds(row.when, facts)):
            continue
        if all(name in given for name in names_of(row.formula)):
            found = states_of(row.formula, given)
            given[row.name] = np.broadcast_to(found, log.moments.shape)
    return given


def _add_any(given: dict[str, Given], part: str, count: int, rows: int) -> None:
    """Add a state that is on where any member is; unknown while one without a column may be."""
    names = [f"{part}_{number}" for number in range(1, count + 1)]
    columns = [given[name] for name in names if name in given]
    if not columns:
        return
    state = columns[0]
    for column in columns[1:]:
        state = np.maximum(state, column)
    stands_on_first = part in _STAGED and names[0] in given
    if len(columns) < count and not stands_on_first:
        state = np.maximum(state, np.full(rows, UNKNOWN, np.int8))
    given[part] = state


def _add_enthalpies(given: dict[str, Given], barometer_psia: float) -> None:
    for place in ("outdoor", "return"):
        dry, humid = given.get(f"{place}_f"), given.get(f"{place}_rh_percent")
        if isinstance(dry, np.ndarray) and isinstance(humid, np.ndarray):
            given[f"{place}_enthalpy"] = enthalpy_btulb(dry, humid, barometer_psia)  # type: ignore[arg-type]


def _findings(
    rule: Rule, reader: Log, log: TrendLog, configuration: Configuration,
    facts: Mapping[str, Given], limits: _InForce,
) -> Iterator[Finding]:  # fmt: skip
    if rule.when and not holds(rule.when, facts):
        yield _finding(
            rule,
            0,
            Judged(Outcome.NOT_APPLICABLE, spoken("Does not apply to this configuration.")),
            log,
            limits,
        )
        return
    if not rule.repeat:
        yield _judged(rule, 0, reader, log, limits)
        return
    numbers = range(rule.from_member, configuration.members.get(rule.repeat, 0) + 1)
    for number in numbers:
        yield _judged(_of_member(rule, number), number, reader, log, limits)
    if not numbers:
        yield _finding(
            rule,
            0,
            Judged(Outcome.NOT_APPLICABLE, spoken("This unit has no such part.")),
            log,
            limits,
        )


def _of_member(rule: Rule, number: int) -> Rule:
    """Return the rule with a member's number set into its texts."""

    def numbered(text: str) -> str:
        return text.replace("{n}", str(number)).replace("{previous}", str(number - 1))

    return replace(
        rule, title=numbered(rule.title), said=numbered(rule.said), while_=numbered(rule.while_),
        never=numbered(rule.never), from_=numbered(rule.from_), to=numbered(rule.to),
        of=numbered(rule.of), provided=numbered(rule.provided),
        ended_while=numbered(rule.ended_while),
    )  # fmt: skip


def _judged(rule: Rule, number: int, reader: Log, log: TrendLog, limits: _InForce) -> Finding:
    return _finding(rule, number, _verdict(rule, reader, limits), log, limits)


def _verdict(rule: Rule, reader: Log, limits: _InForce) -> Judged:
    used = dict.fromkeys(name for text in rule.conditions for name in names_of(text))
    unset = [
        name
        for name in (*rule.limit_names, *(name for name in used if name in limits))
        if limits[name].value is None
    ]
    if unset:
        labels = ", ".join(limits[name].row.label.lower() for name in dict.fromkeys(unset))
        return Judged(Outcome.MISSING, spoken("No limit entered: {labels}.", labels=labels))
    absent = [name for name in used if name not in reader.given]
    if absent:
        labels = ", ".join(_label(name) for name in absent)
        return Judged(
            Outcome.MISSING, spoken("The log has no column for: {labels}.", labels=labels)
        )
    return judge_task(rule.kind, _task(rule, limits), reader)


def _label(name: str) -> str:
    signal = SIGNALS.get(name)
    return signal.label if signal else name.replace("_", " ")


def _task(rule: Rule, limits: _InForce) -> Task:
    def number(bound: str | float | None) -> float | None:
        return limits[bound].value if isinstance(bound, str) else bound

    conditions = {
        "while": rule.while_, "never": rule.never, "from": rule.from_, "to": rule.to,
        "of": rule.of, "provided": rule.provided, "ended_while": rule.ended_while,
    }  # fmt: skip
    bounds = {
        "settle_s": number(rule.settle_s), "longer_s": number(rule.longer_s),
        "at_least": number(rule.at_least), "at_most": number(rule.at_most),
    }  # fmt: skip
    filled = {key: text for key, text in conditions.items() if text}
    return Task(filled, bounds, rule.said, rule.must_come, rule.already)


def _finding(rule: Rule, number: int, judged: Judged, log: TrendLog, limits: _InForce) -> Finding:
    shown = judged.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE) and len(judged.first) > 0
    pairs = list(zip(judged.first.tolist(), judged.last.tolist(), strict=True)) if shown else []
    applies = judged.outcome is not Outcome.NOT_APPLICABLE  # else "{n}" still stands in the texts
    texts = rule.conditions if applies else ()
    names = dict.fromkeys(name for text in texts for name in names_of(text))
    said = dict.fromkeys((*rule.limit_names, *(name for name in names if name in limits)))
    lines = log.lines
    return Finding(
        rule=rule.name,
        title=rule.title,
        member=number,
        severity=rule.severity,
        outcome=judged.outcome,
        sentence=judged.sentence,
        limit="; ".join(limits[name].said for name in said),
        source=rule.source,
        cure=rule.cure,
        count=len(pairs),
        first_moment=log.clock(pairs[0][0]) if shown else "",
        worst_moment=log.clock(judged.worst) if shown else "",
        rows=tuple(pairs),
        lines=tuple((int(lines[first]), int(lines[last])) for first, last in pairs),
        worst_row=judged.worst,
        signals=tuple(name for name in names if name not in limits),
        needed_interval_s=judged.needed_interval_s,
    )
