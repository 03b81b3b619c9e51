"""Nothing is cut off: every place and page at three sizes, appearances, scales and languages.

The suite takes a part of the looks; `COMMISSION_OVERFLOW=all` takes all of them, and
`COMMISSION_LOOKS=FOLDER` keeps a picture of each, to be looked at.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from commission.language import choose_language, languages
from commission.wizard.appearance import PALETTES
from commission.wizard.header import PLACES
from commission.wizard.parts import label
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of
from wizard.overflow import overflows
from wizard.tour import at_rest, everywhere, settle

SIZES = ((1024, 640), (1280, 800), (1920, 1080))
PERCENTS = (100, 150, 200, 250)
# Palette, size in percent, language, the sizes of the window, and which pages (none: all).
Look = tuple[str, int, str, tuple[tuple[int, int], ...], tuple[str, ...]]
SMALL, MIDDLE, LARGE = ((size,) for size in SIZES)
FEW = ("prestart_safety", "electrical_supply", "cooling_circuits")
PART: tuple[Look, ...] = (
    ("light", 100, "en", SMALL + LARGE, ()),
    ("bright sun", 250, "es", SMALL, ("nameplate", "superheat_chart", "gas_heat", *FEW)),
    ("dark", 150, "es", SMALL, FEW),
    ("light", 200, "en", MIDDLE, FEW),
)
WHOLE: tuple[Look, ...] = tuple(
    (palette, percent, code, SIZES, ())
    for palette in PALETTES
    for percent in PERCENTS
    for code in languages()
)
LOOKS = WHOLE if os.environ.get("COMMISSION_OVERFLOW") == "all" else PART


@pytest.fixture(autouse=True)
def speaking_english_again() -> Iterator[None]:
    yield
    choose_language("en")


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: "-".join(map(str, look[:3])))
def test_nothing_is_cut_off(look: Look, demo_tour: Callable[..., MainWindow]) -> None:
    palette, percent, code, sizes, only = look
    window = demo_tour(palette, percent, code)
    found: dict[str, None] = {}
    for name, shown in everywhere(window, only):
        for size in sizes:
            window.resize(*size)
            settle()
            if (window.width(), window.height()) != size:
                found[f"{name}: the window is {window.size().toTuple()}, not {size}"] = None
            _keep_picture(window, look, name, size)
            found |= {
                f"{name} at {size[0]} x {size[1]}: {one}": None
                for one in at_rest(lambda shown=shown: list(overflows(shown)))
            }
    assert not found, f"{len(found)} faults\n" + "\n".join(found)


def _keep_picture(window: MainWindow, look: Look, name: str, size: tuple[int, int]) -> None:
    """Save what is shown, to be looked at, where COMMISSION_LOOKS names a folder."""
    folder = os.environ.get("COMMISSION_LOOKS")
    if folder:
        place = Path(folder) / "-".join(map(str, look[:3]))
        place.mkdir(parents=True, exist_ok=True)
        window.grab().save(str(place / f"{name.replace(' ', '_')}-{size[0]}.png"))


def test_the_window_scrolls_only_where_it_is_too_low(
    make_window: Callable[..., MainWindow], project_path: Path, qtbot: QtBot
) -> None:
    """At 100 % never; enlarged in a small window by the bar, and to whatever has the focus."""
    window = make_window()
    window.open_project(project_path)
    for place in PLACES:
        place_of(window).go(place[0])
        settle()
        assert not place_of(window).area.verticalScrollBar().isVisible(), place[0]
    window.preferences.percent = 250
    window._look_changed()
    workplace = place_of(window)
    workplace.go("board")
    settle()
    area = workplace.area
    assert area.verticalScrollBar().isVisible()
    assert area.widget().width() == area.viewport().width()
    for asked in (workplace.board.table, workplace.header.menu):
        asked.setFocus()

        def is_in_view(asked: QWidget = asked) -> bool:
            return -2 <= asked.mapTo(area.viewport(), QPoint()).y() < area.viewport().height()

        qtbot.waitUntil(is_in_view)


def test_the_places_are_a_list_where_there_is_little_room(
    make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    window = make_window()
    window.preferences.percent = 250
    window._look_changed()
    window.open_project(project_path)
    header = place_of(window).header
    settle()
    assert header.menu.isVisible() and not any(one.isVisible() for one in header.places.values())
    header.menu.setCurrentIndex(header.menu.findData("export"))
    header.menu.activated.emit(header.menu.currentIndex())
    assert place_of(window).stack.currentWidget() is place_of(window).place("export")
    assert header.menu.currentData() == "export"
    workplace = place_of(window)
    workplace.open_page(workplace.document.units()[0].id, "volts")
    settle()
    pages = workplace.pages
    assert not pages.navigation.isVisible() and pages.stack.isVisible()
    pages.list_button.click()
    settle()
    assert pages.navigation.isVisible() and not pages.stack.isVisible()
    assert window.focusWidget() is pages.navigation.search
    QTest.keyClicks(pages.navigation.search, "set-up")
    QTest.keyClick(pages.navigation.search, Qt.Key.Key_Return)
    settle()
    assert pages.page is not None and pages.page.section.name == "setup"
    assert pages.stack.isVisible() and not pages.navigation.isVisible()


def test_the_detector_finds_what_is_cut_off(qtbot: QtBot, tmp_path: Path) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    line = QHBoxLayout(window)
    plain, wrapped, pushed = (
        QLabel("a long word of many letters"),
        label("many words here"),
        QPushButton("Press me here"),
    )
    for widget in (plain, wrapped, pushed):
        line.addWidget(widget)
    area = QScrollArea()
    wide = QWidget()
    wide.setFixedSize(900, 20)
    area.setWidget(wide)
    line.addWidget(area)
    window.resize(1600, 200)
    window.show()
    settle()
    assert [
        one for one in overflows(window) if "QScrollArea" not in one and "wider" not in one
    ] == []
    plain.setFixedWidth(40)
    wrapped.setFixedSize(60, 10)
    pushed.setFixedWidth(50)
    area.setFixedWidth(200)
    settle()
    said = list(overflows(window))
    for kind in ("a long word", "many words", "Press me", "QScrollArea"):
        assert any(kind in one for one in said), (kind, said)
    inner, tall = QScrollArea(), QWidget()
    tall.setFixedSize(50, 900)
    inner.setWidget(tall)
    inner.setFixedSize(150, 300)
    outer = QScrollArea(window)
    outer.setWidget(inner)
    outer.setGeometry(0, 0, 200, 100)
    outer.show()
    settle()
    assert any("which scrolls as well" in one for one in overflows(window))
    stray = QWidget(window)
    stray.setGeometry(window.width() - 10, 0, 60, 20)
    stray.show()
    assert any("outside what holds it" in one for one in overflows(window))
