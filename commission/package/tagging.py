"""A canvas on which every piece drawn is marked: as part of an element, or as an artifact.

Screen readers follow the elements and pass over artifacts: rules, tints, running heads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from reportlab.pdfbase.pdfdoc import (
    LinkAnnotation,
    PDFArray,
    PDFDictionary,
    PDFName,
    PDFStream,
    PDFZCompress,
)
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame
from reportlab.platypus.doctemplate import ActionFlowable
from reportlab.platypus.flowables import NullDraw

from commission.package.signature_field import SignatureField
from commission.package.structure import Structure

ARTIFACT, END = "/Artifact BMC", "EMC"
PAGINATION = "/Artifact <</Type/Pagination>> BDC"


def pdf_text(text: str) -> str:
    """Return a text string in PDF syntax, as the UTF-16 of ISO 32000-1, 7.9.2.2."""
    return f"<{'FEFF' + text.encode('utf-16-be', 'replace').hex().upper()}>"


def alternate(text: str) -> str:
    """Return the trait that says in words what an element shows."""
    return f"/Alt{pdf_text(text)}"


class Tag:
    """The element of something that may be split over pages: found once, used by all parts."""

    __slots__ = ("element",)

    def __init__(self) -> None:
        self.element = -1

    def of(self, structure: Structure, kind: str, parent: int | None = None) -> int:
        """Return the element, added when first asked for."""
        if self.element < 0:
            self.element = structure.add(kind, parent)
        return self.element


class _Link(LinkAnnotation):  # type: ignore[misc]
    """A link that knows its element."""

    permitted = (*LinkAnnotation.permitted, "StructParent")


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """Marks what is drawn. Marks do not nest: within one, further ones are passed over."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.structure = Structure()
        self.signature_fields: list[SignatureField] = []
        self.is_marking = False

    def opening(self, kind: str, element: int) -> str:
        """Return the operator that opens a piece of an element, of this kind, on this page."""
        return f"/{kind} <</MCID {self.structure.mark(element)}>> BDC"

    @contextmanager
    def piece(self, kind: str, element: int) -> Iterator[None]:
        """Mark what is drawn within as a piece of an element."""
        if self.is_marking:
            yield
            return
        with self._between(self.opening(kind, element)):
            yield

    @contextmanager
    def saying(self, text: str) -> Iterator[None]:
        """Let what is drawn within be copied and searched as a text (ISO 32000-1, 14.9.4)."""
        self._code.append(f"/Span <</ActualText{pdf_text(text)}>> BDC")
        yield
        self._code.append(END)

    @contextmanager
    def tagged(self, kind: str, trait: str = "") -> Iterator[None]:
        """Mark what is drawn within as a new element of the open section."""
        if self.is_marking:
            yield
            return
        with self.piece(kind, self.structure.add(kind, None, trait)):
            yield

    @contextmanager
    def artifact(self, opening: str = ARTIFACT) -> Iterator[None]:
        """Mark what is drawn within as no part of the content."""
        if self.is_marking:
            yield
            return
        with self._between(opening):
            yield

    @contextmanager
    def _between(self, opening: str) -> Iterator[None]:
        self._code.append(opening)
        self.is_marking = True
        yield
        self.is_marking = False
        self._code.append(END)

    def box_trait(self, width: float, height: float) -> str:
        """Return where a figure stands whose lower left corner is the origin (14.8.5.4)."""
        left, bottom = self.absolutePosition(0, 0)
        right, top = self.absolutePosition(width, height)
        return f"/A<</O/Layout/BBox[{left:.1f} {bottom:.1f} {right:.1f} {top:.1f}]>>"

    def link_element(
        self, place: str, area: tuple[float, float, float, float], element: int, told: str
    ) -> None:
        """Make an area, relative to the origin, a link to a place; `told` says where it leads."""
        link = _Link(
            self._absRect(area, 1),
            told,
            self._bookmarkReference(place),
            "[0 0 0]",
            StructParent=self.structure.annotate(element),
        )
        self._addAnnotation(link)

    def signature_field(
        self, name: str, told: str, area: tuple[float, float, float, float]
    ) -> None:
        """Ask for a signature field over an area, relative to the origin.

        Args:
            name: the field's own, without a full stop.
            told: what is to be signed, and by whom.
            area: left, bottom, right, top.
        """
        key = self.structure.annotate(self.structure.add("Form"))
        box = tuple(round(number, 2) for number in self._absRect(area, 1))
        self.signature_fields.append(
            SignatureField(name, told, len(self.structure.pages), box, key)
        )

    def showPage(self) -> None:  # noqa: N802
        """End the page; what it draws is compressed now, so that a long package stays small."""
        self.structure.end_page()
        super().showPage()
        page = self._doc.Pages.pages[-1]
        packed = PDFDictionary({"Filter": PDFArray([PDFName("FlateDecode")])})
        page.Contents = PDFStream(packed, PDFZCompress.encode(page.stream))
        page.stream = None


class TaggedFrame(Frame):  # type: ignore[misc]
    """A frame in which a flowable that does not mark its own pieces is marked as one whole.

    A flowable marks its own pieces if it says `marks_itself = True`. Another one is a figure
    where it has an `alternate_text`, and a paragraph otherwise.
    """

    def _add(self, flowable: Flowable, canv: TaggedCanvas, trySplit: int = 0) -> int:  # noqa: N803
        plain = isinstance(flowable, NullDraw | ActionFlowable)
        if not plain and not getattr(flowable, "marks_itself", False):
            flowable.drawOn = marked_whole(flowable.drawOn, flowable)
        added: int = super()._add(flowable, canv, trySplit)
        vars(flowable).pop("drawOn", None)
        return added

    add = _add


def marked_whole(draw_on: Callable[..., None], flowable: Flowable) -> Callable[..., None]:
    """Return a flowable's `drawOn` that marks what it draws as one figure or paragraph."""

    def marked(canvas: TaggedCanvas, x: float, y: float, **options: Any) -> None:
        told = getattr(flowable, "alternate_text", "")
        if not told:
            with canvas.tagged("P"):
                draw_on(canvas, x, y, **options)
            return
        canvas.saveState()
        canvas.translate(x, y)
        trait = alternate(told) + canvas.box_trait(flowable.width, flowable.height)
        canvas.restoreState()
        with canvas.tagged("Figure", trait):
            draw_on(canvas, x, y, **options)

    return marked
