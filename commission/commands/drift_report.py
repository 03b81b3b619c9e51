"""A comparison of two records as a report: what drifted, in a figure and in tables."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from commission import __version__
from commission.archive import Comparison, Finding, comparison_rows, verdict_change_rows
from commission.archive.compare import Compared
from commission.archive.compare_rows import difference_words
from commission.drawing.drift import MOST_ROWS, DriftRow, drift_figure
from commission.language import spoken, to_say
from commission.package.report import (
    Report,
    ReportFigure,
    ReportTable,
    report_width,
    write_report,
)

_NOTES = (
    to_say(
        "Drift is a difference larger than its own expanded uncertainty, that of both visits "
        "together (JCGM 100:2008 5.1.2); the figure draws the one over the other (the E_n number "
        "of ISO 13528). A difference of a value that rests on the weather or the load is not "
        "called drift unless its formula takes these out again, or they were alike."
    ),
    to_say(
        "This comparison does not replace the unit's literature, local codes or licensed practice."
    ),
)


def write_drift_report(comparison: Comparison, path: Path) -> Path:
    """Write a comparison as PDF; OutputError if it cannot be written there."""
    return write_report(drift_report(comparison), path)


def drift_report(comparison: Comparison) -> Report:
    """Return a comparison as a report."""
    header, rows = comparison_rows(comparison)
    changed_header, changed = verdict_change_rows(comparison)
    return Report(
        title=spoken("Baseline comparison: {title}", title=comparison.later_title),
        subject=spoken("Later readings against the baseline"),
        facts=_facts(comparison),
        summary=(comparison.sentence, *comparison.unmatched),
        parts=(
            ReportTable(
                spoken("Verdicts that are others now"),
                changed_header,
                (0, 60, 60, 140, 256),
                changed,
                spoken("No verdict has changed."),
                grouped=True,
            ),
            ReportTable(
                spoken("What drifted, changed or could not be judged"),
                header,
                (0, 72, 74, 74, 58, 70, 168),
                rows,
                spoken("Nothing: every value compared is within its uncertainty or unchanged."),
                grouped=True,
            ),
            *_figures(comparison),
        ),
        notes=[spoken(note) for note in _NOTES],
        program=f"commission {__version__}",
        unit_system=comparison.unit_system,
        moment=comparison.later_moment,
    )


def _facts(comparison: Comparison) -> list[tuple[str, str]]:
    pairs = "; ".join(
        spoken("{tag} by its {number}", tag=pair.tag, number=spoken(pair.matched_by))
        for pair in comparison.pairs
    )
    before, later = comparison.baseline_title, comparison.later_title
    read = to_say("{title}, last reading {day}")
    return [
        (spoken("Baseline"), spoken(read, title=before, day=comparison.baseline_day)),
        (spoken("Later"), spoken(read, title=later, day=comparison.later_day)),
        (spoken("Units known again"), pairs or spoken("none")),
    ]


def _figures(comparison: Comparison) -> Iterator[ReportFigure]:
    """Yield a figure a unit: the values of which most can be said, the furthest first."""
    by_unit: dict[str, list[Compared]] = {}
    for value in comparison.values:
        shown = value.finding in (Finding.DRIFT, Finding.WITHIN) and not value.told_by
        if shown and value.ratio is not None:
            by_unit.setdefault(value.tag or spoken("Project"), []).append(value)
    for tag, values in by_unit.items():
        values.sort(key=lambda value: -abs(value.ratio or 0.0))
        drifted = sum(value.finding is Finding.DRIFT for value in values)
        chosen = values[: min(MOST_ROWS, max(12, drifted))]
        rows = [
            DriftRow(v.label, difference_words(v, comparison.unit_system), v.ratio or 0.0)
            for v in chosen
        ]
        title = spoken("Drift of {tag}", tag=tag)
        drawing = drift_figure(rows, report_width(comparison.unit_system), title)
        heading = spoken("{tag}: differences against their uncertainty", tag=tag)
        yield ReportFigure(heading, drawing, _caption(drifted, len(values), len(chosen)))


def _caption(drifted: int, count: int, drawn: int) -> str:
    beyond = spoken(
        "{drifted} of {count} differences are beyond their uncertainty.",
        drifted=drifted,
        count=count,
    )
    if count == drawn:
        return beyond
    left = spoken("{count} more values that moved less are not drawn.", count=count - drawn)
    return f"{beyond} {left}"
