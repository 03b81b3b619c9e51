"""The command that lays a trend log over a unit's sequence of operation."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace

from commission.commands import FINE, FOUND
from commission.commands.opening import site_of
from commission.errors import CommissionError
from commission.language import spoken
from commission.project import ProjectFile
from commission.sequence.findings import Finding, trend_rows
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_log import TrendLog
from commission.sequence.trend_reading import FileReading, reading_rows
from commission.sequence.trend_shelf import JudgedLog, judged, keep_log, with_kept_mapping
from commission.sequence.trend_store import digest_of_file
from commission.terminal import ProgressLine, listed
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults
from commission.validation.verdict import Outcome

_QUIET = (Outcome.PASS, Outcome.MISSING, Outcome.NOT_APPLICABLE)


def trend(options: argparse.Namespace) -> int:
    """Judge a trend log by the unit's configuration; 1 if a rule fails."""
    with ProjectFile.open(options.file, read_only=not options.keep) as project:
        return _judged(project, options)


def _judged(project: ProjectFile, options: argparse.Namespace) -> int:
    if options.keep and project.read_only:
        raise CommissionError(
            spoken(
                "{path}: the log cannot be kept: {read_only_reason}. Leave --keep away to judge "
                "it only.",
                path=project.path,
                read_only_reason=project.read_only_reason,
            )
        )
    results = _unit(site_of(project), options.unit)
    reading = with_kept_mapping(project, find_reading(options.log))
    if options.zone:
        reading = replace(reading, zone=options.zone)
    progress = ProgressLine(spoken("Trend log"))
    log = read_trend(options.log, reading, progress)
    progress.finish(spoken("{file}: read for {tag}.", file=options.log, tag=results.tag))
    shown = judged(log, results, project)
    _print(log, reading, shown, everything=options.all)
    if options.keep:
        keep_log(project, results.unit_id, shown, reading, digest_of_file(options.log))
        print(spoken("{file}: the log is kept with {tag}.", file=project.path, tag=results.tag))
    found = any(finding.stops or finding.is_deficiency for finding in shown.findings)
    return FOUND if found else FINE


def _print(log: TrendLog, reading: FileReading, shown: JudgedLog, everything: bool) -> None:
    """Print how the file was read, what is odd about it, and what it shows."""
    for what, value in reading_rows(reading):
        print(f"  {what}: {value}")
    for remark in log.remarks:
        if remark.kind != "to confirm":  # among the rows above
            print(f"  {spoken(remark.kind)}: {remark.sentence}")
    print(_listed(shown.findings, everything))
    print(", ".join(f"{shown.counts[outcome]} {spoken(outcome)}" for outcome in Outcome) + ".")


def _unit(site: SiteResults, tag: str | None) -> UnitResults:
    """Return the unit that the log is of; a lone unit needs no tag."""
    wanted = [unit for unit in site.units if tag is None or unit.tag.casefold() == tag.casefold()]
    if len(wanted) == 1:
        return wanted[0]
    tags = ", ".join(unit.tag for unit in site.units) or spoken("none")
    rule = (
        spoken("no unit '{tag}'", tag=tag)
        if tag
        else spoken("{count} units; say of which the log is (--unit)", count=len(wanted))
    )
    raise CommissionError(
        spoken("{path}: {rule}. Its units: {tags}.", path=site.project.path, rule=rule, tags=tags)
    )


def _listed(findings: Sequence[Finding], everything: bool) -> str:
    shown = [found for found in findings if everything or found.outcome not in _QUIET]
    _, rows = trend_rows(shown)
    lined = [
        (verdict, title, " ".join(filter(None, (sentence, _of_lines(lines)))))
        for verdict, title, sentence, _, _, _, lines in rows
    ]
    return listed("\n" + spoken("What the log shows"), lined) if lined else ""


def _of_lines(lines: str) -> str:
    return spoken("Lines {lines}.", lines=lines) if lines else ""
