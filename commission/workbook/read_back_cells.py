"""A returned workbook: its cells found by name, wherever they have moved to.

A defined name follows its cell through inserted rows, cut and paste and renamed sheets, but
not through sorting: there the content moves and the name stays. So each name's row is
checked against the label it was sent out with.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import Enum, auto
from typing import TYPE_CHECKING, Any

from commission.errors import IncomingFileError
from commission.formula.evaluate import Content
from commission.workbook.addresses import column_letters
from commission.workbook.book import META
from commission.workbook.layout import Column
from commission.workbook.read_back_exported import EXPORTED_NAME, ExportedCell, read_exported

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_PLACE = re.compile(
    r"^=?\$?(?:'((?:[^']|'')+)'|([^'!\[\]]+))!\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6})"
    r"(?::\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6}))?$"
)
_LABEL_COLUMNS = 8  # among which a row's label is, with columns inserted before it
_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384  # of any sheet
_HEAD_ROWS = 20  # within which the heads of the columns are looked for
_UNIT = re.compile(r"^(?P<tag>.*) \((?P<id>[^()]*)\)$", re.DOTALL)


class Holds(Enum):
    """What kind of thing a returned cell holds."""

    NOTHING = auto()
    NUMBER = auto()
    TEXT = auto()
    FORMULA = auto()
    OTHER = auto()


@dataclass(frozen=True, slots=True)
class ReturnedCell:
    """A cell as it came back. `text` is what stands in it, to be shown or understood."""

    place: str
    holds: Holds
    text: str = ""
    number: float | None = None
    beside: str = ""

    @property
    def content(self) -> Content | None:
        """The number or the text, None for an empty cell and for anything else."""
        if self.holds is Holds.NUMBER:
            return self.number
        return self.text if self.holds is Holds.TEXT else None


@dataclass(frozen=True, slots=True)
class _Spot:
    sheet: Worksheet
    row: int
    column: int

    @property
    def shown(self) -> str:
        return f"{self.sheet.title}!{column_letters(self.column - 1)}{self.row}"


@dataclass
class ReturnedBook:
    """A returned workbook with what it says of itself.

    `meta` holds the project's uuid, the revision and so on; `units` each owner's tag and id.
    """

    meta: Mapping[str, str]
    units: Mapping[int, tuple[str, str]]
    exported: list[ExportedCell]
    names: Mapping[str, str]
    sheets: Mapping[str, tuple[Worksheet, int]]
    """Each sheet by its name, with its last row: the library would count them each time."""
    _rows: dict[tuple[str, int], list[str]] = field(default_factory=dict)
    _heads: dict[tuple[str, Column], int | None] = field(default_factory=dict)
    _moved: dict[tuple[str, int], int | None] = field(default_factory=dict)
    _sorted: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, workbook: Workbook) -> ReturnedBook:
        """Read what a workbook says of itself.

        Raises:
            IncomingFileError: It was not written by this program, or no longer says so.
        """
        names = {name: str(defined.attr_text) for name, defined in workbook.defined_names.items()}
        hidden = _exported_range(workbook, names)
        if hidden is None:
            raise IncomingFileError(
                f"no workbook of a project, or one whose hidden sheet {META} is gone, or one "
                "written before workbooks could be read back. Export the project and use that."
            )
        sheet, area = hidden
        said = _said(sheet)
        units = {
            int(label[1:]): (found["tag"], found["id"])
            for label, text in said.items()
            if re.fullmatch(r"u\d{1,6}", label) and (found := _UNIT.match(text))
        }
        exported = read_exported(sheet.iter_rows(**area, values_only=True))
        sheets = {tab.title: (tab, tab.max_row) for tab in workbook.worksheets}
        book = cls(said, units | {0: ("", "")}, exported, names, sheets)
        book._notice_sorting()
        return book

    # -- where cells stand -------------------------------------------------------------

    def cell(self, exported: ExportedCell, beside: Column) -> ReturnedCell | str:
        """Return a cell as it came back, or in words why it cannot be found."""
        spot = self._spot(exported.name)
        if isinstance(spot, str):
            return spot
        if exported.sheet in self._sorted:
            row = self._moved.get((exported.sheet, exported.row))
            if row is None:
                return (
                    f"the rows of sheet '{spot.sheet.title}' have been sorted, and more than one "
                    f"is called '{exported.label}'. Enter it by hand."
                )
            spot = _Spot(spot.sheet, row, spot.column)
        return _returned(spot, self._beside(spot, beside))

    def named(self, name: str) -> ReturnedCell | None:
        """Return the cell of a name, or None where it refers to no single cell."""
        spot = self._spot(name)
        return None if isinstance(spot, str) else _returned(spot, "")

    def _spot(self, name: str) -> _Spot | str:
        where = self.names.get(name)
        if where is None:
            return f"its name {name} is gone from the file. Enter it by hand."
        found = _PLACE.match(where)
        title = (found[1] or found[2]).replace("''", "'") if found else ""
        outside = found is not None and (
            int(found[4]) > _LAST_ROW or _number_of(found[3]) > _LAST_COLUMN
        )
        if found is None or found[5] or outside or title not in self.sheets:
            return f"its cell was deleted (the name {name} refers to {where[:60]})."
        return _Spot(self.sheets[title][0], int(found[4]), _number_of(found[3]))

    def _texts(self, sheet: Worksheet, row: int) -> list[str]:
        """Return the first texts of a row, from the left."""
        if (sheet.title, row) not in self._rows:
            lines = sheet.iter_rows(min_row=row, max_row=row, max_col=_LABEL_COLUMNS)
            values = [cell.value for cell in next(lines, ())]
            self._rows[sheet.title, row] = [one_line(v) for v in values if isinstance(v, str)]
        return self._rows[sheet.title, row]

    def _beside(self, spot: _Spot, head: Column) -> str:
        """Return the free text of a row, found under the head of its column."""
        place = (spot.sheet.title, head)
        if place not in self._heads:
            lines = spot.sheet.iter_rows(max_row=_HEAD_ROWS, values_only=True)
            found = (line.index(str(head)) + 1 for line in lines if str(head) in line)
            self._heads[place] = next(found, None)
        column = self._heads[place]
        value = spot.sheet.cell(spot.row, column).value if column else None
        return value if isinstance(value, str) else ""

    # -- sorting -----------------------------------------------------------------------

    def _notice_sorting(self) -> None:
        by_sheet: dict[str, dict[int, ExportedCell]] = defaultdict(dict)
        for exported in self.exported:
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
        standing = self._standing({spot.sheet for spot in found.values()}, labels)
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

    def _standing(
        self, sheets: Iterable[Worksheet], labels: Mapping[str, int]
    ) -> dict[str, list[int]]:
        standing: dict[str, list[int]] = defaultdict(list)
        for sheet in sheets:
            for row in range(1, self.sheets[sheet.title][1] + 1):
                first = next(iter(self._texts(sheet, row)), None)
                if first is not None and first in labels:
                    standing[first].append(row)
        return standing


def one_line(text: str) -> str:
    """Return a text with all white space as single blanks, to compare it."""
    return " ".join(text.split())


def _exported_range(
    workbook: Workbook, names: Mapping[str, str]
) -> tuple[Worksheet, dict[str, int]] | None:
    found = _PLACE.match(names.get(EXPORTED_NAME, ""))
    title = (found[1] or found[2]).replace("''", "'") if found else ""
    sheet = next((sheet for sheet in workbook.worksheets if sheet.title == title), None)
    if found is None or sheet is None or not found[5]:
        return None
    return sheet, {
        "min_col": _number_of(found[3]),
        "min_row": int(found[4]),
        "max_col": min(_number_of(found[5]), sheet.max_column),
        "max_row": min(int(found[6]), sheet.max_row),
    }


def _said(sheet: Worksheet) -> dict[str, str]:
    lines = sheet.iter_rows(max_col=2, values_only=True)
    return {str(line[0]): str(line[1]) for line in lines if line[0] is not None}


def _number_of(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def _returned(spot: _Spot, beside: str) -> ReturnedCell:
    cell = spot.sheet.cell(spot.row, spot.column)
    value: Any = cell.value
    if value is None or (isinstance(value, str) and not value.strip()):
        return ReturnedCell(spot.shown, Holds.NOTHING, beside=beside)
    if cell.data_type == "f":
        text = value if isinstance(value, str) else "an array formula"
        return ReturnedCell(spot.shown, Holds.FORMULA, text, beside=beside)
    if isinstance(value, bool) or cell.data_type == "e":
        return ReturnedCell(spot.shown, Holds.OTHER, str(value).upper(), beside=beside)
    if isinstance(value, int | float):
        return ReturnedCell(spot.shown, Holds.NUMBER, _digits(value), float(value), beside)
    if isinstance(value, datetime | date | time):
        return ReturnedCell(spot.shown, Holds.TEXT, _moment(value), beside=beside)
    if isinstance(value, str):
        return ReturnedCell(spot.shown, Holds.TEXT, value.strip(), beside=beside)
    return ReturnedCell(spot.shown, Holds.OTHER, str(value), beside=beside)


def _digits(value: float) -> str:
    number = float(value)
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _moment(value: datetime | date | time) -> str:
    """Return what a spreadsheet made a date or time of, as it is typed here."""
    if isinstance(value, datetime) and value.time() == time(0):
        return value.date().isoformat()
    return value.isoformat()
