"""How the package looks: page, grid, faces, sizes, colours, and the glyph of every state."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from commission.language import to_say
from commission.validation.results import SectionState
from commission.validation.verdict import Outcome

FONT_FOLDER = Path(__file__).resolve().parent / "fonts"
REGULAR, BOLD, OBLIQUE = "DejaVuSans", "DejaVuSans-Bold", "DejaVuSans-Oblique"

INK = HexColor("#1b2530")
QUIET = HexColor("#5c6873")
RULE = HexColor("#c9d0d6")
TINT = HexColor("#eef1f4")
ACCENT = HexColor("#1f4e79")
ALARM = HexColor("#a3161a")
DOUBT = HexColor("#8a5a00")
GOOD = HexColor("#1c6b3a")

# All measures in points. Lines stand a multiple of STEP apart wherever text is not tabular.
STEP = 6.0
SIDE, TOP, BOTTOM = 48.0, 54.0, 50.0
TABLE_SIZE, TABLE_LEADING = 7.5, 9.1
SMALL_SIZE = 6.8
PAD_X, PAD_Y = 3.0, 1.2


def page_size(unit_system: str) -> tuple[float, float]:
    """Return the paper of the place: letter with IP units, A4 with SI."""
    wide, high = A4 if unit_system == "SI" else LETTER
    return float(wide), float(high)


def content_width(unit_system: str) -> float:
    """Return the width between the side margins."""
    return page_size(unit_system)[0] - 2 * SIDE


@cache
def register_faces() -> None:
    """Make the three faces known to the PDF library; the file embeds what it uses of them."""
    for face in (REGULAR, BOLD, OBLIQUE):
        pdfmetrics.registerFont(TTFont(face, str(FONT_FOLDER / f"{face}.ttf")))
    pdfmetrics.registerFontFamily(
        REGULAR, normal=REGULAR, bold=BOLD, italic=OBLIQUE, boldItalic=BOLD
    )


def _style(name: str, size: float, leading: float, font: str = REGULAR, **more: object) -> object:
    return ParagraphStyle(
        name, fontName=font, fontSize=size, leading=leading, textColor=INK, splitLongWords=1, **more
    )


BODY = _style("body", 8.5, 12.0, spaceAfter=STEP)
LEAD = _style("lead", 9.5, 14.0, spaceAfter=STEP)
NOTE = _style("note", 7.2, 9.6, spaceBefore=2, spaceAfter=3)
TITLE = _style("title", 24, 29, BOLD, spaceAfter=STEP)
OVERLINE = _style("overline", 9.5, 14, BOLD, spaceAfter=STEP)

STATE_GLYPHS = {
    SectionState.STOPPED: "⬣",
    SectionState.BLOCKED: "⬡",
    SectionState.FAILING: "☒",
    SectionState.INCONCLUSIVE: "◇",
    SectionState.MISSING: "◐",
    SectionState.EMPTY: "◌",
    SectionState.DONE: "✓",
    SectionState.NOT_APPLICABLE: "⊖",
}
STATE_MEANINGS = {
    SectionState.STOPPED: to_say("a check failed that makes starting or running unsafe"),
    SectionState.BLOCKED: to_say(
        "waits for a stop or an unanswered safety item on an earlier page"
    ),
    SectionState.FAILING: to_say("a reading is outside its limit"),
    SectionState.INCONCLUSIVE: to_say("a result cannot be decided within its uncertainty"),
    SectionState.MISSING: to_say("readings or limits are still missing"),
    SectionState.EMPTY: to_say("nothing recorded yet"),
    SectionState.DONE: to_say("everything asked is recorded, and nothing failed"),
    SectionState.NOT_APPLICABLE: to_say("the unit has no such part"),
}
OUTCOME_GLYPHS = {
    Outcome.PASS: "✓",
    Outcome.FAIL: "☒",
    Outcome.INCONCLUSIVE: "◇",
    Outcome.MISSING: "◌",
    Outcome.NOT_APPLICABLE: "⊖",
}
STOP_GLYPH, NOTE_GLYPH = "⬣", "▷"

STATE_COLOURS = {
    SectionState.STOPPED: ALARM,
    SectionState.BLOCKED: ALARM,
    SectionState.FAILING: ALARM,
    SectionState.INCONCLUSIVE: DOUBT,
    SectionState.MISSING: DOUBT,
    SectionState.EMPTY: QUIET,
    SectionState.DONE: GOOD,
    SectionState.NOT_APPLICABLE: QUIET,
}
OUTCOME_COLOURS = {
    Outcome.PASS: GOOD,
    Outcome.FAIL: ALARM,
    Outcome.INCONCLUSIVE: DOUBT,
    Outcome.MISSING: QUIET,
    Outcome.NOT_APPLICABLE: QUIET,
}
