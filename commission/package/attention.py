"""Stops, failures and what could not be decided: first, in one table, linked to their places."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.package.flowables import Heading, words
from commission.package.look import BODY, BOLD, NOTE
from commission.package.page_part import speaks
from commission.package.page_values import DEFAULT_MARK
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
    found = [pair for pair in turnover.verdicts if gravity(pair[1]) < len(_HEADINGS)]
    flowables: list[Flowable] = [Heading(TITLE, 1, KEY)]
    if not found:
        return [*flowables, words("There are none among the checks made.", BODY)]
    columns = [
        Column("Unit", 46),
        Column("What, and on which page of the form", 142),
        Column("Value, limit", 92),
        Column("Why, and what to do", 208),
        Column("Page", 28, "right"),
    ]
    rows = []
    for rank, (title, meaning) in enumerate(_HEADINGS):
        group = [pair for pair in found if gravity(pair[1]) == rank]
        if group:
            heading = f"{title} ({len(group)}) – {meaning}"
            rows.append(Row([Cell(heading, BOLD, span=len(columns))], group=True))
            rows += [_row(part, verdict) for part, verdict in group]
    intro = f"{counted(len(found), 'result')} of {len(turnover.verdicts)} need attention."
    return [*flowables, words(intro, NOTE), DataTable(columns, rows)]


def _row(part: Part, verdict: Verdict) -> Row:
    results, check = part.results, verdict.check
    key = part.verdict_key(verdict) if speaks(verdict) else part.key
    what = f"{verdict_mark(verdict)}: {check_label(results, verdict)}"
    limit = results.limit_text(verdict) + (DEFAULT_MARK if verdict.limit.is_default else "")
    return Row(
        [
            Cell(results.tag or "Project", BOLD),
            Cell(
                f"{what}\n{results.form.section_by_name[check.section].title}",
                colour=verdict_colour(verdict),
            ),
            f"{results.shown(check.judges, verdict.index)}\n{limit}",
            f"{sentence(results, verdict)} {check.cure}".rstrip(),
            Cell(page_of=key),
        ]
    )
