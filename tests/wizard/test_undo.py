"""Undo of everything that is entered, not of readings alone: each by a further row."""

from __future__ import annotations

from io import BytesIO

from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Key
from commission.project.pictures import prepare_photo
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.window import MainWindow
from wizard.at_the_window import open_page, place_of, press

CONTROL = Qt.KeyboardModifier.ControlModifier


def rows(window: MainWindow, kind: str) -> int:
    return len(place_of(window).document.session.project.rows(kind))


def test_a_limit_and_its_taking_back_are_undone(window: MainWindow) -> None:
    open_page(window, "volts")
    document = place_of(window).document
    unit, key = document.units()[0].id, Key("control_in_range")
    document.set_limit(unit, key, {"low": 20, "high": 30}, "Manual, p. 4")
    document.set_limit(unit, key, {"low": 22, "high": 28}, "Manual, p. 5")
    document.clear_limit(unit, key)
    limits = document.session.project.limits
    seen = []
    for _ in range(3):
        press(Qt.Key.Key_Z, CONTROL)
        QApplication.processEvents()
        found = limits(unit).get(tuple(key))
        seen.append(None if found is None else (dict(found.parts), found.origin))
    first, second = (
        ({"low": 20, "high": 30}, "Manual, p. 4"),
        ({"low": 22, "high": 28}, "Manual, p. 5"),
    )
    assert seen == [second, first, None]
    press(Qt.Key.Key_Y, CONTROL)
    assert dict(limits(unit)[tuple(key)].parts) == first[0]
    assert document.results(unit).limit(*key).origin == "Manual, p. 4"
    assert rows(window, "limit_entry") == 7


def test_going_past_a_stop_is_undone_and_the_page_closes(window: MainWindow) -> None:
    document = place_of(window).document
    unit = document.units()[0].id
    document.enter(unit, Key("locked_out"), "not done")
    page = open_page(window, "volts")
    verdict = document.results(unit).verdict("locked_out_done")
    document.override_stop(unit, verdict, "Ada Rowan", "seen by eye")
    assert document.results(unit).blocking(page.section) == []
    place_of(window).undo()
    QApplication.processEvents()
    assert len(document.results(unit).blocking(page.section)) == 1
    assert document.session.project.overrides() == []
    place_of(window).redo()
    assert [one.reason for one in document.session.project.overrides()] == ["seen by eye"]
    assert rows(window, "override_entry") == 3


def test_a_deficiency_and_its_change_are_undone(window: MainWindow) -> None:
    workplace = place_of(window)
    project = workplace.document.session.project
    workplace.go("deficiencies")
    log = workplace.place("deficiencies")
    assert isinstance(log, DeficiencyLog)
    log.ask_new()
    log.form.kept.emit(
        {
            "unit_id": "",
            "about": "",
            "description": "no guard",
            "owner": "",
            "due": "",
            "requirement": "",
            "correction": "",
            "corrected_on": "",
            "retest": "",
            "status": "open",
        }
    )
    [made] = project.deficiencies()
    log._open(made.id)
    log.form.kept.emit(log.form.values() | {"status": "corrected"})
    assert [one.status for one in project.deficiencies()] == ["corrected"]
    workplace.undo()
    assert [one.status for one in project.deficiencies()] == ["open"]
    assert log.model.rowCount() == 1
    workplace.undo()
    assert project.deficiencies() == []
    assert log.model.rowCount() == 0
    workplace.redo()
    assert [(one.number, one.description) for one in project.deficiencies()] == [(1, "no guard")]


def picture() -> bytes:
    made = BytesIO()
    Image.effect_noise((320, 240), 60).convert("RGB").save(made, "PNG")
    return prepare_photo(made.getvalue())


def test_a_photo_taken_away_comes_back_with_its_caption(window: MainWindow) -> None:
    page = open_page(window, "setup")
    album, unit = page.photos.album, page.unit_id
    data = picture()
    assert album.add(unit, data, Key("rated_v"), prepared=True) == ""
    album.caption(album.of_unit(unit)[0], "rating plate")
    album.remove(album.of_unit(unit)[0])
    assert album.of_unit(unit) == []
    place_of(window).undo()
    [photo] = album.of_unit(unit)
    assert (photo.caption, photo.name, photo.data) == ("rating plate", "rated_v", data)
    place_of(window).undo()
    assert album.of_unit(unit)[0].caption == ""
    place_of(window).undo()
    assert album.of_unit(unit) == []


def test_a_photo_is_encoded_once(window: MainWindow) -> None:
    page = open_page(window, "setup")
    made = BytesIO()
    Image.effect_noise((320, 240), 60).convert("RGB").save(made, "PNG")
    page.photos.take([made.getvalue()], None)
    page.photos.end_jobs()
    [photo] = page.photos.album.of_unit(page.unit_id)
    assert photo.data == prepare_photo(made.getvalue())


def test_the_order_of_undo_is_the_order_of_entry_whatever_the_kind(window: MainWindow) -> None:
    document = place_of(window).document
    unit = document.units()[0].id
    document.enter(unit, Key("control_v"), "24")
    document.set_limit(unit, Key("control_in_range"), {"low": 20, "high": 30}, "Manual")
    document.enter(unit, Key("control_v"), "25")
    project = document.session.project
    place_of(window).undo()
    assert project.readings(unit)[("control_v", ())].value == 24
    place_of(window).undo()
    assert project.limits(unit) == {}
    place_of(window).undo()
    assert ("control_v", ()) not in project.readings(unit)
    assert not document.session.can_undo()
