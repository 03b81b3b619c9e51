"""An admitted .xlsx as plain cells.

openpyxl reads what is intricate (names, texts, styles, which sheet is which part); the cells
themselves are read here in one pass, since making an object of each took six times as long
and, for 100 units, a gigabyte.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from xml.parsers import expat

from commission.errors import IncomingFileError
from commission.language import spoken
from commission.workbook.incoming_tables import CellValue, Formula, Rows, Unread

_MAIN = ("sheetData", "row", "c", "v", "f", "is", "t")
_CHUNK = 1 << 18


@dataclass(frozen=True, slots=True)
class OpenedXlsx:
    """The frame of a workbook: `sheets` gives title, whether it is visible, and its part."""

    archive: zipfile.ZipFile
    sheets: tuple[tuple[str, bool, str], ...]
    names: Mapping[str, str]
    texts: list[str]
    date_styles: frozenset[int]
    epoch: datetime


def open_xlsx(content: bytes) -> OpenedXlsx:
    """Return the frame of an admitted workbook.

    Raises:
        IncomingFileError: defusedxml is not installed.
        Exception: Whatever the library stumbles over within a damaged file.
    """
    import openpyxl

    if not openpyxl.DEFUSEDXML:
        raise IncomingFileError(
            spoken("Reading files from outside needs the package defusedxml. Install it first.")
        )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
    sheets = book.worksheets
    names = {name: str(found.attr_text) for name, found in book.defined_names.items()}
    days = frozenset(book._date_formats) | frozenset(book._timedelta_formats)
    texts = [str(text) for text in (sheets[0]._shared_strings if sheets else ())]
    parts = tuple(
        (str(sheet.title), sheet.sheet_state == "visible", str(sheet._worksheet_path))
        for sheet in sheets
    )
    return OpenedXlsx(zipfile.ZipFile(io.BytesIO(content)), parts, names, texts, days, book.epoch)


def xlsx_rows(opened: OpenedXlsx, part: str, computed: bool, refuse: Callable[..., None]) -> Rows:
    """Return the cells of one sheet.

    Args:
        computed: Take the value kept for a formula, not its text.
        refuse: Called with row and column of each cell; raises if it is too far out.
    """
    reading = _SheetReading(opened, computed, refuse)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler = reading.begin
    parser.EndElementHandler = reading.end
    parser.CharacterDataHandler = reading.characters
    parser.StartDoctypeDeclHandler = _no_declarations
    with opened.archive.open(part.lstrip("/")) as stream:
        while chunk := stream.read(_CHUNK):
            parser.Parse(chunk, False)
        parser.Parse(b"", True)
    return reading.rows


def _no_declarations(*_: object) -> None:
    raise IncomingFileError(
        spoken("it declares XML entities, which no spreadsheet needs. Do not use it.")
    )


@dataclass
class _SheetReading:
    opened: OpenedXlsx
    computed: bool
    refuse: Callable[..., None]
    rows: Rows = field(default_factory=dict)
    _row: int = 0
    _column: int = 0
    _cell: Mapping[str, str] | None = None
    _kept: list[str] | None = None
    _value: str = ""
    _formula: str | None = None
    _formula_is: Mapping[str, str] = field(default_factory=dict)
    _inline: list[str] = field(default_factory=list)
    _in_phonetic: int = 0
    _shared: dict[str, tuple[str, str]] = field(default_factory=dict)

    def begin(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if local == "row":
            self._row = int(attributes.get("r", self._row + 1))
            self._column = 0
        elif local == "c":
            self._cell, self._value, self._formula, self._inline = attributes, "", None, []
            self._place(attributes.get("r"))
        elif local == "f" and self._cell is not None:
            self._formula_is, self._kept = attributes, []
        elif local == "rPh":
            self._in_phonetic += 1
        elif local == "v" or (local == "t" and not self._in_phonetic):
            self._kept = []

    def characters(self, text: str) -> None:
        if self._kept is not None:
            self._kept.append(text)

    def end(self, name: str) -> None:
        local = name.rpartition(" ")[2]
        if local == "rPh":
            self._in_phonetic -= 1
        if local == "c":
            self._finish()
        elif self._kept is not None and local in ("v", "f", "t"):
            text, self._kept = "".join(self._kept), None
            if local == "v":
                self._value = text
            elif local == "f":
                self._formula = text
            else:
                self._inline.append(text)

    def _place(self, reference: str | None) -> None:
        if reference is None:
            self._column += 1
            return
        letters = reference.rstrip("0123456789")
        column = 0
        for letter in letters.upper():
            if not "A" <= letter <= "Z":
                raise ValueError(spoken("a cell called {reference!r}", reference=reference[:20]))
            column = column * 26 + ord(letter) - 64
        self._column, self._row = column, int(reference[len(letters) :])

    def _finish(self) -> None:
        cell, self._cell = self._cell or {}, None
        if self._formula is not None and not self.computed:
            content: CellValue | None = Formula(self._whole_formula(cell.get("r", "A1")))
        else:
            content = self._content(cell)
        if content is None or content == "":
            return
        self.refuse(self._row, self._column)
        self.rows.setdefault(self._row, {})[self._column] = content

    def _whole_formula(self, place: str) -> str:
        """Return a formula's text; a cell that shares another's has it written out."""
        text, group = self._formula or "", self._formula_is.get("si")
        if self._formula_is.get("t") != "shared" or group is None:
            return text
        if text:
            self._shared[group] = (text, place)
            return text
        if group not in self._shared:
            return ""
        from openpyxl.formula.translate import Translator

        source, origin = self._shared[group]
        return str(Translator(f"={source}", origin=origin).translate_formula(place))[1:]

    def _content(self, cell: Mapping[str, str]) -> CellValue | None:
        kind, value = cell.get("t", "n"), self._value
        if kind == "inlineStr":
            return "".join(self._inline)
        if value == "":
            return None
        if kind == "s":
            return self.opened.texts[int(value)]
        if kind == "str":
            return value
        if kind == "b":
            return Unread("FALSE" if value in ("0", "false") else "TRUE")
        if kind == "e":
            return Unread(value)
        if kind == "d":
            return datetime.fromisoformat(value)
        number = float(value)
        if int(cell.get("s", "0")) in self.opened.date_styles:
            return _moment(number, self.opened.epoch)
        return number


def _moment(number: float, epoch: datetime) -> CellValue:
    from openpyxl.utils.datetime import from_excel

    moment: Any = from_excel(number, epoch)
    if isinstance(moment, timedelta):
        moment = (datetime.min + moment).time() if moment < timedelta(days=1) else number
    if isinstance(moment, datetime | date | time):
        return moment
    return number
