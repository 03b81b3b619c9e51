"""Logs of a project: kept with what was found, judged anew from their own samples when shown.

The samples are the evidence; findings follow from them, the unit's configuration and the limits
in force, so that window and package cannot disagree with either. What was found when the log
was last looked at is kept beside it, for those who cannot judge (an archive record).
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commission.errors import ReadingError
from commission.language import spoken
from commission.project import ProjectFile, TrendRecord
from commission.sequence.configuration import Configuration, configuration_of
from commission.sequence.findings import Finding
from commission.sequence.rules import rule_book
from commission.sequence.trend_judge import Told, judge_trend
from commission.sequence.trend_limits import LimitInForce, limits_in_force
from commission.sequence.trend_log import TrendLog
from commission.sequence.trend_reading import (
    FileReading,
    mapping_of,
    reading_to_plain,
    with_mapping,
)
from commission.sequence.trend_store import (
    facts_of,
    finding_to_plain,
    packed,
    unpacked,
)
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome

_MAPPING = "trend_mapping"


@dataclass(frozen=True, slots=True)
class JudgedLog:
    """A log with what it shows under the limits in force; `record` None before it is kept."""

    log: TrendLog
    configuration: Configuration
    limits: Mapping[str, LimitInForce]
    findings: tuple[Finding, ...]
    record: TrendRecord | None = None

    @property
    def counts(self) -> Counter[Outcome]:
        """How many findings of each verdict there are."""
        return Counter(finding.outcome for finding in self.findings)

    def summary(self) -> str:
        """Return the counts in words: "2 fail, 1 inconclusive, 40 pass ..."."""
        counts = self.counts
        there = (outcome for outcome in Outcome if counts[outcome])
        return ", ".join(f"{counts[outcome]} {spoken(outcome)}" for outcome in there)


def judged(
    log: TrendLog, results: UnitResults, project: ProjectFile,
    record: TrendRecord | None = None, progress: Told | None = None,
) -> JudgedLog:  # fmt: skip
    """Return what a log shows of a unit, by its form's answers and limits and those typed."""
    limits = limits_of_unit(project, results)
    return judged_under(log, results, limits, record, progress)


def limits_of_unit(project: ProjectFile, results: UnitResults) -> dict[str, LimitInForce]:
    """Return the limits in force for a unit's logs: typed, of its form, or defaults.

    A typed limit of a rule that there is no more is left aside.
    """
    known = rule_book().limits
    typed = project.trend_limits(results.unit_id)
    return limits_in_force({name: typed[name] for name in typed if name in known}, results)


def judged_under(
    log: TrendLog, results: UnitResults, limits: Mapping[str, LimitInForce],
    record: TrendRecord | None = None, progress: Told | None = None,
) -> JudgedLog:  # fmt: skip
    """Return what a log shows of a unit under given limits."""
    configuration = configuration_of(results.calculation)
    findings = judge_trend(log, configuration, limits, progress)
    return JudgedLog(log, configuration, limits, tuple(findings), record)


def judged_logs(project: ProjectFile, results: UnitResults) -> Iterator[JudgedLog]:
    """Yield a unit's logs in the order kept, each judged anew when its turn comes.

    Raises:
        ProjectFileError: A log's samples cannot be read.
        ReadingError: The unit's configuration is not one of the form's.
    """
    for record in project.trend_logs(results.unit_id):
        yield judged(unpacked(record.data), results, project, record)


def keep_log(
    project: ProjectFile, unit_id: str, shown: JudgedLog, reading: FileReading, digest: str = "",
    data: bytes = b"",
) -> TrendRecord:  # fmt: skip
    """Keep a log in the project, and how its columns were taken for the project's next file.

    A file that is kept for the unit already is kept as it was read now, not twice.

    Args:
        digest: SHA-256 of the file, "" if there is none.
        data: `packed` samples, where they have been packed already.
    Raises:
        ProjectFileError: It is too large, or could not be kept.
    """
    log = shown.log
    same = [r for r in project.trend_logs(unit_id) if digest and r.file_sha256 == digest]
    with project.transaction(spoken("The trend log {source}", source=log.source)):
        remember_mapping(project, reading)
        record = project.add_trend_log(
            unit_id, log.source, data or packed(log), file_sha256=digest,
            read_as=reading_to_plain(reading), facts=facts_of(log),
            findings=plain_findings(shown.findings),
        )  # fmt: skip
        for old in same:  # the same file read anew, perhaps in another way
            project.remove_trend_log(old.id)
    return record


def plain_findings(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Return findings as plain data for the project file."""
    return [finding_to_plain(finding) for finding in findings]


def kept_mapping(project: ProjectFile) -> dict[str, dict[str, Any]]:
    """Return heading -> what a column was taken for in this project's earlier files."""
    try:
        mapping = json.loads(project.text_setting(_MAPPING) or "{}")
    except ValueError:
        return {}
    return mapping if isinstance(mapping, dict) else {}


def remember_mapping(project: ProjectFile, reading: FileReading) -> None:
    """Keep what the columns of a file were taken for, beside those of earlier files."""
    before = kept_mapping(project)
    mapping = before | mapping_of(reading)
    if mapping != before:
        text = json.dumps(mapping, ensure_ascii=False, sort_keys=True)
        project.set_setting(_MAPPING, text)


def with_kept_mapping(project: ProjectFile, reading: FileReading) -> FileReading:
    """Return a reading with the columns that the project knows taken as before.

    A kept mapping that no longer fits (a signal that is gone) is left aside.
    """
    try:
        return with_mapping(reading, kept_mapping(project))
    except (ReadingError, TypeError):
        return reading


def deficiency_texts(finding: Finding, record: TrendRecord | None) -> dict[str, str]:
    """Return a deficiency's texts for a finding: requirement, description, correction."""
    where = spoken(" (trend log {name})", name=record.name) if record else ""
    times = (
        spoken(" First {first_moment}.", first_moment=finding.first_moment)
        if finding.first_moment
        else ""
    )
    worst = finding.worst_moment
    times += (
        spoken(" Worst {worst}.", worst=worst) if worst and worst != finding.first_moment else ""
    )
    limit = spoken(" Limit: {limit}.", limit=finding.limit) if finding.limit else ""
    return {
        "requirement": f"{finding.title}.{limit} {finding.source}".strip(),
        "description": f"{finding.title}: {finding.sentence}{times}{where}",
        "correction": spoken("To do: {cure}", cure=finding.cure) if finding.cure else "",
    }
