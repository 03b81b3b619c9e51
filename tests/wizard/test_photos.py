"""Photos of a page: chosen, dropped, pasted; tied to a field or a unit; captioned, taken away."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication, QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.project import Photo, ProjectFile
from commission.wizard.dialogs import Dialogs
from commission.wizard.page import SectionPage
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    focused,
    grid,
    key,
    open_page,
    place_of,
    press,
    type_text,
)

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A camera's picture: 12 million pixels."""
    path = tmp_path / "plate.jpg"
    Image.new("RGB", (4000, 3000), "#4060a0").save(path)
    return path


@pytest.fixture
def chosen() -> list[Path]:
    """What the file chooser answers."""
    return []


@pytest.fixture
def shown(
    make_window: Callable[..., MainWindow], project_path: Path, chosen: list[Path]
) -> MainWindow:
    """A window whose file chooser answers by itself."""
    made = make_window(Dialogs(choose_photos=lambda _parent: chosen))
    made.open_project(project_path)
    return made


def settled(qtbot: QtBot, page: SectionPage) -> None:
    """Wait until no picture is under way."""
    qtbot.waitUntil(lambda: not page.photos.jobs, timeout=10_000)
    QApplication.processEvents()


def kept(window: MainWindow) -> list[Photo]:
    """Return the photos in the file, read anew from the disk."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        return project.photos()


def test_photo_of_a_field_by_its_button(
    shown: MainWindow, qtbot: QtBot, picture: Path, chosen: list[Path]
) -> None:
    chosen.append(picture)
    page = open_page(shown, "setup")
    row = field_row(page, "rated_v")
    assert row.photo_button is not None
    assert field_row(page, "motors").photo_button is None
    row.photo_button.setFocus()
    press(Qt.Key.Key_Space)
    settled(qtbot, page)
    photo = kept(shown)[0]
    assert (photo.name, photo.index) == ("rated_v", ())
    assert row.photo_button.text().strip() == "Photo (1)"
    assert len(page.photos.lines) == 1
    with ProjectFile.open(place_of(shown).path, read_only=True) as project:
        reader = QImage.fromData(project.photos()[0].data)
    # Re-encoded by the project: longest side 2048.
    assert (reader.width(), reader.height()) == (2048, 1536)
    assert not page.photos.lines[0].picture.icon().isNull()


def test_caption_larger_and_taking_away_by_keys(
    shown: MainWindow, qtbot: QtBot, picture: Path, chosen: list[Path]
) -> None:
    chosen.append(picture)
    page = open_page(shown, "setup")
    field_row(page, "motors").input.editor().setFocus()
    press(Qt.Key.Key_P, CONTROL)
    assert focused() is page.photos.add
    press(Qt.Key.Key_Space)
    settled(qtbot, page)
    assert (kept(shown)[0].name, page.photos.title.text()) == ("", "Photos (1)")
    press(Qt.Key.Key_P, CONTROL)
    line = page.photos.lines[0]
    assert focused() is line.caption
    type_text("Rating plate")
    press(Qt.Key.Key_Return)
    assert kept(shown)[0].caption == "Rating plate"
    line.picture.setFocus()
    before = line.picture.width()
    press(Qt.Key.Key_Space)
    assert line.picture.width() > 2 * before
    line.remove.setFocus()
    press(Qt.Key.Key_Space)
    assert focused() is line.keep
    press(Qt.Key.Key_Escape)
    assert len(kept(shown)) == 1
    line.remove.setFocus()
    press(Qt.Key.Key_Space)
    line.sure.setFocus()
    press(Qt.Key.Key_Space)
    assert kept(shown) == []
    assert page.photos.lines == []
    assert QApplication.activeModalWidget() is None


def test_copied_picture_is_pasted_onto_the_field_at_hand(shown: MainWindow, qtbot: QtBot) -> None:
    image = QImage(300, 200, QImage.Format.Format_ARGB32)
    image.fill(Qt.GlobalColor.darkGreen)
    QGuiApplication.clipboard().setImage(image)
    page = open_page(shown, "setup")
    field_row(page, "rated_v").input.editor().setFocus()
    press(Qt.Key.Key_V, CONTROL | SHIFT)
    settled(qtbot, page)
    assert [photo.name for photo in kept(shown)] == ["rated_v"]
    field_row(page, "motors").input.editor().setFocus()
    press(Qt.Key.Key_V, CONTROL | SHIFT)
    settled(qtbot, page)
    # The same picture again, of the unit as a whole: its field asks for none.
    assert [photo.name for photo in kept(shown)] == ["rated_v", ""]


def test_nothing_to_paste_is_said_in_place(shown: MainWindow) -> None:
    QGuiApplication.clipboard().setText("460")
    page = open_page(shown, "setup")
    page.photos.paste_button.setFocus()
    press(Qt.Key.Key_Space)
    assert "No picture was copied" in page.photos.said.text()
    assert page.photos.said.isVisible()


def dropped_on(page: SectionPage, path: Path, place: QPoint) -> None:
    """Drop a file onto a place of the page."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    event = QDropEvent(
        QPointF(place),
        Qt.DropAction.CopyAction,
        mime,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    page.dropEvent(event)
    assert event.isAccepted()


def test_file_dropped_on_a_field_is_of_it_and_elsewhere_of_the_unit(
    shown: MainWindow, qtbot: QtBot, picture: Path
) -> None:
    page = open_page(shown, "setup")
    row = field_row(page, "rated_v")
    middle = row.mapTo(page.viewport(), row.rect().center())
    dropped_on(page, picture, middle)
    settled(qtbot, page)
    dropped_on(page, picture, QPoint(2, 2))
    settled(qtbot, page)
    assert [photo.name for photo in kept(shown)] == ["rated_v", ""]


def test_file_dragged_over_an_input_is_the_pages(shown: MainWindow, picture: Path) -> None:
    page = open_page(shown, "setup")
    line = field_row(page, "rated_v").input.editor()
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(picture))])
    event = QDragEnterEvent(
        QPoint(3, 3),
        Qt.DropAction.CopyAction,
        mime,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(line, event)
    assert event.isAccepted()
    # What is neither picture nor project is nobody's.
    mime.setUrls([QUrl.fromLocalFile("/tmp/notes.pdf")])
    other = QDragEnterEvent(
        QPoint(3, 3),
        Qt.DropAction.CopyAction,
        mime,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(line, other)
    assert not other.isAccepted()


def test_photo_of_a_cell_of_a_table(
    shown: MainWindow, qtbot: QtBot, picture: Path, chosen: list[Path]
) -> None:
    chosen.append(picture)
    page = open_page(shown, "volts")
    table = grid(page, "supply_v")
    assert table.focus_key(key("supply_v", 2))
    table.detail.photo_button.setFocus()
    press(Qt.Key.Key_Space)
    settled(qtbot, page)
    assert [(p.name, p.index) for p in kept(shown)] == [("supply_v", (2,))]
    # It stands on its own page only; one of the unit as a whole stands on each.
    assert open_page(shown, "safety").photos.photos() == []


def test_what_is_no_picture_is_refused_in_place_and_the_others_kept(
    shown: MainWindow, qtbot: QtBot, picture: Path, chosen: list[Path], tmp_path: Path
) -> None:
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"not a picture")
    chosen += [broken, tmp_path / "gone.jpg", picture]
    page = open_page(shown, "setup")
    page.photos.add.setFocus()
    press(Qt.Key.Key_Space)
    settled(qtbot, page)
    assert len(kept(shown)) == 1
    assert "broken.jpg: is not a picture" in page.photos.said.text()
    assert "gone.jpg: cannot be read" in page.photos.said.text()


def test_project_closes_while_a_picture_is_under_way(
    shown: MainWindow, project_path: Path, picture: Path, chosen: list[Path]
) -> None:
    chosen += [picture] * 3
    page = open_page(shown, "setup")
    page.photos.choose()
    assert page.photos.jobs
    shown.close()
    assert shown.workplace is None
    with ProjectFile.open(project_path, read_only=True) as project:
        assert len(project.photos()) == 3
