"""The gate: a spreadsheet from outside is weighed as a zip file before any parser sees it.

Limits leave room for a workbook of 100 units (about 3,000 sheets, 110 MB inflated); bytes are
counted while inflating, since what a zip file says of itself can be untrue. An .ods has all
its sheets in one part, and three times the bytes.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from commission.errors import IncomingFileError
from commission.language import spoken, to_say
from commission.workbook.incoming_tables import IncomingSheet, IncomingTables, Rows

_MB = 1_000_000
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class GateLimits:
    """How much a file may hold before it is refused."""

    file_bytes: int = 50 * _MB
    parts: int = 10_000
    part_bytes: int = 100 * _MB
    ods_part_bytes: int = 280 * _MB
    total_bytes: int = 300 * _MB
    ratio: float = 200.0
    """Inflated to deflated bytes of one part; not held against parts below 1 MB."""
    elements: int = 8_000_000
    """XML elements and their ends, over all parts; a filled cell has about four."""
    tag_bytes: int = 4 * _MB
    """Of one XML tag or of one text between two."""
    merged_cells: int = 20_000
    """Cells of one merged range: a reader makes an object for each."""
    sheets: int = 4_000
    rows: int = 20_000
    hidden_rows: int = 100_000
    columns: int = 200


LIMITS = GateLimits()

_MACROS = to_say("it holds macros. Save it as a workbook without macros (.xlsx) and give that.")
_SET_ASIDE = {
    "xl/externallinks/": to_say("links to other workbooks"),
    "xl/connections": to_say("data connections"),
    "xl/embeddings/": to_say("embedded files"),
    "xl/activex/": to_say("controls"),
    "xl/ctrlprops/": to_say("controls"),
    "customui/": to_say("changes to the program's menus"),
    "xl/querytables/": to_say("data queries"),
}
_SPREADSHEET = b"application/vnd.oasis.opendocument.spreadsheet"
_MERGE = re.compile(rb"<(?:[\w.\-]+:)?mergeCell\b[^>]*>")
_SHEET = re.compile(rb"<(?:[\w.\-]+:)?sheet[\s/>]")
_MERGE_RANGE = re.compile(rb"\sref=[\"']([A-Z]{1,3})(\d{1,7})(?::([A-Z]{1,3})(\d{1,7}))?[\"']")
_ENCODING = re.compile(rb"^<\?xml[^>]*?encoding\s*=\s*[\"']([\w.\-]+)[\"']")
_ENCODINGS = (b"utf-8", b"us-ascii", b"ascii")
_DOCTYPE = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_XML_PARTS = (".xml", ".rels", ".vml", ".rdf")


@dataclass(frozen=True, slots=True)
class Incoming:
    """A file that passed: its bytes, and in sentences what of it is not read."""

    path: Path
    content: bytes
    set_aside: tuple[str, ...]
    is_open_document: bool = False


def admit(path: Path, limits: GateLimits = LIMITS) -> Incoming:
    """Weigh a file and return its bytes.

    Raises:
        IncomingFileError: It cannot be read, is no .xlsx or .ods, is damaged, holds macros, or
            is larger than a workbook from here can be.
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
            is_open_document = _refuse_names(names, limits)
            if is_open_document:
                _refuse_kind(archive)
            weighing = _Weighing(archive, limits, is_open_document)
            for info in archive.infolist():
                weighing.part(info)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError) as fault:
        raise IncomingFileError(
            spoken(
                "the file is damaged or cut short ({fault}). Ask for it to be sent again.",
                fault=fault,
            )
        ) from fault
    except (RuntimeError, ValueError, UnicodeError, OverflowError) as fault:
        raise IncomingFileError(
            spoken(
                "the file is not a sound spreadsheet ({fault}). Open it and save it anew.",
                fault=fault,
            )
        ) from fault
    return Incoming(path, content, _set_aside(names), is_open_document)


def _bytes_of(path: Path, limits: GateLimits) -> bytes:
    if path.exists() and not path.is_file():
        raise IncomingFileError(spoken("cannot be read: it is no file. Give the workbook itself."))
    try:
        content = _read(path, limits.file_bytes)
    except OSError as fault:
        raise IncomingFileError(
            spoken("cannot be read ({strerror}). Check the name.", strerror=fault.strerror)
        ) from None
    if len(content) > limits.file_bytes:
        raise IncomingFileError(
            spoken(
                "more than {file_bytes:g} MB; a workbook from here is smaller. Take pictures "
                "and further sheets out.",
                file_bytes=limits.file_bytes / _MB,
            )
        )
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise IncomingFileError(
            spoken(
                "it is protected by a password or of an old kind (.xls). Save it as .xlsx "
                "without a password."
            )
        )
    if not content.startswith(b"PK"):
        raise IncomingFileError(
            spoken("it is no .xlsx or .ods spreadsheet. Give the workbook itself.")
        )
    return content


def _read(path: Path, most: int) -> bytes:
    """Return a file's bytes; reading ends a little past `most`, whatever the file's size."""
    chunks, size = [], 0
    with path.open("rb") as file:
        while size <= most and (chunk := file.read(_CHUNK)):
            chunks.append(chunk)
            size += len(chunk)
    return b"".join(chunks)


def _refuse_names(names: list[str], limits: GateLimits) -> bool:
    """Refuse what no spreadsheet has; return whether it is an OpenDocument one."""
    if len(names) > limits.parts:
        raise IncomingFileError(
            spoken(
                "{count:,} parts; at most {parts:,} are read. Take sheets out that do not "
                "belong to it.",
                count=len(names),
                parts=limits.parts,
            )
        )
    folded = [name.casefold() for name in names]
    for name in names:
        steps = re.split(r"[/\\]", name)
        if name.startswith(("/", "\\")) or ".." in steps or ":" in steps[0] or "\0" in name:
            raise IncomingFileError(
                spoken(
                    "a part named '{name!s}' points out of the file. Do not use it.", name=name[:80]
                )
            )
    if len(set(folded)) < len(folded):
        raise IncomingFileError(
            spoken("a part is in it twice. Open it in a spreadsheet and save it anew.")
        )
    if any(name.endswith(("vbaproject.bin", "vbadata.xml")) for name in folded):
        raise IncomingFileError(spoken(_MACROS))
    if any(name.startswith(("basic/", "scripts/")) and not name.endswith("/") for name in folded):
        raise IncomingFileError(spoken(_MACROS))
    if "content.xml" in names and "mimetype" in names:
        return True
    if "[content_types].xml" not in folded or "xl/workbook.xml" not in folded:
        raise IncomingFileError(
            spoken("a zip file, but no .xlsx or .ods spreadsheet. Give the workbook itself.")
        )
    return False


def _refuse_kind(archive: zipfile.ZipFile) -> None:
    with archive.open("mimetype") as stream:
        kind = stream.read(200).strip()
    if kind not in (_SPREADSHEET, _SPREADSHEET + b"-template"):
        told = kind[:80].decode("ascii", "replace")
        raise IncomingFileError(
            spoken(
                "it is an OpenDocument file, but no spreadsheet ({told!r}). Give the workbook "
                "itself.",
                told=told,
            )
        )


class _Weighing:
    """Inflates part by part and counts."""

    def __init__(
        self, archive: zipfile.ZipFile, limits: GateLimits, is_open_document: bool = False
    ) -> None:
        self.archive = archive
        self.limits = limits
        self.total = 0
        self.elements = 0
        self.sheets = 0
        self.part_bytes = limits.ods_part_bytes if is_open_document else limits.part_bytes

    def part(self, info: zipfile.ZipInfo) -> None:
        """Inflate one part, no further than the limits go, and look into it if it is XML."""
        name = info.filename
        if info.flag_bits & 1:
            raise IncomingFileError(
                spoken("its part '{name}' is encrypted. Save it without a password.", name=name)
            )
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise IncomingFileError(
                spoken(
                    "its part '{name}' is packed in a way spreadsheets do not use. Save it anew.",
                    name=name,
                )
            )
        xml = _XmlPart(self, name) if name.casefold().endswith(_XML_PARTS) else None
        size = 0
        with self.archive.open(info) as stream:
            while chunk := stream.read(_CHUNK):
                size += len(chunk)
                self.total += len(chunk)
                self._refuse_size(info, size)
                if xml is not None:
                    xml.look_at(chunk)
        if xml is not None:
            xml.end()

    def _refuse_size(self, info: zipfile.ZipInfo, size: int) -> None:
        limits = self.limits
        if size > self.part_bytes or self.total > limits.total_bytes:
            raise IncomingFileError(
                spoken(
                    "it inflates to more than {part_bytes:g} MB in one part or {total_bytes:g} MB "
                    "in all (at '{filename}'); no workbook from here does. Do not use it.",
                    part_bytes=self.part_bytes / _MB,
                    total_bytes=limits.total_bytes / _MB,
                    filename=info.filename,
                )
            )
        if size > _CHUNK and size / max(info.compress_size, 1) > limits.ratio:
            raise IncomingFileError(
                spoken(
                    "its part '{filename}' inflates more than {ratio:g} times, as only made-up "
                    "files do. Do not use it.",
                    filename=info.filename,
                    ratio=limits.ratio,
                )
            )


class _XmlPart:
    """Looks through one XML part as it is inflated, for what must not reach a parser."""

    def __init__(self, weighing: _Weighing, name: str) -> None:
        self.weighing = weighing
        self.name = name
        self.rest = b""
        self.at_start = True

    def look_at(self, chunk: bytes) -> None:
        """Look at what has come, up to the last tag that is whole."""
        text = self.rest + chunk
        cut = text.rfind(b">") + 1
        self.rest = text[cut:]
        if len(self.rest) > self.weighing.limits.tag_bytes:
            raise IncomingFileError(
                spoken(
                    "its part '{name}' holds one tag or text of more than {tag_bytes:g} MB. Do not "
                    "use it.",
                    name=self.name,
                    tag_bytes=self.weighing.limits.tag_bytes / _MB,
                )
            )
        self._whole(text[:cut])

    def end(self) -> None:
        """Look at what is left."""
        self._whole(self.rest)

    def _whole(self, content: bytes) -> None:
        name, limits = self.name, self.weighing.limits
        self.weighing.elements += content.count(b"<")
        if self.weighing.elements > limits.elements:
            raise IncomingFileError(
                spoken(
                    "it holds more than {elements:,} XML elements (at '{name}'), too many cells to "
                    "be a workbook from here. Take further sheets out.",
                    elements=limits.elements,
                    name=name,
                )
            )
        declared = None
        if self.at_start:
            declared = _ENCODING.match(content.removeprefix(b"\xef\xbb\xbf"))
            self.at_start = False
        if b"\0" in content or (declared and declared[1].lower() not in _ENCODINGS):
            raise IncomingFileError(
                spoken("its part '{name}' is not UTF-8. Save it anew.", name=name)
            )
        if _DOCTYPE.search(content):
            raise IncomingFileError(
                spoken(
                    "its part '{name}' declares XML entities, which no spreadsheet needs. Do not "
                    "use it.",
                    name=name,
                )
            )
        folded = name.casefold()
        if folded == "[content_types].xml" and re.search(rb"macroenabled", content, re.IGNORECASE):
            raise IncomingFileError(spoken(_MACROS))
        if folded.endswith("workbook.xml"):
            # One sheet named over and over is one part, read over and over.
            self.weighing.sheets += len(_SHEET.findall(content))
            refuse_sheets(self.weighing.sheets, limits)
            self._refuse_twice()
        for merged in _MERGE.finditer(content):
            self._merged(name, merged[0])

    def _refuse_twice(self) -> None:
        parts = len(self.weighing.archive.namelist())
        if self.weighing.sheets > parts:
            raise IncomingFileError(
                spoken(
                    "it names {count:,} sheets, but has {parts:,} parts: some are named over and "
                    "over. Open it in a spreadsheet and save it anew.",
                    count=self.weighing.sheets,
                    parts=parts,
                )
            )

    def _merged(self, name: str, element: bytes) -> None:
        found = _MERGE_RANGE.search(element)
        area = 1
        if found is not None and found[3]:
            columns = _column(found[3]) - _column(found[1]) + 1
            area = columns * (int(found[4]) - int(found[2]) + 1)
        if found is None or area > self.weighing.limits.merged_cells:
            raise IncomingFileError(
                spoken(
                    "its part '{name}' merges more than {merged_cells:,} cells to one. "
                    "Undo that in "
                    "the spreadsheet.",
                    name=name,
                    merged_cells=self.weighing.limits.merged_cells,
                )
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
        spoken(
            "The file holds {words}, which are not read: {parts}.",
            words=spoken(words),
            parts=", ".join(parts[:5]) + (" ..." if len(parts) > 5 else ""),
        )
        for words, parts in found.items()
    )


def tables(
    incoming: Incoming, limits: GateLimits = LIMITS, computed: bool = False
) -> IncomingTables:
    """Return an admitted file as plain cells: formulas as formulas, no links kept.

    Args:
        computed: Take the value kept for a formula instead of its text.
    Raises:
        IncomingFileError: It is damaged inside, or reaches further than sheets from here do.
    """
    try:
        read = _open_document if incoming.is_open_document else _office_open
        sheets, names = read(incoming, limits, computed)
    except IncomingFileError as fault:
        raise fault.at(str(incoming.path)) from None
    except MemoryError:
        raise
    # Whatever a parser stumbles over within a foreign file is a fault of that file.
    except Exception as fault:
        raise IncomingFileError(
            spoken(
                "{path}: damaged inside ({name}: {fault}). Open it in a spreadsheet and save it "
                "anew.",
                path=incoming.path,
                name=type(fault).__name__,
                fault=str(fault)[:200],
            )
        ) from fault
    return IncomingTables(incoming.path, incoming.set_aside, sheets, names)


def _office_open(
    incoming: Incoming, limits: GateLimits, computed: bool
) -> tuple[tuple[IncomingSheet, ...], dict[str, str]]:
    from commission.workbook.incoming_xlsx import open_xlsx, xlsx_rows

    opened = open_xlsx(incoming.content)
    extent = _Extent(limits)
    refuse_sheets(len(opened.sheets), limits)
    sheets = []
    for title, visible, part in opened.sheets:
        rows: Rows = xlsx_rows(opened, part, computed, extent.of(title, visible))
        sheets.append(IncomingSheet(title, visible, rows))
    return tuple(sheets), dict(opened.names)


def _open_document(
    incoming: Incoming, limits: GateLimits, computed: bool
) -> tuple[tuple[IncomingSheet, ...], dict[str, str]]:
    from commission.workbook.incoming_ods import ods_sheets

    extent = _Extent(limits)
    sheets, names = ods_sheets(incoming.content, computed, extent.refuse)
    refuse_sheets(len(sheets), limits)
    return sheets, names


@dataclass
class _Extent:
    """How far the sheets of one file reach."""

    limits: GateLimits

    def of(self, title: str, visible: bool) -> Callable[[int, int], None]:
        """Return what refuses a cell of one sheet."""
        return partial(self.refuse, title, visible)

    def refuse(self, title: str, visible: bool, row: int, column: int) -> None:
        """Refuse a filled cell that stands too far out."""
        limits = self.limits
        most = limits.rows if visible else limits.hidden_rows
        if not 1 <= row <= most or not 1 <= column <= limits.columns:
            raise IncomingFileError(
                spoken(
                    "sheet '{title}' reaches to row {row:,}, column {column:,}; at most {most:,} "
                    "rows and {columns:,} columns are read. Delete what stands far out.",
                    title=title,
                    row=row,
                    column=column,
                    most=most,
                    columns=limits.columns,
                )
            )


def refuse_sheets(count: int, limits: GateLimits) -> None:
    """Refuse more sheets than a workbook from here has."""
    if count > limits.sheets:
        raise IncomingFileError(
            spoken(
                "{count:,} sheets; at most {sheets:,} are read. Take those out that do not "
                "belong to it.",
                count=count,
                sheets=limits.sheets,
            )
        )
