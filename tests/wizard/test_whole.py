"""What scrolls by itself lets its bar go where the window round it scrolls, and only there."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractScrollArea
from pytestqt.qtbot import QtBot

from commission.wizard import whole
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, place_of, press
from wizard.tour import settle


def _has_bar(area: QAbstractScrollArea) -> bool:
    bar = area.verticalScrollBar()
    return bar.isVisible() and bar.maximum() > bar.minimum()


def test_list_and_form_are_whole_in_a_small_enlarged_window(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    window = demo_tour("light", 200)
    window.resize(1024, 640)
    workplace = place_of(window)
    workplace.go("deficiencies")
    log = workplace.place("deficiencies")
    press(Qt.Key.Key_Home)
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: _has_bar(workplace.area) and not _has_bar(log.form))  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: not _has_bar(log.list))  # type: ignore[attr-defined]
    form = log.form  # type: ignore[attr-defined]
    first = focused()
    assert form.isAncestorOf(first)
    content = form.widget()
    assert content is not None and form.viewport().height() >= content.height()
    form.refuse("\n".join(["It cannot be kept."] * 5))  # what grows inside makes it higher
    qtbot.waitUntil(lambda: not _has_bar(form) and form.viewport().height() >= content.height())


def test_in_a_window_with_room_each_scrolls_by_itself(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    window = demo_tour("light", 200)
    window.resize(1024, 640)
    workplace = place_of(window)
    board = workplace.board
    workplace.go("board")
    board.model.settle()
    qtbot.waitUntil(lambda: _has_bar(workplace.area) and not _has_bar(board.table))
    window.preferences.percent = 100
    window._look_changed()
    window.resize(1024, 640)
    workplace = place_of(window)
    board = workplace.board
    workplace.go("board")
    board.model.settle()
    settle()
    qtbot.waitUntil(lambda: _has_bar(board.table) and not _has_bar(workplace.area))


def test_wide_again_a_list_gives_its_height_back(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    window = demo_tour("light", 150)
    window.resize(1024, 640)
    workplace = place_of(window)
    workplace.go("people")
    shown = workplace.place("people").instrument_list  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: _has_bar(workplace.area) and not _has_bar(shown))
    window.resize(1920, 1080)
    qtbot.waitUntil(lambda: _has_bar(shown) and not _has_bar(workplace.area))


def test_a_very_long_list_keeps_its_bar(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(whole, "_MOST", 400)
    window = demo_tour("light", 200)
    window.resize(1024, 640)
    workplace = place_of(window)
    workplace.go("people")
    shown = workplace.place("people").instrument_list  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: _has_bar(workplace.area) and _has_bar(shown))
