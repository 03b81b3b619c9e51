"""Questions to the desktop, each a function that a test replaces by its own.

Nothing else in the window opens a modal box: what can be said in place is said in place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QStandardPaths, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QWidget

from commission.language import spoken, to_say

PROJECT_FILTER = to_say("Project files (*.rtuproject)")
LOG_FILTER = to_say("Trend logs (*.csv *.tsv *.txt *.log *.dat);;All files (*)")
BOOK_FILTER = to_say("Workbooks (*.xlsx *.ods)")
SCHEDULE_FILTER = to_say("Schedules (*.csv *.tsv *.txt *.xlsx *.ods)")
LIMITS_BOOK_FILTER = to_say("Limits books (*.limits.json *.json)")
PHOTO_FILTER = to_say("Pictures (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.bmp *.gif)")


def choose_to_open(parent: QWidget, folder: Path) -> Path | None:
    """Ask for a project file that is there."""
    name, _ = QFileDialog.getOpenFileName(
        parent, spoken("Open a project"), str(folder), spoken(PROJECT_FILTER)
    )
    return Path(name) if name else None


def choose_to_save(parent: QWidget, proposed: Path, kinds: str) -> Path | None:
    """Ask where to put a new file."""
    name, _ = QFileDialog.getSaveFileName(
        parent, spoken("Where to put it"), str(proposed), spoken(kinds)
    )
    return Path(name) if name else None


def choose_photos(parent: QWidget) -> list[Path]:
    """Ask for pictures."""
    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.PicturesLocation)
    names, _ = QFileDialog.getOpenFileNames(
        parent, spoken("Add photos"), folder, spoken(PHOTO_FILTER)
    )
    return [Path(name) for name in names]


def choose_log(parent: QWidget) -> Path | None:
    """Ask for a logger's file."""
    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    name, _ = QFileDialog.getOpenFileName(
        parent, spoken("Read a trend log"), folder, spoken(LOG_FILTER)
    )
    return Path(name) if name else None


def choose_workbook(parent: QWidget) -> Path | None:
    """Ask for a workbook that came back."""
    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    name, _ = QFileDialog.getOpenFileName(
        parent, spoken("Bring a workbook home"), folder, spoken(BOOK_FILTER)
    )
    return Path(name) if name else None


def choose_limits_book(parent: QWidget) -> Path | None:
    """Ask for another person's limits book."""
    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    name, _ = QFileDialog.getOpenFileName(
        parent, spoken("Take in a limits book"), folder, spoken(LIMITS_BOOK_FILTER)
    )
    return Path(name) if name else None


def choose_schedule(parent: QWidget) -> Path | None:
    """Ask for an equipment schedule."""
    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    name, _ = QFileDialog.getOpenFileName(
        parent, spoken("Units from a schedule"), folder, spoken(SCHEDULE_FILTER)
    )
    return Path(name) if name else None


def open_outside(path: Path) -> bool:
    """Open a file with the program that the desktop has for it."""
    return QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))


@dataclass(frozen=True, slots=True)
class Dialogs:
    """The questions a window may ask."""

    choose_to_open: Callable[[QWidget, Path], Path | None] = choose_to_open
    choose_to_save: Callable[[QWidget, Path, str], Path | None] = choose_to_save
    open_outside: Callable[[Path], bool] = open_outside
    choose_photos: Callable[[QWidget], list[Path]] = choose_photos
    choose_log: Callable[[QWidget], Path | None] = choose_log
    choose_workbook: Callable[[QWidget], Path | None] = choose_workbook
    choose_schedule: Callable[[QWidget], Path | None] = choose_schedule
    choose_limits_book: Callable[[QWidget], Path | None] = choose_limits_book
