"""How to use the workbook, on a sheet of its own."""

from __future__ import annotations

from commission.language import spoken, to_say
from commission.workbook.book import GUIDE, Book
from commission.workbook.sheet import Sheet
from commission.workbook.summary_sheet import DEFERRAL

_PARAGRAPHS: tuple[tuple[str, str], ...] = (
    (to_say("What to fill in"), ""),
    (
        "",
        to_say(
            "Type only in the pale blue-green cells with a firm border: readings, limits "
            "with where they come from, accuracy terms on the sheet Instruments, the "
            "decision rule and the coverage factor on the sheet Summary, and the log on the "
            "sheet Deficiencies."
        ),
    ),
    (
        "",
        to_say(
            "A cell that does not apply to this unit: type n/a, and its reason in the last "
            "column of the row, which is open for notes. What follows from it then says n/a "
            "too."
        ),
    ),
    (
        "",
        to_say(
            "All other cells are locked without a password, against slips. Unlock a sheet "
            "by the menu for sheet protection if you must; formulas that are typed over no "
            "longer follow."
        ),
    ),
    (
        "",
        to_say(
            "Clicking an entry cell shows how to take the reading. A number outside what is "
            "possible is refused with the bounds."
        ),
    ),
    (to_say("What the words and colours mean"), ""),
    (
        "",
        to_say(
            "pass (green): within its limit. fail (red): outside. inconclusive (amber): "
            "nearer its limit than ± U under guarded acceptance, or not computable from "
            "these readings. missing (violet): a reading or a limit is not there yet. not "
            "applicable (grey): not asked of this unit. The word is always there; the "
            "colour only helps to find it."
        ),
    ),
    (
        "",
        to_say(
            "“out of range”: these readings cannot belong together (a wet bulb above its "
            "dry bulb, a pressure beyond the refrigerant's table); read again. “n/a”: does "
            "not apply."
        ),
    ),
    (
        "",
        to_say(
            "STOP in the requirement means: a failure makes starting or running unsafe, and "
            "the work does not go past it silently. All stops are listed on the sheet "
            "Stops."
        ),
    ),
    (to_say("What is live and what is not"), ""),
    (
        "",
        to_say(
            "Live: every result, limit that is a default, verdict, count and ± U. Formulas "
            "name their cells as the form does: u1_suction_psig_2 is unit 1, circuit 2."
        ),
    ),
    (
        "",
        to_say(
            "As exported: the column “How it is known” (who read it, shown work, reasons), "
            "which instrument took a reading, and the sensitivities, the factors that stand "
            "as constants in each ± U: they belong to the readings of this export. The "
            "instruments' accuracy terms in the same formulas stay live. After large "
            "changes export the project again."
        ),
    ),
    (
        "",
        to_say(
            "The configuration decides which pages and rows there are; so its answers are "
            "locked here. Change them in the program and export again."
        ),
    ),
    (
        "",
        to_say(
            "± U is the expanded uncertainty U = k u from the instruments named for the "
            "readings. Readings by one instrument share its error. Without an instrument "
            "there is no ± U."
        ),
    ),
    (
        "",
        to_say(
            "Readings, limits and ± U are shown in the project's units; type in those. "
            "Where the form's formulas are written in others, the same values stand in the "
            "form's units to the right of each page, beside what is printed; formulas read "
            "those. So does what is typed in a field that another answer may unask: there "
            "it says n/a meanwhile."
        ),
    ),
    (to_say("Bringing it home"), ""),
    (
        "",
        to_say(
            "Save the file as .xlsx or .ods, and give it to the program: Export, Bring a "
            "workbook home (or drop it there), or the command readback. It shows what "
            "changed beside what was sent out and what the project holds now; nothing is "
            "entered until a person takes it. Rows may be inserted or moved and sheets "
            "renamed; keep the hidden sheet and cell names. A copy of a sheet is not read. "
            "On the sheets Deficiencies, Instruments and People, keep the number of a line; "
            "a line without one is a new one."
        ),
    ),
    (to_say("What it does not do"), ""),
    ("", DEFERRAL),
    (
        "",
        to_say(
            "Cautions stand at the head of each page and come before the work. Energised "
            "and fuelled work is for qualified people, with the safety rules of the site."
        ),
    ),
)


def write_guide(book: Book, sheet: Sheet) -> None:
    """Write the guide."""
    sheet.columns([125])
    sheet.text(0, 0, GUIDE, "title")
    sheet.worksheet.set_row(0, 24)
    row = 1
    for heading, text in _PARAGRAPHS:
        row += 1
        if heading:
            row += 1
            sheet.text(row, 0, heading, "heading")
        else:
            sheet.text(row, 0, text, "text")
    sheet.fit_rows(2, row)
    sheet.protect()
    site = book.site
    footer = spoken(
        "{id} {version}, project revision {revision}",
        id=site.form.id,
        version=site.form.version,
        revision=site.project.revision,
    )
    sheet.printed(left=site.project.title, right=GUIDE, repeat=None, footer=footer)
