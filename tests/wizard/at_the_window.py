"""What the tests of the window do again and again, in a person's words."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from commission.definitions.model import Key
from commission.validation.verdict import Outcome
from commission.wizard.entry_row import FieldRow
from commission.wizard.grid import GridBlock
from commission.wizard.page import SectionPage
from commission.wizard.window import MainWindow
from commission.wizard.workplace import Workplace


def place_of(window: MainWindow) -> Workplace:
    """Return the open project's workplace."""
    assert window.workplace is not None
    return window.workplace


def open_page(window: MainWindow, name: str, tag: str = "RTU-1") -> SectionPage:
    """Open a page of a unit."""
    workplace = place_of(window)
    unit_id = next((u.id for u in workplace.document.units() if u.tag == tag), "")
    workplace.open_page(unit_id, name)
    page = workplace.pages.page
    assert page is not None
    page.complete()  # a person sees the rest a moment later
    QApplication.processEvents()
    return page


def field_row(page: SectionPage, name: str) -> FieldRow:
    """Return the line of a field."""
    return next(one for one in page.blocks if isinstance(one, FieldRow) and one.key.name == name)


def grid(page: SectionPage, name: str) -> GridBlock:
    """Return the table that holds an entry."""
    return next(
        one
        for one in page.blocks
        if isinstance(one, GridBlock)
        and any(key.name == name for keys in one.model.shape.keys for key in keys)
    )


def focused() -> QWidget:
    """Return the widget that has the focus."""
    widget = QApplication.focusWidget()
    assert widget is not None
    return widget


def type_text(text: str) -> None:
    """Type into whatever has the focus."""
    for letter in text:
        QTest.keyClick(focused(), letter)


def press(key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    """Press a key on whatever has the focus."""
    QTest.keyClick(focused(), key, modifier)


def stored(window: MainWindow, name: str, index: tuple[int, ...] = (), tag: str = "RTU-1"):
    """Return what the project file itself holds for a reading, read anew from the disk."""
    from commission.project import ProjectFile

    path = place_of(window).path
    with ProjectFile.open(path, read_only=True) as project:
        unit_id = next((u.id for u in project.units() if u.tag == tag), "")
        reading = project.readings(unit_id).get((name, index))
        return None if reading is None else reading.value


def outcome(window: MainWindow, check: str, index: tuple[int, ...] = ()) -> Outcome:
    """Return a verdict as the live results have it."""
    workplace = place_of(window)
    unit = workplace.document.units()[0]
    return workplace.document.results(unit.id).verdict(check, index).outcome


def key(name: str, *index: int) -> Key:
    """Return a key."""
    return Key(name, index)
