"""Commands that set two files side by side: merge, compare."""

from __future__ import annotations

import argparse

from commission.archive import (
    Finding,
    compare_records,
    comparison_rows,
    verdict_change_rows,
)
from commission.commands import FINE, FOUND
from commission.language import spoken
from commission.project.merge import merge_projects
from commission.project.merge_report import merge_rows
from commission.terminal import table


def merge(options: argparse.Namespace) -> int:
    """Join two crews' project files of one site; 1 if there are conflicts to settle."""
    report = merge_projects(options.ours, options.theirs, options.output)
    print(report.sentence)
    header, rows = merge_rows(report)
    if rows:
        print(table(header, rows, wide=len(header) - 1))
    return FOUND if report.conflicts else FINE


def compare(options: argparse.Namespace) -> int:
    """Set later readings beside a baseline and judge the drift; 1 if something drifted."""
    comparison = compare_records(options.baseline, options.later)
    for header, rows in (
        comparison_rows(comparison, everything=options.all),
        verdict_change_rows(comparison),
    ):
        if rows:
            print(table(header, rows, wide=len(header) - 1))
            print()
    for sentence in comparison.unmatched:
        print(sentence)
    print(comparison.sentence)
    if options.pdf:
        from commission.commands.drift_report import write_drift_report

        written = write_drift_report(comparison, options.pdf)
        print(spoken("{file}: comparison written.", file=written))
    return FOUND if comparison.counts[Finding.DRIFT] else FINE
