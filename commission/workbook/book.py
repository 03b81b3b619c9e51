"""What all sheets of one workbook share: where things stand, who is who, which sheet is whose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from commission.definitions.model import Check, Key, Section
from commission.formula.excel import condition_formula
from commission.formula.tree import Node
from commission.language import ENGLISH, language, to_say
from commission.project import Deficiency, Instrument, Person, Reading
from commission.validation.plan import Plan
from commission.validation.site import SiteResults
from commission.workbook.addresses import Addresses, Cell, CellReferences
from commission.workbook.layout import (
    CheckRow,
    Column,
    EntryRow,
    GridRow,
    Page,
    lay_out,
)
from commission.workbook.limit_units import form_unit_of, shown_unit_of
from commission.workbook.look_ups import LOOK_UPS
from commission.workbook.relevance import Relevance, fixed_names, open_names
from commission.workbook.texts import tab_name
from commission.workbook.typed_tables import TypedTable, typed_tables
from commission.workbook.words import tab

# The fixed sheets by their names in English; `words.tab` gives what each is called here.
SUMMARY, PAGES, STOPS = to_say("Summary"), to_say("Pages"), to_say("Stops")
GUIDE, DEFICIENCIES = to_say("How to use"), to_say("Deficiencies")
INSTRUMENTS, PEOPLE, LISTS = to_say("Instruments"), to_say("People"), to_say("Lists")
META = "_meta"  # for the program alone
WITNESSED = to_say("Witnessed")  # only where a sample was drawn or anything was witnessed
ACROSS = to_say("Across units")  # only where units are compared
FIXED_SHEETS = (
    SUMMARY, GUIDE, PAGES, STOPS, DEFICIENCIES, INSTRUMENTS, PEOPLE, LISTS, META,
)  # fmt: skip
FURTHER_SHEETS = (LOOK_UPS, WITNESSED, ACROSS)
RULE_NAME, FACTOR_NAME = "decision_rule", "coverage_factor"

# Which of the two limit columns a part of a limit stands in.
PART_COLUMNS: Mapping[str, Column] = {
    "low": Column.LOW,
    "target": Column.LOW,
    "high": Column.HIGH,
    "tolerance": Column.HIGH,
    "tolerance_percent": Column.HIGH,
}
FORM_PART_COLUMNS: Mapping[Column, Column] = {
    Column.LOW: Column.FORM_LOW,
    Column.HIGH: Column.FORM_HIGH,
}


@dataclass
class Book:
    """The plan of a workbook, made before anything is written.

    `volume` says which part of a site it is, "" where it holds all units.
    """

    site: SiteResults
    volume: str = ""
    addresses: Addresses = field(default_factory=Addresses)
    pages: list[Page] = field(default_factory=list)
    people: dict[str, Person] = field(default_factory=dict)
    instruments: dict[str, tuple[int, Instrument]] = field(default_factory=dict)
    as_found: dict[int, Mapping[tuple[str, tuple[int, ...]], Reading]] = field(default_factory=dict)
    lists: dict[tuple[str, ...], str] = field(default_factory=dict)
    taken_tabs: set[str] = field(default_factory=set)
    typed_tables: dict[tuple[int, Key], TypedTable] = field(default_factory=dict)
    stop_count: int = 0
    _places: dict[tuple[int, str], int] = field(default_factory=dict)

    @property
    def plan(self) -> Plan:
        """The form's plan."""
        return self.site.pages.calculation.plan

    def deficiencies(self) -> list[Deficiency]:
        """Return the project's deficiencies less those of units that other volumes hold."""
        project = self.site.project
        ours = {results.unit_id for results in self.site.everything()}
        elsewhere = {unit.id for unit in project.units()} - ours
        return [item for item in project.deficiencies() if item.unit_id not in elsewhere]

    def references(self, page: Page, key: Key) -> CellReferences:
        """Return how the formulas of one member find their cells."""
        return CellReferences(self.addresses, page.results, page.owner, key)

    def owned(self, page: Page, key: Key) -> tuple[int, Key]:
        """Return a key with the owner of its cell."""
        return self.references(page, key).owner_of(key.name), key

    def value_name(self, page: Page, key: Key) -> str | None:
        """Return the defined name of a key's cell as seen from a page."""
        return self.addresses.value(*self.owned(page, key))

    def add_page(self, page: Page) -> None:
        """Add a page behind those of its unit."""
        self._places[page.owner, page.section.name] = len(self.pages)
        self.pages.append(page)

    def place(self, owner: int, section: Section) -> int | None:
        """Return a page's place among all pages, or None where a unit has none such."""
        return self._places.get((owner, section.name))

    def places_of(self, owner: int) -> list[int]:
        """Return the places of one unit's pages (0: the project's), in order."""
        sections = self.site.form.sections
        found = (self.place(owner, section) for section in sections)
        return sorted(place for place in found if place is not None)


def condition_text(section: Section, when: Node | None, references: CellReferences) -> str:
    """Return the condition of a page and an entry together as formula text, "" for always.

    Each is written by itself: a choice within one must not need the inputs of both branches.
    """
    trees = (tree for tree in (section.when, when) if tree is not None)
    texts = list(dict.fromkeys(condition_formula(tree, references) for tree in trees))
    return f"AND({','.join(texts)})" if len(texts) == 2 else "".join(texts)


def plan_book(site: SiteResults, *, blank: bool = False, volume: str = "") -> Book:
    """Decide which sheets there are and where everything stands.

    A `blank` workbook leaves open what has not been answered about the unit.
    """
    book = Book(site, volume)
    book.taken_tabs = {tab(name).casefold() for name in (*FIXED_SHEETS, *FURTHER_SHEETS)}
    fixed = fixed_names(book.plan)
    book.people = {person.id: person for person in site.project.people()}
    numbered = enumerate(site.project.instruments(), start=1)
    book.instruments = {item.id: (number, item) for number, item in numbered}
    book.addresses.claim(RULE_NAME, Cell(tab(SUMMARY), 0, 0))
    book.addresses.claim(FACTOR_NAME, Cell(tab(SUMMARY), 0, 0))
    for owner, results in enumerate(site.everything()):
        book.as_found[owner] = site.project.readings(results.unit_id, "as found")
        left_open = open_names(results, fixed) if blank else frozenset()
        relevance = Relevance(results, fixed - left_open)
        for section in relevance.pages():
            words = section.name if language() == ENGLISH else section.title
            sheet = tab_name(results.tag, words, book.taken_tabs)
            page = lay_out(results, owner, section, sheet, relevance)
            book.add_page(page)
            _place(book, page)
            for table in typed_tables(book, page):
                book.typed_tables[owner, table.key] = table
    return book


def _place(book: Book, page: Page) -> None:
    for number, row in page.numbered():
        if isinstance(row, EntryRow):
            _place_entry(book, page, number, row)
            if row.check is not None:
                _place_check(book, page, number, row.check, row.index)
        elif isinstance(row, CheckRow):
            _place_check(book, page, number, row.check, row.index)
        elif isinstance(row, GridRow):
            for column, index in enumerate(row.indexes, start=1):
                if index is not None:
                    _place_in_grid(book, page, number, column, Key(row.entry.name, index))


def _place_in_grid(book: Book, page: Page, number: int, column: int, key: Key) -> None:
    cell = Cell(page.sheet, number, column)
    if page.has_working(key):
        book.addresses.add_further(page.owner, key, "shown", cell)
        cell = Cell(page.sheet, number, page.grid_column(column))
    book.addresses.add_value(page.owner, key, cell)


def _place_entry(book: Book, page: Page, number: int, row: EntryRow) -> None:
    key = Key(row.entry.name, row.index)
    shown = Cell(page.sheet, number, page.columns[Column.VALUE])
    if not page.has_working(key):
        book.addresses.add_value(page.owner, key, shown)
    else:
        form_value = Cell(page.sheet, number, page.columns[Column.FORM_VALUE])
        book.addresses.add_value(page.owner, key, form_value)
        book.addresses.add_further(page.owner, key, "shown", shown)
    if page.results.expanded(*key) is not None:
        converted = page.shows_other(row.entry)
        column = Column.FORM_UNCERTAINTY if converted else Column.UNCERTAINTY
        cell = Cell(page.sheet, number, page.columns[column])
        book.addresses.add_further(page.owner, key, "uncertainty", cell)


def _place_check(book: Book, page: Page, number: int, check: Check, index: tuple[int, ...]) -> None:
    key = Key(check.name, index)
    cell = Cell(page.sheet, number, page.columns[Column.VERDICT])
    book.addresses.add_value(page.owner, key, cell)
    for part in check.parts:
        column = PART_COLUMNS[part]
        cell = Cell(page.sheet, number, page.columns[column])
        if form_unit_of(check, part) != shown_unit_of(check, part, page.results.unit_system):
            book.addresses.add_further(page.owner, key, f"{part}_shown", cell)
            cell = Cell(page.sheet, number, page.columns[FORM_PART_COLUMNS[column]])
        book.addresses.add_further(page.owner, key, part, cell)
