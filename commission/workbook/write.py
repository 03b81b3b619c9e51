"""Writes the whole workbook beside its place, then puts it there in one step."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import xlsxwriter
from xlsxwriter.exceptions import XlsxWriterException
from xlsxwriter.worksheet import Worksheet

from commission import __version__
from commission.errors import OutputError
from commission.language import spoken
from commission.validation.blank import blank_site
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults
from commission.workbook.across_sheet import compared_keys, write_across
from commission.workbook.addresses import Cell
from commission.workbook.appearance import FONT, Styles
from commission.workbook.book import (
    ACROSS,
    DEFICIENCIES,
    FIXED_SHEETS,
    INSTRUMENTS,
    LISTS,
    META,
    PEOPLE,
    WITNESSED,
    Book,
    plan_book,
)
from commission.workbook.guide_sheet import write_guide
from commission.workbook.index_sheets import counts_of, stop_lines, write_pages, write_stops
from commission.workbook.look_ups import LOOK_UPS, write_look_ups
from commission.workbook.page_sheet import write_page
from commission.workbook.paper import Paper, paper_of
from commission.workbook.read_back_exported import (
    EXPORTED_NAME,
    FORMULAS_NAME,
    OPEN_STYLES,
    SHEETS_NAME,
    OpenTexts,
    exported_formulas,
    exported_rows,
    hidden_range,
    write_exported,
    write_list,
)
from commission.workbook.read_back_exported import LAST_COLUMN as EXPORTED_COLUMN
from commission.workbook.read_back_registers import REGISTERS_NAME, sent_lines, write_sent
from commission.workbook.reference_sheets import (
    meta_rows,
    reference_ranges,
    tables_used,
    write_lists,
    write_meta,
    write_reference,
)
from commission.workbook.register_sheets import (
    write_deficiencies,
    write_instruments,
    write_people,
)
from commission.workbook.sheet import Cached, Sheet
from commission.workbook.summary_sheet import write_summary
from commission.workbook.texts import shortened, tab_name
from commission.workbook.typed_tables import write_typed_table
from commission.workbook.witness_sheet import witnessed_units, write_witnessed
from commission.workbook.words import formula_in_words, tab

FILE_NAME = "workbook.xlsx"
Progress = Callable[[int, int, str], None]


def write_workbook(
    site: SiteResults,
    path: Path,
    progress: Progress | None = None,
    *,
    blank: bool = False,
    paper: str = "",
    volume: str = "",
) -> Path:
    """Write the workbook of a project and return its path.

    Args:
        site: The results of the project; nothing is computed here.
        path: Where to write it; a file of that name is replaced in one step, at the end.
        progress: Called as (done, total, what) for each sheet; it may raise to cancel, and
            then no file is left and one that was there is untouched.
        blank: Leave every entry cell empty but what is known before the work (`blank_site`).
        paper: "letter" or "a4"; "" for letter with IP units and A4 with SI.
        volume: Which part of the project it is, in words; "" for the whole.
    Raises:
        OutputError: No such paper, the folder cannot be written to, or the disk is full.
    """
    path = Path(path)
    printed_on = paper_of(paper, site.pages.unit_system)
    book = plan_book(blank_site(site) if blank else site, blank=blank, volume=volume)
    with folder_beside(path) as temporary:
        write_book(book, printed_on, temporary, progress or silent).replace(path)
    return path


def write_book(book: Book, paper: Paper, folder: Path, progress: Progress) -> Path:
    """Write a planned book into a folder, under a name to be moved from; return its path."""
    _Writing(book, paper, folder, progress).write()
    return folder / FILE_NAME


def silent(done: int, total: int, what: str) -> None:
    """Tell nobody how far it is."""


@contextmanager
def folder_beside(path: Path) -> Iterator[Path]:
    """Give a folder beside the target that is gone afterwards, come what may."""
    try:
        with tempfile.TemporaryDirectory(prefix=f".{path.stem[:40]}-", dir=path.parent) as folder:
            yield Path(folder)
    except (OSError, XlsxWriterException) as fault:
        reason = spoken(getattr(fault, "strerror", None) or str(fault))
        raise OutputError(
            spoken(
                "{path}: the workbook cannot be written there ({reason}). Choose another "
                "folder, close the file if it is open elsewhere, or make room on the disk.",
                path=path,
                reason=reason,
            )
        ) from fault


class _Steps:
    """Counts sheets laid out and sheets saved, and tells how far it is."""

    def __init__(self, total: int, progress: Progress) -> None:
        self.done = 0
        self.total = total
        self.progress = progress
        self.stopped: BaseException | None = None

    def take(self, what: str) -> None:
        """Tell that the next step begins; whatever the listener raises goes through."""
        self.progress(self.done, self.total, what)
        self.done += 1

    def take_while_saving(self, what: str) -> bool:
        """Tell of a step within the library's saving; False once it is to be stopped.

        What the listener raises is kept until the library has closed its files.
        """
        if self.stopped is None:
            try:
                self.take(what)
            except BaseException as stop:
                self.stopped = stop
        return self.stopped is None


class _SavedSheet(Worksheet):  # type: ignore[misc]  # the library has no types
    """A worksheet that tells when it is saved, which is where much of the time goes."""

    steps: _Steps | None = None

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        """Take a formula as it is: the library would search it for functions we never use.

        That is a hundred searches for each, and could change a text within the formula.
        """
        return formula.removeprefix("=")

    def _assemble_xml_file(self) -> None:
        saving = spoken("Saving {sheet}", sheet=self.name)
        if self.steps is None or self.steps.take_while_saving(saving):
            super()._assemble_xml_file()
        else:
            self._xml_close()


class _PageSheet(Sheet):
    """A page's sheet that notes its formulas, and the free texts beside readings and limits."""

    def __init__(
        self,
        name: str,
        worksheet: Worksheet,
        styles: Styles,
        noted: OpenTexts,
        formulas: dict[Cell, str],
    ) -> None:
        super().__init__(name, worksheet, styles)
        self.noted = noted
        self.formulas = formulas

    def text(self, row: int, column: int, text: str, style: str = "cell") -> None:
        """Write a text, and note it if a hand may add to it."""
        super().text(row, column, text, style)
        if style in OPEN_STYLES:
            self.noted[self.name, row, style] = text

    def formula(
        self, row: int, column: int, formula: str, value: Cached, style: str, shown: str = ""
    ) -> None:
        """Write a formula, and note it, so that one typed over is known on the way back."""
        super().formula(row, column, formula, value, style, shown)
        self.formulas[Cell(self.name, row, column)] = formula_in_words(formula)


class _Writing:
    """One workbook being written into a folder."""

    def __init__(self, book: Book, paper: Paper, folder: Path, progress: Progress) -> None:
        self.site = book.site
        self.book = book
        self.paper = paper
        self.tables = tables_used(self.book)
        self.compared = compared_keys(self.book)
        self.witnessed = witnessed_units(self.site)
        self.workbook = xlsxwriter.Workbook(
            str(folder / FILE_NAME),
            {
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
                "tmpdir": str(folder),
                "default_format_properties": {"font_name": FONT, "font_size": 10},
            },
        )
        self.styles = Styles(self.workbook)
        self.noted: OpenTexts = {}
        self.formulas: dict[Cell, str] = {}
        sheets = len(FIXED_SHEETS) + bool(self.compared) + len(self.book.pages) + len(self.tables)
        sheets += bool(self.witnessed)
        if self.book.typed_tables:
            sheets += len(self.book.typed_tables) + 1
        self.steps = _Steps(2 * sheets, progress)

    def write(self) -> None:
        """Write all sheets and save the file."""
        summary, guide, index, stops = (self._sheet(tab(name)) for name in FIXED_SHEETS[:4])
        for page in self.book.pages:
            write_page(self.book, page, self._page_sheet(page.sheet), self.workbook)
        if self.compared:
            write_across(self.workbook, self.book, self._sheet(tab(ACROSS)), self.compared)
        self._front(summary, guide, index, stops)
        write_deficiencies(self.book, self._sheet(tab(DEFICIENCIES)))
        write_instruments(self.book, self._sheet(tab(INSTRUMENTS)))
        write_people(self.book, self._sheet(tab(PEOPLE)))
        if self.witnessed:
            write_witnessed(self.book, self._sheet(tab(WITNESSED)), self.witnessed)
        self._typed_tables()
        self._references()
        self._identity()
        for name, cell in self.book.addresses.names.items():
            self.workbook.define_name(name, f"={cell.absolute}")
        summary.worksheet.activate()
        self.workbook.close()
        if self.steps.stopped is not None:
            raise self.steps.stopped
        self.steps.progress(self.steps.total, self.steps.total, spoken("done"))

    def _sheet(self, title: str) -> Sheet:
        self.steps.take(title)
        worksheet = self.workbook.add_worksheet(title, worksheet_class=_SavedSheet)
        worksheet.steps = self.steps
        worksheet.hide_gridlines(2)
        sheet = Sheet(title, worksheet, self.styles)
        sheet.paper = self.paper
        return sheet

    def _page_sheet(self, title: str) -> Sheet:
        worksheet = self._sheet(title).worksheet
        sheet = _PageSheet(title, worksheet, self.styles, self.noted, self.formulas)
        sheet.paper = self.paper
        return sheet

    def _front(self, summary: Sheet, guide: Sheet, index: Sheet, stops: Sheet) -> None:
        counts = [counts_of(page) for page in self.book.pages]
        lines = stop_lines(self.book)
        write_summary(self.book, summary, counts, lines)
        write_guide(self.book, guide)
        write_pages(self.book, index, counts)
        write_stops(self.book, stops, lines)

    def _typed_tables(self) -> None:
        tables = self.book.typed_tables.values()
        for table in tables:
            write_typed_table(self.book, self._sheet(table.tab), table)
            for name, where in table.ranges():
                self.workbook.define_name(name, f"={where}")
        if tables:
            write_look_ups(self.book, self._sheet(tab(LOOK_UPS)), self.book.addresses.look_ups)

    def _references(self) -> None:
        for table in self.tables:
            title = tab_name("Ref", tab(table.tab), self.book.taken_tabs)
            write_reference(self.book, self._sheet(title), table)
            for name, where in reference_ranges(table, title).items():
                self.workbook.define_name(name, where)
        if self.book.lists:
            lists = self._sheet(tab(LISTS))
            write_lists(self.book, lists)
            lists.worksheet.hide()

    def _identity(self) -> None:
        changed = changed_at(self.site)
        rows = meta_rows(self.book, changed.isoformat())
        units = {f"u{number}": f"{r.tag} ({r.unit_id})" for number, r in _numbered(self.site)}
        sheet = self._sheet(META)
        write_meta(sheet, rows, units)
        self._sent_out(sheet)
        sheet.worksheet.hide()
        self.workbook.set_properties(
            {
                "title": shortened(self.site.project.title, 200),
                "subject": shortened(self.site.form.title, 200),
                "comments": f"Written by commission {__version__}",
                "created": changed.astimezone(UTC).replace(tzinfo=None),
            }
        )
        for name, text in rows.items():
            self.workbook.set_custom_property(name, shortened(text, 200), "text")

    def _sent_out(self, sheet: Sheet) -> None:
        """Keep on the hidden sheet what a returned workbook is compared with."""
        where = write_exported(sheet, exported_rows(self.book, self.noted))
        self.workbook.define_name(EXPORTED_NAME, where)
        last, column = write_sent(sheet, EXPORTED_COLUMN + 2, sent_lines(self.book))
        where = hidden_range(EXPORTED_COLUMN + 2, column, last)
        self.workbook.define_name(REGISTERS_NAME, where)
        formulas = exported_formulas(self.book, self.formulas)
        self.workbook.define_name(FORMULAS_NAME, write_list(sheet, column + 2, formulas))
        tabs = ((made.name,) for made in self.workbook.worksheets())
        self.workbook.define_name(SHEETS_NAME, write_list(sheet, column + 5, tabs))


def _numbered(site: SiteResults) -> Iterator[tuple[int, UnitResults]]:
    return enumerate(site.units, start=1)


def changed_at(site: SiteResults) -> datetime:
    """Return when the project last changed, so that one state gives one file."""
    project = site.project
    times = [project.made_at]
    for owner in site.everything():
        times += [limit.at for limit in project.limits(owner.unit_id).values()]
        times += [reading.at for reading in (owner.readings or {}).values()]
    for owner in site.everything():
        times += [one.at for one in project.witness_readings(owner.unit_id).values()]
        draw = project.witness_draw(owner.unit_id)
        times += [draw.at] if draw is not None else []
    times += [record.at for record in project.deficiencies()]
    times += [record.at for record in project.overrides()]
    times += [record.at for record in project.signatures()]
    return max(datetime.fromisoformat(time).astimezone(UTC) for time in times if time)
