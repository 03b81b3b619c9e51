"""The command that lays a trend log over a unit's sequence of operation."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence

from commission.commands import FINE, FOUND
from commission.commands.opening import opened, site_of
from commission.errors import CommissionError
from commission.sequence.configuration import configuration_of
from commission.sequence.findings import Finding, trend_rows
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_reading import reading_rows
from commission.terminal import ProgressLine, listed
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults
from commission.validation.verdict import Outcome

_QUIET = (Outcome.PASS, Outcome.MISSING, Outcome.NOT_APPLICABLE)


def trend(options: argparse.Namespace) -> int:
    """Judge a trend log by the unit's configuration; 1 if a rule fails."""
    with opened(options.file) as project:
        results = _unit(site_of(project), options.unit)
        configuration = configuration_of(results.calculation)
    reading = find_reading(options.log)
    progress = ProgressLine("Trend log")
    log = read_trend(options.log, reading, progress)
    progress.finish(f"{options.log}: read for {results.tag}.")
    for what, value in reading_rows(reading):
        print(f"  {what}: {value}")
    for remark in log.remarks:
        if remark.kind != "to confirm":  # among the rows above
            print(f"  {remark.kind}: {remark.sentence}")
    findings = judge_trend(log, configuration)
    print(_listed(findings, everything=options.all))
    counts = Counter(str(finding.outcome) for finding in findings)
    print(", ".join(f"{counts[outcome]} {outcome}" for outcome in Outcome) + ".")
    found = any(finding.stops or finding.is_deficiency for finding in findings)
    return FOUND if found else FINE


def _unit(site: SiteResults, tag: str | None) -> UnitResults:
    """Return the unit that the log is of; a lone unit needs no tag."""
    wanted = [unit for unit in site.units if tag is None or unit.tag.casefold() == tag.casefold()]
    if len(wanted) == 1:
        return wanted[0]
    tags = ", ".join(unit.tag for unit in site.units) or "none"
    rule = f"no unit '{tag}'" if tag else f"{len(wanted)} units; say of which the log is (--unit)"
    raise CommissionError(f"{site.project.path}: {rule}. Its units: {tags}.")


def _listed(findings: Sequence[Finding], everything: bool) -> str:
    _, rows = trend_rows(findings)
    shown = [
        (verdict, title, f"{sentence} Lines {lines}." if lines else sentence)
        for verdict, title, sentence, _, _, _, lines in rows
        if everything or verdict not in _QUIET
    ]
    return listed("\nWhat the log shows", shown) if shown else ""
