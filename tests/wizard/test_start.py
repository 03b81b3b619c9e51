"""What is loaded before the first window, the shipped form in the window, and the pictures."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.language import ENGLISH, choose_language
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder, icons_folder
from commission.validation.results import SectionState
from commission.wizard import slices
from commission.wizard.icon import pixmap
from commission.wizard.pictures import grab_pictures
from commission.wizard.states import sign_of_state

HEAVY = ("CoolProp", "xlsxwriter", "openpyxl", "reportlab", "pikepdf", "PIL", "pydantic")
ROOT = Path(__file__).resolve().parent.parent.parent


def test_nothing_heavy_is_loaded_before_the_first_window() -> None:
    code = (
        "import sys\n"
        "from commission.wizard.application import run\n"
        "assert run(exit_when_shown=True) == 0\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=os.environ | {"QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.strip() == "[]"


@pytest.fixture(scope="module")
def demo_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo_site.rtuproject"
    project_from_scenario(demo_units_folder(), path, load_form()).close()
    return path


@pytest.mark.parametrize("code", [ENGLISH, "es"])
def test_pictures_are_taken_and_the_project_is_left_as_it_was(
    qtbot: QtBot, demo_path: Path, tmp_path: Path, code: str
) -> None:
    from commission.project import ProjectFile

    def revision() -> int:
        with ProjectFile.open(demo_path, read_only=True) as project:
            return project.revision

    before = revision()
    try:
        paths = grab_pictures(demo_path, tmp_path / "pictures", code)
    finally:
        choose_language(ENGLISH)
    assert [path.name for path in paths] == [
        "start_screen.png",
        "board.png",
        "electrical_page.png",
        "cooling_table.png",
        "stop.png",
    ]
    for path in paths:
        picture = QImage(str(path))
        assert picture.width() >= 1280
        colours = {picture.pixel(x, y) for x in range(0, 1280, 7) for y in range(0, 800, 7)}
        assert len(colours) > 10
    assert revision() == before


def test_every_page_of_every_demo_unit_opens_and_fits(
    qtbot: QtBot, demo_path: Path, make_window
) -> None:
    window = make_window(load=load_form)
    window.open_project(demo_path)
    workplace = window.workplace
    assert workplace is not None
    opened = 0
    units = ["", *(unit.id for unit in workplace.document.units())]
    for unit_id in (units[0], units[1], units[-1]):
        for section in workplace.document.results(unit_id).sections():
            workplace.open_page(unit_id, section.name)
            page = workplace.pages.page
            assert page is not None
            page.complete()
            QApplication.processEvents()
            needed = page.content.minimumSizeHint().width()
            assert needed <= page.viewport().width(), f"{section.name} is too wide"
            opened += 1
    assert opened > 30


def test_demo_site_opens_from_the_start_screen(qtbot: QtBot, make_window, own_folder: Path) -> None:
    window = make_window(load=load_form)
    assert window.start is not None
    window.start.demo_button.click()
    qtbot.waitUntil(lambda: window.workplace is not None, timeout=20_000)
    assert (own_folder / "demo_site.rtuproject").exists()
    assert len(window.workplace.document.units()) >= 5


def test_icons_of_states_are_there_and_differ_in_shape(qtbot: QtBot) -> None:
    shapes = set()
    for state in SectionState:
        sign = sign_of_state(state)
        assert sign.word
        picture = pixmap(sign.icon, "#000000", 32).toImage()
        dots = tuple(picture.pixelColor(x, y).alpha() for x in range(32) for y in range(32))
        assert any(dots), f"{sign.icon} draws nothing"
        shapes.add((sign.icon, dots))
    icons = {sign_of_state(state).icon for state in SectionState}
    assert len(shapes) == len(icons)
    words = [sign_of_state(state).word for state in SectionState]
    assert len(set(words)) == len(words)


SHORT = {"new", "open", "demo", "add", "undo", "redo", "back", "next", "warning", "program"}


def test_icons_of_actions_are_shipped() -> None:
    shipped = {path.stem for path in icons_folder().glob("*.svg")}
    assert shipped >= SHORT | {"save_workbook", "save_package"}


def test_a_project_that_is_opened_soon_opens_between_rounds_of_the_loop(
    qtbot: QtBot, make_window, project_path: Path
) -> None:
    window = make_window()
    window.begin_soon(project_path)
    assert window.workplace is None  # the window answers first
    qtbot.waitUntil(lambda: window.workplace is not None, timeout=20_000)
    assert window.workplace.place_at_hand() == "board"
    assert QApplication.overrideCursor() is None


def test_a_project_half_opened_is_given_free_when_the_window_closes(
    qtbot: QtBot, make_window, project_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(slices, "_TURN_S", -1.0)  # one piece a turn
    window = make_window()
    window.open_soon(project_path)
    for _ in range(2):  # the form, the file
        window._opening.turn()
    assert window.workplace is None
    window.close()
    with ProjectFile.open(project_path) as project:
        assert not project.read_only
    assert QApplication.overrideCursor() is None
