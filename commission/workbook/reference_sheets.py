"""Reference tables that formulas look into, lists of choices, and whose workbook this is."""

from __future__ import annotations

from collections.abc import Iterator

from commission.definitions.model import Check, Quantity
from commission.formula.functions import FUNCTIONS
from commission.formula.reference_tables import ReferenceTable, reference_tables
from commission.formula.tree import Call, Node, walk
from commission.language import language, spoken
from commission.workbook.addresses import column_letters
from commission.workbook.book import Book
from commission.workbook.sheet import Sheet
from commission.workbook.words import LANGUAGE, in_words

SCHEMA = 1
_HEAD = 4


def tables_used(book: Book) -> list[ReferenceTable]:
    """Return the reference tables that the form's formulas look into."""
    used = {
        table
        for tree in _trees(book)
        for node in walk(tree)
        if isinstance(node, Call)
        for table in FUNCTIONS[node.function].tables
    }
    return [table for name, table in reference_tables().items() if name in used]


def _trees(book: Book) -> Iterator[Node]:
    for entry in book.site.form.entries():
        trees = [entry.when]
        if isinstance(entry, Quantity):
            trees.append(entry.formula)
        if isinstance(entry, Check):
            trees += [getattr(entry, part) for part in entry.parts]
        yield from (tree for tree in trees if tree is not None)


def reference_ranges(table: ReferenceTable, sheet: str) -> dict[str, str]:
    """Return the defined names of a table's head and body with what they refer to."""
    last = column_letters(len(table.columns) - 1)
    head, first, end = _HEAD + 1, _HEAD + 2, _HEAD + 1 + len(table.rows)
    return {
        f"ref_{table.name}_head": f"='{sheet}'!$A${head}:${last}${head}",
        f"ref_{table.name}_body": f"='{sheet}'!$A${first}:${last}${end}",
    }


def write_reference(book: Book, sheet: Sheet, table: ReferenceTable) -> None:
    """Write one reference table."""
    sheet.columns([22, *[14] * (len(table.columns) - 1)])
    across = max(len(table.columns) - 1, 7)
    sheet.text(0, 0, table.title, "title")
    sheet.worksheet.set_row(0, 24)
    sheet.across(1, 0, across, table.note, "note")
    sheet.across(2, 0, across, spoken("Source: {source}", source=spoken(table.source)), "note")
    sheet.texts(_HEAD, table.columns, "head")
    made = {kind: sheet.style(kind) for kind in ("plain_number", "plain_text")}
    for number, row in enumerate(table.rows, start=_HEAD + 1):
        for column, content in enumerate(row):
            if isinstance(content, str):
                sheet.worksheet.write_string(number, column, _key(content), made["plain_text"])
            else:
                sheet.worksheet.write_number(number, column, content, made["plain_number"])
    sheet.fit_rows(1, _HEAD + len(table.rows))
    sheet.worksheet.freeze_panes(_HEAD + 1, 1)
    sheet.protect()
    footer = f"{book.site.form.id} {book.site.form.version}"
    title = book.site.project.title
    sheet.printed(left=title, right=table.title, repeat=(_HEAD, _HEAD), footer=footer)


def _key(text: str) -> str:
    """Return what a row is looked up by as formulas say it: a word, or a word and a count."""
    word, space, count = text.rpartition(" ")
    return f"{in_words(word)}{space}{count}" if count.isdigit() else in_words(text)


def write_lists(book: Book, sheet: Sheet) -> None:
    """Write the lists of choices that are too long to stand in a cell's validation."""
    sheet.columns([24] * max(len(book.lists), 1))
    for column, options in enumerate(book.lists):
        sheet.text(0, column, spoken("List {column}", column=column + 1), "head")
        for row, option in enumerate(options, start=1):
            sheet.text(row, column, option, "plain_text")
    sheet.protect()


def meta_rows(book: Book, changed_at: str) -> dict[str, str]:
    """Return what tells whose workbook this is."""
    project, form = book.site.project, book.site.form
    volume = {"volume": book.volume} if book.volume else {}
    return {
        "schema": str(SCHEMA),
        "project_uuid": project.uuid,
        "project_title": project.title,
        "revision": str(project.revision),
        "form_id": form.id,
        "form_version": form.version,
        "form_hash": form.content_hash,
        "unit_system": book.site.pages.unit_system,
        "generated_at": changed_at,
        LANGUAGE: language(),
        **volume,
    }


def write_meta(sheet: Sheet, rows: dict[str, str], units: dict[str, str]) -> None:
    """Write the hidden sheet: the project's state and which prefix is whose."""
    sheet.columns([24, 70])
    for number, (label, text) in enumerate({**rows, **units}.items()):
        sheet.text(number, 0, label, "plain_text")
        sheet.text(number, 1, text, "plain_text")
    sheet.protect()
