"""Files of the archive: written beside their place and put there whole; CSV without formulas."""

from __future__ import annotations

import csv
import re
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from commission.errors import OutputError
from commission.language import ENGLISH, speaking, spoken

Progress = Callable[[int, int, str], None]

# Where a cell can begin: with the text, and, as spreadsheets of many countries part cells at
# another sign than the comma, behind such a sign or a line's end.
_CELL_BEGINS = r"(^|[;|\t\r\n]\"*)"
_FORMULA_BEGINS = re.compile(_CELL_BEGINS + r"(?=[=+\-@\t\r'])")
_KEPT_FROM_FORMULA = re.compile(_CELL_BEGINS + "'")


def silent(done: int, total: int, what: str) -> None:
    """Take a progress report and do nothing."""


@contextmanager
def written_whole(path: Path, what: str, *, newline: str = "\n") -> Iterator[TextIO]:
    """Give a text stream whose file takes its place when all is written, and never before.

    Args:
        what: what it is, in English.
    Raises:
        OutputError: it cannot be written there; a file of that name is untouched.
    """
    beside = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        with beside.open("x", encoding="utf-8", newline=newline) as stream:
            yield stream
        beside.replace(path)
    except OSError as fault:
        raise OutputError(
            spoken(
                "{path}: the {what} cannot be written there ({strerror}). Choose another "
                "folder, close the file if it is open elsewhere, or make room on the disk.",
                path=path,
                what=spoken(what),
                strerror=fault.strerror or fault,
            )
        ) from fault
    finally:
        with suppress(OSError):  # the folder is gone, and the file with it
            beside.unlink(missing_ok=True)


def write_csv(path: Path, what: str, rows: Iterable[Sequence[str | float | bool | None]]) -> None:
    """Write rows as CSV (RFC 4180; UTF-8 with a byte order mark, which spreadsheets need).

    A table for machines is English, also where its rows are made as they are written.
    Where a text could be taken for a formula, whatever sign the spreadsheet parts cells at, it
    gets an apostrophe, and so does an apostrophe there: `plain_text` gives back every text.
    """
    with written_whole(path, what, newline="") as stream, speaking(ENGLISH):
        stream.write("\N{ZERO WIDTH NO-BREAK SPACE}")
        writer = csv.writer(stream)
        writer.writerows([csv_cell(value) for value in row] for row in rows)


def csv_cell(value: str | float | bool | None) -> str:
    """Return a value as a cell of CSV that no spreadsheet takes for a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, str):
        return repr(value)
    return _FORMULA_BEGINS.sub(r"\1'", value)


def plain_text(cell: str) -> str:
    """Return the text that `write_csv` wrote as this cell."""
    return _KEPT_FROM_FORMULA.sub(r"\1", cell)
