"""Fields in which the people who answer for the work may sign the file itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pikepdf
from pikepdf import Array, Dictionary, Name, String

_PRINT = 4


@dataclass(frozen=True, slots=True)
class SignatureField:
    """An empty signature field.

    `page` counts from 0, `box` is left, bottom, right, top in points, `key` leads to the
    field's element in the structure.
    """

    name: str
    told: str
    page: int
    box: tuple[float, ...]
    key: int


def field_name(title: str, role: str) -> str:
    """Return a field's name; a full stop would part it into several (ISO 32000-1, 12.7.3.2)."""
    return f"{title} {role}".replace(".", "_")


def add_fields(pdf: pikepdf.Pdf, fields: Sequence[SignatureField]) -> None:
    """Put empty signature fields on their pages (ISO 32000-1, 12.7.4.5).

    Each has an appearance, an empty one, as ISO 19005-3, 6.3.3 asks of every field.
    """
    if not fields:
        return
    pages = list(pdf.pages)
    made = [_field(pdf, pages[field.page], field) for field in _named_apart(fields)]
    pdf.Root["/AcroForm"] = pdf.make_indirect(Dictionary(Fields=Array(made)))


def _named_apart(fields: Sequence[SignatureField]) -> Sequence[SignatureField]:
    """Return fields of which no two have one name: two tags may differ by a full stop only."""
    seen: dict[str, int] = {}
    found = []
    for field in fields:
        count = seen[field.name] = seen.get(field.name, 0) + 1
        name = field.name if count == 1 else f"{field.name} ({count})"
        found.append(SignatureField(name, field.told, field.page, field.box, field.key))
    return found


def _field(pdf: pikepdf.Pdf, page: pikepdf.Page, field: SignatureField) -> pikepdf.Object:
    left, bottom, right, top = field.box
    box = [0, 0, round(right - left, 2), round(top - bottom, 2)]
    empty = pdf.make_stream(
        b"", Type=Name.XObject, Subtype=Name.Form, BBox=Array(box), Resources=Dictionary()
    )
    made = pdf.make_indirect(
        Dictionary(
            Type=Name.Annot,
            Subtype=Name.Widget,
            FT=Name.Sig,
            T=String(field.name),
            TU=String(field.told),
            Rect=Array(field.box),
            F=_PRINT,
            P=page.obj,
            StructParent=field.key,
            AP=Dictionary(N=empty),
        )
    )
    if "/Annots" not in page.obj:
        page.obj["/Annots"] = Array([])
    page.obj.Annots.append(made)
    return made
