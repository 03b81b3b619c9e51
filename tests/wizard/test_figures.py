"""Figures in the window, at their page, by the keys of a person."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.drawing.shapes import Drawing
from commission.drawing.unit_calls import IDLE, CallKind
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.wizard.application import prepared_application
from commission.wizard.figures import FigureView
from commission.wizard.page import SectionPage
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, focused, grid, open_page, place_of, press, type_text


@pytest.fixture(scope="module")
def demo_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("figures") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, load_form()).close()
    return path


@pytest.fixture
def demo_window(qtbot: QtBot, demo_path: Path, tmp_path: Path) -> Iterator[MainWindow]:
    prepared_application()
    own = tmp_path / "own.rtuproject"
    own.write_bytes(demo_path.read_bytes())
    window = MainWindow(None, Preferences.load())
    qtbot.addWidget(window)
    window.resize(1024, 640)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    window.open_project(own)
    yield window
    window.close()


def _views(qtbot: QtBot, page: SectionPage) -> list[FigureView]:
    qtbot.waitUntil(lambda: bool(page.figures.views), timeout=5000)
    return page.figures.views


def test_a_page_shows_its_figures_below_its_entries(demo_window: MainWindow, qtbot: QtBot) -> None:
    page = open_page(demo_window, "cooling_circuits")
    views = _views(qtbot, page)
    assert [view.title.text() for view in views] == [
        "Pressure-enthalpy sketch, Circuit 1",
        "Pressure-enthalpy sketch, Circuit 2",
    ]
    qtbot.waitUntil(lambda: views[0].view.width() > 400, timeout=3000)
    assert page.figures.y() > page.body.y() + page.body.height() - 1
    assert views[0].view.width() <= page.viewport().width()
    assert focused() is not page.figures.fold, "entering comes first"


def test_a_page_without_figures_has_no_strip(demo_window: MainWindow) -> None:
    page = open_page(demo_window, "nameplate")
    assert not page.figures.isVisible()
    press(Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    assert "no figures" in place_of(demo_window).strip.words.text()


def test_a_key_leads_to_the_figures_and_calls_are_chosen_by_keys(
    demo_window: MainWindow, qtbot: QtBot
) -> None:
    page = open_page(demo_window, "configuration")
    (view,) = _views(qtbot, page)
    assert view.chosen_call() == IDLE
    press(Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    assert focused() is view.call
    idle = repr(view.view.drawing)
    while view.chosen_call().kind is not CallKind.GAS:
        before = view.call.currentIndex()
        press(Qt.Key.Key_Down)
        assert view.call.currentIndex() == before + 1
    assert view.call.currentText() == "Gas heat, firing rate 1"
    assert repr(view.view.drawing) != idle
    assert "burner" in view.view.accessibleDescription()
    bar = page.verticalScrollBar()
    qtbot.waitUntil(lambda: bar.value() > 0, timeout=3000)
    top = page.figures.mapTo(page.content, page.figures.rect().topLeft()).y()
    assert abs(bar.value() - min(top, bar.maximum())) <= 2


def test_the_strip_folds_by_key_and_stays_folded(demo_window: MainWindow, qtbot: QtBot) -> None:
    page = open_page(demo_window, "cooling_capacity")
    _views(qtbot, page)
    page.figures.fold.setFocus()
    press(Qt.Key.Key_Space)
    assert not page.figures.inner.isVisible()
    assert page.figures.fold.text() == "Show figures"
    open_page(demo_window, "design")
    page = open_page(demo_window, "cooling_capacity")
    assert not page.figures.inner.isVisible()
    page.figures.fold.setFocus()
    press(Qt.Key.Key_Space)
    assert page.figures.inner.isVisible()


def test_a_reading_moves_its_mark(demo_window: MainWindow, qtbot: QtBot) -> None:
    page = open_page(demo_window, "cooling_capacity")
    (view,) = _views(qtbot, page)
    qtbot.waitUntil(lambda: view.view.width() > 400, timeout=3000)
    before = repr(view.view.drawing)
    line = field_row(page, "leaving_dry_bulb_f")
    line.input_widget().setFocus()
    QTest.keyClick(focused(), Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text("57.5")
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: repr(view.view.drawing) != before, timeout=3000)
    assert "57.5 °F" in view.view.accessibleDescription()


def test_wanting_readings_are_one_line_and_the_figure_comes_with_them(
    demo_window: MainWindow, qtbot: QtBot
) -> None:
    page = open_page(demo_window, "airflow_static", "RTU-2")
    (view,) = _views(qtbot, page)
    assert view.view.isVisibleTo(page.content)
    document = place_of(demo_window).document
    unit = next(u.id for u in document.units() if u.tag == "RTU-2")
    for name in ("return", "after_filter", "after_coil", "fan_outlet"):
        document.session.enter(unit, f"{name}_static_inwc", (), "")
    document.replaced.emit()
    qtbot.waitUntil(lambda: not view.view.isVisibleTo(page.content), timeout=3000)
    assert "Wanting: Return, before the filters" in view.wanting.text()
    document.session.enter(unit, "return_static_inwc", (), "-0.3")
    document.replaced.emit()
    qtbot.waitUntil(lambda: view.view.isVisibleTo(page.content), timeout=3000)
    assert isinstance(view.view.drawing, Drawing)


def test_circuits_come_and_go_with_the_configuration(demo_window: MainWindow, qtbot: QtBot) -> None:
    page = open_page(demo_window, "cooling_circuits")
    assert len(_views(qtbot, page)) == 2
    document = place_of(demo_window).document
    unit = next(u.id for u in document.units() if u.tag == "RTU-1")
    document.session.enter(unit, "circuits", (), "1")
    document.replaced.emit()
    qtbot.waitUntil(lambda: len(page.figures.views) == 1, timeout=3000)
    QApplication.processEvents()


def test_typing_is_not_held_up_by_a_figure(demo_window: MainWindow, qtbot: QtBot) -> None:
    """A figure is drawn after a pause, not within the key press."""
    page = open_page(demo_window, "airflow_traverse")
    (view,) = _views(qtbot, page)
    before = repr(view.view.drawing)
    block = grid(page, "point_velocity_pressure_inwc")
    block.view.setFocus()
    block.view.setCurrentIndex(block.model.index(0, 0))
    type_text("0.05")
    assert repr(view.view.drawing) == before
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: repr(view.view.drawing) != before, timeout=3000)
