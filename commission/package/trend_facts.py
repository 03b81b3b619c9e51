"""What the trend logs of a unit show, without their samples: for the pages before the unit's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.definitions.model import Severity
from commission.errors import CommissionError
from commission.language import spoken
from commission.package.look import (
    ALARM,
    DOUBT,
    NOTE_GLYPH,
    OUTCOME_COLOURS,
    OUTCOME_GLYPHS,
    STOP_GLYPH,
)
from commission.project import Deficiency, ProjectFile
from commission.sequence.findings import Finding, worst_first
from commission.sequence.trend_deficiency import deficiency_made_of
from commission.sequence.trend_shelf import judged
from commission.sequence.trend_store import unpacked
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome


@dataclass(frozen=True, slots=True)
class TrendFact:
    """One finding that needs somebody's attention, and the deficiency made of it if any."""

    log_name: str
    finding: Finding
    deficiency: Deficiency | None

    @property
    def gravity(self) -> int:
        """A place in the order stop, failure, inconclusive, note, as for verdicts."""
        finding = self.finding
        if finding.stops:
            return 0
        if finding.is_deficiency:
            return 1
        return 2 if finding.outcome is Outcome.INCONCLUSIVE else 3

    @property
    def is_failure(self) -> bool:
        """Whether somebody must put it right."""
        return self.finding.is_deficiency

    def told(self) -> str:
        """Return what the log shows, what to do, and where it is followed up."""
        finding = self.finding
        parts = [finding.sentence]
        if finding.outcome is Outcome.FAIL and finding.cure:
            parts.append(finding.cure)
        if self.deficiency is not None:
            parts.append(
                spoken(
                    "Deficiency {number} is made of it ({status}).",
                    number=self.deficiency.number,
                    status=spoken(self.deficiency.status),
                )
            )
        return " ".join(parts)


def trend_facts(project: ProjectFile, results: UnitResults) -> Iterator[TrendFact]:
    """Yield what failed or could not be told in a unit's logs, the worst first of each log.

    A log that cannot be judged has none; its page says why.
    """
    records = project.trend_logs(results.unit_id) if results.unit_id else []
    deficiencies = project.deficiencies(results.unit_id) if records else []
    for record in records:
        try:
            findings = judged(unpacked(record.data), results, project, record).findings
        except CommissionError:
            continue
        for finding in worst_first(findings):
            if finding.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE):
                made = deficiency_made_of(finding, record.name, deficiencies)
                yield TrendFact(record.name, finding, made)


def finding_mark(finding: Finding) -> str:
    """Return a finding's glyph and word, as a verdict of the form would have them."""
    if finding.stops:
        return f"{STOP_GLYPH} {spoken('STOP')}"
    if finding.outcome is Outcome.FAIL and finding.severity is Severity.NOTE:
        return f"{NOTE_GLYPH} {spoken('note')}"
    return f"{OUTCOME_GLYPHS[finding.outcome]} {spoken(finding.outcome)}"


def finding_colour(finding: Finding) -> object:
    """Return the ink of a finding; the glyph and the word say the same without it."""
    if finding.stops:
        return ALARM
    if finding.outcome is Outcome.FAIL and finding.severity is Severity.NOTE:
        return DOUBT
    return OUTCOME_COLOURS[finding.outcome]
