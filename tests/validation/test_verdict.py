"""Verdicts: every kind of limit, its sentence with the numbers, and the same in the sheet."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from commission.definitions.model import Check, LimitKind, Severity
from commission.formula.evaluate import MISSING, State, Value, known
from commission.validation.verdict import (
    AppliedLimit,
    DecisionRule,
    Outcome,
    Verdict,
    VerdictCells,
    judge,
    verdict_formula,
)
from recalculation import recalculate

P, F, INC, M, N = (
    Outcome.PASS,
    Outcome.FAIL,
    Outcome.INCONCLUSIVE,
    Outcome.MISSING,
    Outcome.NOT_APPLICABLE,
)
NA = Value(State.NOT_APPLICABLE, reason="no port fitted")
FAULT = Value(State.FAULT, reason="Wet bulb 78 °F is above dry bulb 75 °F.")
UNREAD = Value(State.MISSING, reason="Suction pressure")
LIMITS = {
    LimitKind.RANGE: {"low": 8.0, "high": 12.0},
    LimitKind.AT_MOST: {"high": 12.0},
    LimitKind.AT_LEAST: {"low": 8.0},
    LimitKind.TARGET: {"target": 10.0, "tolerance": 2.0},
}


def check_of(kind: LimitKind, *, percent: bool = False, **more: object) -> Check:
    from commission.formula.tree import Number

    return Check(
        name="held",
        label="Superheat",
        section="page",
        judges="superheat_f",
        limit=kind,
        severity=Severity.FAIL,
        unit="Δ°F",
        decimals=1,
        tolerance_percent=Number(20.0) if percent else None,
        **more,  # type: ignore[arg-type]
    )


def verdict_of(
    kind: LimitKind,
    value: Value | float,
    parts: dict[str, float | None],
    *,
    expanded: float | None = None,
    rule: DecisionRule = DecisionRule.SIMPLE,
    check: Check | None = None,
) -> Verdict:
    limit = AppliedLimit(
        {name: MISSING if part is None else known(part) for name, part in parts.items()},
        "unit's literature, page 4",
    )
    content = value if isinstance(value, Value) else known(value)
    percent = "tolerance_percent" in parts
    return judge(check or check_of(kind, percent=percent), (), content, limit, expanded, rule)


# value: outcome for (range, at most, at least, target), with limits 8 and 12
TABLE: list[tuple[Value | float, tuple[Outcome, ...]]] = [
    (10.0, (P, P, P, P)),
    (8.0, (P, P, P, P)),  # at the limit is inside
    (12.0, (P, P, P, P)),
    (7.9999, (F, P, F, F)),
    (12.0001, (F, F, P, F)),
    (-40.0, (F, P, F, F)),
    (MISSING, (M, M, M, M)),
    (UNREAD, (M, M, M, M)),
    (NA, (N, N, N, N)),
    (FAULT, (INC, INC, INC, INC)),
]
CASES = [
    (kind, value, outcome)
    for value, outcomes in TABLE
    for kind, outcome in zip(LIMITS, outcomes, strict=True)
]


@pytest.mark.parametrize(("kind", "value", "outcome"), CASES)
def test_every_kind_of_limit_against_every_kind_of_value(
    kind: LimitKind, value: Value | float, outcome: Outcome
) -> None:
    verdict = verdict_of(kind, value, LIMITS[kind])
    assert verdict.outcome is outcome
    assert verdict.sentence.endswith(".")


@pytest.mark.parametrize("kind", LIMITS)
def test_without_any_part_of_its_limit_a_verdict_is_missing_and_asks_for_it(
    kind: LimitKind,
) -> None:
    for part in LIMITS[kind]:
        verdict = verdict_of(kind, 10.0, {**LIMITS[kind], part: None})
        assert verdict.outcome is M
        assert verdict.sentence == f"No limit yet: enter {part} from the unit's literature."
    nothing = verdict_of(LimitKind.RANGE, 10.0, {"low": None, "high": None})
    assert nothing.sentence == "No limit yet: enter low and high from the unit's literature."


@pytest.mark.parametrize(
    ("kind", "value", "parts", "sentence"),
    [
        (LimitKind.RANGE, 10.0, {}, "10.0 Δ°F is within 8.0 to 12.0 Δ°F."),
        (LimitKind.AT_MOST, 10.0, {}, "10.0 Δ°F is at most 12.0 Δ°F."),
        (LimitKind.AT_LEAST, 10.0, {}, "10.0 Δ°F is at least 8.0 Δ°F."),
        (LimitKind.TARGET, 10.0, {}, "10.0 Δ°F is within 8.0 to 12.0 Δ°F."),
        (LimitKind.RANGE, 5.5, {}, "5.5 Δ°F is below the low limit 8.0 Δ°F by 2.5."),
        (LimitKind.RANGE, 13.2, {}, "13.2 Δ°F is above the high limit 12.0 Δ°F by 1.2."),
        (LimitKind.AT_MOST, 12.004, {}, "12.004 Δ°F is above the high limit 12.000 Δ°F by 0.004."),
        (LimitKind.AT_LEAST, -2.0, {}, "−2.0 Δ°F is below the low limit 8.0 Δ°F by 10.0."),
        (
            LimitKind.TARGET, 13.0, {"target": 10.0, "tolerance_percent": 20.0},
            "13.0 Δ°F is above the high limit 12.0 Δ°F by 1.0.",
        ),
        (
            LimitKind.TARGET, 10.0, {"target": 10.0, "tolerance": 0.0},
            "10.0 Δ°F is within 10.0 to 10.0 Δ°F.",
        ),
        (
            LimitKind.TARGET, 11.0, {"target": 10.0, "tolerance": 0.0},
            "11.0 Δ°F is above the high limit 10.0 Δ°F by 1.0.",
        ),
        (
            LimitKind.TARGET, -10.0, {"target": -10.0, "tolerance_percent": 20.0},
            "−10.0 Δ°F is within −12.0 to −8.0 Δ°F.",
        ),
    ],
)  # fmt: skip
def test_the_sentence_has_the_numbers(
    kind: LimitKind, value: float, parts: dict[str, float | None], sentence: str
) -> None:
    assert verdict_of(kind, value, parts or LIMITS[kind]).sentence == sentence


def test_absent_values_say_what_is_needed_or_why() -> None:
    assert verdict_of(LimitKind.AT_MOST, UNREAD, LIMITS[LimitKind.AT_MOST]).sentence == (
        "Superheat is not known yet. It needs: Suction pressure."
    )
    assert "no port fitted" in verdict_of(LimitKind.AT_MOST, NA, {"high": 1.0}).sentence
    assert "78 °F is above dry bulb" in verdict_of(LimitKind.AT_MOST, FAULT, {"high": 1.0}).sentence


def test_a_reading_at_nine_tenths_of_the_rating_is_not_failed_by_the_last_bit() -> None:
    verdict = verdict_of(LimitKind.AT_LEAST, 187.2, {"low": 0.9 * 208})
    assert verdict.outcome is P
    assert verdict.margin == 0


def text_check(expected: str, severity: Severity = Severity.STOP) -> Check:
    return Check(
        name="held", label="Lockout", section="page", judges="lockout",
        limit=LimitKind.IS, severity=severity, expected=expected,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("value", "outcome", "sentence"),
    [
        (known("done"), P, "'done', as it must be."),
        (known("not done"), F, "'not done'; it must be 'done'."),
        (MISSING, M, "Lockout is not known yet."),
        (NA, N, "Not applicable: no port fitted."),
        (FAULT, INC, "Lockout cannot be computed: Wet bulb 78 °F is above dry bulb 75 °F."),
    ],
)
def test_what_must_be(value: Value, outcome: Outcome, sentence: str) -> None:
    verdict = verdict_of(LimitKind.IS, value, {}, check=text_check("done"))
    assert (verdict.outcome, verdict.sentence) == (outcome, sentence)


@pytest.mark.parametrize(
    ("severity", "value", "stops"),
    [
        (Severity.STOP, "not done", True),
        (Severity.STOP, "done", False),
        (Severity.FAIL, "not done", False),
        (Severity.NOTE, "not done", False),
    ],
)
def test_only_a_failed_stop_stops(severity: Severity, value: str, stops: bool) -> None:
    verdict = verdict_of(LimitKind.IS, known(value), {}, check=text_check("done", severity))
    assert verdict.stops is stops


# -- uncertainty --------------------------------------------------------------------

AIRFLOW = {"low": 3600.0, "high": 4400.0}


@pytest.mark.parametrize(
    ("airflow", "simple", "guarded"),
    # JCGM 106:2012, 8.3.2: acceptance interval = tolerance interval less a guard band
    # w = U on each side. 3600 to 4400 with U = 200: accept 3800 to 4200.
    [
        (4000, P, P),
        (3800, P, P),
        (4200, P, P),
        (3799, P, INC),
        (4201, P, INC),
        (3600, P, INC),
        (4400, P, INC),
        (3500, F, INC),
        (4500, F, INC),
        (3400, F, F),
        (4600, F, F),
        (3000, F, F),
    ],
)
def test_guarded_acceptance_by_jcgm_106(airflow: float, simple: Outcome, guarded: Outcome) -> None:
    for rule, outcome in ((DecisionRule.SIMPLE, simple), (DecisionRule.GUARDED, guarded)):
        verdict = verdict_of(LimitKind.RANGE, airflow, AIRFLOW, expanded=200.0, rule=rule)
        assert verdict.outcome is outcome
        near = min(abs(airflow - 3600), abs(airflow - 4400)) < 200
        assert verdict.near_limit is near
        assert ("nearer the limit than the uncertainty of ±200 Δ°F" in verdict.sentence) is near


def normal_share(low: float, high: float, mean: float, u: float) -> float:
    """Return the share of a normal distribution between two limits."""

    def cumulative(x: float) -> float:
        return 0.5 * (1 + math.erf((x - mean) / (u * math.sqrt(2))))

    return cumulative(high) - cumulative(low)


@given(st.floats(3500, 4500), st.floats(20, 180))
def test_what_guarded_acceptance_passes_conforms_with_at_least_97_percent(
    airflow: float, u: float
) -> None:
    # JCGM 106:2012, 7.3 and 8.3.2: with w = U = 2u the probability of conformity of an
    # accepted item is at least that at the edge, 97.7 % for a single limit.
    verdict = verdict_of(
        LimitKind.RANGE, airflow, AIRFLOW, expanded=2 * u, rule=DecisionRule.GUARDED
    )
    conforms = normal_share(3600, 4400, airflow, u)
    if verdict.outcome is P:
        assert conforms > 0.95
    if verdict.outcome is F:
        assert conforms < 0.05


def test_uncertainty_unknown_decides_simply() -> None:
    verdict = verdict_of(LimitKind.RANGE, 3601.0, AIRFLOW, expanded=None, rule=DecisionRule.GUARDED)
    assert verdict.outcome is P
    assert not verdict.near_limit


# -- the same rule in the sheet -----------------------------------------------------

VALUES: list[Value] = [
    *(known(number) for number in (7.0, 7.9, 8.0, 8.1, 9.0, 10.0, 11.5, 12.0, 12.5, 15.0, -3.0)),
    MISSING,
    NA,
    FAULT,
]
SHEET_LIMITS: list[tuple[LimitKind, dict[str, float | None]]] = [
    *((kind, dict(parts)) for kind, parts in LIMITS.items()),
    (LimitKind.TARGET, {"target": 10.0, "tolerance_percent": 20.0}),
    (LimitKind.TARGET, {"target": -3.0, "tolerance_percent": 10.0}),
    (LimitKind.RANGE, {"low": None, "high": 12.0}),
    (LimitKind.RANGE, {"low": 12.0, "high": 8.0}),
    (LimitKind.RANGE, {"low": 8.0, "high": 8.0}),
    (LimitKind.AT_MOST, {"high": None}),
    (LimitKind.TARGET, {"target": 10.0, "tolerance": None}),
    (LimitKind.AT_LEAST, {"low": 0.9 * 10 - 1 + 1e-15}),
]


def cell_of(value: Value) -> float | str:
    if value.state is State.KNOWN:
        return value.content  # type: ignore[return-value]
    return {State.MISSING: "", State.NOT_APPLICABLE: "n/a", State.FAULT: "out of range"}[
        value.state
    ]


@pytest.mark.recalculation
def test_the_sheet_gives_the_same_verdicts(tmp_path: Path) -> None:
    book = xlsxwriter.Workbook(str(tmp_path / "verdicts.xlsx"))
    sheet = book.add_worksheet()
    expected: list[str] = []
    expandeds: list[float | None] = [None, 0.0, 0.5, 3.0]
    for (kind, parts), value, expanded, rule in itertools.product(
        SHEET_LIMITS, VALUES, expandeds, DecisionRule
    ):
        row = len(expected) + 1
        verdict = verdict_of(kind, value, parts, expanded=expanded, rule=rule)
        cells = {name: f"{'BC'[place]}{row}" for place, name in enumerate(parts)}
        sheet.write(row - 1, 0, cell_of(value))
        for place, part in enumerate(parts.values()):
            sheet.write(row - 1, 1 + place, "" if part is None else part)
        sheet.write(row - 1, 3, "" if expanded is None else expanded)
        sheet.write(row - 1, 4, str(rule))
        text = verdict_formula(verdict.check, VerdictCells(f"A{row}", cells, f"D{row}", f"E{row}"))
        sheet.write_formula(row - 1, 5, "=" + text, None, "WRONG")
        expected.append(str(verdict.outcome))
    for value in (known("done"), known("not done"), MISSING, NA, FAULT):
        row = len(expected) + 1
        check = text_check("done")
        sheet.write(row - 1, 0, cell_of(value))
        text = verdict_formula(check, VerdictCells(f"A{row}", {}))
        sheet.write_formula(row - 1, 5, "=" + text, None, "WRONG")
        expected.append(str(verdict_of(LimitKind.IS, value, {}, check=check).outcome))
    row = len(expected) + 1
    text = verdict_formula(text_check("done"), VerdictCells(f"A{row}", {}), when="FALSE")
    sheet.write_formula(row - 1, 5, "=" + text, None, "WRONG")
    expected.append("not applicable")
    book.close()
    done = openpyxl.load_workbook(
        recalculate(tmp_path / "verdicts.xlsx", tmp_path / "out"), data_only=True
    ).worksheets[0]
    found = [done.cell(number, 6).value for number in range(1, len(expected) + 1)]
    differ = [
        (number + 1, mine, theirs)
        for number, (mine, theirs) in enumerate(zip(expected, found, strict=True))
        if mine != theirs
    ]
    assert not differ, differ[:10]
    assert set(expected) == {str(outcome) for outcome in Outcome}


def test_an_si_project_reads_its_sentences_in_si() -> None:
    """Judged in the form's unit; 118.0 psig is 813.6 kPa (from the unit table)."""
    check = replace(check_of(LimitKind.RANGE), unit="psig", decimals=1)
    limit = AppliedLimit({"low": known(120.0), "high": known(140.0)}, "sheet 4")
    verdict = judge(check, (), known(118.0), limit, 3.0, DecisionRule.SIMPLE, "SI")
    assert verdict.outcome is Outcome.FAIL
    assert verdict.sentence == (
        "813.6 kPa is below the low limit 827.4 kPa by 13.8. "
        "That is nearer the limit than the uncertainty of ±21 kPa."
    )
