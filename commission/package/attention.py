"""Stops, failures and what could not be decided: first, in one table, linked to their places."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.package.flowables import Heading, words
from commission.package.look import BODY, BOLD, NOTE
from commission.package.page_part import speaks
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import check_label, counted, gravity, verdict_colour, verdict_mark
from commission.validation.report import sentence
from commission.validation.verdict import Verdict

KEY = "attention"
TITLE = "Stops, failures and undecided results"
_HEADINGS = (
    ("Stops", "A stop makes starting or running unsafe."),
    ("Failures", "Each is to be put right, or accepted by whoever may accept it."),
    ("Inconclusive", "The numbers cannot decide these: see the reason with each."),
    ("Worth knowing", "Notes do not hold up acceptance."),
)


def attention(turnover: Turnover) -> list[Flowable]:
    """Return the tables of what needs somebody's attention, the gravest first."""
    found = [pair for pair in turnover.verdicts() if gravity(pair[1]) < len(_HEADINGS)]
    flowables: list[Flowable] = [Heading(TITLE, 1, KEY)]
    if not found:
        return [*flowables, words("There are none among the checks made.", BODY)]
    columns = [
        Column("Unit", 50),
        Column("Page of the form", 84),
        Column("What", 98),
        Column("Value", 62),
        Column("Limit", 72),
        Column("Why, and what to do", 132),
        Column("Page", 28, "right"),
    ]
    rows = []
    for rank, (title, meaning) in enumerate(_HEADINGS):
        group = [pair for pair in found if gravity(pair[1]) == rank]
        if group:
            heading = f"{title} ({len(group)}) – {meaning}"
            rows.append(Row([Cell(heading, BOLD, span=len(columns))], group=True))
            rows += [_row(part, verdict) for part, verdict in group]
    intro = f"{counted(len(found), 'result')} of {len(turnover.verdicts())} need attention."
    return [*flowables, words(intro, NOTE), DataTable(columns, rows)]


def _row(part: Part, verdict: Verdict) -> Row:
    results, check = part.results, verdict.check
    key = part.verdict_key(verdict) if speaks(verdict) else part.key
    cure = check.cure
    return Row(
        [
            Cell(results.tag or "Project", BOLD),
            f"{results.form.section_by_name[check.section].title}",
            Cell(
                f"{verdict_mark(verdict)}\n{check_label(results, verdict)}",
                colour=verdict_colour(verdict),
            ),
            results.shown(check.judges, verdict.index),
            results.limit_text(verdict) + (" †" if verdict.limit.is_default else ""),
            f"{sentence(results, verdict)} {cure}".rstrip(),
            Cell(page_of=key),
        ]
    )
