"""A unit's trend logs in the package: facts, findings, plots; judged anew from the samples."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from reportlab.platypus import Flowable

from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.package.abreast import Abreast
from commission.package.drawing_flowable import DrawingFlowable
from commission.package.figures_part import LAID_FOR
from commission.package.flowables import Heading, words
from commission.package.look import BODY, NOTE, QUIET
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.trend_facts import finding_colour, finding_mark
from commission.package.turnover import Part, Turnover
from commission.project import Deficiency, TrendRecord
from commission.sequence.findings import Finding, said_lines, said_seconds, worst_first
from commission.sequence.trend_deficiency import deficiency_made_of
from commission.sequence.trend_plot import finding_drawing, overview_drawing
from commission.sequence.trend_shelf import JudgedLog, judged
from commission.sequence.trend_signals import SIGNALS
from commission.sequence.trend_store import unpacked
from commission.validation.verdict import Outcome

TITLE = to_say("Trend logs")
MOST_PLOTS = 12
Told = Callable[[str], None]


def trend_flowables(turnover: Turnover, part: Part, told: Told) -> Iterator[Flowable]:
    """Yield a unit's trend logs; nothing for a unit without one."""
    records = turnover.project.trend_logs(part.results.unit_id) if part.results.unit_id else []
    if not records:
        return
    yield Heading(spoken(TITLE), 2, part.trend_key)
    yield words(
        spoken(
            "What a logger wrote while the unit ran, held to the rules of its sequence of "
            "operation. Limits that are only defaults are marked as such; the unit's literature "
            "governs."
        ),
        BODY,
    )
    for record in records:
        told(spoken("{title}: trend log {name}", title=part.title, name=record.name))
        yield from _log(turnover, part, record)


def _log(turnover: Turnover, part: Part, record: TrendRecord) -> Iterator[Flowable]:
    yield Heading(record.name, 3, outlined=False)
    try:
        shown = judged(unpacked(record.data), part.results, turnover.project, record)
    except CommissionError as fault:
        yield words(spoken("This log could not be judged: {fault}", fault=fault), BODY)
        return
    yield _facts(shown, record)
    yield words(spoken("Findings: {summary}.", summary=shown.summary()), BODY)
    yield from _failures(turnover, part, shown, record)
    system = turnover.unit_system
    yield DrawingFlowable(
        overview_drawing(shown.log, shown.findings, turnover.width, system),
        spoken("The whole log."),
    )
    plotted = [f for f in worst_first(shown.findings) if f.outcome is Outcome.FAIL and f.rows]
    plots = [_plot(shown, finding, system) for finding in plotted[:MOST_PLOTS]]
    for first in range(0, len(plots), 2):
        yield Abreast([[plot] for plot in plots[first : first + 2]])
    if len(plotted) > MOST_PLOTS:
        left = len(plotted) - MOST_PLOTS
        yield words(
            spoken("{left} more findings stand in the table without a plot.", left=left), NOTE
        )
    yield from _others(shown)


def _plot(shown: JudgedLog, finding: Finding, system: str) -> DrawingFlowable:
    """Return a finding drawn for half of the page's width."""
    drawing = finding_drawing(shown.log, finding, shown.configuration, LAID_FOR, system)
    caption = spoken(
        "{mark} {title}: worst at {moment}.",
        mark=finding_mark(finding),
        title=finding.title,
        moment=finding.worst_moment,
    )
    return DrawingFlowable(drawing, caption)


def _facts(shown: JudgedLog, record: TrendRecord) -> DataTable:
    log = shown.log
    every = (
        said_seconds(log.interval_s) if log.interval_s == log.interval_s else spoken("not known")
    )
    rows = [
        (
            spoken("Samples"),
            spoken("{count}, usually every {time}", count=f"{len(log.moments):,}", time=every),
        ),
        (
            spoken("From, to"),
            spoken("{first} to {last}", first=log.clock(0), last=log.clock(len(log.moments) - 1)),
        ),
        (
            spoken("Clock"),
            log.zone or spoken("as the file has it; its time zone is not known"),
        ),
        (spoken("Columns used"), ", ".join(SIGNALS[name].label for name in log.columns)),
        (
            spoken("File read"),
            f"{record.at[:16].replace('T', ' ')}, SHA-256 {record.file_sha256[:16]}…",
        ),
    ]
    rows += [(spoken("Remark"), remark.sentence) for remark in log.remarks]
    cells = [Row([Cell(what, colour=QUIET), value]) for what, value in rows]
    return DataTable([Column("", 90), Column("", 426)], cells, header=False)


def _failures(
    turnover: Turnover, part: Part, shown: JudgedLog, record: TrendRecord
) -> Iterator[Flowable]:
    """Yield what failed or cannot be told."""
    wrong = (Outcome.FAIL, Outcome.INCONCLUSIVE)
    found = [f for f in worst_first(shown.findings) if f.outcome in wrong]
    columns = [
        Column(spoken("Verdict"), 60),
        Column(spoken("Rule and what the log shows"), 196),
        Column(spoken("Limit"), 160),
        Column(spoken("Times"), 36, "right"),
        Column(spoken("First, worst"), 64),
    ]
    if found:
        known = turnover.project.deficiencies(part.results.unit_id)
        rows = [_row(turnover, f, deficiency_made_of(f, record.name, known)) for f in found]
        yield DataTable(columns, rows)
    else:
        yield words(spoken("No rule failed, and none is left undecided."), BODY)


def _others(shown: JudgedLog) -> Iterator[Flowable]:
    """Yield in short what passed, and what was not judged."""
    ordered = worst_first(shown.findings)
    passed = [f for f in ordered if f.outcome is Outcome.PASS]
    if passed:
        rows = [Row([f"{finding_mark(f)}: {f.title}", f.sentence, f.limit]) for f in passed]
        columns = [
            Column(spoken("Rules that pass"), 162),
            Column(spoken("Seen"), 134),
            Column(spoken("Limit"), 220),
        ]
        yield DataTable(columns, rows, pad=1.2)
    absent = [f.title for f in ordered if f.outcome is Outcome.MISSING]
    if absent:
        titles = ", ".join(dict.fromkeys(absent))
        yield words(
            spoken(
                "Not judged, for want of columns, limits or the state: {titles}.", titles=titles
            ),
            NOTE,
        )


def _row(turnover: Turnover, finding: Finding, made: Deficiency | None) -> Row:
    lines = said_lines(finding.lines)
    told = f"{finding.title}\n{finding.sentence}" + (
        "\n" + spoken("Lines {lines} of the file.", lines=lines) if lines else ""
    )
    wrong = finding.outcome is Outcome.FAIL
    told += "\n" + spoken("To do: {cure}", cure=finding.cure) if wrong and finding.cure else ""
    if made is not None:
        told += "\n" + spoken(
            "Deficiency {number} is made of it ({status}).",
            number=made.number,
            status=spoken(made.status),
        )
    moments = dict.fromkeys((finding.first_moment, finding.worst_moment))
    return Row(
        [
            Cell(finding_mark(finding), colour=finding_colour(finding)),
            Cell(told, goes_to=turnover.deficiency_key(made) if made is not None else ""),
            finding.limit.replace("; ", "\n"),
            str(finding.count or ""),
            "\n".join(filter(None, moments)),
        ]
    )
