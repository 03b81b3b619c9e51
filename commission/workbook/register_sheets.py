"""Deficiencies, instruments and people as sheets."""

from __future__ import annotations

from commission.definitions.model import Key
from commission.language import spoken, to_say
from commission.project import DEFICIENCY_STATUSES, Deficiency, Instrument
from commission.project.registers import ACCURACY_TERMS
from commission.validation.results import UnitResults
from commission.workbook.addresses import Cell, column_letters
from commission.workbook.book import DEFICIENCIES, INSTRUMENTS, PEOPLE, Book
from commission.workbook.sheet import Sheet
from commission.workbook.uncertainty_cells import instrument_name
from commission.workbook.words import in_words, tab

_HEAD = 3
_FIRST = _HEAD + 1
_SPARE_LINES = 8
_DEFICIENCY_HEADS = (
    to_say("No."),
    to_say("Unit"),
    to_say("Check"),
    to_say("Requirement"),
    to_say("What is wrong"),
    to_say("Owner"),
    to_say("Due"),
    to_say("Correction"),
    to_say("Corrected on"),
    to_say("Retest"),
    to_say("Status"),
)
_INSTRUMENT_HEADS = (
    to_say("No."),
    to_say("Kind"),
    to_say("Make"),
    to_say("Model"),
    to_say("Serial"),
    to_say("Range"),
    to_say("% of reading"),
    to_say("% of span"),
    to_say("Span"),
    to_say("± constant"),
    to_say("Repeats ±"),
    to_say("Resolution"),
    to_say("Unit"),
    to_say("Calibrated on"),
    to_say("Due"),
    to_say("Last used"),
    to_say("When last used"),
)
_PEOPLE_HEADS = (
    to_say("No."),
    to_say("Name"),
    to_say("Company"),
    to_say("Role"),
    to_say("Licence"),
    to_say("E-mail"),
)


def write_deficiencies(book: Book, sheet: Sheet) -> None:
    """Write the deficiency log, with empty lines to go on by hand."""
    sheet.columns([6, 12, 24, 26, 34, 16, 12, 28, 12, 22, 12])
    remark = to_say("What somebody must put right. A retest keeps the old reading.")
    _head(sheet, DEFICIENCIES, remark)
    sheet.texts(_HEAD, _DEFICIENCY_HEADS, "head")
    book.addresses.claim("deficiency_heads", Cell(tab(DEFICIENCIES), _HEAD, 0))
    tags = {results.unit_id: results for results in book.site.everything()}
    found = book.deficiencies()
    for row, deficiency in enumerate(found, start=_FIRST):
        _deficiency(sheet, row, deficiency, tags.get(deficiency.unit_id))
    last = _FIRST + len(found) + _SPARE_LINES - 1
    for row in range(_FIRST + len(found), last + 1):
        for column in range(len(_DEFICIENCY_HEADS)):
            sheet.blank(row, column, "entry_text")
    status = {"validate": "list", "source": list(map(in_words, DEFICIENCY_STATUSES))}
    place = len(_DEFICIENCY_HEADS) - 1
    sheet.worksheet.data_validation(_FIRST, place, last, place, status)
    _finish(book, sheet, DEFICIENCIES, last)


def _deficiency(
    sheet: Sheet, row: int, deficiency: Deficiency, results: UnitResults | None
) -> None:
    sheet.number(row, 0, deficiency.number, "count")
    sheet.text(row, 1, (results.tag or "Project") if results else "", "label")
    check = deficiency.check
    known = results is not None and check in results.form.by_name
    label = results.label(Key(check, deficiency.index)) if results and known else check
    texts = (
        label, deficiency.requirement, deficiency.description, deficiency.owner, deficiency.due,
        deficiency.correction, deficiency.corrected_on, deficiency.retest,
        in_words(deficiency.status),
    )  # fmt: skip
    for column, text in enumerate(texts, start=2):
        sheet.text(row, column, text, "cell" if column == 2 else "entry_text")


def write_instruments(book: Book, sheet: Sheet) -> None:
    """Write the instruments; their accuracy terms are cells that uncertainties read."""
    sheet.columns([6, 20, 16, 14, 16, 16, 11, 11, 11, 11, 11, 11, 9, 13, 13, 13, 16])
    remark = to_say(
        "u = (% of reading + % of span + constant) / √3, in the instrument's unit (GUM "
        "4.3.7), shared by all its readings; each reading has of its own repeats / √3 "
        "and resolution / √12 (F.2.2.1). Change a term and every ± U follows."
    )
    _head(sheet, INSTRUMENTS, remark)
    sheet.texts(_HEAD, _INSTRUMENT_HEADS, "head")
    book.addresses.claim("instrument_heads", Cell(tab(INSTRUMENTS), _HEAD, 0))
    used = _last_used(book)
    for number, instrument in book.instruments.values():
        _instrument(sheet, _FIRST + number - 1, number, instrument, used.get(instrument.id, ""))
        for place, term in enumerate(ACCURACY_TERMS):
            column = 6 + place
            cell = Cell(tab(INSTRUMENTS), _FIRST + number - 1, column)
            book.addresses.claim(instrument_name(number, term), cell)
    last = _spare_lines(sheet, _FIRST + len(book.instruments), len(_INSTRUMENT_HEADS) - 2)
    _finish(book, sheet, INSTRUMENTS, last)


def _spare_lines(sheet: Sheet, first: int, columns: int) -> int:
    """Leave lines to go on by hand; return the last."""
    for row in range(first, first + _SPARE_LINES):
        for column in range(columns):
            sheet.blank(row, column, "entry_text")
    return first + _SPARE_LINES - 1


def _instrument(
    sheet: Sheet, row: int, number: int, instrument: Instrument, last_used: str
) -> None:
    sheet.number(row, 0, number, "count")
    words = (instrument.kind, instrument.make, instrument.model, instrument.serial,
             instrument.range_text)  # fmt: skip
    for column, text in enumerate(words, start=1):
        sheet.text(row, column, text, "entry_text")
    terms = [float(getattr(instrument, term) or 0.0) for term in ACCURACY_TERMS]
    for column, term in enumerate(terms, start=6):
        sheet.number(row, column, term, "entry", "General")
    dates = (instrument.unit, instrument.calibrated_on, instrument.calibration_due, last_used)
    first = 6 + len(terms)
    for column, text in enumerate(dates, start=first):
        sheet.text(row, column, text, "cell" if column == first + 3 else "entry_text")
    due, used = (f"{column_letters(first + place)}{row + 1}" for place in (2, 3))
    formula = f'IF(OR({due}="",{used}=""),"",IF({due}<{used},"past due","in date"))'
    due_on = instrument.calibration_due
    state = to_say("past due") if due_on < last_used else to_say("in date")
    if not due_on or not last_used:
        state = ""
    sheet.formula(row, first + len(dates), formula, state, "verdict")


def _last_used(book: Book) -> dict[str, str]:
    """Return the day of the last reading by each instrument."""
    used: dict[str, str] = {}
    for results in book.site.everything():
        for reading in (results.readings or {}).values():
            day = reading.at[:10]
            if reading.instrument_id and day > used.get(reading.instrument_id, ""):
                used[reading.instrument_id] = day
    return used


def write_people(book: Book, sheet: Sheet) -> None:
    """Write who recorded, witnessed and accepted."""
    sheet.columns([6, 30, 34, 30, 22, 34])
    _head(sheet, PEOPLE, to_say("Who recorded, witnessed or accepted."))
    sheet.texts(_HEAD, _PEOPLE_HEADS, "head")
    book.addresses.claim("person_heads", Cell(tab(PEOPLE), _HEAD, 0))
    for row, person in enumerate(book.people.values(), start=_FIRST):
        texts = (person.name, person.company, person.role, person.licence, person.email)
        sheet.number(row, 0, row - _FIRST + 1, "count")
        for column, text in enumerate(texts, start=1):
            sheet.text(row, column, text, "entry_text")
    last = _spare_lines(sheet, _FIRST + len(book.people), len(_PEOPLE_HEADS))
    row = _signatures(book, sheet, last + 2)
    _finish(book, sheet, PEOPLE, row)


def _signatures(book: Book, sheet: Sheet, row: int) -> int:
    tags = {results.unit_id: results.tag or "Project" for results in book.site.everything()}
    signatures = [one for one in book.site.project.signatures() if one.unit_id in tags]
    if not signatures:
        return row
    book.addresses.claim("signature_heads", Cell(tab(PEOPLE), row, 0))
    sheet.texts(
        row,
        ("", to_say("Signed by"), to_say("For"), to_say("As"), to_say("On"), to_say("Statement")),
        "head",
    )
    for signature in signatures:
        row += 1
        section = book.site.form.section_by_name.get(signature.section)
        what = f"{tags[signature.unit_id]} {section.title if section else ''}".strip()
        on = signature.at[:16].replace("T", " ")
        texts = ("", signature.printed_name, what, signature.role, on, signature.statement)
        sheet.texts(row, texts)
    return row


def _head(sheet: Sheet, title: str, remark: str) -> None:
    sheet.text(0, 0, title, "title")
    sheet.worksheet.set_row(0, 24)
    sheet.text(1, 0, remark, "subtitle")


def _finish(book: Book, sheet: Sheet, title: str, last: int) -> None:
    sheet.fit_rows(_HEAD, last)
    sheet.worksheet.freeze_panes(_FIRST, 0)
    sheet.protect()
    site = book.site
    footer = spoken(
        "{id} {version}, project revision {revision}",
        id=site.form.id,
        version=site.form.version,
        revision=site.project.revision,
    )
    sheet.printed(left=site.project.title, right=title, repeat=(_HEAD, _HEAD), footer=footer)
