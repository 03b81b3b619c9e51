"""Pictures of the real window, for the README and the manual."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Section
from commission.language import ENGLISH
from commission.validation.results import SectionState, UnitResults
from commission.wizard.application import prepared_application
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow
from commission.wizard.workplace import Workplace

_WIDTH, _HEIGHT = 1280, 800
_SETTLING_SECONDS = 0.15


def grab_pictures(project_path: Path, folder: Path, code: str = ENGLISH) -> list[Path]:
    """Open the window on a project and save PNG pictures of it; return their paths.

    They are the start screen, the board, an electrical page with verdicts, a table of cooling
    readings, and a page that a stop closes (or on which one stands). The project file is not
    written to, and the person's preferences are neither read nor changed.

    Args:
        code: the language of the window.
    Raises:
        OSError: The folder cannot be written to.
    """
    application = prepared_application()
    folder.mkdir(parents=True, exist_ok=True)
    window = MainWindow(preferences=_Forgetful(recent=[str(project_path)], language=code))
    window.resize(_WIDTH, _HEIGHT)
    window.show()
    try:
        return list(_pictures(window, application, project_path, folder))
    finally:
        window.close()
        window.deleteLater()
        application.sendPostedEvents(None, QEvent.Type.DeferredDelete)


class _Forgetful(Preferences):
    """Preferences that are not kept."""

    def save(self) -> None:
        """Keep nothing."""


def _pictures(
    window: MainWindow, application: QApplication, path: Path, folder: Path
) -> Iterator[Path]:
    yield _grab(window, application, folder / "start_screen.png")
    window.open_project(path)
    workplace = window.workplace
    if workplace is None:
        return
    workplace.board.model.settle()
    yield _grab(window, application, folder / "board.png")
    pages = {
        "electrical_page.png": _most_judged(workplace, "electrical"),
        "cooling_table.png": _most_judged(workplace, "cooling"),
        "stop.png": _stopped(workplace),
    }
    for name, found in pages.items():
        if found is not None:
            unit_id, section = found
            workplace.open_page(unit_id, section.name)
            workplace.pages.settle()
            _to_top(workplace)
            yield _grab(window, application, folder / name)


def _grab(window: MainWindow, application: QApplication, path: Path) -> Path:
    until = time.monotonic() + _SETTLING_SECONDS
    while time.monotonic() < until:
        application.processEvents()
    if not window.grab().save(str(path)):
        raise OSError(f"{path}: the picture could not be written.")
    return path


def _to_top(workplace: Workplace) -> None:
    page = workplace.pages.page
    if page is not None:
        page.focus_top()


def _all_pages(workplace: Workplace) -> Iterator[tuple[UnitResults, Section]]:
    document = workplace.document
    for unit in document.units():
        results = document.results(unit.id)
        for section in results.sections():
            yield results, section


def _most_judged(workplace: Workplace, stage: str) -> tuple[str, Section] | None:
    """Return the page of a stage (by its English name) with the largest table of mixed verdicts."""
    english = workplace.document.original_form
    found = [
        (len({v.outcome for v in judged}), sum(bool(v.index) for v in judged), -place, page)
        for place, page in enumerate(_all_pages(workplace))
        if english.section_by_name[page[1].name].stage.casefold() == stage
        for judged in [list(page[0].verdicts(page[1]))]
    ]
    best = max(found, key=lambda one: (one[0] > 1, one[1], one[0], one[2]), default=None)
    return (best[3][0].unit_id, best[3][1]) if best is not None else None


def _stopped(workplace: Workplace) -> tuple[str, Section] | None:
    for wanted in (SectionState.BLOCKED, SectionState.STOPPED):
        for results, section in _all_pages(workplace):
            if results.state(section) is wanted:
                return results.unit_id, section
    return None
