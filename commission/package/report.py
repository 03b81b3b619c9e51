"""A short report of plain tables and drawings as an archival PDF, such as a comparison.

It knows nothing of what it reports: whoever asks for it brings words, rows and shapes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path

from reportlab.platypus import Flowable

from commission.drawing.shapes import Drawing
from commission.errors import OutputError
from commission.language import spoken
from commission.package import archival
from commission.package.archival import Description
from commission.package.document import TurnoverDocument, document_language
from commission.package.drawing_flowable import DrawingFlowable
from commission.package.flowables import Heading, kept, words
from commission.package.look import BODY, BOLD, NOTE, TITLE, content_width
from commission.package.tables import Cell, Column, DataTable, Row


@dataclass(frozen=True, slots=True)
class ReportTable:
    """Rows under a heading; `shares` are the columns' shares of the width.

    Rows of one first cell are grouped under it, if `grouped`. `empty` is said instead of a
    table without rows.
    """

    heading: str
    header: Sequence[str]
    shares: Sequence[float]
    rows: Sequence[Sequence[str]]
    empty: str = "None."
    grouped: bool = False


@dataclass(frozen=True, slots=True)
class ReportFigure:
    """A drawing under a heading, with a caption."""

    heading: str
    drawing: Drawing
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report.

    Attributes:
        facts: pairs of a label and its words, set below the title.
        summary: the outcome in sentences.
        moment: when what it reports was last changed; no clock is read.
    """

    title: str
    subject: str
    facts: Sequence[tuple[str, str]]
    summary: Sequence[str]
    parts: Sequence[ReportTable | ReportFigure]
    notes: Sequence[str]
    program: str
    unit_system: str = "IP"
    moment: datetime | None = None


def report_width(unit_system: str) -> float:
    """Return the width that a drawing of a report may have, points."""
    return content_width(unit_system)


def write_report(report: Report, path: Path) -> Path:
    """Write a report as PDF/A-3 and return its path; the same report gives the same bytes.

    Raises:
        OutputError: the file cannot be written; one of that name stays as it was.
    """
    path = Path(path)
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(_report_bytes(report))
        beside.replace(path)
    except OSError as fault:
        raise OutputError(
            spoken(
                "{path}: the report cannot be written ({strerror}). Choose another folder, "
                "close the file if it is open elsewhere, or make room on the disk.",
                path=path,
                strerror=fault.strerror or fault,
            )
        ) from fault
    finally:
        with suppress(OSError):  # the folder is gone, and the file with it
            beside.unlink(missing_ok=True)
    return path


def _report_bytes(report: Report) -> bytes:
    target = BytesIO()
    document = TurnoverDocument(target, report.unit_system, report.title, report.program)
    canvas = document.make(list(_story(report)))
    told = Description(
        title=report.title,
        author="",
        subject=report.subject,
        program=report.program,
        language=document_language(),
        moment=report.moment.isoformat() if report.moment else "",
    )
    return archival.archived(target, told, (), canvas.structure)


def _story(report: Report) -> Iterator[Flowable]:
    yield words(report.title, TITLE, is_title=True)
    pairs = [Row([Cell(label, BOLD), said]) for label, said in report.facts]
    yield DataTable([Column("", 120), Column("", 396)], pairs, header=False)
    for sentence in report.summary:
        yield words(sentence, BODY)
    for number, part in enumerate(report.parts):
        heading = Heading(part.heading, 1, f"part-{number}")
        body = _figure(part) if isinstance(part, ReportFigure) else _table(part)
        yield from kept(content_width(report.unit_system), heading, body)
    for note in report.notes:
        yield words(note, NOTE)


def _figure(part: ReportFigure) -> Flowable:
    return DrawingFlowable(part.drawing, part.caption)


def _table(part: ReportTable) -> Flowable:
    if not part.rows:
        return words(part.empty, BODY)
    columns = [Column(t, s) for t, s in zip(part.header, part.shares, strict=True)]
    if not part.grouped:
        return DataTable(columns, [Row(list(row)) for row in part.rows])
    return DataTable(columns[1:], list(_grouped(part, len(columns) - 1)))


def _grouped(part: ReportTable, width: int) -> Iterator[Row]:
    """Yield the rows, those of one first cell under a line that names it."""
    before = None
    for first, *rest in part.rows:
        if first != before:
            yield Row([Cell(first, BOLD, span=width)], group=True)
            before = first
        yield Row(list(rest))
