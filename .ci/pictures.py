#!/usr/bin/env python3
"""Make the README's pictures from the demo site: the real window, workbook and package.

    .venv/bin/python .ci/pictures.py      (needs what `.ci/start.py test` installs)

The window is grabbed under Xvfb where there is no display. Look at the pictures before you
commit them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "demo_units" / "pictures"
SHEET = "RTU-2 Gas heat stages"
PACKAGE_PAGE = ("RTU-4", "Voltage imbalance, full load", "Findings")


def main() -> None:
    """Make every picture."""
    if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        screen = "-screen 0 1600x1200x24"
        os.execvp("xvfb-run", ["xvfb-run", "-a", "-s", screen, sys.executable, __file__])
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        subprocess.run([sys.executable, "-m", "commission", "demo", folder], check=True)
        window_pictures(place)
        package_picture(place)
        workbook_picture(place)
    for picture in sorted(PICTURES.glob("*.png")):
        print(picture.relative_to(ROOT), f"{picture.stat().st_size:,} bytes")


def window_pictures(place: Path) -> None:
    """Grab the window: the board, a table of readings, a page that a stop closes."""
    from commission.wizard.pictures import grab_pictures

    for picture in grab_pictures(place / "demo_site.rtuproject", place / "window"):
        if picture.stem in ("board", "cooling_table", "stop"):
            shutil.copy(picture, PICTURES / picture.name)


def package_picture(place: Path) -> None:
    """Turn the last page of the package that holds all of PACKAGE_PAGE into a picture."""
    package = place / "demo_site.pdf"
    _page(package, _pages_with(package, PACKAGE_PAGE)[-1], PICTURES / "package.png", 90)
    _page(package, 1, PICTURES / "package_cover.png", 60)


def _pages_with(pdf: Path, words: tuple[str, ...]) -> list[int]:
    """Return the numbers of the pages that hold all the words."""
    text = subprocess.run(
        ["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True
    ).stdout
    pages = text.split("\f")
    return [n for n, page in enumerate(pages, 1) if all(word in page for word in words)]


def workbook_picture(place: Path) -> None:
    """Print one sheet of the workbook by LibreOffice and turn its first page into a picture."""
    import openpyxl

    book = openpyxl.load_workbook(place / "demo_site.xlsx")
    for sheet in book.worksheets:
        if sheet.title != SHEET:
            sheet.sheet_state = "hidden"
    book.active = book.sheetnames.index(SHEET)
    alone = place / "one_sheet.xlsx"
    book.save(alone)
    profile = f"-env:UserInstallation={(place / 'office').as_uri()}"
    subprocess.run(
        ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", place, alone],
        check=True, capture_output=True,
    )  # fmt: skip
    # A hidden sheet that has a print area is printed too; the footer names each page's sheet.
    printed = place / "one_sheet.pdf"
    _page(printed, _pages_with(printed, (SHEET,))[0], PICTURES / "workbook.png", 90)


def _page(pdf: Path, number: int, picture: Path, dots: int) -> None:
    page = ["-f", str(number), "-l", str(number), "-singlefile"]
    command = ["pdftoppm", "-png", "-r", str(dots), *page, pdf, picture.with_suffix("")]
    subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
