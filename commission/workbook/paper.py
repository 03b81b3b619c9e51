"""The paper a workbook is printed on, and how much of a sheet one page of it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from commission.errors import OutputError
from commission.language import spoken

LEFT, RIGHT, TOP, BOTTOM = 0.4, 0.4, 0.65, 0.6  # margins in inches
_POINTS_PER_INCH = 72.0
# Of the narrowest face in use: with a wider one columns are wider, the scale that fits them to
# the page is smaller, and a page holds more rows than counted on, never fewer.
_PIXELS_PER_CHARACTER, _PIXELS_AROUND, _POINTS_PER_PIXEL = 7.0, 5.0, 0.75
_SPARE = 0.97  # printers and programs measure a little differently
_LEAST_PERCENT, _MOST_PERCENT = 40, 100


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, used in landscape; `code` is its number in spreadsheet files."""

    name: str
    code: int
    width_in: float
    height_in: float

    def percent_for(self, widths: Mapping[int, float]) -> int:
        """Return about the print scale at which columns of these widths fit the page's width."""
        pixels = sum(width * _PIXELS_PER_CHARACTER + _PIXELS_AROUND for width in widths.values())
        room = (self.width_in - LEFT - RIGHT) * _POINTS_PER_INCH
        percent = int(100 * room / max(pixels * _POINTS_PER_PIXEL, 1.0))
        return max(min(percent, _MOST_PERCENT), _LEAST_PERCENT)

    def points_for(self, percent: int) -> float:
        """Return how many points of row height one page holds at a print scale."""
        room = (self.height_in - TOP - BOTTOM) * _POINTS_PER_INCH * _SPARE
        return room * 100 / percent


LETTER = Paper("letter", 1, 11.0, 8.5)
A4 = Paper("A4", 9, 11.69, 8.27)
PAPERS: Mapping[str, Paper] = {"letter": LETTER, "a4": A4}


def paper_of(name: str, unit_system: str) -> Paper:
    """Return a paper by its name; "" is that of the place: letter with IP units, A4 with SI.

    Raises:
        OutputError: No such paper.
    """
    if not name:
        return A4 if unit_system == "SI" else LETTER
    found = PAPERS.get(name.strip().casefold())
    if found is None:
        raise OutputError(
            spoken(
                "'{name}' is no paper known here. Choose {papers}.",
                name=name,
                papers=" or ".join(PAPERS),
            )
        )
    return found
