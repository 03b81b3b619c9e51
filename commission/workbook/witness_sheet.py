"""Witnessed readings as a sheet: the sample, both readings, and their difference.

A record of what two people read: nothing in it is computed anew by the workbook.
"""

from __future__ import annotations

from commission.language import spoken, to_say
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults
from commission.validation.witnessing import (
    RULE,
    Verification,
    Witnessed,
    everything,
    shown_difference,
    shown_value,
)
from commission.workbook.book import WITNESSED, Book
from commission.workbook.sheet import Sheet

_HEAD = 3
_HEADS = (
    to_say("Unit"),
    to_say("Reading"),
    to_say("Of the sample"),
    to_say("Recorded"),
    to_say("Pass"),
    to_say("By"),
    to_say("Witnessed"),
    to_say("By"),
    to_say("On"),
    to_say("Difference"),
    to_say("At most"),
    "E_n",
    to_say("Comes out as"),
    to_say("Why"),
)


def witnessed_units(site: SiteResults) -> list[tuple[UnitResults, Verification]]:
    """Return the units of which a sample was drawn or anything was witnessed."""
    return list(everything(site.project, site.everything()))


def write_witnessed(
    book: Book, sheet: Sheet, found: list[tuple[UnitResults, Verification]]
) -> None:
    """Write one line a witnessed reading, and above them how each unit stands."""
    sheet.columns([12, 34, 11, 16, 12, 18, 16, 18, 17, 14, 14, 8, 16, 34])
    sheet.text(0, 0, WITNESSED, "title")
    sheet.worksheet.set_row(0, 24)
    sheet.text(1, 0, spoken(RULE), "subtitle")
    sheet.texts(_HEAD, _HEADS, "head")
    row = _HEAD
    for results, verification in found:
        row += 1
        sheet.text(row, 0, results.tag or "Project", "label")
        sheet.text(row, 1, verification.sentence)
        if verification.draw is not None:
            sheet.text(row, 13, spoken("Seed {seed}", seed=verification.draw.seed))
        for line in verification.lines:
            row += 1
            _line(book, sheet, row, results, line)
    sheet.fit_rows(_HEAD, row)
    sheet.worksheet.freeze_panes(_HEAD + 1, 2)
    sheet.protect()
    site = book.site
    footer = spoken(
        "{id} {version}, project revision {revision}",
        id=site.form.id,
        version=site.form.version,
        revision=site.project.revision,
    )
    sheet.printed(left=site.project.title, right=WITNESSED, repeat=(_HEAD, _HEAD), footer=footer)


def _line(book: Book, sheet: Sheet, row: int, results: UnitResults, line: Witnessed) -> None:
    recorded, witnessed = line.recorded, line.witnessed
    texts = (
        results.tag or "Project",
        results.label(line.key),
        "yes" if line.in_sample else "no",
        shown_value(results, line.key, recorded.value) if recorded else "none",
        recorded.pass_name if recorded else "",
        _name(book, recorded.person_id) if recorded else "",
        shown_value(results, line.key, witnessed.value) if witnessed else to_say("not yet"),
        _name(book, witnessed.person_id) if witnessed else "",
        witnessed.at[:16].replace("T", " ") if witnessed else "",
        shown_difference(results, line.key, line.difference),
        shown_difference(results, line.key, line.bound),
        "" if line.e_number is None else f"{line.e_number:.2f}",
        spoken(line.agreement),
        line.why,
    )
    sheet.texts(row, texts)


def _name(book: Book, person_id: str) -> str:
    person = book.people.get(person_id)
    return person.name if person else ""
