"""The gate: a spreadsheet from outside is weighed as a zip file before any parser sees it.

Limits leave room for a workbook of 100 units (about 3,000 sheets, 110 MB inflated); bytes are
counted while inflating, since what a zip file says of itself can be untrue.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from commission.errors import IncomingFileError

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook

_MB = 1_000_000
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class GateLimits:
    """How much a file may hold before it is refused."""

    file_bytes: int = 50 * _MB
    parts: int = 10_000
    part_bytes: int = 100 * _MB
    total_bytes: int = 300 * _MB
    ratio: float = 200.0
    """Inflated to deflated bytes of one part; not held against parts below 1 MB."""
    elements: int = 8_000_000
    """XML elements and their ends, over all parts; a filled cell has about four."""
    merged_cells: int = 20_000
    """Cells of one merged range: a reader makes an object for each."""
    sheets: int = 4_000
    rows: int = 20_000
    hidden_rows: int = 100_000
    columns: int = 200


LIMITS = GateLimits()

_MACROS = "it holds macros. Save it as a workbook without macros (.xlsx) and give that."
_SET_ASIDE = {
    "xl/externallinks/": "links to other workbooks",
    "xl/connections": "data connections",
    "xl/embeddings/": "embedded files",
    "xl/activex/": "controls",
    "xl/ctrlprops/": "controls",
    "customui/": "changes to the program's menus",
    "xl/querytables/": "data queries",
}
_MERGE = re.compile(rb"<(?:[\w.\-]+:)?mergeCell\b[^>]*>")
_MERGE_RANGE = re.compile(rb"\sref=[\"']([A-Z]{1,3})(\d{1,7})(?::([A-Z]{1,3})(\d{1,7}))?[\"']")
_ENCODING = re.compile(rb"^<\?xml[^>]*?encoding\s*=\s*[\"']([\w.\-]+)[\"']")
_ENCODINGS = (b"utf-8", b"us-ascii", b"ascii")
_DOCTYPE = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Incoming:
    """A file that passed: its bytes, and in sentences what of it is not read."""

    path: Path
    content: bytes
    set_aside: tuple[str, ...]


def admit(path: Path, limits: GateLimits = LIMITS) -> Incoming:
    """Weigh a file and return its bytes.

    Raises:
        IncomingFileError: It cannot be read, is no .xlsx, is damaged, holds macros, or is
            larger than a workbook from here can be.
    """
    path = Path(path)
    try:
        return _admitted(path, limits)
    except IncomingFileError as fault:
        raise fault.at(str(path)) from fault.__cause__


def _admitted(path: Path, limits: GateLimits) -> Incoming:
    content = _bytes_of(path, limits)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            names = [info.filename for info in archive.infolist()]
            _refuse_names(names, limits)
            weighing = _Weighing(archive, limits)
            for info in archive.infolist():
                weighing.part(info)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError) as fault:
        raise IncomingFileError(
            f"the file is damaged or cut short ({fault}). Ask for it to be sent again."
        ) from fault
    except (RuntimeError, ValueError, UnicodeError, OverflowError) as fault:
        raise IncomingFileError(
            f"the file is not a sound .xlsx ({fault}). Open it in a spreadsheet and save it anew."
        ) from fault
    return Incoming(path, content, _set_aside(names))


def _bytes_of(path: Path, limits: GateLimits) -> bytes:
    if path.exists() and not path.is_file():
        raise IncomingFileError("cannot be read: it is no file. Give the workbook itself.")
    try:
        content = _read(path, limits.file_bytes)
    except OSError as fault:
        raise IncomingFileError(f"cannot be read ({fault.strerror}). Check the name.") from None
    if len(content) > limits.file_bytes:
        raise IncomingFileError(
            f"more than {limits.file_bytes / _MB:g} MB; a workbook from here is smaller. Take "
            "pictures and further sheets out."
        )
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise IncomingFileError(
            "it is protected by a password or of an old kind (.xls). Save it as .xlsx without "
            "a password."
        )
    if not content.startswith(b"PK"):
        raise IncomingFileError("it is no .xlsx spreadsheet. Give the workbook itself.")
    return content


def _read(path: Path, most: int) -> bytes:
    """Return a file's bytes; reading ends a little past `most`, whatever the file's size."""
    chunks, size = [], 0
    with path.open("rb") as file:
        while size <= most and (chunk := file.read(_CHUNK)):
            chunks.append(chunk)
            size += len(chunk)
    return b"".join(chunks)


def _refuse_names(names: list[str], limits: GateLimits) -> None:
    if len(names) > limits.parts:
        raise IncomingFileError(
            f"{len(names):,} parts; at most {limits.parts:,} are read. Take sheets out that do "
            "not belong to it."
        )
    folded = [name.casefold() for name in names]
    for name in names:
        steps = re.split(r"[/\\]", name)
        if name.startswith(("/", "\\")) or ".." in steps or ":" in steps[0] or "\0" in name:
            raise IncomingFileError(
                f"a part named '{name[:80]!s}' points out of the file. Do not use it."
            )
    if len(set(folded)) < len(folded):
        raise IncomingFileError("a part is in it twice. Open it in a spreadsheet and save it anew.")
    if any(name.endswith(("vbaproject.bin", "vbadata.xml")) for name in folded):
        raise IncomingFileError(_MACROS)
    if "[content_types].xml" not in folded or "xl/workbook.xml" not in folded:
        open_document = "content.xml" in folded and "mimetype" in folded
        raise IncomingFileError(
            "it is an OpenDocument spreadsheet. Save it as .xlsx and give that."
            if open_document
            else "a zip file, but no .xlsx spreadsheet. Give the workbook itself."
        )


class _Weighing:
    """Inflates part by part and counts."""

    def __init__(self, archive: zipfile.ZipFile, limits: GateLimits) -> None:
        self.archive = archive
        self.limits = limits
        self.total = 0
        self.elements = 0

    def part(self, info: zipfile.ZipInfo) -> None:
        """Inflate one part, no further than the limits go, and look into it if it is XML."""
        name = info.filename
        if info.flag_bits & 1:
            raise IncomingFileError(f"its part '{name}' is encrypted. Save it without a password.")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise IncomingFileError(
                f"its part '{name}' is packed in a way spreadsheets do not use. Save it anew."
            )
        is_xml = name.casefold().endswith((".xml", ".rels", ".vml"))
        content = self._inflated(info, keep=is_xml)
        if is_xml:
            self._xml(name, content)

    def _inflated(self, info: zipfile.ZipInfo, keep: bool) -> bytes:
        limits, kept, size = self.limits, [], 0
        with self.archive.open(info) as stream:
            while chunk := stream.read(_CHUNK):
                size += len(chunk)
                self.total += len(chunk)
                ratio = size / max(info.compress_size, 1)
                if size > limits.part_bytes or self.total > limits.total_bytes:
                    raise IncomingFileError(
                        f"it inflates to more than {limits.part_bytes / _MB:g} MB in one part or "
                        f"{limits.total_bytes / _MB:g} MB in all (at '{info.filename}'); no "
                        "workbook from here does. Do not use it."
                    )
                if size > _CHUNK and ratio > limits.ratio:
                    raise IncomingFileError(
                        f"its part '{info.filename}' inflates more than {limits.ratio:g} times, "
                        "as only made-up files do. Do not use it."
                    )
                if keep:
                    kept.append(chunk)
        return b"".join(kept)

    def _xml(self, name: str, content: bytes) -> None:
        self.elements += content.count(b"<")
        if self.elements > self.limits.elements:
            raise IncomingFileError(
                f"it holds more than {self.limits.elements:,} XML elements (at '{name}'), too "
                "many cells to be a workbook from here. Take further sheets out."
            )
        text = content.removeprefix(b"\xef\xbb\xbf")
        declared = _ENCODING.match(text)
        if b"\0" in content or (declared and declared[1].lower() not in _ENCODINGS):
            raise IncomingFileError(f"its part '{name}' is not UTF-8. Save it anew.")
        if _DOCTYPE.search(content):
            raise IncomingFileError(
                f"its part '{name}' declares XML entities, which no spreadsheet needs. Do not use "
                "it."
            )
        folded = name.casefold()
        if folded == "[content_types].xml" and re.search(rb"macroenabled", content, re.IGNORECASE):
            raise IncomingFileError(_MACROS)
        for merged in _MERGE.finditer(content):
            self._merged(name, merged[0])

    def _merged(self, name: str, element: bytes) -> None:
        found = _MERGE_RANGE.search(element)
        area = 1
        if found is not None and found[3]:
            columns = _column(found[3]) - _column(found[1]) + 1
            area = columns * (int(found[4]) - int(found[2]) + 1)
        if found is None or area > self.limits.merged_cells:
            raise IncomingFileError(
                f"its part '{name}' merges more than {self.limits.merged_cells:,} cells to one. "
                "Undo that in the spreadsheet."
            )


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _set_aside(names: list[str]) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for name in names:
        for beginning, words in _SET_ASIDE.items():
            if name.casefold().startswith(beginning) and not name.casefold().endswith(".rels"):
                found.setdefault(words, []).append(name)
    return tuple(
        f"The file holds {words}, which are not read: {', '.join(parts[:5])}"
        f"{' ...' if len(parts) > 5 else ''}."
        for words, parts in found.items()
    )


def load(incoming: Incoming, limits: GateLimits = LIMITS) -> Workbook:
    """Return an admitted file as an openpyxl workbook: formulas as formulas, no links kept.

    Raises:
        IncomingFileError: It is damaged inside, or reaches further than sheets from here do.
    """
    import openpyxl

    if not openpyxl.DEFUSEDXML:
        raise IncomingFileError(
            "Reading files from outside needs the package defusedxml. Install it first."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(incoming.content), keep_links=False)
    # Whatever the library stumbles over within a foreign file is a fault of that file.
    except Exception as fault:
        raise IncomingFileError(
            f"{incoming.path}: damaged inside ({type(fault).__name__}: {str(fault)[:200]}). Open "
            "it in a spreadsheet and save it anew."
        ) from fault
    _refuse_extent(incoming, book, limits)
    return book


def _refuse_extent(incoming: Incoming, book: Workbook, limits: GateLimits) -> None:
    sheets = book.worksheets
    if len(sheets) > limits.sheets:
        raise IncomingFileError(
            f"{incoming.path}: {len(sheets):,} sheets; at most {limits.sheets:,} are read. Take "
            "those out that do not belong to it."
        )
    for sheet in sheets:
        most = limits.rows if sheet.sheet_state == "visible" else limits.hidden_rows
        if sheet.max_row > most or sheet.max_column > limits.columns:
            raise IncomingFileError(
                f"{incoming.path}: sheet '{sheet.title}' reaches to row {sheet.max_row:,}, column "
                f"{sheet.max_column:,}; at most {most:,} rows and {limits.columns:,} "
                "columns are read. Delete what stands far out."
            )
