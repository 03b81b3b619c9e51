"""An admitted OpenDocument spreadsheet (ISO/IEC 26300, .ods) as plain cells.

Read in one pass over content.xml. A library of our kind of need would have to give formulas
and named ranges as well as values, without making the whole tree: 6 units are 33 MB of XML.
Formula text and the places of names are turned into the words of .xlsx.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from xml.parsers import expat

from commission.errors import IncomingFileError
from commission.language import spoken
from commission.workbook.incoming_tables import CellValue, Formula, IncomingSheet, Rows, Unread
from commission.workbook.read_back_formulas import from_open_document, place_from_open_document

_CHUNK = 1 << 18
_SPACES = {
    "urn:oasis:names:tc:opendocument:xmlns:table:1.0": "table",
    "urn:oasis:names:tc:opendocument:xmlns:office:1.0": "office",
    "urn:oasis:names:tc:opendocument:xmlns:text:1.0": "text",
    "urn:oasis:names:tc:opendocument:xmlns:style:1.0": "style",
    "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0": "calcext",
}
_NUMBERS = ("float", "percentage", "currency")
_ASIDE = ("office:annotation", "table:shapes", "table:detective", "table:tracked-changes")
_MOST_REPEATED = 1_000
"""How often one filled cell or row may stand for its neighbours."""

Refuse = Callable[[str, bool, int, int], None]


def ods_sheets(
    content: bytes, computed: bool, refuse: Refuse
) -> tuple[tuple[IncomingSheet, ...], dict[str, str]]:
    """Return the sheets of an admitted file and where its names point to.

    Args:
        computed: Take the value kept for a formula, not its text.
        refuse: Called with title, visible, row and column of each filled cell; raises if it
            is too far out.
    """
    reading = _Reading(computed, refuse)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = reading.begin
    parser.EndElementHandler = reading.end
    parser.CharacterDataHandler = reading.characters
    parser.StartDoctypeDeclHandler = _no_declarations
    with zipfile.ZipFile(io.BytesIO(content)) as archive, archive.open("content.xml") as stream:
        while chunk := stream.read(_CHUNK):
            parser.Parse(chunk, False)
        parser.Parse(b"", True)
    if not reading.sheets:
        raise IncomingFileError(spoken("it holds no sheet. Give the workbook itself."))
    return tuple(reading.sheets), reading.names


def _no_declarations(*_: object) -> None:
    raise IncomingFileError(
        spoken("it declares XML entities, which no spreadsheet needs. Do not use it.")
    )


def _short(name: str) -> str:
    space, _, local = name.rpartition(" ")
    return f"{_SPACES.get(space, '?')}:{local}"


@dataclass
class _Reading:
    computed: bool
    refuse: Refuse
    sheets: list[IncomingSheet] = field(default_factory=list)
    names: dict[str, str] = field(default_factory=dict)
    _short_names: dict[str, str] = field(default_factory=dict)
    _hidden: set[str] = field(default_factory=set)
    _style: str = ""
    _title: str = ""
    _visible: bool = True
    _rows: Rows = field(default_factory=dict)
    _row: int = 0
    _rows_alike: int = 1
    _line: dict[int, CellValue] = field(default_factory=dict)
    _column: int = 0
    _cell: dict[str, str] | None = None
    _lines: list[str] = field(default_factory=list)
    _aside: int = 0
    _tables: int = 0

    def begin(self, name: str, attributes: dict[str, str]) -> None:
        short = self._short_names.get(name) or self._short_names.setdefault(name, _short(name))
        if self._aside or short in _ASIDE:
            self._aside += 1
            return
        begin = _BEGIN.get(short)
        if begin is not None:
            begin(self, {_short(key): value for key, value in attributes.items()})

    def end(self, name: str) -> None:
        if self._aside:
            self._aside -= 1
            return
        end = _END.get(self._short_names[name])
        if end is not None:
            end(self)

    def characters(self, text: str) -> None:
        if self._cell is not None and self._lines and not self._aside:
            self._lines[-1] += text

    # -- styles, sheets, names -----------------------------------------------------------

    def begin_style(self, given: dict[str, str]) -> None:
        self._style = given.get("style:name", "")

    def begin_table_properties(self, given: dict[str, str]) -> None:
        if given.get("table:display") == "false":
            self._hidden.add(self._style)

    def begin_table(self, given: dict[str, str]) -> None:
        self._tables += 1
        if self._tables > 1:
            raise ValueError(spoken("a table within a table"))
        self._title = given.get("table:name", "")
        self._visible = given.get("table:style-name", "") not in self._hidden
        self._rows, self._row = {}, 0

    def end_table(self) -> None:
        self._tables -= 1
        self.sheets.append(IncomingSheet(self._title, self._visible, self._rows))

    def begin_named_range(self, given: dict[str, str]) -> None:
        name, where = given.get("table:name", ""), given.get("table:cell-range-address", "")
        if not self._tables:  # those of one sheet are its own affair
            self.names[name] = place_from_open_document(where)

    # -- rows and cells ------------------------------------------------------------------

    def begin_row(self, given: dict[str, str]) -> None:
        self._rows_alike = int(given.get("table:number-rows-repeated", "1"))
        self._line, self._column = {}, 0

    def end_row(self) -> None:
        if self._line:
            self._refuse_repeats(self._rows_alike)
            for number in range(self._row + 1, self._row + self._rows_alike + 1):
                self.refuse(self._title, self._visible, number, max(self._line))
                self._rows[number] = dict(self._line)
        self._row += self._rows_alike

    def begin_cell(self, given: dict[str, str]) -> None:
        self._cell, self._lines = given, []

    def begin_paragraph(self, _given: dict[str, str]) -> None:
        self._lines.append("")

    def begin_blanks(self, given: dict[str, str]) -> None:
        if self._lines:
            self._lines[-1] += " " * min(int(given.get("text:c", "1")), 1_000)

    def begin_tab(self, _given: dict[str, str]) -> None:
        self.characters("\t")

    def begin_break(self, _given: dict[str, str]) -> None:
        self.characters("\n")

    def end_cell(self) -> None:
        cell, self._cell = self._cell or {}, None
        alike = int(cell.get("table:number-columns-repeated", "1"))
        content = self._content(cell)
        if content is not None and content != "":
            self._refuse_repeats(alike)
            for column in range(self._column + 1, self._column + alike + 1):
                self._line[column] = content
        self._column += alike

    def _refuse_repeats(self, alike: int) -> None:
        if not 1 <= alike <= _MOST_REPEATED:
            raise IncomingFileError(
                spoken(
                    "sheet '{title}' holds one cell or row {alike:,} times over; at most "
                    "{most_repeated:,} are read. Delete what stands far out.",
                    title=self._title,
                    alike=alike,
                    most_repeated=_MOST_REPEATED,
                )
            )

    def _content(self, cell: dict[str, str]) -> CellValue | None:
        formula = cell.get("table:formula")
        if formula is not None and not self.computed:
            return Formula(from_open_document(formula))
        kind = cell.get("office:value-type", "")
        if cell.get("calcext:value-type") == "error":
            return Unread("\n".join(self._lines) or "#VALUE!")
        if kind in _NUMBERS:
            return float(cell["office:value"])
        if kind == "boolean":
            return Unread(cell["office:boolean-value"].upper())
        if kind == "date":
            return _day(cell["office:date-value"])
        if kind == "time":
            return _time_of_day(cell["office:time-value"])
        return cell.get("office:string-value") or "\n".join(self._lines)


def _day(text: str) -> date | datetime:
    if "T" in text:
        return datetime.fromisoformat(text[:26])
    return date.fromisoformat(text)


def _time_of_day(text: str) -> CellValue:
    """Return "PT10H15M00S" as a time of day, a longer span as the number of days it is."""
    rest, seconds = text.removeprefix("PT"), 0.0
    for mark, size in (("H", 3600.0), ("M", 60.0), ("S", 1.0)):
        number, found, after = rest.partition(mark)
        if found:
            seconds, rest = seconds + float(number.replace(",", ".")) * size, after
    if not 0.0 <= seconds < 86_400.0:
        return seconds / 86_400.0
    whole = int(seconds)
    return time(whole // 3600, whole // 60 % 60, whole % 60)


_BEGIN: dict[str, Callable[[_Reading, dict[str, str]], None]] = {
    "style:style": _Reading.begin_style,
    "style:table-properties": _Reading.begin_table_properties,
    "table:table": _Reading.begin_table,
    "table:named-range": _Reading.begin_named_range,
    "table:table-row": _Reading.begin_row,
    "table:table-cell": _Reading.begin_cell,
    "table:covered-table-cell": _Reading.begin_cell,
    "text:p": _Reading.begin_paragraph,
    "text:s": _Reading.begin_blanks,
    "text:tab": _Reading.begin_tab,
    "text:line-break": _Reading.begin_break,
}
_END: dict[str, Callable[[_Reading], None]] = {
    "table:table": _Reading.end_table,
    "table:table-row": _Reading.end_row,
    "table:table-cell": _Reading.end_cell,
    "table:covered-table-cell": _Reading.end_cell,
}
