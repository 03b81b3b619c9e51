"""Cautions of the pages in this package, and to what the package defers."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.look import BODY, LEAD
from commission.package.tables import Column, DataTable, Row
from commission.package.turnover import Turnover

KEY = "cautions"
TITLE = to_say("Cautions and what this package defers to")

DEFERRAL = to_say(
    "This package records what was read and how it compares with the limits that were entered. "
    "It does not replace the unit's own literature, the codes in force at the site, or the "
    "judgement of licensed people; where they differ from it, they prevail."
)
_GENERAL = to_say(
    "Energised, fuelled and refrigerant work is for people trained and, where the law asks, "
    "licensed for it. A verdict holds for the moment and the conditions of its readings. "
    "A stop means: do not start or run the unit until it is put right."
)


def cautions(turnover: Turnover) -> list[Flowable]:
    """Return the deferral statement and each page's cautions."""
    rows = []
    shown = {s.name for results in turnover.everything for s in turnover.sections_of(results)}
    for section in turnover.site.form.sections:
        if section.name in shown and section.cautions:
            rows.append(Row([section.title, "\n".join(section.cautions)]))
    flowables: list[Flowable] = [
        Heading(spoken(TITLE), 1, KEY),
        words(spoken(DEFERRAL), LEAD),
        words(spoken(_GENERAL), BODY),
    ]
    if rows:
        flowables.append(
            DataTable([Column(spoken("Page"), 150), Column(spoken("Cautions"), 366)], rows)
        )
    return flowables
