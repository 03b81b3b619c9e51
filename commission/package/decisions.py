"""How the verdicts were decided: rule, uncertainty, defaults that nobody has confirmed."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.definitions.model import Check
from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.look import BODY, NOTE
from commission.package.page_values import DEFAULT_MARK
from commission.package.tables import Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted, listed
from commission.validation.verdict import DecisionRule, Outcome

KEY = "decisions"
TITLE = to_say("How the verdicts were decided")
DEFAULTS = ("defaults", to_say("Default limits not confirmed"))

_RULES = {
    DecisionRule.SIMPLE: to_say(
        "Simple acceptance: a result inside its limit passes and one outside fails, whatever its "
        "uncertainty. Where a result is nearer its limit than its uncertainty, its sentence "
        "says so."
    ),
    DecisionRule.GUARDED: to_say(
        "Guarded acceptance (after JCGM 106): a result nearer its limit than its expanded "
        "uncertainty neither passes nor fails; it is inconclusive, and a better instrument or a "
        "repeated reading is needed to settle it."
    ),
}
_VERDICTS = to_say(
    "Pass: within the limit. Fail: outside it. A failed check is a stop where going on is unsafe, "
    "and a note where it is only worth knowing. Inconclusive: the numbers cannot decide. "
    "Missing: a reading or a limit is not there. Not applicable: with the reason. Nothing that "
    "was not read is taken as zero or as passed."
)
_WITHOUT_WORK = to_say(
    "Shown work: this edition leaves out how each quantity was computed. The workbook of the same "
    "project holds every formula, and the full package every line of work."
)


def decisions(turnover: Turnover) -> list[Flowable]:
    """Return the rule in plain words, and the limits that are defaults still."""
    rule = DecisionRule(turnover.project.decision_rule)
    factor = turnover.project.coverage_factor
    uncertainty = spoken(
        "Uncertainty: where the instrument of a reading is named, its accuracy is carried through "
        "every computation to first order (after the GUM, JCGM 100), and readings taken with one "
        "instrument are taken as wrong together. Accuracy limits count as a rectangular "
        "distribution. The ± figures are expanded with the coverage factor k = {factor}. A value "
        "without ± rests on no named instrument.",
        factor=f"{factor:g} ({spoken('about 95 %')})" if factor == 2 else f"{factor:g}",
    )
    limits = spoken(
        "Limits: most are entered by the person who did the work, from the unit's literature, with "
        "where they come from. A limit marked{mark} is a default of the form, from common "
        "practice, a published source or the rating plate, that nobody has confirmed for the unit; "
        "these are listed after the units.",
        mark=DEFAULT_MARK,
    )
    told = [spoken(_RULES[rule]), spoken(_VERDICTS), uncertainty, limits]
    if not turnover.with_work:
        told.append(spoken(_WITHOUT_WORK))
    flowables: list[Flowable] = [
        Heading(spoken(TITLE), 1, KEY),
        *(words(text, BODY) for text in told),
    ]
    return flowables


def defaults(turnover: Turnover) -> list[Flowable]:
    """Return the limits that are defaults still, with their basis and the units held to them."""
    heading = Heading(spoken(DEFAULTS[1]), 1, DEFAULTS[0])
    used: dict[str, tuple[Check, dict[str, None], dict[str, None], dict[str, None]]] = {}
    for part, verdict in turnover.verdicts:
        judged = verdict.outcome not in (Outcome.NOT_APPLICABLE, Outcome.MISSING)
        if verdict.limit.is_default and verdict.check.parts and judged:
            _, limits, tags, origins = used.setdefault(
                verdict.check.name, (verdict.check, {}, {}, {})
            )
            limits[part.results.limit_text(verdict)] = None
            tags[part.results.tag or spoken("Project")] = None
            origins[verdict.limit.origin] = None
    if not used:
        return [heading, words(spoken("No default limit is in use unconfirmed."), BODY)]
    columns = [
        Column(spoken("Default limit"), 168),
        Column(spoken("Held to"), 98),
        Column(spoken("Basis"), 160),
        Column(spoken("Units"), 90),
    ]
    everyone = len(turnover.units)
    rows = [
        Row(
            [
                check.label,
                _few(list(limits)),
                "; ".join(origins),
                _units(list(tags), everyone),
            ]
        )
        for check, limits, tags, origins in used.values()
    ]
    told = spoken(
        "{defaults}. Confirm each against the unit's own literature, or enter its own limit.",
        defaults=counted(len(rows), "default", "defaults"),
    )
    return [heading, words(told[:1].upper() + told[1:], NOTE), DataTable(columns, rows)]


def _units(tags: list[str], everyone: int) -> str:
    if len(tags) == everyone > 1:
        return spoken("all")
    return (
        listed(tags)
        if len(tags) <= 6
        else spoken("{count} of {total}", count=len(tags), total=everyone)
    )


def _few(limits: list[str]) -> str:
    return (
        "; ".join(limits)
        if len(limits) <= 3
        else spoken("{limit} and others, by unit", limit=limits[0])
    )
