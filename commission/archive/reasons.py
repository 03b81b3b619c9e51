"""Why a verdict of a record is what it is, in the language spoken.

A record says it in English. It is judged once more from the record's own numbers: where that
gives the very sentence that the record has, it is said anew; else the record's own words stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from commission.definitions.model import Check, LimitKind, Severity
from commission.formula.evaluate import MISSING, Value, known
from commission.language import ENGLISH, language, speaking, spoken
from commission.validation.sentences import BASES
from commission.validation.verdict import AppliedLimit, DecisionRule, Outcome, judge

Row = Mapping[str, Any]


def reason_of(row: Row, value: float | str | None, decimals: int | None, project: Row) -> str:
    """Return why a verdict is what it is.

    Args:
        row: The verdict's row of a record.
        value: What was judged, None where it is not known.
        decimals: Those of what was judged.
        project: The record's row of the project: its rule and its units of measurement.
    """
    recorded = str(row["sentence"])
    if value is None or language() == ENGLISH:
        return recorded
    with speaking(ENGLISH):
        told = _told(row, value, decimals, project)
    return _told(row, value, decimals, project) if told == recorded else recorded


def _told(row: Row, value: float | str, decimals: int | None, project: Row) -> str:
    check = Check(
        name=row["check"],
        label=spoken(row["label"]),
        section="",
        judges=row["judges"],
        limit=LimitKind(row["limit"]),
        severity=Severity(row["severity"]),
        expected=row["expected"],
        unit=row["unit"],
        decimals=decimals,
    )
    parts = {name: _held(content) for name, content in row["limit_parts"].items()}
    limit = AppliedLimit(parts, row["origin"], row["default_limit"], row["confirmed"])
    rule = DecisionRule(project["decision_rule"])
    index, expanded = tuple(row["index"]), row["expanded_uncertainty"]
    verdict = judge(check, index, known(value), limit, expanded, rule, project["unit_system"])
    sentences = [verdict.sentence]
    if limit.is_default and verdict.outcome in (Outcome.PASS, Outcome.FAIL):
        origin = _said_origin(limit.origin)
        sentences.append(spoken("Default limit ({origin}), not confirmed.", origin=origin))
    return " ".join(sentences)


def _said_origin(origin: str) -> str:
    """Return where a default limit comes from: its basis, and its source if it names one."""
    basis, colon, source = origin.partition(": ")
    return f"{spoken(basis)}{colon}{spoken(source)}" if basis in BASES else spoken(origin)


def _held(content: float | str | None) -> Value:
    return MISSING if content is None else known(content)
