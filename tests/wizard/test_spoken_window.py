"""Each text that the window shows is said in the language chosen, or is data of the project."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QAbstractItemModel, QAbstractTableModel, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QWidget,
)
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.language import ENGLISH, choose_language
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.sequence.trend_demo import add_demo_log
from commission.units import UNITS
from commission.wizard.application import prepared_application
from commission.wizard.key_help import KEYS
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow
from tests.spoken_marks import CODE, speak_marks, stored_texts, unmarked, unsaid

PLACES = (
    "board", "deficiencies", "trends", "tests", "sign_off", "people", "export", "read_back",
    "settings",
)  # fmt: skip
# Names of keys, languages, licences of data, and what a formula's shown work is written with.
NAMES = {
    "Ctrl", "Shift", "Alt", "Enter", "Tab", "Esc", "PgDn", "PgUp", "English", "Español",
    "rtuproject",
    "xlsx", "pdf", "Commission", "Denver", "America",
}  # fmt: skip


class Forgetful(Preferences):
    """Preferences that are not kept."""

    def save(self) -> None:
        """Keep nothing."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    path = folder / "demo.rtuproject"
    form = load_form()
    project_from_scenario(demo_units_folder(), path, form).close()
    add_demo_log(path, form, folder)
    return path


def texts_of_model(model: QAbstractItemModel) -> Iterator[str]:
    roles = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole)
    columns = model.columnCount() if isinstance(model, QAbstractTableModel) else 1
    for across in range(columns):
        yield str(model.headerData(across, Qt.Orientation.Horizontal) or "")
    for down in range(model.rowCount()):
        yield str(model.headerData(down, Qt.Orientation.Vertical) or "")
        for across in range(columns):
            for role in roles:
                yield str(model.index(down, across).data(role) or "")


def texts_of(widget: QWidget) -> Iterator[str]:
    """Yield what a widget shows or tells, now."""
    yield from (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription())
    if isinstance(widget, QLabel | QAbstractButton):
        yield widget.text()
    elif isinstance(widget, QLineEdit):
        yield widget.placeholderText()
        if widget.isReadOnly():
            yield widget.text()
    elif isinstance(widget, QComboBox):
        yield from (widget.itemText(place) for place in range(widget.count()))
    elif isinstance(widget, QAbstractItemView) and widget.model() is not None:
        yield from texts_of_model(widget.model())


def visible_texts(window: QWidget) -> Iterator[str]:
    QApplication.processEvents()
    for widget in (window, *window.findChildren(QWidget)):
        if widget.isVisible():
            yield from texts_of(widget)


def walk(window: MainWindow, path: Path) -> Iterator[tuple[str, str]]:
    """Yield (place, text) over the start screen, all places, and each page of each unit."""
    yield from (("start", text) for text in visible_texts(window))
    window.open_project(path)
    workplace = window.workplace
    assert workplace is not None
    for place in PLACES:
        workplace.go(place)
        yield from ((place, text) for text in visible_texts(window))
    seen: set[str] = set()
    for unit_id in ("", *(unit.id for unit in workplace.document.units())):
        for section in workplace.document.results(unit_id).sections():
            if section.name in seen:
                continue
            seen.add(section.name)
            workplace.open_page(unit_id, section.name)
            workplace.pages.settle()
            yield from ((section.name, text) for text in visible_texts(window))
    for texts in KEYS:
        yield from (("keys", text) for text in visible_texts(window.help))
        assert texts


def test_what_is_shown_is_said_or_is_data(
    demo: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak_marks(monkeypatch)
    prepared_application()
    window = MainWindow(preferences=Forgetful(language=CODE))
    qtbot.addWidget(window)
    try:
        window.resize(1280, 820)
        window.show()
        shown = dict.fromkeys(walk(window, demo))
        assert len(shown) > 2000
        data = [*stored_texts(demo), "Stopwatch", str(demo), demo.name, demo.stem]
        words = [*UNITS, *NAMES]
        form = load_form()
        words += [entry.symbol for entry in form.by_name.values() if getattr(entry, "symbol", "")]
        places = {text: place for place, text in shown}
        left = {text: places[text] for text in unsaid(places, data, words)}
        told = [f"{place}: {text!r} -> {unmarked(text)!r}" for text, place in left.items()]
        assert not told, f"{len(told)} texts were not said:\n" + "\n".join(told[:400])
    finally:
        window.close()
        choose_language(ENGLISH)
