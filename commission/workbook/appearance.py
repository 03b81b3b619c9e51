"""How cells look: a few shared formats, made once for a workbook."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format

from commission.validation.verdict import Outcome

FONT = "Arial"
# What may be typed over is a pale blue-green with a firm border, so that it shows in print too.
ENTRY_FILL = "#E3F3F4"
_ENTRY_LINE, _LINE, _INK, _QUIET = "#2F7F86", "#C9D2D6", "#16232B", "#5B6870"
_BAND_FILL, _HEAD_FILL, _CAUTION_FILL = "#DCE6E8", "#23444D", "#FFF0D6"

_BASE: dict[str, Any] = {
    "font_name": FONT,
    "font_size": 10,
    "font_color": _INK,
    "valign": "vcenter",
}
_RULED = {"bottom": 1, "bottom_color": _LINE}
_BOXED = {"border": 1, "border_color": _ENTRY_LINE, "bg_color": ENTRY_FILL, "locked": False}
_WRAP = {"text_wrap": True}
_SMALL = {"font_size": 8.5, "font_color": _QUIET, **_WRAP}

_STYLES: Mapping[str, dict[str, Any]] = {
    "title": {"font_size": 15, "bold": True},
    "subtitle": {"font_color": _QUIET},
    "link": {"font_color": "#0B5C8A", "underline": 1},
    "link_cell": {"font_color": "#0B5C8A", "underline": 1, **_RULED},
    "plain_number": {"num_format": "General"},
    "plain_text": {},
    "heading": {"font_size": 12, "bold": True, "bottom": 2, "bottom_color": _HEAD_FILL},
    "head": {
        "bold": True,
        "font_size": 9,
        "font_color": "#FFFFFF",
        "bg_color": _HEAD_FILL,
        "border": 1,
        "border_color": _HEAD_FILL,
        **_WRAP,
    },
    "head_center": {
        "bold": True,
        "font_size": 9,
        "font_color": "#FFFFFF",
        "bg_color": _HEAD_FILL,
        "border": 1,
        "border_color": _HEAD_FILL,
        "align": "center",
        **_WRAP,
    },
    "intro": {**_WRAP, "italic": True},
    "text": {**_WRAP},
    "caution": {
        "bold": True,
        "bg_color": _CAUTION_FILL,
        "left": 5,
        "left_color": "#B45309",
        **_WRAP,
    },
    "band": {"bold": True, "bg_color": _BAND_FILL, **_RULED},
    "band_right": {"bold": True, "bg_color": _BAND_FILL, "align": "right", "indent": 1, **_RULED},
    "label": {**_RULED, **_WRAP},
    "further": {**_RULED, **_WRAP, "indent": 1, "font_color": _QUIET},
    "cell": {**_RULED, **_WRAP},
    "small": {**_RULED, **_SMALL},
    "open_small": {**_RULED, **_SMALL, "locked": False},
    "note": {**_SMALL},
    "unit": {**_RULED, "font_color": _QUIET},
    "entry": {**_BOXED, "align": "right", "indent": 1},
    "entry_text": {**_BOXED, **_WRAP, "num_format": "@"},
    "entry_small": {**_BOXED, **_WRAP, "num_format": "@", "font_size": 8.5},
    "fixed": {"border": 1, "border_color": _LINE, "num_format": "@", **_WRAP},
    "fixed_number": {"border": 1, "border_color": _LINE, "align": "right", "indent": 1},
    "result": {**_RULED, "bold": True, "align": "right", "indent": 1},
    "result_text": {**_RULED, "bold": True, **_WRAP},
    "number": {**_RULED, "align": "right", "indent": 1},
    "count": {**_RULED, "align": "center"},
    "total": {"bold": True, "align": "center", "top": 1, "bottom": 1},
    "verdict": {**_RULED, "bold": True, "align": "center"},
    "matrix": {"border": 1, "border_color": _LINE, "align": "center", "font_size": 9, **_WRAP},
}  # fmt: skip

# The type size of styles that wrap, by which rows find their height.
TYPE_POINTS: Mapping[str, float] = {
    name: float(style.get("font_size", _BASE["font_size"]))
    for name, style in _STYLES.items()
    if style.get("text_wrap")
}

# A verdict is always a word; the fill only helps to find it.
_OUTCOMES: Mapping[Outcome, dict[str, Any]] = {
    Outcome.PASS: {"bg_color": "#DFF0E4", "font_color": "#14532D"},
    Outcome.FAIL: {"bg_color": "#F8D9D4", "font_color": "#7F1D1D"},
    Outcome.INCONCLUSIVE: {"bg_color": "#FBE7C6", "font_color": "#613F00"},
    Outcome.MISSING: {"bg_color": "#ECE7F4", "font_color": "#463566"},
    Outcome.NOT_APPLICABLE: {"font_color": "#6B7780"},
}


class Styles:
    """The formats of one workbook, each made when first asked for and then shared."""

    def __init__(self, workbook: xlsxwriter.Workbook) -> None:
        self._workbook = workbook
        self._made: dict[tuple[str, str], Format] = {}

    def __call__(self, name: str, number_format: str = "") -> Format:
        """Return the format of a style, with a number format if one is given."""
        made = self._made.get((name, number_format))
        if made is None:
            properties = {**_BASE, **_STYLES[name]}
            if number_format:
                properties["num_format"] = number_format
            made = self._made[name, number_format] = self._workbook.add_format(properties)
        return made

    def outcome(self, outcome: Outcome) -> Format:
        """Return the fill and ink laid over a cell that holds this verdict."""
        made = self._made.get(("", outcome))
        if made is None:
            made = self._made["", outcome] = self._workbook.add_format(_OUTCOMES[outcome])
        return made

    def quiet(self) -> Format:
        """Return the ink of a cell that says "n/a"."""
        made = self._made.get(("", "quiet"))
        if made is None:
            made = self._workbook.add_format({"font_color": "#6B7780", "italic": True})
            self._made["", "quiet"] = made
        return made

    def faded(self) -> Format:
        """Return the looks laid over an entry cell that is not asked."""
        made = self._made.get(("", "faded"))
        if made is None:
            made = self._workbook.add_format({"font_color": "#6B7780", "bg_color": "#F1F3F4"})
            self._made["", "faded"] = made
        return made


_TAB_COLOURS = ("#8A6D3B", "#2F7F86", "#7A8FA6")


def tab_colour(owner: int) -> str:
    """Return the colour of a sheet's tab: the project's, and two for units in turn."""
    return _TAB_COLOURS[0] if owner == 0 else _TAB_COLOURS[1 + owner % 2]


def number_format(value: float | None, decimals: int | None) -> str:
    """Return the spreadsheet's number format that shows what `figures.figure` shows."""
    if decimals is None:
        decimals = 3 if value is None else _decimals_for(value)
    return "#,##0" + ("." + "0" * decimals if decimals > 0 else "")


def _decimals_for(value: float) -> int:
    shown = f"{abs(value):.3e}"
    exponent = int(shown.partition("e")[2])
    if value == 0 or (value.is_integer() and abs(value) < 1e6):
        return 0
    return min(max(3 - exponent, 0), 8)


_MOST_PLACES = 5  # readings of one instrument that cancel leave a trace too small to show


def uncertainty_format(expanded: float) -> str:
    """Return the number format that shows two significant figures (GUM 7.2.6)."""
    exponent = int(f"{abs(expanded):.1e}".partition("e")[2])
    places = min(max(1 - exponent, 0), _MOST_PLACES)
    return "#,##0" + ("." + "0" * places if places else "")
