"""What the store tells, as a report: values that stand apart, and one unit over its visits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from commission import __version__
from commission.archive.store import Outlier, OutlierReport, Visit
from commission.archive.store.outliers import THRESHOLD
from commission.commands.portfolio import COUNTED, age_words, outlier_words
from commission.drawing.drift import MOST_ROWS, DriftRow, Measure, lanes_figure
from commission.drawing.visits import VisitPoint, visits_figure
from commission.formula.figures import figure, uncertainty_figure, with_unit
from commission.language import spoken, spoken_count, to_say
from commission.package.report import (
    Report,
    ReportFigure,
    ReportTable,
    report_width,
    write_report,
)

_PROGRAM = f"commission {__version__}"
_NOT_INSTEAD = to_say(
    "This report does not replace the unit's literature, local codes or licensed practice."
)
_APART = to_say(
    "A value stands apart if its modified z-score, 0.6745 (value - median) / MAD, is beyond "
    "{threshold:g} among units of one model and like age (Iglewicz and Hoaglin 1993; "
    "NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17). It is where to look first, and "
    "no fault by itself: another charge, airflow or instrument stands apart too."
)
_BARS = to_say(
    "A bar is the expanded uncertainty of the value, where instruments were named. Values that "
    "rest on the weather or the load differ with these; 'commission compare' takes them out "
    "where a formula can."
)
_EACH = (
    to_say("Site"),
    to_say("Unit"),
    to_say("Score"),
    to_say("Value"),
    to_say("Median"),
    to_say("Among"),
    to_say("What"),
)
_VISITS = (to_say("Visited"), to_say("Age"), *COUNTED, to_say("Project"))


def write_outlier_report(
    found: OutlierReport, asked: Sequence[tuple[str, str]], path: Path
) -> Path:
    """Write values that stand apart as PDF; OutputError if it cannot be written there."""
    return write_report(outlier_report(found, asked), path)


def write_history_report(visits: Sequence[Visit], path: Path) -> Path:
    """Write one unit over its visits as PDF; OutputError if it cannot be written there."""
    return write_report(history_report(visits), path)


def outlier_report(found: OutlierReport, asked: Sequence[tuple[str, str]]) -> Report:
    """Return a search for outliers as a report.

    Args:
        asked: what was searched, as pairs of a label and words.
    """
    days = [one.visited_at for one in found.outliers if one.visited_at]
    return Report(
        title=spoken("Values that stand apart"),
        subject=spoken("Units of one model and like age beside one another"),
        facts=list(asked),
        summary=(found.sentence,),
        parts=(
            *_lanes(found.outliers),
            ReportTable(
                spoken("Each value, the furthest first"),
                [spoken(head) for head in _EACH],
                (0, 70, 48, 74, 74, 118, 132),
                [_outlier_row(one) for one in found.outliers],
                spoken("No value stands apart."),
                grouped=True,
            ),
        ),
        notes=(spoken(_APART, threshold=THRESHOLD), spoken(_NOT_INSTEAD)),
        program=_PROGRAM,
        moment=max(map(datetime.fromisoformat, days), default=None),
    )


def _lanes(outliers: Sequence[Outlier]) -> Iterator[ReportFigure]:
    """Yield figures of all that stand apart, as many lanes in each as can be read."""
    for first in range(0, len(outliers), MOST_ROWS):
        some = outliers[first : first + MOST_ROWS]
        rows = [
            DriftRow(
                f"{one.tag}: {one.label}",
                spoken(
                    "{value} against {median}",
                    value=with_unit(one.value, one.unit, one.decimals),
                    median=with_unit(one.median, one.unit, one.decimals),
                ),
                one.score,
            )
            for one in some
        ]
        title = spoken("How far each stands apart")
        drawing = lanes_figure(rows, report_width("IP"), title, _score())
        yield ReportFigure(title, drawing, spoken("Each value against the median of its like."))


def _score() -> Measure:
    axis = spoken("Modified z-score (beyond {threshold:g}: stands apart)", threshold=THRESHOLD)
    return Measure(axis, THRESHOLD, spoken("as its modified z-score"))


def _outlier_row(one: Outlier) -> list[str]:
    serial = f"\n{one.serial}" if one.serial else ""
    return [
        one.site,
        f"{one.tag}{serial}",
        figure(one.score, 1),
        with_unit(one.value, one.unit, one.decimals),
        with_unit(one.median, one.unit, one.decimals),
        f"{one.count}: {one.group}",
        outlier_words(one),
    ]


def history_report(visits: Sequence[Visit]) -> Report:
    """Return one unit's visits as a report; there is at least one."""
    last = visits[-1].unit
    facts = [
        (spoken("Site"), last.site),
        (spoken("Unit"), last.tag),
        (
            spoken("Make and model"),
            " ".join(filter(None, (last.make, last.model))) or spoken("not recorded"),
        ),
        (spoken("Serial number"), last.serial or spoken("not recorded")),
    ]
    days = [visit.unit.visited_at for visit in visits if visit.unit.visited_at]
    return Report(
        title=spoken("{tag} over its visits", tag=last.tag),
        subject=f"{last.site}, {last.tag}",
        facts=facts,
        summary=_summary(len(visits), days),
        parts=(
            ReportTable(
                spoken("Visits"),
                [spoken(head) for head in _VISITS],
                (66, 56, 50, 50, 58, 42, 194),
                [_visit_row(visit) for visit in visits],
            ),
            *_charts(visits),
            _values(visits),
        ),
        notes=(spoken(_BARS), spoken(_NOT_INSTEAD)),
        program=_PROGRAM,
        moment=max(map(datetime.fromisoformat, days), default=None),
    )


def _summary(count: int, days: Sequence[str]) -> Sequence[str]:
    if not days:
        return ()
    first, last = days[0][:10], days[-1][:10]
    told = spoken_count(
        "{count} visit, on {last}.",
        "{count} visits, the first {first}, the last {last}.",
        count,
        first=first,
        last=last,
    )
    return (told,)


def _visit_row(visit: Visit) -> list[str]:
    unit = visit.unit
    counts = (unit.passes, unit.fails, unit.inconclusives + unit.missing, unit.stops)
    return [unit.visited_at[:10], age_words(unit.age), *map(str, counts), unit.title]


def _charts(visits: Sequence[Visit]) -> Iterator[ReportFigure]:
    """Yield a chart of each value that was read at two dated visits or more."""
    for label, unit in _labels(visits):
        points = [
            VisitPoint(
                _year(visit.unit.visited_at), value.number, value.expanded, _told(visit, label)
            )
            for visit in visits
            for value in visit.values
            if value.label == label and value.unit == unit and visit.unit.visited_at
        ]
        if len(points) > 1:
            yield ReportFigure(label, visits_figure(points, report_width("IP"), label, unit))


def _labels(visits: Sequence[Visit]) -> list[tuple[str, str]]:
    return list(dict.fromkeys((v.label, v.unit) for visit in visits for v in visit.values))


def _year(moment: str) -> float:
    """Return a moment as a year and its part."""
    day = datetime.fromisoformat(moment).date()
    start, end = day.replace(month=1, day=1), day.replace(year=day.year + 1, month=1, day=1)
    return day.year + (day - start).days / (end - start).days


def _told(visit: Visit, label: str) -> str:
    return f"{visit.unit.visited_at[:10]} {_shown(visit, label)}"


def _shown(visit: Visit, label: str) -> str:
    value = next((one for one in visit.values if one.label == label), None)
    if value is None:
        return ""
    text = with_unit(value.number, value.unit, value.decimals)
    return f"{text} ±{uncertainty_figure(value.expanded)}" if value.expanded else text


def _values(visits: Sequence[Visit]) -> ReportTable:
    rows = [
        [visit.unit.visited_at[:10], label, shown]
        for label, _unit in _labels(visits)
        for visit in visits
        if (shown := _shown(visit, label))
    ]
    rows = [[label, day, shown] for day, label, shown in rows]
    empty = spoken("None was asked for: name fields or quantities of the form.")
    header = (spoken("What"), spoken("Visited"), spoken("Value"))
    return ReportTable(spoken("Values"), header, (0, 120, 396), rows, empty, grouped=True)
