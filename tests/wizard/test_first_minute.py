"""The first minute: from the start screen to a first verdict, by Enter and letters alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.validation.verdict import Outcome
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of
from wizard.typist import Keyboard

ENTER = Qt.Key.Key_Return


@pytest.fixture
def started(
    make_window: Callable[..., MainWindow], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> MainWindow:
    """A window just begun, of a person whose projects go into a folder of the test's own."""
    monkeypatch.setattr("commission.wizard.start_screen.projects_folder", lambda: tmp_path)
    window = make_window(None, load_form)
    window.begin()
    return window


def test_from_nothing_to_a_first_verdict(started: MainWindow, qtbot: QtBot) -> None:
    keys = Keyboard()
    keys.press(ENTER)  # "New project" has the focus
    keys.type("Gate house")
    keys.press(ENTER)  # nothing but its title must be said
    place = place_of(started)
    keys.press(ENTER)  # "Add a unit" has the focus
    keys.type("RTU-1")
    keys.press(ENTER)
    place.board.model.settle()
    keys.press(ENTER)  # the new unit's first page
    page = place.page_at_hand()
    assert page is not None and page.section.name == "configuration"
    place.go("board")
    place.board.model.settle()
    keys.press(Qt.Key.Key_Right)  # before power
    keys.press(ENTER)
    page = place.page_at_hand()
    assert page is not None
    while not page.body.isEnabled():  # "Go there" leads to what comes first
        keys.press(ENTER)
        page = place.page_at_hand()
        assert page is not None
    assert page.section.name == "prestart_safety"
    assert place.strip.words.text().startswith("Keys: D: done, N: not done, A: n/a")
    keys.type("n")
    unit = place.document.units()[0]
    verdict = place.document.results(unit.id).verdict("fall_protection_in_place_done")
    assert verdict.outcome is Outcome.FAIL and verdict.stops
    assert keys.pressed < 40
    qtbot.waitUntil(page.banner.isVisible)  # and it is said on the page


def test_enter_alone_goes_from_page_to_page(started: MainWindow) -> None:
    keys = Keyboard()
    for text in ("", "Gate house", "", "RTU-1"):
        keys.type(text)
        keys.press(ENTER)
    place = place_of(started)
    unit = place.document.units()[0]
    place.open_page(unit.id, "prestart_safety")
    page = place.page_at_hand()
    assert page is not None
    asked = page.document.results(unit.id).progress(page.section).asked
    page.verticalScrollBar().setValue(200)
    keys.type("d" * asked)
    assert keys.focused() is place.pages.next
    keys.press(ENTER)
    page = place.page_at_hand()
    assert page is not None and page.section.name == "prestart_mechanical"
    assert page.body.isEnabled()  # nothing closes it any more
    QApplication.processEvents()
    assert page.verticalScrollBar().value() == 0  # its cautions are seen first


def test_enter_presses_the_button_at_hand_once(started: MainWindow) -> None:
    keys = Keyboard()
    assert started.start is not None
    keys.tab()
    button = keys.focused()
    assert isinstance(button, QPushButton) and button is started.start.open_button
    pressed = []
    button.clicked.disconnect()
    button.clicked.connect(lambda: pressed.append(1))
    keys.press(ENTER)
    keys.press(Qt.Key.Key_Space)
    keys.press(ENTER, Qt.KeyboardModifier.ControlModifier)  # that keeps a form; it presses nothing
    assert pressed == [1, 1]
