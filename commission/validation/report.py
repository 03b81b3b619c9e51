"""Results as rows and as a plain record, for the terminal and for machines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from commission.definitions.model import Key
from commission.language import spoken, to_say
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults
from commission.validation.verdict import Outcome, Verdict

_PLAIN = (Outcome.PASS, Outcome.NOT_APPLICABLE, Outcome.MISSING)
_PROJECT = to_say("Project")
_SUMMARY_HEADER = (
    to_say("Unit"),
    to_say("Passed"),
    to_say("Failed"),
    to_say("Inconcl."),
    to_say("Missing"),
    to_say("Stops"),
    to_say("Pages that need attention"),
)


def findings(
    units: Iterable[UnitResults], everything: bool = False
) -> Iterator[tuple[str, list[tuple[str, str, str]]]]:
    """Yield page by page a heading and rows of word, check and why.

    Without `everything` only what needs attention.
    """
    for results in units:
        for section in results.sections():
            rows = [
                (
                    word(verdict),
                    results.label(Key(verdict.check.name, verdict.index)),
                    sentence(results, verdict),
                )
                for verdict in results.verdicts(section)
                if everything or verdict.outcome not in _PLAIN
            ]
            if rows:
                yield f"{results.tag or spoken(_PROJECT)} · {section.title}", rows


def word(verdict: Verdict) -> str:
    """Return the verdict in a word: a failed stop is "STOP", a failed note "note"."""
    if verdict.stops:
        return spoken("STOP")
    if verdict.outcome is Outcome.FAIL and verdict.check.severity == "note":
        return spoken("note")
    return spoken(verdict.outcome)


def sentence(results: UnitResults, verdict: Verdict) -> str:
    """Return why, with the override of a stop and the mark of a default limit."""
    parts = [verdict.sentence]
    if verdict.limit.is_default and verdict.outcome in (Outcome.PASS, Outcome.FAIL):
        parts.append(
            spoken("Default limit ({origin}), not confirmed.", origin=verdict.limit.origin)
        )
    override = results.override_of(verdict)
    if override is not None:
        parts.append(
            spoken(
                "Passed over by {person}: {reason}",
                person=override.person_name,
                reason=override.reason,
            )
        )
    return " ".join(parts)


def site_record(site: SiteResults, units: Iterable[UnitResults]) -> dict[str, Any]:
    """Return all verdicts as plain data."""
    chosen = list(units)
    return {
        "project": site.project.title,
        "file": str(site.project.path),
        "revision": site.project.revision,
        "form": {
            "id": site.form.id,
            "version": site.form.version,
            "hash": site.form.content_hash,
        },
        "stops": sum(len(results.stops()) for results in chosen),
        "units": [
            {
                "tag": results.tag or spoken(_PROJECT),
                "verdicts": [_verdict_record(results, v) for v in results.verdicts()],
            }
            for results in chosen
        ],
    }


def _verdict_record(results: UnitResults, verdict: Verdict) -> dict[str, Any]:
    check = verdict.check
    override = results.override_of(verdict)
    return {
        "check": check.name,
        "label": check.label,
        "page": check.section,
        "member": results.member_label(check.name, verdict.index),
        "judges": check.judges,
        "value": verdict.value.content,
        "unit": check.unit,
        "expanded_uncertainty": verdict.expanded,
        "limit": {part: value.content for part, value in verdict.limit.parts.items()},
        "origin": verdict.limit.origin,
        "default_limit": verdict.limit.is_default,
        "severity": str(check.severity),
        "outcome": str(verdict.outcome),
        "stop": verdict.stops,
        "override": override and {"by": override.person_name, "reason": override.reason},
        "why": verdict.sentence,
    }


def summary_rows(site: SiteResults) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and one row a unit: counts, stops and the pages that need attention."""
    header = [spoken(head) for head in _SUMMARY_HEADER]
    rows = []
    for results in site.everything():
        outcomes = results.progress().outcomes
        attention = [
            f"{section.title} ({spoken(results.state(section))})"
            for section in results.sections()
            if results.state(section) in ("stopped", "blocked", "failing", "inconclusive")
        ]
        counts = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING)
        rows.append(
            [
                results.tag or spoken(_PROJECT),
                *(str(outcomes.get(outcome, 0)) for outcome in counts),
                str(len(results.stops())),
                ", ".join(attention) or spoken("none"),
            ]
        )
    return header, rows
