"""The paged document: running header, page x of y, outline, labels, contents in one pass.

What is only known at the end (a place's page number, the count of pages) is drawn as a form
object that each page refers to and that is filled in before the file is closed.
"""

from __future__ import annotations

from functools import cache
from typing import Any, BinaryIO

from reportlab import rl_config
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.platypus import BaseDocTemplate, Flowable, PageTemplate

from commission.language import language, spoken
from commission.package.look import (
    BOLD,
    BOTTOM,
    INK,
    OBLIQUE,
    QUIET,
    REGULAR,
    RULE,
    SIDE,
    TABLE_SIZE,
    TOP,
    page_size,
    register_faces,
)
from commission.package.tagging import PAGINATION, TaggedCanvas, TaggedFrame
from commission.package.typesetting import broken, width_of

_LANGUAGES = {"en": "en-US", "es": "es-US"}
_TOTAL = "count-of-pages"
_FORM_WIDTH, _FORM_DROP, _FORM_RISE = 60.0, 4.0, 14.0
_STAND_IN = 0xFFFD  # the replacement character


class _Glyphs(dict[int, int]):
    """A face's glyphs by code point; one it lacks has the stand-in's glyph."""

    def __contains__(self, code: object) -> bool:
        return code != 0  # code 0 alone stays the glyph for "not defined"

    def __missing__(self, code: int) -> int:
        return self[_STAND_IN]


@cache
def _stand_in_for_missing_glyphs() -> None:
    """Draw what a face cannot as the replacement character, its text kept for search and copy.

    An archival file may not show the glyph "not defined" (ISO 19005-3, 6.2.11.8), which the
    PDF library sets by itself, and without saying which character it stands for.
    """
    for name in (REGULAR, BOLD, OBLIQUE):
        face = getFont(name).face
        face.charWidths[0] = face.defaultWidth
        face.defaultWidth = face.charWidths[_STAND_IN]
        face.charToGlyph = _Glyphs(face.charToGlyph)


@cache
def _write_bytes_as_they_are() -> None:
    """Leave streams binary: as text they would be a quarter longer, and slow to make."""
    rl_config.useA85 = 0


def document_language() -> str:
    """Return the language tag (BCP 47) of a document that is set now."""
    return _LANGUAGES.get(language(), language())


def shortened(text: str, room: float) -> str:
    """Return one line that fits the running header; the whole text stands on the page itself."""
    lines = broken(text, REGULAR, TABLE_SIZE, room)
    return lines[0] if len(lines) == 1 else f"{lines[0]} …"


class PackageCanvas(TaggedCanvas):
    """A canvas that knows places by key and can set their page numbers before they are known."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.page_of_place: dict[str, int] = {}
        self._numbers_wanted: dict[str, float] = {}

    def mark_place(self, key: str, y: float) -> None:
        """Note a place on this page, `y` above the flowable's own origin."""
        self.page_of_place.setdefault(key, self.getPageNumber())
        self.bookmarkHorizontal(key, 0, y)

    def draw_page_of(self, key: str, right: float, y: float, size: float) -> None:
        """Draw the page number of a place, ending at `right`."""
        self._numbers_wanted[key] = size
        self.saveState()
        self.translate(right, y)
        self.doForm(f"page-of-{key}")
        self.restoreState()

    def draw_page_line(self, left: float, y: float) -> None:
        """Draw "Page x of y", beginning at `left`, since the width of y is not known yet."""
        opening = spoken("Page {number} of ", number=self.getPageNumber())
        self.setFont(REGULAR, TABLE_SIZE)
        self.drawString(left, y, opening)
        self.saveState()
        self.translate(left + width_of(opening, REGULAR, TABLE_SIZE), y)
        self.doForm(_TOTAL)
        self.restoreState()

    def save(self) -> None:
        """Fill in the numbers, then write the file."""
        if len(self._code):
            self.showPage()
        total = self.getPageNumber() - 1
        self._fill_in(_TOTAL, str(total), TABLE_SIZE, at_right=False)
        for key, size in self._numbers_wanted.items():
            self._fill_in(f"page-of-{key}", str(self.page_of_place[key]), size, at_right=True)
        self.addPageLabel(0, prefix=spoken("Cover"))
        if total > 1:
            self.addPageLabel(1, style="ARABIC", start=2)
        super().save()

    def _fill_in(self, form: str, text: str, size: float, *, at_right: bool) -> None:
        left = -_FORM_WIDTH if at_right else 0.0
        self.beginForm(form, left, -_FORM_DROP, left + _FORM_WIDTH, _FORM_RISE)
        self.setFont(REGULAR, size)
        self.setFillColor(INK if at_right else QUIET)
        (self.drawRightString if at_right else self.drawString)(0, 0, text)
        self.endForm()


class TurnoverDocument(BaseDocTemplate):  # type: ignore[misc]
    """Pages with a running header and footer; the cover has none at its head."""

    def __init__(self, target: BinaryIO, unit_system: str, title: str, footer: str) -> None:
        register_faces()
        _stand_in_for_missing_glyphs()
        _write_bytes_as_they_are()
        super().__init__(
            target,
            pagesize=page_size(unit_system),
            invariant=1,
            pageCompression=1,
            initialFontName=REGULAR,
            initialFontSize=TABLE_SIZE,
            lang=document_language(),
        )
        self.package_title, self.footer = title, footer
        self.running = ""
        self.story: list[Flowable] = []
        width, height = self.pagesize
        frame = TaggedFrame(
            SIDE, BOTTOM, width - 2 * SIDE, height - TOP - BOTTOM, 0, 0, 0, 0, id="page"
        )
        self.addPageTemplates([PageTemplate("page", [frame], onPage=self._furnish)])

    def make(self, story: list[Flowable]) -> PackageCanvas:
        """Set the story; return the canvas, which knows on which page each place came out."""
        self.story = story
        self.build(story, canvasmaker=PackageCanvas)
        canvas: PackageCanvas = self.canv
        return canvas

    def _furnish(self, canvas: PackageCanvas, _: Any) -> None:
        with canvas.artifact(PAGINATION):
            self._draw_head_and_foot(canvas)

    def _draw_head_and_foot(self, canvas: PackageCanvas) -> None:
        width, height = self.pagesize
        canvas.saveState()
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.5)
        canvas.line(SIDE, BOTTOM - 12, width - SIDE, BOTTOM - 12)
        canvas.setFillColor(QUIET)
        canvas.setFont(REGULAR, TABLE_SIZE)
        canvas.drawRightString(width - SIDE, BOTTOM - 24, self.footer)
        canvas.draw_page_line(SIDE, BOTTOM - 24)
        if canvas.getPageNumber() > 1:
            canvas.setFont(REGULAR, TABLE_SIZE)
            room = width / 2 - SIDE - 12
            canvas.drawString(SIDE, height - 36, shortened(self.package_title, room))
            canvas.drawRightString(width - SIDE, height - 36, shortened(self.running, room))
            canvas.line(SIDE, height - 42, width - SIDE, height - 42)
        canvas.restoreState()
