"""A returned workbook: its cells found by name, wherever they have moved to.

A defined name follows its cell through inserted rows, cut and paste and renamed sheets, but
not through sorting: there the content moves and the name stays. So each name's row is
checked against the label it was sent out with. All this is done where the file was read, in
a process of its own; what comes over is only what is compared.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from commission.errors import IncomingFileError
from commission.language import ENGLISH, languages, said_in, spoken
from commission.workbook.addresses import column_letters
from commission.workbook.book import META
from commission.workbook.incoming_tables import (
    CellValue,
    Formula,
    IncomingSheet,
    IncomingTables,
    Unread,
    shown,
)
from commission.workbook.layout import Column
from commission.workbook.read_back_blocks import block_at, returned_table
from commission.workbook.read_back_cells import Holds, ReturnedBook, ReturnedCell, one_line
from commission.workbook.read_back_exported import (
    EXPORTED_NAME,
    FORMULAS_NAME,
    INDEX_NAME,
    READING,
    SHEETS_NAME,
    TABLE,
    ExportedCell,
    read_exported,
    read_formulas,
)
from commission.workbook.read_back_formulas import canonical, is_alike
from commission.workbook.read_back_registers import (
    REGISTERS,
    REGISTERS_NAME,
    SIGNATURES_NAME,
    RegisterColumns,
    ReturnedLine,
    read_sent,
    returned_lines,
)
from commission.workbook.words import LANGUAGE

_PLACE = re.compile(
    r"^=?\$?(?:'((?:[^']|'')+)'|([^'!\[\]]+))!\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6})"
    r"(?::\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6}))?$"
)
_LABEL_COLUMNS = 8  # among which a row's label is, with columns inserted before it
_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384  # of any sheet
_HEAD_ROWS = 20  # within which the heads of the columns are looked for
_UNIT = re.compile(r"^(?P<tag>.*) \((?P<id>[^()]*)\)$", re.DOTALL)


def returned_book(path: Path) -> ReturnedBook:
    """Return what a workbook that came back holds (work for a process of its own).

    Raises:
        IncomingFileError: It is hostile or damaged, was not written by this program, or no
            longer says so.
    """
    from commission.workbook.incoming import admit, tables

    return book_of(tables(admit(path)))


def book_of(tables: IncomingTables) -> ReturnedBook:
    """Return what the sheets of a workbook say.

    Raises:
        IncomingFileError: It was not written by this program, or no longer says so.
    """
    hidden = _hidden_range(tables, EXPORTED_NAME)
    if hidden is None and INDEX_NAME in tables.names:
        raise IncomingFileError(
            spoken(
                "this is the index of a set of volumes; it holds no readings. Read each volume "
                "back by itself: the index names them."
            )
        )
    if hidden is None:
        raise IncomingFileError(
            spoken(
                "no workbook of a project, or one whose hidden sheet {meta} is gone, or one "
                "written before workbooks could be read back. Export the project and use that.",
                meta=META,
            )
        )
    sheet, rows = hidden
    said = _said(sheet)
    units = {
        int(label[1:]): (found["tag"], found["id"])
        for label, text in said.items()
        if re.fullmatch(r"u\d{1,6}", label) and (found := _UNIT.match(text))
    }
    code = said.get(LANGUAGE, ENGLISH)
    code = code if code in languages() else ENGLISH
    finding = Finding(tables, read_exported(rows), code)
    sent = _hidden_range(tables, REGISTERS_NAME)
    formulas = _hidden_range(tables, FORMULAS_NAME)
    changed = finding.changed(read_formulas(formulas[1]) if formulas else {})
    return ReturnedBook(
        meta=said,
        units=units | {0: ("", "")},
        exported=finding.exported,
        found={cell.name: finding.cell(cell, changed.get(cell.name)) for cell in finding.exported},
        computed=changed,
        names=tuple(tables.names),
        sent=read_sent(sent[1]) if sent else (),
        lines={register.kind: finding.lines(register) for register in REGISTERS} if sent else {},
        strange=finding.strange(),
        set_aside=tables.set_aside,
    )


@dataclass(frozen=True, slots=True)
class _Spot:
    sheet: IncomingSheet
    row: int
    column: int

    @property
    def shown(self) -> str:
        return f"{self.sheet.title}!{column_letters(self.column - 1)}{self.row}"


@dataclass
class Finding:
    """Finds what was sent out in the sheets that came back."""

    tables: IncomingTables
    exported: list[ExportedCell]
    language: str
    sheets: dict[str, IncomingSheet] = field(init=False)
    _heads: dict[tuple[str, Column], int | None] = field(default_factory=dict)
    _moved: dict[tuple[str, int], int | None] = field(default_factory=dict)
    _sorted: set[str] = field(default_factory=set)
    _name_at: dict[tuple[str, str], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.sheets = {sheet.title: sheet for sheet in self.tables.sheets}
        self._notice_sorting()
        for name in self.tables.names:
            spot = self._spot(name)
            if isinstance(spot, _Spot):
                cell = f"{column_letters(spot.column - 1)}{spot.row}"
                self._name_at.setdefault((spot.sheet.title, cell), name)

    # -- cells to be typed in ----------------------------------------------------------

    def cell(self, exported: ExportedCell, changed: ReturnedCell | None) -> ReturnedCell | str:
        """Return a cell as it came back, or in words why it cannot be found."""
        if exported.what == TABLE:
            return returned_table(exported.name, self.tables.names, self.sheets)
        spot = self._spot(exported.name)
        if isinstance(spot, str):
            return spot
        if exported.sheet in self._sorted:
            row = self._moved.get((exported.sheet, exported.row))
            if row is None:
                return spoken(
                    "the rows of sheet '{title}' have been sorted, and more than one is called "
                    "'{label}'. Enter it by hand.",
                    title=spot.sheet.title,
                    label=exported.label,
                )
            spot = _Spot(spot.sheet, row, spot.column)
        head = Column.HOW if exported.what == READING else Column.ORIGIN
        return _returned(spot, self._beside(spot, head), changed is not None and changed.edited)

    def _spot(self, name: str) -> _Spot | str:
        where = self.tables.names.get(name)
        if where is None:
            return spoken("its name {name} is gone from the file. Enter it by hand.", name=name)
        found = _PLACE.match(where)
        title = (found[1] or found[2]).replace("''", "'") if found else ""
        outside = found is not None and (
            int(found[4]) > _LAST_ROW or _number_of(found[3]) > _LAST_COLUMN
        )
        if found is None or found[5] or outside or title not in self.sheets:
            return spoken(
                "its cell was deleted (the name {name} refers to {where}).",
                name=name,
                where=where[:60],
            )
        return _Spot(self.sheets[title], int(found[4]), _number_of(found[3]))

    def _beside(self, spot: _Spot, head: Column) -> str:
        """Return the free text of a row, found under the head of its column."""
        place = (spot.sheet.title, head)
        if place not in self._heads:
            self._heads[place] = next(
                (
                    column
                    for row in range(1, _HEAD_ROWS + 1)
                    for column, value in sorted(spot.sheet.rows.get(row, {}).items())
                    if value == said_in(self.language, head) and not isinstance(value, Formula)
                ),
                None,
            )
        column = self._heads[place]
        value = spot.sheet.value(spot.row, column) if column else None
        return value if isinstance(value, str) and not isinstance(value, Formula) else ""

    # -- sorting -----------------------------------------------------------------------

    def _texts(self, sheet: IncomingSheet, row: int) -> list[str]:
        """Return the first texts of a row, from the left."""
        return [
            one_line(value)
            for column, value in sorted(sheet.rows.get(row, {}).items())
            if column <= _LABEL_COLUMNS and isinstance(value, str) and not _is_special(value)
        ]

    def _notice_sorting(self) -> None:
        by_sheet: dict[str, dict[int, ExportedCell]] = defaultdict(dict)
        for exported in self.exported:
            if exported.what == TABLE:
                continue
            by_sheet[exported.sheet].setdefault(exported.row, exported)
        for sheet, rows in by_sheet.items():
            self._notice_sorted_sheet(sheet, rows)

    def _notice_sorted_sheet(self, sheet: str, rows: Mapping[int, ExportedCell]) -> None:
        labels = Counter(one_line(exported.label) for exported in rows.values())
        spots = {row: self._spot(exported.name) for row, exported in rows.items()}
        found = {row: spot for row, spot in spots.items() if isinstance(spot, _Spot)}
        if not any(self._bears_another(rows[row], spot, labels) for row, spot in found.items()):
            return
        self._sorted.add(sheet)
        titles = {spot.sheet.title for spot in found.values()}
        standing = self._standing(titles, labels)
        for row, exported in rows.items():
            label = one_line(exported.label)
            there = standing.get(label, [])
            alone = labels[label] == 1 and len(there) == 1
            self._moved[sheet, row] = there[0] if alone else None

    def _bears_another(
        self, exported: ExportedCell, spot: _Spot, labels: Mapping[str, int]
    ) -> bool:
        texts = self._texts(spot.sheet, spot.row)
        first = next((text for text in texts if text in labels), None)
        return first is not None and one_line(exported.label) not in texts

    def _standing(self, titles: Iterable[str], labels: Mapping[str, int]) -> dict[str, list[int]]:
        standing: dict[str, list[int]] = defaultdict(list)
        for title in titles:
            sheet = self.sheets[title]
            for row in sorted(sheet.rows):
                first = next(iter(self._texts(sheet, row)), None)
                if first is not None and first in labels:
                    standing[first].append(row)
        return standing

    # -- formulas ----------------------------------------------------------------------

    def changed(self, sent: Mapping[str, str]) -> dict[str, ReturnedCell]:
        """Return, by name, the cells whose formula is gone or another than was sent out."""
        found: dict[str, ReturnedCell] = {}
        astray: dict[str, list[str]] = defaultdict(list)
        for name, formula in sent.items():
            spot = self._spot(name)
            if isinstance(spot, str):
                continue
            cell = _returned(spot, "")
            if cell.holds is not Holds.FORMULA:
                found[name] = cell
            elif not self._is_still(formula, cell.text[1:], spot.sheet.title):
                found[name] = _returned(spot, "", edited=True)
                astray[spot.sheet.title].append(name)
        self._forgive_sorting(sent, found, astray)
        return found

    def _is_still(self, sent: str, returned: str, title: str) -> bool:
        if sent == returned:
            return True
        return is_alike(canonical(sent, _no_name), self._canonical(returned, title))

    def _canonical(self, formula: str, title: str) -> tuple[str, ...]:
        return canonical(formula, lambda sheet, cell: self._name_at.get((sheet or title, cell), ""))

    def _forgive_sorting(
        self,
        sent: Mapping[str, str],
        found: dict[str, ReturnedCell],
        astray: Mapping[str, list[str]],
    ) -> None:
        """Where rows were sorted, a formula stands at another's name: that is no edit."""
        for title, names in astray.items():
            ours = Counter(canonical(sent[name], _no_name) for name in names)
            theirs = {name: self._canonical(found[name].text[1:], title) for name in names}
            for name, formula in theirs.items():
                if ours[formula] > 0:
                    ours[formula] -= 1
                    del found[name]

    # -- registers and sheets ----------------------------------------------------------

    def lines(self, register: RegisterColumns) -> list[ReturnedLine] | str:
        """Return the filled lines of a register, or in words why they cannot be found."""
        spot = self._spot(register.heads_name)
        if isinstance(spot, str):
            return spot
        end = _LAST_ROW
        signatures = self._spot(SIGNATURES_NAME)
        if isinstance(signatures, _Spot) and signatures.sheet is spot.sheet:
            end = signatures.row
        return returned_lines(register, spot.sheet, spot.row, end, self.language)

    def strange(self) -> tuple[str, ...]:
        """Return the sheets that were not sent out and that no name of ours is on."""
        hidden = _hidden_range(self.tables, SHEETS_NAME)
        if hidden is None:
            return ()
        known = {str(line[0]) for line in hidden[1]} | {title for title, _ in self._name_at}
        for exported in self.exported:
            if exported.what == TABLE:
                block = block_at(self.tables.names.get(exported.name, ""), self.sheets)
                known |= {block.sheet.title} if block else set()
        return tuple(title for title in self.sheets if title not in known)


def _no_name(_sheet: str, _cell: str) -> str:
    return ""


def _is_special(value: CellValue) -> bool:
    return isinstance(value, Formula | Unread)


def _hidden_range(
    tables: IncomingTables, name: str
) -> tuple[IncomingSheet, list[tuple[CellValue | None, ...]]] | None:
    """Return the sheet and the rows of a range that was sent out with the workbook."""
    found = _PLACE.match(tables.names.get(name, ""))
    title = (found[1] or found[2]).replace("''", "'") if found else ""
    sheet = next((sheet for sheet in tables.sheets if sheet.title == title), None)
    if found is None or sheet is None or not found[5]:
        return None
    first, last = _number_of(found[3]), min(_number_of(found[5]), sheet.last_column)
    columns = range(first, last + 1)
    numbers = range(int(found[4]), min(int(found[6]), sheet.last_row) + 1)
    lines = (sheet.rows.get(number, {}) for number in numbers)
    return sheet, [tuple(line.get(column) for column in columns) for line in lines]


def _said(sheet: IncomingSheet) -> dict[str, str]:
    lines = ((sheet.value(row, 1), sheet.value(row, 2)) for row in sorted(sheet.rows))
    return {str(label): shown(text or "") for label, text in lines if label is not None}


def _number_of(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def _returned(spot: _Spot, beside: str, edited: bool = False) -> ReturnedCell:
    value = spot.sheet.value(spot.row, spot.column)
    if value is None or (isinstance(value, str) and not value.strip()):
        return ReturnedCell(spot.shown, Holds.NOTHING, beside=beside)
    text = shown(value)
    if isinstance(value, Formula):
        return ReturnedCell(spot.shown, Holds.FORMULA, text, beside=beside, edited=edited)
    if isinstance(value, Unread):
        return ReturnedCell(spot.shown, Holds.OTHER, text, beside=beside)
    if isinstance(value, float):
        return ReturnedCell(spot.shown, Holds.NUMBER, text, value, beside)
    return ReturnedCell(spot.shown, Holds.TEXT, text, beside=beside)
