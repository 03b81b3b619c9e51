"""A comparison of two records as a report: what drifted, in a figure and in tables."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from commission import __version__
from commission.archive import Comparison, Finding, comparison_rows, verdict_change_rows
from commission.archive.compare import Compared
from commission.archive.compare_rows import difference_words
from commission.drawing.drift import MOST_ROWS, DriftRow, drift_figure
from commission.language import spoken
from commission.package.report import (
    Report,
    ReportFigure,
    ReportTable,
    report_width,
    write_report,
)

_NOTES = (
    "Drift is a difference larger than its own expanded uncertainty, that of both visits together "
    "(JCGM 100:2008 5.1.2); the figure draws the one over the other (the E_n number of ISO "
    "13528). A difference of a value that rests on the weather or the load is not called drift "
    "unless its formula takes these out again, or they were alike.",
    "This comparison does not replace the unit's literature, local codes or licensed practice.",
)


def write_drift_report(comparison: Comparison, path: Path) -> Path:
    """Write a comparison as PDF; OutputError if it cannot be written there."""
    return write_report(drift_report(comparison), path)


def drift_report(comparison: Comparison) -> Report:
    """Return a comparison as a report."""
    header, rows = comparison_rows(comparison)
    changed_header, changed = verdict_change_rows(comparison)
    return Report(
        title=f"Baseline comparison: {comparison.later_title}",
        subject="Later readings against the baseline",
        facts=_facts(comparison),
        summary=(comparison.sentence, *comparison.unmatched),
        parts=(
            ReportTable(
                "Verdicts that are others now",
                changed_header,
                (0, 60, 60, 140, 256),
                changed,
                "No verdict has changed.",
                grouped=True,
            ),
            ReportTable(
                "What drifted, changed or could not be judged",
                header,
                (0, 72, 76, 76, 56, 56, 180),
                rows,
                "Nothing: every value compared is within its uncertainty or unchanged.",
                grouped=True,
            ),
            *_figures(comparison),
        ),
        notes=_NOTES,
        program=f"commission {__version__}",
        unit_system=comparison.unit_system,
        moment=comparison.later_moment,
    )


def _facts(comparison: Comparison) -> list[tuple[str, str]]:
    pairs = "; ".join(f"{pair.tag} by its {pair.matched_by}" for pair in comparison.pairs)
    return [
        ("Baseline", f"{comparison.baseline_title}, last reading {comparison.baseline_day}"),
        ("Later", f"{comparison.later_title}, last reading {comparison.later_day}"),
        ("Units known again", pairs or spoken("none")),
    ]


def _figures(comparison: Comparison) -> Iterator[ReportFigure]:
    """Yield a figure a unit: the values of which most can be said, the furthest first."""
    by_unit: dict[str, list[Compared]] = {}
    for value in comparison.values:
        shown = value.finding in (Finding.DRIFT, Finding.WITHIN) and not value.told_by
        if shown and value.ratio is not None:
            by_unit.setdefault(value.tag or "Project", []).append(value)
    for tag, values in by_unit.items():
        values.sort(key=lambda value: -abs(value.ratio or 0.0))
        drifted = sum(value.finding is Finding.DRIFT for value in values)
        chosen = values[: min(MOST_ROWS, max(12, drifted))]
        rows = [
            DriftRow(v.label, difference_words(v, comparison.unit_system), v.ratio or 0.0)
            for v in chosen
        ]
        drawing = drift_figure(rows, report_width(comparison.unit_system), f"Drift of {tag}")
        left = len(values) - len(chosen)
        more = f" {left} more values that moved less are not drawn." if left else ""
        caption = f"{drifted} of {len(values)} differences are beyond their uncertainty.{more}"
        yield ReportFigure(f"{tag}: differences against their uncertainty", drawing, caption)
