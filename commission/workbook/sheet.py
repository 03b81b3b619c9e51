"""One sheet to write on. Every text goes in as text, every formula with its value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from xlsxwriter.worksheet import Worksheet

from commission.errors import OutputError
from commission.formula.evaluate import State, Value
from commission.formula.excel import NOT_APPLICABLE, OUT_OF_RANGE
from commission.language import spoken
from commission.validation.verdict import Outcome
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import TYPE_POINTS, Styles
from commission.workbook.paper import BOTTOM, LEFT, LETTER, RIGHT, TOP
from commission.workbook.texts import cell_text, header_text, lines_needed
from commission.workbook.words import formula_in_words, in_words

Cached = float | str
_PROTECTION = {
    "format_columns": True,
    "format_rows": True,
    "sort": True,
    "autofilter": True,
    "insert_hyperlinks": False,
}
_NEAR_ONE_PAGE_POINTS = 580.0  # of about 680 on letter paper at the usual scale
# What a spreadsheet would mark as a slip, and is meant: "3" as a choice, an open default limit.
_MEANT = ("number_stored_as_text", "formula_unlocked", "formula_differs", "formula_range")
_WHOLE_SHEET = "A1:XFD1048576"
LONGEST_FORMULA = 8_191
# What stands in these was typed by a person, or is kept for the program: it is left as it is.
TYPED_STYLES = frozenset(
    {"entry", "entry_text", "entry_small", "open_small", "fixed", "fixed_number", "plain_text"}
)
_CHARACTER_POINTS = 10.7  # of column width that an average character of 1 point type takes
_LEAST_POINTS, _MOST_POINTS, _AROUND_POINTS = 19.5, 405.0, 5.0


class Sheet:
    """A worksheet with the styles of its workbook."""

    def __init__(self, name: str, worksheet: Worksheet, styles: Styles) -> None:
        self.name = name
        self.worksheet = worksheet
        self.style = styles
        self.widths: dict[int, float] = {}
        self.paper = LETTER
        self.heights: dict[int, float] = {}
        self._points: dict[int, float] = {}

    def columns(self, widths: Sequence[float]) -> None:
        """Set the widths of the first columns, in characters."""
        for place, width in enumerate(widths):
            self.worksheet.set_column(place, place, width)
            self.widths[place] = width

    def text(self, row: int, column: int, text: str, style: str = "cell") -> None:
        """Write a text; it can never become a formula, a number or a link."""
        if style not in TYPED_STYLES:
            text = in_words(text)
        if text:
            self.worksheet.write_string(row, column, cell_text(text, self.name), self.style(style))
            self.reserve(row, text, self.widths.get(column, 8.0), style)
        else:
            self.worksheet.write_blank(row, column, None, self.style(style))

    def texts(self, row: int, texts: Sequence[str], style: str = "cell") -> None:
        """Write texts side by side from the first column."""
        for column, text in enumerate(texts):
            self.text(row, column, text, style)

    def number(
        self, row: int, column: int, number: float, style: str = "number", shown: str = ""
    ) -> None:
        """Write a number; `shown` is its number format."""
        self.worksheet.write_number(row, column, number, self.style(style, shown))

    def blank(self, row: int, column: int, style: str) -> None:
        """Give an empty cell its looks."""
        self.worksheet.write_blank(row, column, None, self.style(style))

    def formula(
        self, row: int, column: int, formula: str, value: Cached, style: str, shown: str = ""
    ) -> None:
        """Write a formula (without "=") with the value that it has now.

        Raises:
            OutputError: The formula is longer than a spreadsheet takes.
        """
        if len(formula) > LONGEST_FORMULA:
            cell = f"{column_letters(column)}{row + 1}"
            raise OutputError(
                spoken(
                    "Sheet {name}, cell {cell}: a formula of {count:,} characters; a spreadsheet "
                    "takes {longest_formula:,}. In the form file, put its parts into quantities of "
                    "their own.",
                    name=self.name,
                    cell=cell,
                    count=len(formula),
                    longest_formula=LONGEST_FORMULA,
                )
            )
        cached = cell_text(in_words(value), self.name) if isinstance(value, str) else value
        made = self.style(style, shown)
        said = formula_in_words(formula)
        self.worksheet.write_formula(row, column, f"={said}", made, cached)

    def link(self, row: int, column: int, sheet: str, text: str, style: str = "link") -> None:
        """Write a link to the top of another sheet."""
        made = self.style(style)
        self.worksheet.write_url(
            row, column, f"internal:'{sheet}'!A1", made, cell_text(in_words(text))
        )

    def across(self, row: int, first: int, last: int, text: str, style: str) -> None:
        """Write a text over merged columns."""
        text = in_words(text)
        self.merge(row, first, last, style)
        self.worksheet.write_string(row, first, cell_text(text, self.name), self.style(style))
        width = sum(self.widths.get(column, 8.0) for column in range(first, last + 1))
        self.reserve(row, text, width, style)

    def merge(self, row: int, first: int, last: int, style: str) -> None:
        """Merge cells of a row to one."""
        if last > first:
            self.worksheet.merge_range(row, first, row, last, "", self.style(style))

    def reserve(self, row: int, text: str, width: float, style: str) -> None:
        """Note how high a wrapped text makes its row."""
        points = TYPE_POINTS.get(style)
        if points is None or (len(text) < width * 0.9 and "\n" not in text):
            return
        lines = lines_needed(text, width * _CHARACTER_POINTS / points - 2)
        wanted = lines * points * 1.32 + _AROUND_POINTS
        self._points[row] = max(wanted, self._points.get(row, 0.0))

    def fit_rows(self, first: int, last: int) -> None:
        """Make rows as high as their texts need, and no lower than a hand can write in."""
        for row in range(first, last + 1):
            points = max(self._points.get(row, 0.0), _LEAST_POINTS)
            self.heights[row] = min(points, _MOST_POINTS)
            self.worksheet.set_row(row, self.heights[row])

    def height(self, row: int) -> float:
        """Return the height of a row, in points."""
        return self.heights.get(row, _LEAST_POINTS)

    def protect(self) -> None:
        """Lock all but the entry cells, without a password: against slips."""
        self.worksheet.protect("", _PROTECTION)
        self.worksheet.ignore_errors(dict.fromkeys(_MEANT, _WHOLE_SHEET))

    def printed(
        self, *, left: str, right: str, repeat: tuple[int, int] | None, footer: str
    ) -> None:
        """Set the sheet up to print on its paper, one page wide."""
        sheet = self.worksheet
        sheet.set_landscape()
        sheet.set_paper(self.paper.code)
        sheet.set_margins(left=LEFT, right=RIGHT, top=TOP, bottom=BOTTOM)
        sheet.fit_to_pages(1, 0)
        right = header_text(in_words(right))
        sheet.set_header(f"&L&9{_spaced(header_text(left))}&R&9{_spaced(right)}")
        pages = spoken("page {number} of {count}", number="&P", count="&N")
        sheet.set_footer(f"&L&8{_spaced(header_text(footer))}&R&8&A · {pages}")
        # Only where a second printed page is near: each costs a spreadsheet time at opening.
        if repeat is not None and sum(self.heights.values()) > _NEAR_ONE_PAGE_POINTS:
            sheet.repeat_rows(*repeat)

    def outcomes(self, area: tuple[int, int, int, int]) -> None:
        """Lay the verdicts' colours over an area (first row, column, last row, column)."""
        for outcome in Outcome:
            self.worksheet.conditional_format(*area, {
                "type": "cell",
                "criteria": "==",
                "value": f'"{in_words(outcome)}"',
                "format": self.style.outcome(outcome),
            })  # fmt: skip

    def words(self, area: tuple[int, int, int, int], colours: Mapping[str, Outcome]) -> None:
        """Lay a verdict's colour over cells that begin with a word."""
        for word, outcome in colours.items():
            self.worksheet.conditional_format(*area, {
                "type": "text",
                "criteria": "begins with",
                "value": in_words(word),
                "format": self.style.outcome(outcome),
            })  # fmt: skip

    def unasked(self, place: tuple[int, int], working: str) -> None:
        """Let an entry cell fade while its working cell says that it is not asked."""
        rule = {"type": "formula", "criteria": f'={working}="n/a"', "format": self.style.faded()}
        self.worksheet.conditional_format(*place, *place, rule)

    def choices(self, row: int, column: int, options: dict[str, Any]) -> None:
        """Lay a data validation over one cell."""
        self.worksheet.data_validation(row, column, row, column, options)


def _spaced(text: str) -> str:
    """A header's type size is read with the digits behind it, so keep text digits apart."""
    return f" {text}" if text[:1].isdigit() else text


def cached(value: Value) -> Cached:
    """Return what a computed cell holds for a value, as `formula.excel` writes it."""
    if value.state is State.NOT_APPLICABLE:
        return NOT_APPLICABLE
    if value.state is State.FAULT:
        return OUT_OF_RANGE
    if value.state is State.MISSING or value.content is None:
        return ""
    return float(value.content) if not isinstance(value.content, str) else value.content
