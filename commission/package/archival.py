"""The last step: a PDF made fit for archives, PDF/A-3 (ISO 19005-3:2012), files attached.

The bytes depend only on what goes in: no clock, no file id at random, a fixed colour profile.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import SEEK_END, BytesIO, RawIOBase
from typing import Any, BinaryIO, Literal, cast, get_args
from xml.sax.saxutils import escape

import pikepdf
from pikepdf import Array, Dictionary, Name, String
from PIL import ImageCms

from commission.errors import OutputError
from commission.package.signature_field import SignatureField, add_fields
from commission.package.structure import Structure
from commission.package.structure_writer import Finished, append_structure

Relationship = Literal["Data", "Alternative", "Supplement"]

PART, CONFORMANCE = 3, "U"
"""Level U: every sign shown also has its Unicode value (ISO 19005-3, 6.2.11.7)."""
TAGGED_CONFORMANCE, UA_PART = "A", 1
"""Level A: tagged as well (6.7); then the file also says that it is PDF/UA-1 (ISO 14289-1, 5)."""
# An archival file describes each property of its packet that PDF/A does not know (6.6.2.3).
_UA_SCHEMA = """
  <rdf:Description rdf:about=""
    xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
    xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
    xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
   <pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
    <pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
    <pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
    <pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
    <pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
     <pdfaProperty:name>part</pdfaProperty:name>
     <pdfaProperty:valueType>Integer</pdfaProperty:valueType>
     <pdfaProperty:category>internal</pdfaProperty:category>
     <pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
    </rdf:li></rdf:Seq></pdfaSchema:property>
   </rdf:li></rdf:Bag></pdfaExtension:schemas>
  </rdf:Description>"""

_MEDIA_TYPE = re.compile(r"[\w.+-]+/[\w.+-]+", re.ASCII)
_NOT_IN_NAMES = re.compile(r'[\x00-\x1f\x7f/\\:*?"<>|]')
_NOT_IN_XML = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_PRINT, _UNSEEN = 4, 1 | 2 | 32 | 256  # invisible, hidden, no view, toggled (ISO 32000-1, 12.5.3)
_CODE_LINE = re.compile(rb"<([0-9A-F]{2})> <([0-9A-F]{4,6})>")
_CODES = re.compile(rb"\d+ beginbfchar\n.*\nendbfchar", re.DOTALL)
_LONGEST_BLOCK = 100
_LONGEST_END = 1024  # bytes, in which the file's last cross-references are named


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes into the package.

    Valid: `name` is a plain file name, each a different one in a package (case does not count);
    `media_type` is like "application/json"; `relationship` says what it is to the package:
    "Data" it is drawn from, an "Alternative" form of it, or a "Supplement".
    Source: ISO 19005-3:2012, 6.8 and annex E.
    """

    name: str
    media_type: str
    relationship: Relationship
    description: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Description:
    """What the file says of itself; `moment` is ISO 8601 with offset, "" for none."""

    title: str
    author: str
    subject: str
    program: str
    language: str
    moment: str


def check_attachments(attachments: Sequence[Attachment], place: str) -> None:
    """Refuse attachments that would make a faulty file.

    Raises:
        OutputError: all faults at once, a line each.
    """
    faults = [fault for item in attachments for fault in _faults(item)]
    seen: set[str] = set()
    for name in (item.name.casefold() for item in attachments):
        if name in seen:
            faults.append(f"'{name}' is attached twice. Give each attachment a name of its own.")
        seen.add(name)
    if faults:
        raise OutputError("\n".join(f"{place}: {fault}" for fault in faults))


def _faults(item: Attachment) -> Iterable[str]:
    if item.name in ("", ".", "..") or _NOT_IN_NAMES.search(item.name):
        yield (
            f"'{item.name}' cannot be the name of an attachment. Use a file name without a "
            'folder and without any of \\ / : * ? " < > |.'
        )
    if not _MEDIA_TYPE.fullmatch(item.media_type):
        yield (
            f"'{item.name}': '{item.media_type}' is not a media type. Write it like "
            "'application/json'."
        )
    if item.relationship not in get_args(Relationship):
        yield (
            f"'{item.name}': '{item.relationship}' is not a relationship to the package. Use one "
            f"of {', '.join(get_args(Relationship))}."
        )


def archived(
    source: BinaryIO,
    description: Description,
    attachments: Sequence[Attachment] = (),
    structure: Structure | None = None,
    fields: Sequence[SignatureField] = (),
) -> bytes:
    """Return what `write_archived` writes, for a document that is small."""
    target = BytesIO()
    write_archived(source, target, description, attachments, structure, fields)
    return target.getvalue()


def write_archived(
    source: BinaryIO,
    target: BinaryIO,
    description: Description,
    attachments: Sequence[Attachment] = (),
    structure: Structure | None = None,
    fields: Sequence[SignatureField] = (),
) -> None:
    """Write a PDF as PDF/A-3, its attachments within: level A if tagged, level U if not.

    Args:
        source: a PDF whose fonts are all embedded, drawn in RGB or grey, without scripts.
        target: an empty file, open for reading too; nothing of it is held in memory.
        description: goes into the information dictionary and, the same, into the XMP packet.
        attachments: checked by `check_attachments` before.
        structure: what every marked piece of the pages is; then the file is PDF/UA-1 as well.
        fields: where people may sign.
    """
    _save(source, target, description, attachments, structure, fields)
    if structure is not None:
        append_structure(target, structure, _finished(target))


def _save(
    source: BinaryIO,
    target: BinaryIO,
    description: Description,
    attachments: Sequence[Attachment],
    structure: Structure | None,
    fields: Sequence[SignatureField],
) -> None:
    """Write all but the structure; afterwards the library's objects are let go of."""
    with pikepdf.open(source) as pdf:
        moment = datetime.fromisoformat(description.moment) if description.moment else None
        _describe(pdf, description, moment, is_tagged=structure is not None)
        _fix_colours(pdf)
        add_fields(pdf, fields)
        if structure is not None:
            _prepare_tags(pdf, structure)
        _make_pages_plain(pdf)
        _make_labels_plain(pdf)
        _make_codes_plain(pdf)
        _attach(pdf, attachments, moment)
        careful = _Careful(target)
        pdf.save(
            cast(BinaryIO, careful),
            min_version="1.7",
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
        )
    if careful.fault is not None:
        raise careful.fault


class _Careful(RawIOBase):
    """A file whose full disk is told after writing: the library cannot bear it while it writes."""

    def __init__(self, target: BinaryIO) -> None:
        super().__init__()
        self._target = target
        self.fault: OSError | None = None

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        """Write bytes; after a fault take them and do nothing."""
        size = len(data)
        if self.fault is None:
            try:
                self._target.write(data)
            except OSError as fault:
                self.fault = fault
        return size

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        """Go to a place of the file."""
        return self._target.seek(offset, whence)

    def tell(self) -> int:
        """Return the place in the file."""
        return self._target.tell()


# -- tags ----------------------------------------------------------------------


def _prepare_tags(pdf: pikepdf.Pdf, structure: Structure) -> None:
    """Say that the file is tagged, and let each page find the elements of its pieces."""
    pdf.Root["/MarkInfo"] = Dictionary(Marked=True)
    pdf.Root["/StructTreeRoot"] = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
    for page, (key, _) in zip(pdf.pages, structure.pages, strict=True):
        page.obj["/StructParents"] = key
        if "/Annots" in page.obj:
            page.obj["/Tabs"] = Name.S  # the order of the structure (ISO 14289-1, 7.18.3)


def _finished(stream: BinaryIO) -> Finished:
    """Return what the structure's writer must know of the file; the stream is left at its end."""
    previous = _last_cross_references(stream)
    stream.seek(0)
    with pikepdf.open(stream) as pdf:
        annotations = {
            int(annotation.StructParent): annotation.objgen[0]
            for page in pdf.pages
            for annotation in page.obj.get("/Annots", ())
        }
        root, info = pdf.trailer.Root.objgen[0], pdf.trailer.Info.objgen[0]
        ids = "".join(f"<{bytes(part).hex().upper()}>" for part in list(pdf.trailer.ID))
        found = Finished(
            [page.obj.objgen[0] for page in pdf.pages],
            annotations,
            pdf.Root.StructTreeRoot.objgen[0],
            int(pdf.trailer.Size),
            previous,
            f"/Root {root} 0 R/Info {info} 0 R/ID[{ids}]",
        )
    stream.seek(0, SEEK_END)
    return found


def _last_cross_references(stream: BinaryIO) -> int:
    """Return where the file's last cross-reference section stands (ISO 32000-1, 7.5.5)."""
    size = stream.seek(0, SEEK_END)
    stream.seek(max(size - _LONGEST_END, 0))
    end = stream.read()
    return int(end[end.rindex(b"startxref") :].split()[1])


# -- what the file says of itself ----------------------------------------------


def _describe(
    pdf: pikepdf.Pdf, description: Description, moment: datetime | None, *, is_tagged: bool
) -> None:
    """Write the same words and dates into the information dictionary and the XMP packet."""
    told = {
        "Title": _line(description.title),
        "Author": _line(description.author),
        "Subject": _line(description.subject),
        "Creator": description.program,
        "Producer": description.program,
    }
    info = Dictionary({f"/{key}": String(text) for key, text in told.items() if text})
    if moment:
        info["/CreationDate"] = info["/ModDate"] = String(_pdf_date(moment))
    pdf.trailer["/Info"] = pdf.make_indirect(info)
    packet = _packet(told, description.language, moment, is_tagged)
    pdf.Root["/Metadata"] = pdf.make_stream(packet, Type=Name.Metadata, Subtype=Name.XML)
    pdf.Root["/Lang"] = String(description.language)
    pdf.Root["/ViewerPreferences"] = Dictionary({"/DisplayDocTitle": True})
    pdf.Root["/PageMode"] = Name.UseOutlines


def _line(text: str) -> str:
    """Return text as one line of signs that XML 1.0 allows, so that both places can hold it."""
    return " ".join(_NOT_IN_XML.sub(" ", text).split())


def _packet(told: dict[str, str], language: str, moment: datetime | None, is_tagged: bool) -> bytes:
    """Return the XMP packet (ISO 16684-1), UTF-8."""
    when = moment.isoformat(timespec="seconds") if moment else ""
    properties = [
        ("dc:title", _alternative(told["Title"])),
        ("dc:creator", _listed("Seq", told["Author"])),
        ("dc:description", _alternative(told["Subject"])),
        ("dc:language", _listed("Bag", language)),
        ("dc:format", "application/pdf"),
        ("xmp:CreatorTool", escape(told["Creator"])),
        ("xmp:CreateDate", when),
        ("xmp:ModifyDate", when),
        ("xmp:MetadataDate", when),
        ("pdf:Producer", escape(told["Producer"])),
        ("pdfaid:part", str(PART)),
        ("pdfaid:conformance", TAGGED_CONFORMANCE if is_tagged else CONFORMANCE),
        ("pdfuaid:part", str(UA_PART) if is_tagged else ""),
    ]
    lines = "\n".join(f"   <{name}>{value}</{name}>" for name, value in properties if value)
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
    xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
    xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
{lines}
  </rdf:Description>{_UA_SCHEMA if is_tagged else ""}
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>""".encode()


def _alternative(text: str) -> str:
    item = f'<rdf:li xml:lang="x-default">{escape(text)}</rdf:li>'
    return f"<rdf:Alt>{item}</rdf:Alt>" if text else ""


def _listed(kind: str, text: str) -> str:
    return f"<rdf:{kind}><rdf:li>{escape(text)}</rdf:li></rdf:{kind}>" if text else ""


def _pdf_date(moment: datetime) -> str:
    """Return a PDF date (ISO 32000-1, 7.9.4)."""
    offset = moment.strftime("%z")
    zone = f"{offset[:3]}'{offset[3:5]}'" if offset else "Z"
    return f"D:{moment:%Y%m%d%H%M%S}{zone}"


# -- colours, pages, fonts -----------------------------------------------------


@cache
def srgb_profile() -> bytes:
    """Return the sRGB profile: its date fixed, no platform named, version 4.2.

    Source: ICC.1:2004-10 (profile version 4.2), 7.2; ISO 32000-1 allows no later one.
    """
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    header = bytearray(made[:128])
    header[8:12] = bytes((4, 0x20, 0, 0))
    # Dated by the standard that defines sRGB, IEC 61966-2-1:1999, not by the clock.
    header[24:36] = b"".join(part.to_bytes(2, "big") for part in (1999, 1, 1, 0, 0, 0))
    header[40:44] = bytes(4)
    return bytes(header) + made[128:]


def _fix_colours(pdf: pikepdf.Pdf) -> None:
    """Say that the file's RGB and grey are those of sRGB."""
    profile = pdf.make_stream(srgb_profile(), N=3, Alternate=Name.DeviceRGB)
    intent = Dictionary(
        Type=Name.OutputIntent,
        S=Name.GTS_PDFA1,
        OutputConditionIdentifier=String("sRGB"),
        RegistryName=String("http://www.color.org"),
        Info=String("sRGB (IEC 61966-2-1)"),
        DestOutputProfile=profile,
    )
    pdf.Root["/OutputIntents"] = Array([pdf.make_indirect(intent)])


def _make_pages_plain(pdf: pikepdf.Pdf) -> None:
    """Let links be printed with the page and never hidden; drop empty page transitions."""
    for page in pdf.pages:
        node = page.obj
        if "/Trans" in node:
            del node["/Trans"]
        for annotation in node.get("/Annots", ()):
            flags = int(annotation.get("/F", 0))
            annotation["/F"] = (flags | _PRINT) & ~_UNSEEN


def _make_labels_plain(pdf: pikepdf.Pdf) -> None:
    """Write each page label in its place: some checkers follow no reference there."""
    labels = pdf.Root.get("/PageLabels")
    if labels is not None:
        labels["/Nums"] = Array(
            [
                Dictionary(dict(part.items())) if isinstance(part, Dictionary) else part
                for part in list(labels.Nums)
            ]
        )


def _make_codes_plain(pdf: pikepdf.Pdf) -> None:
    """Rewrite the fonts' tables from codes to Unicode: codes in use only, UTF-16, short blocks."""
    tables: dict[tuple[int, int], pikepdf.Object] = {}
    kept: dict[tuple[int, int], pikepdf.Object] = {}
    for page in pdf.pages:
        fonts = page.obj.Resources.get("/Font", Dictionary())
        kept.setdefault(fonts.objgen, fonts)  # the library lets all pages share one dictionary
    for fonts in kept.values():
        for font in fonts.values():
            if "/ToUnicode" in font:
                tables[font.ToUnicode.objgen] = font.ToUnicode
    for table in tables.values():
        table.write(_CODES.sub(_code_blocks, table.read_bytes()))


def _code_blocks(found: re.Match[bytes]) -> bytes:
    """Return the codes that stand for a sign, at most 100 in a block (CMap specification)."""
    codes = [(code, int(sign, 16)) for code, sign in _CODE_LINE.findall(found[0])]
    lines = [
        b"<%b> <%b>" % (code, chr(sign).encode("utf-16-be").hex().upper().encode())
        for code, sign in codes
        if sign
    ]
    blocks = (lines[at : at + _LONGEST_BLOCK] for at in range(0, len(lines), _LONGEST_BLOCK))
    return b"\n".join(
        b"%d beginbfchar\n%b\nendbfchar" % (len(block), b"\n".join(block)) for block in blocks
    )


# -- attachments ---------------------------------------------------------------


def _attach(pdf: pikepdf.Pdf, attachments: Sequence[Attachment], moment: datetime | None) -> None:
    """Embed files as PDF/A-3 asks: named in the catalogue's tree and related to the document."""
    if not attachments:
        return
    in_order = sorted(attachments, key=lambda item: bytes(String(item.name)))
    placed = [(String(item.name), _file(pdf, item, moment)) for item in in_order]
    names = Array([part for pair in placed for part in pair])
    pdf.Root["/Names"] = pdf.Root.get("/Names", Dictionary())
    pdf.Root["/Names"]["/EmbeddedFiles"] = Dictionary(Names=names)
    pdf.Root["/AF"] = Array([file for _, file in placed])


def _file(pdf: pikepdf.Pdf, item: Attachment, moment: datetime | None) -> pikepdf.Object:
    about = Dictionary(
        Size=len(item.data),
        # Readers check the copy by it; it guards against damage only.
        CheckSum=String(hashlib.md5(item.data, usedforsecurity=False).digest()),
    )
    if moment:
        about["/CreationDate"] = about["/ModDate"] = String(_pdf_date(moment))
    stream = pdf.make_stream(
        item.data, Type=Name.EmbeddedFile, Subtype=Name(f"/{item.media_type}"), Params=about
    )
    return pdf.make_indirect(
        Dictionary(
            Type=Name.Filespec,
            F=String(item.name.encode("ascii", "replace").replace(b"?", b"_").decode()),
            UF=String(item.name),
            Desc=String(item.description),
            AFRelationship=Name(f"/{item.relationship}"),
            EF=Dictionary(F=stream, UF=stream),
        )
    )
