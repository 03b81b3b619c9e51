"""A package read back by programs that did not write it: poppler's, qpdf, pikepdf."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pikepdf

PAGE_END = "\f"


def tool(*words: str | Path) -> str:
    """Run a program; return what it prints, or fail with what it complains of."""
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def page_texts(path: Path) -> list[str]:
    """Return the text of each page, laid out as it stands (poppler's pdftotext)."""
    return tool("pdftotext", "-layout", path, "-").split(PAGE_END)[:-1]


def told_by(path: Path) -> list[str]:
    """Return the text of each page in the order set, a cell at a time, without white space."""
    return [run_together(text) for text in tool("pdftotext", "-raw", path, "-").split(PAGE_END)]


def row_of(texts: list[str], opening: str) -> str:
    """Return the first line of a table that begins with these words and holds more."""
    for text in texts:
        for line in text.splitlines():
            if line.strip().startswith(f"{opening}  "):
                return line
    raise AssertionError(f"no row '{opening}'")


def run_together(text: str) -> str:
    """Return text without any white space, since a cell may be broken over lines."""
    return re.sub(r"\s+", "", text)


def outline(path: Path) -> list[tuple[int, str, int]]:
    """Return the outline as (depth, title, page from 1)."""
    with pikepdf.open(path) as pdf:
        numbers = {page.objgen: number for number, page in enumerate(pdf.pages, 1)}
        with pdf.open_outline() as opened:
            return list(_walk(opened.root, 0, numbers))


def _walk(
    items: list[pikepdf.OutlineItem], depth: int, numbers: dict[tuple[int, int], int]
) -> Iterator[tuple[int, str, int]]:
    for item in items:
        yield depth, item.title, numbers[item.destination[0].objgen]
        yield from _walk(item.children, depth + 1, numbers)


def link_targets(pdf: pikepdf.Pdf) -> list[pikepdf.Array]:
    """Return the destinations of all links of all pages: page, kind of view, place."""
    return [
        annotation.Dest if "/Dest" in annotation else annotation.A.D
        for page in pdf.pages
        for annotation in page.get("/Annots", [])
        if annotation.Subtype == "/Link"
    ]
