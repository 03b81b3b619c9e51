"""Stops, failures and what could not be decided: first, in one table, linked to their places."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.look import BODY, BOLD, NOTE
from commission.package.page_part import speaks
from commission.package.page_values import DEFAULT_MARK
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.trend_facts import TrendFact, finding_colour, finding_mark
from commission.package.turnover import Part, Turnover
from commission.package.wording import check_label, counted, gravity, verdict_colour, verdict_mark
from commission.validation.report import sentence
from commission.validation.verdict import Verdict

KEY = "attention"
TITLE = to_say("Stops, failures and undecided results")
_HEADINGS = (
    (to_say("Stops"), to_say("A stop makes starting or running unsafe.")),
    (
        to_say("Failures"),
        to_say("Each is to be put right, or accepted by whoever may accept it."),
    ),
    (
        to_say("Inconclusive"),
        to_say("The numbers cannot decide these: see the reason with each."),
    ),
    (to_say("Worth knowing"), to_say("Notes do not hold up acceptance.")),
)


def attention(turnover: Turnover) -> list[Flowable]:
    """Return the tables of what needs somebody's attention, the gravest first."""
    found = [pair for pair in turnover.verdicts if gravity(pair[1]) < len(_HEADINGS)]
    seen = turnover.trends
    flowables: list[Flowable] = [Heading(spoken(TITLE), 1, KEY)]
    if not found and not seen:
        return [*flowables, words(spoken("There are none among the checks made."), BODY)]
    columns = [
        Column(spoken("Unit"), 38),
        Column(spoken("What, and on which page of the form"), 158),
        Column(spoken("Value, limit"), 90),
        Column(spoken("Why, and what to do"), 202),
        Column(spoken("Page"), 28, "right"),
    ]
    rows = []
    for rank, (title, meaning) in enumerate(_HEADINGS):
        group = [_row(*pair) for pair in found if gravity(pair[1]) == rank]
        group += [_trend_row(turnover, *pair) for pair in seen if pair[1].gravity == rank]
        if group:
            heading = f"{spoken(title)} ({len(group)}) – {spoken(meaning)}"
            rows.append(Row([Cell(heading, BOLD, span=len(columns))], group=True))
            rows += group
    intro = spoken(
        "{results} of {total} need attention.",
        results=counted(len(found), "result", "results"),
        total=len(turnover.verdicts),
    )
    if seen:
        intro += " " + spoken(
            "Beside them stand {findings} of trend logs.",
            findings=counted(len(seen), "finding", "findings"),
        )
    return [*flowables, words(intro, NOTE), DataTable(columns, rows)]


def _row(part: Part, verdict: Verdict) -> Row:
    results, check = part.results, verdict.check
    key = part.verdict_key(verdict) if speaks(verdict) else part.key
    what = f"{verdict_mark(verdict)}: {check_label(results, verdict)}"
    limit = results.limit_text(verdict) + (DEFAULT_MARK if verdict.limit.is_default else "")
    return Row(
        [
            Cell(results.tag or spoken("Project"), BOLD),
            Cell(
                f"{what}\n{results.form.section_by_name[check.section].title}",
                colour=verdict_colour(verdict),
            ),
            f"{results.shown(check.judges, verdict.index)}\n{limit}",
            f"{sentence(results, verdict)} {check.cure}".rstrip(),
            Cell(page_of=key),
        ]
    )


def _trend_row(turnover: Turnover, part: Part, fact: TrendFact) -> Row:
    """Return the row of a trend finding; it leads to the deficiency made of it, if any."""
    finding, made = fact.finding, fact.deficiency
    log = spoken("Trend log {name}", name=fact.log_name)
    return Row(
        [
            Cell(part.title, BOLD),
            Cell(
                f"{finding_mark(finding)}: {finding.title}\n{log}",
                colour=finding_colour(finding),
            ),
            Cell(
                "\n".join(part for part in (fact.told(), finding.limit) if part),
                span=2,
                goes_to=turnover.deficiency_key(made) if made is not None else "",
            ),
            Cell(page_of=part.trend_key),
        ]
    )
