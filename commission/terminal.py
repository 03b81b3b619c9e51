"""What the command line draws: tables, and progress that is a bar only on a terminal."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Sequence
from typing import TextIO

_BAR = 24


class ProgressLine:
    """A progress callback `(done, total, what)`: one moving line, or a plain line at the end."""

    def __init__(self, title: str, stream: TextIO | None = None) -> None:
        self.title = title
        self.stream = stream or sys.stderr
        self.moving = self.stream.isatty()

    def __call__(self, done: int, total: int, what: str) -> None:
        """Show that `done` of `total` steps are done, and which is at hand."""
        if not self.moving:
            return
        filled = _BAR * done // max(total, 1)
        bar = "█" * filled + "░" * (_BAR - filled)
        width = shutil.get_terminal_size().columns - 1
        line = f"{self.title} {bar} {done}/{total} {what}"
        self.stream.write("\r" + line[:width].ljust(width))
        self.stream.flush()

    def finish(self, sentence: str) -> None:
        """End the moving line and say what was made."""
        if self.moving:
            self.stream.write("\r" + " " * (shutil.get_terminal_size().columns - 1) + "\r")
        self.stream.write(sentence + "\n")
        self.stream.flush()


def table(
    header: Sequence[str], rows: Sequence[Sequence[str]], wide: int, width: int | None = None
) -> str:
    """Return rows under a header, columns aligned; column `wide` wraps to fit the terminal."""
    width = width or max(shutil.get_terminal_size((120, 24)).columns, 80)
    sizes = [max(len(row[place]) for row in (header, *rows)) for place in range(len(header))]
    others = sum(size for place, size in enumerate(sizes) if place != wide) + 2 * len(header)
    sizes[wide] = max(min(sizes[wide], width - others), 24)
    lines = [_row(header, sizes, wide), _row(["─" * size for size in sizes], sizes, wide)]
    return "\n".join(lines + [_row(row, sizes, wide) for row in rows])


def _row(cells: Sequence[str], sizes: Sequence[int], wide: int) -> str:
    wrapped = textwrap.wrap(cells[wide], sizes[wide]) or [""]
    lines = []
    for number, part in enumerate(wrapped):
        shown = [
            part if place == wide else cell * (number == 0) for place, cell in enumerate(cells)
        ]
        lines.append("  ".join(cell.ljust(size) for cell, size in zip(shown, sizes, strict=True)))
    return "\n".join(line.rstrip() for line in lines)


def listed(heading: str, rows: Sequence[tuple[str, str, str]], width: int | None = None) -> str:
    """Return a heading and, below it, rows of a word, a label and a sentence that wraps."""
    width = min(width or max(shutil.get_terminal_size((100, 24)).columns, 80), 120)
    indent = 16
    lines = [heading]
    for word, label, sentence in rows:
        lines.append(f"  {word:{indent - 3}} {label}")
        lines += textwrap.wrap(
            sentence, width, initial_indent=" " * indent, subsequent_indent=" " * indent
        )
    return "\n".join([*lines, ""])
