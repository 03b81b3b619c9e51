"""A value held to its limit: the verdict in Python, and the same rule as spreadsheet text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from commission.definitions.model import Check, LimitKind, Severity
from commission.formula.evaluate import State, Value, alike
from commission.formula.excel import OUT_OF_RANGE, quoted
from commission.language import spoken
from commission.validation.sentences import Sentences


class Outcome(StrEnum):
    """The five verdicts."""

    PASS = "pass"
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"
    MISSING = "missing"
    NOT_APPLICABLE = "not applicable"


class DecisionRule(StrEnum):
    """How uncertainty enters a verdict (JCGM 106:2012, clause 8)."""

    SIMPLE = "simple acceptance"
    GUARDED = "guarded acceptance"


@dataclass(frozen=True, slots=True)
class AppliedLimit:
    """The limit in force: its parts, where it came from, whether it is only a default."""

    parts: Mapping[str, Value]
    origin: str
    is_default: bool = False
    confirmed: bool = False

    def bounds(self, kind: LimitKind) -> tuple[float | None, float | None] | None:
        """Return low and high, or None while a part is not known."""
        numbers = {name: value.number for name, value in self.parts.items()}
        if any(number is None for number in numbers.values()):
            return None
        if kind is not LimitKind.TARGET:
            return numbers.get("low"), numbers.get("high")
        target = numbers["target"] or 0.0
        tolerance = numbers.get("tolerance")
        if tolerance is None:
            tolerance = abs(target) * (numbers["tolerance_percent"] or 0.0) / 100
        return target - tolerance, target + tolerance


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check found for one member, and why, in one sentence with the numbers."""

    check: Check
    index: tuple[int, ...]
    outcome: Outcome
    sentence: str
    value: Value
    limit: AppliedLimit
    margin: float | None = None
    expanded: float | None = None

    @property
    def stops(self) -> bool:
        """Whether the work must not go on past this."""
        return self.outcome is Outcome.FAIL and self.check.severity is Severity.STOP

    @property
    def near_limit(self) -> bool:
        """Whether the result is nearer its limit than its expanded uncertainty."""
        return bool(self.margin is not None and self.expanded and abs(self.margin) < self.expanded)


def judge(
    check: Check,
    index: tuple[int, ...],
    value: Value,
    limit: AppliedLimit,
    expanded: float | None,
    rule: DecisionRule,
    unit_system: str = "IP",
) -> Verdict:
    """Return the verdict on `value`. `expanded` is its expanded uncertainty, None if unknown.

    Everything is judged in the form's unit; `unit_system` is only how the sentence shows it.
    """
    said = Sentences(check, unit_system)
    absent = _absent(check, value)
    if absent is None and check.limit is LimitKind.IS:
        absent = _expected(check, value)
    if absent is not None:
        return Verdict(check, index, absent[0], absent[1], value, limit)
    bounds = limit.bounds(check.limit)
    if bounds is None or _crossed(check, bounds):
        sentence = _no_limit(limit) if bounds is None else said.crossed(*_both(bounds))
        return Verdict(check, index, Outcome.MISSING, sentence, value, limit, None, expanded)
    margin, sentence = _against(said, value.number or 0.0, bounds)
    outcome = Outcome.PASS if margin >= 0 else Outcome.FAIL
    if expanded and abs(margin) < expanded:
        sentence = f"{sentence} {said.near(expanded)}"
        if rule is DecisionRule.GUARDED:
            outcome = Outcome.INCONCLUSIVE
    return Verdict(check, index, outcome, sentence, value, limit, margin, expanded)


def _absent(check: Check, value: Value) -> tuple[Outcome, str] | None:
    if value.state is State.NOT_APPLICABLE:
        reason = spoken(value.reason or "not asked here")
        return Outcome.NOT_APPLICABLE, spoken("Not applicable: {reason}.", reason=reason)
    if value.state is State.MISSING:
        return Outcome.MISSING, _not_known(check, value.reason)
    if value.state is State.FAULT:
        why = spoken("{label} cannot be computed: {reason}", label=check.label, reason=value.reason)
        return Outcome.INCONCLUSIVE, why
    return None


def _not_known(check: Check, needed: str) -> str:
    if needed in ("", check.label):
        return spoken("{label} is not known yet.", label=check.label)
    return spoken("{label} is not known yet. It needs: {needed}.", label=check.label, needed=needed)


def _expected(check: Check, value: Value) -> tuple[Outcome, str]:
    found = spoken(str(value.content))
    if value.content == check.expected:
        return Outcome.PASS, spoken("'{found}', as it must be.", found=found)
    expected = spoken(check.expected)
    return Outcome.FAIL, spoken(
        "'{found}'; it must be '{expected}'.", found=found, expected=expected
    )


def _crossed(check: Check, bounds: tuple[float | None, float | None]) -> bool:
    """Return whether a range's low limit stands above its high one."""
    if check.limit is not LimitKind.RANGE:
        return False
    low, high = _both(bounds)
    return low > high and not alike(low, high)


def _both(bounds: tuple[float | None, float | None]) -> tuple[float, float]:
    low, high = bounds
    assert low is not None
    assert high is not None
    return low, high


def _no_limit(limit: AppliedLimit) -> str:
    waiting = [name for name, value in limit.parts.items() if value.number is None]
    names = spoken(" and ").join(spoken(name.replace("_", " ")) for name in waiting)
    return spoken("No limit yet: enter {names} from the unit's literature.", names=names)


def _against(
    said: Sentences, number: float, bounds: tuple[float | None, float | None]
) -> tuple[float, str]:
    """Return the distance inside the limit (negative outside) and the sentence."""
    low, high = bounds
    if low is not None and number < low and not alike(number, low):
        return number - low, said.outside(number, low, "low")
    if high is not None and number > high and not alike(number, high):
        return high - number, said.outside(number, high, "high")
    margins = [number - low] if low is not None else []
    margins += [high - number] if high is not None else []
    return max(min(margins), 0.0), said.inside(number, low, high)


@dataclass(frozen=True, slots=True)
class VerdictCells:
    """Where a spreadsheet holds what a verdict needs; `parts` by the check's part names."""

    value: str
    parts: Mapping[str, str]
    expanded: str = ""
    rule: str = ""


def verdict_formula(check: Check, cells: VerdictCells, when: str = "") -> str:
    """Return spreadsheet text (without "=") that gives the outcome as `judge` does.

    `when` is a condition already written for the sheet, or "" for always.
    """
    inner = _judging_formula(check, cells)
    value = cells.value
    judged = (
        f'IF({value}="n/a",{quoted(Outcome.NOT_APPLICABLE)},'
        f'IF({value}="",{quoted(Outcome.MISSING)},{inner}))'
    )
    return f"IF({when},{judged},{quoted(Outcome.NOT_APPLICABLE)})" if when else judged


def _judging_formula(check: Check, cells: VerdictCells) -> str:
    passed, failed = quoted(Outcome.PASS), quoted(Outcome.FAIL)
    value = cells.value
    if check.limit is LimitKind.IS:
        faulty = f"{value}={quoted(OUT_OF_RANGE)}"
        judged = f"IF({value}={quoted(check.expected)},{passed},{failed})"
        return f"IF({faulty},{quoted(Outcome.INCONCLUSIVE)},{judged})"
    low, high = _bound_formulas(check, cells.parts)
    inside = [f"{value}>={low}"] * bool(low) + [f"{value}<={high}"] * bool(high)
    test = inside[0] if len(inside) == 1 else f"AND({','.join(inside)})"
    rule = f"IF({test},{passed},{failed})"
    if cells.expanded and cells.rule:
        distances = [f"ABS({value}-{bound})" for bound in (low, high) if bound]
        near = f"MIN({','.join(distances)})<N({cells.expanded})"
        guarded = f"AND({cells.rule}={quoted(DecisionRule.GUARDED)},{near})"
        rule = f"IF({guarded},{quoted(Outcome.INCONCLUSIVE)},{rule})"
    no_limit = f"COUNT({','.join(cells.parts.values())})<{len(cells.parts)}"
    if check.limit is LimitKind.RANGE:
        no_limit = f"OR({no_limit},{low}>{high})"
    return (
        f"IF(NOT(ISNUMBER({value})),{quoted(Outcome.INCONCLUSIVE)},"
        f"IF({no_limit},{quoted(Outcome.MISSING)},{rule}))"
    )


def _bound_formulas(check: Check, parts: Mapping[str, str]) -> tuple[str, str]:
    if check.limit is not LimitKind.TARGET:
        return parts.get("low", ""), parts.get("high", "")
    target = parts["target"]
    tolerance = parts.get("tolerance") or f"ABS({target})*{parts['tolerance_percent']}/100"
    return f"({target}-{tolerance})", f"({target}+{tolerance})"
