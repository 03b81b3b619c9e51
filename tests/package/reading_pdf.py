"""A package read back by programs that did not write it: poppler's, qpdf, pikepdf."""

from __future__ import annotations

import re
import subprocess
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
        places = destinations(pdf)
        numbers = {page.objgen: number for number, page in enumerate(pdf.pages, 1)}
        with pdf.open_outline() as opened:
            return list(_walk(opened.root, 0, places, numbers))


def _walk(items, depth, places, numbers):
    for item in items:
        target = item.destination
        array = places[str(target)] if not isinstance(target, pikepdf.Array) else target
        yield depth, item.title, numbers[array[0].objgen]
        yield from _walk(item.children, depth + 1, places, numbers)


def destinations(pdf: pikepdf.Pdf) -> dict[str, pikepdf.Array]:
    """Return the named destinations, whether kept as a dictionary or as a name tree."""
    found = {}
    if "/Dests" in pdf.Root:
        for name, value in pdf.Root.Dests.items():
            found[str(name)] = value.D if isinstance(value, pikepdf.Dictionary) else value
    if "/Names" in pdf.Root and "/Dests" in pdf.Root.Names:
        for name, value in pikepdf.NameTree(pdf.Root.Names.Dests).items():
            found[name] = value.D if isinstance(value, pikepdf.Dictionary) else value
    return found


def link_targets(pdf: pikepdf.Pdf) -> list[str]:
    """Return the destination names of all links of all pages."""
    return [
        str(annotation.get("/Dest", annotation.get("/A", pikepdf.Dictionary()).get("/D")))
        for page in pdf.pages
        for annotation in page.get("/Annots", [])
    ]
