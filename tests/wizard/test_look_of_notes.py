"""A cell whose reading has a note shows a mark, in every appearance, in words as well."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication

from commission.wizard.appearance import PALETTES
from commission.wizard.grid import GridBlock
from commission.wizard.grid_cells import NOTE_SIZE
from commission.wizard.window import MainWindow
from wizard.at_the_window import grid, key, open_page, place_of, press, type_text
from wizard.test_accessible import LEAST_CONTRAST, contrast

CONTROL = Qt.KeyboardModifier.ControlModifier
CELL = key("motor_a", 2, 1)


def _end_of_cell(table: GridBlock, px: Callable[[float], int]) -> QImage:
    """Return a picture of the end of the cell, where the mark stands."""
    box = table.view.visualRect(table.model.place_of(CELL))
    edge = box.right() - px(NOTE_SIZE + 10)
    part = QRect(QPoint(edge, box.top() + px(8)), QPoint(box.right() - px(5), box.bottom() - px(8)))
    return table.view.viewport().grab(part).toImage()


def _drawn(image: QImage) -> Counter[int]:
    return Counter(image.pixel(x, y) for x in range(image.width()) for y in range(image.height()))


@pytest.mark.parametrize("palette", list(PALETTES))
@pytest.mark.parametrize("percent", [100, 250])
def test_a_noted_cell_is_marked(
    palette: str, percent: int, make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    window = make_window()
    window.preferences.palette, window.preferences.percent = palette, percent
    window._look_changed()
    window.open_project(project_path)
    table = grid(open_page(window, "volts"), "motor_a")
    px, model = window.appearance.px, table.model
    table.view.setFocus()
    table.view.setCurrentIndex(model.place_of(CELL))
    type_text("9.5")
    press(Qt.Key.Key_Return)
    QApplication.processEvents()
    assert len(_drawn(_end_of_cell(table, px))) == 1  # nothing there but the ground
    table.view.setCurrentIndex(model.place_of(CELL))
    press(Qt.Key.Key_M, CONTROL)
    type_text("Clamp on the return leg.")
    press(Qt.Key.Key_Return)
    table.view.setCurrentIndex(model.place_of(key("motor_a", 1, 1)))
    QApplication.processEvents()
    drawn = _drawn(_end_of_cell(table, px))
    ground, _ = drawn.most_common(1)[0]
    ratio = max(contrast(QColor(ground), QColor(one)) for one in drawn)
    assert ratio >= LEAST_CONTRAST[palette]
    place = model.place_of(CELL)
    assert place.data(Qt.ItemDataRole.ToolTipRole) == "Note: Clamp on the return leg."
    said = str(place.data(Qt.ItemDataRole.AccessibleTextRole))
    assert "9.5" in said and said.endswith("Note: Clamp on the return leg.")
    assert place.data() == "9.5"  # what is copied is the reading alone
    place_of(window).undo()
    QApplication.processEvents()
    table.view.setCurrentIndex(model.place_of(key("motor_a", 1, 1)))
    QApplication.processEvents()
    assert len(_drawn(_end_of_cell(table, px))) == 1
    assert place.data(Qt.ItemDataRole.ToolTipRole) is None


def test_the_mark_leaves_the_reading_its_room(
    make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    window = make_window()
    window.open_project(project_path)
    table = grid(open_page(window, "volts"), "motor_a")
    before = table.view._cell_need(CELL)
    document = place_of(window).document
    assert document.write_note(document.units()[0].id, CELL, "Clamp on the return leg.") == ""
    assert table.view._cell_need(CELL) - before > window.appearance.px(NOTE_SIZE)
