"""Sign-off by unit and for the project: what is signed, what is open, what changed since."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from commission.project import ProjectFile, Signature
from commission.wizard import slices
from commission.wizard.open_points import open_points
from commission.wizard.sign_off import SignOff
from commission.wizard.sign_panel import SignatureLine
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, key, open_page, place_of, press, type_text

CONTROL = Qt.KeyboardModifier.ControlModifier


def sign_off(window: MainWindow) -> SignOff:
    """Go to the sign-off by its key."""
    press(Qt.Key.Key_G, CONTROL)
    place = place_of(window).place("sign_off")
    assert isinstance(place, SignOff)
    assert place_of(window).stack.currentWidget() is place
    QApplication.processEvents()
    return place


def last_line(place: SignOff) -> SignatureLine:
    """Return the last signature that is shown."""
    QApplication.processEvents()
    return [one for one in place.panel.findChildren(SignatureLine) if one.isVisible()][-1]


def signatures(window: MainWindow, unit_id: str) -> list[Signature]:
    """Return what the file itself holds."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        return project.signatures(unit_id)


def with_faults(window: MainWindow) -> str:
    """Make a stop, a failure and an open deficiency; return the unit's id."""
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.enter(unit_id, key("locked_out"), "not done")
    for number, text in enumerate(("460", "467", "430"), start=1):
        document.enter(unit_id, key("supply_v", number), text)
    document.session.project.add_deficiency(unit_id, "Phase L3-L1 is low")
    return unit_id


def test_open_points_are_listed_in_words(window: MainWindow) -> None:
    unit_id = with_faults(window)
    points = open_points(place_of(window).document.results(unit_id), ("no. 1, low",))
    assert points.stops == ("Lockout applied: 'not done'; it must be 'done'.",)
    assert any(text.startswith("Voltage imbalance: ") for text in points.failures)
    assert any(text.startswith("Supply volts: ") for text in points.missing)
    assert any("closed by a stop" in text for text in points.missing)
    assert "1 stop" in points.counted()
    assert "1 open deficiency" in points.counted()
    assert "Lockout applied" in points.statement()


def test_stop_marked_not_applicable_is_open_too(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.enter(unit_id, key("locked_out"), "n/a no disconnect")
    points = open_points(document.results(unit_id))
    assert points.stops == ("Lockout applied: marked not applicable (no disconnect)",)


def test_unit_is_signed_by_keys_with_what_is_open_in_the_statement(window: MainWindow) -> None:
    unit_id = with_faults(window)
    document = place_of(window).document
    person = document.session.project.add_person("A. Person")
    place = sign_off(window)
    assert focused() is place.list
    press(Qt.Key.Key_Return)
    panel = place.panel
    assert panel.title.text() == "Sign for RTU-1"
    assert focused() is panel.role
    QApplication.processEvents()
    listed = [one.text() for one in panel.findChildren(QLabel) if one.isVisible()]
    assert any("Lockout applied: 'not done'" in text for text in listed)
    assert any("It can be signed all the same" in text for text in listed)
    press(Qt.Key.Key_Down)  # witnessed by
    press(Qt.Key.Key_Tab)
    press(Qt.Key.Key_Return, CONTROL)
    assert "Choose who signs" in panel.refusal.text()
    assert signatures(window, unit_id) == []
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Tab)
    type_text("Seen by me.")
    press(Qt.Key.Key_Tab)
    assert focused() is panel.sign_button
    press(Qt.Key.Key_Space)
    signature = signatures(window, unit_id)[0]
    assert (signature.role, signature.section) == ("witnessed", "")
    assert (signature.person_id, signature.printed_name) == (person.id, "A. Person")
    assert signature.statement.startswith("Seen by me. Open when signed. 1 stop: Lockout applied")
    assert "no. 1, Phase L3-L1 is low" in signature.statement
    assert focused() is place.list
    row = place.model.ids.index(unit_id)
    assert "witnessed by A. Person" in str(place.model.index(row, 1).data())
    assert "not yet recorded, accepted" in str(place.model.index(row, 1).data())
    assert QApplication.activeModalWidget() is None


def test_later_change_of_a_reading_shows(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.record_as("A. Person")
    place = sign_off(window)
    press(Qt.Key.Key_Return)
    place.panel.sign_button.setFocus()
    press(Qt.Key.Key_Space)
    line = last_line(place)
    assert line.sign.word.text() == "signed"
    document.enter(unit_id, key("rated_v"), "480")
    place.refresh()
    row = place.model.ids.index(unit_id)
    assert "changed since signed" in str(place.model.index(row, 1).data())
    line = last_line(place)
    assert line.sign.word.text() == "changed since signed"
    # As it was when it was signed: the signature stands again.
    document.enter(unit_id, key("rated_v"), "460")
    place.refresh()
    assert "changed" not in str(place.model.index(row, 1).data())


def test_project_is_signed_and_a_signature_withdrawn(window: MainWindow) -> None:
    document = place_of(window).document
    document.record_as("A. Person")
    document.enter("", key("site_name"), "Depot")
    place = sign_off(window)
    place.list.selectRow(0)
    press(Qt.Key.Key_Return)
    assert "the project's own pages" in place.panel.title.text()
    assert "all 1 readings" in place.panel.what.text()
    press(Qt.Key.Key_Return, CONTROL)
    signed = signatures(window, "")
    assert [one.role for one in signed] == ["recorded"]
    assert signed[0].statement == "Nothing was open when signed."
    line = last_line(place)
    line.ask.setFocus()
    press(Qt.Key.Key_Space)
    assert focused() is line.keep
    line.sure.setFocus()
    press(Qt.Key.Key_Space)
    assert signatures(window, "") == []


def test_one_page_is_signed_alone_by_keys_and_holds_while_others_change(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.record_as("A. Person")
    open_page(window, "setup")
    press(Qt.Key.Key_S, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    place = place_of(window).place("sign_off")
    assert isinstance(place, SignOff)
    panel = place.panel
    assert panel.page == "setup" and focused() is panel.role
    assert "all 4 readings of the page 'Set-up' of RTU-1" in panel.what.text()
    assert panel.open_words.text() == "Nothing is open."  # of this page
    press(Qt.Key.Key_Return, CONTROL)
    signed = signatures(window, unit_id)
    assert [(one.section, one.role) for one in signed] == [("setup", "recorded")]
    assert signed[0].statement == "Nothing was open when signed."
    row = place.model.ids.index(unit_id)
    assert "1 signature of a page" in str(place.model.index(row, 1).data())
    assert "not yet recorded" in str(place.model.index(row, 1).data())  # the unit as a whole
    document.enter(unit_id, key("control_v"), "24")
    place.refresh()
    assert last_line(place).sign.word.text() == "signed"
    document.enter(unit_id, key("rated_v"), "480")
    place.refresh()
    assert last_line(place).sign.word.text() == "changed since signed"


def test_the_page_to_sign_is_chosen_in_the_form_as_well(window: MainWindow) -> None:
    unit_id = with_faults(window)
    place_of(window).document.record_as("A. Person")
    place = sign_off(window)
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
    assert focused() is place.panel.pages
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Down)  # all pages, Set-up, Power off
    assert place.panel.page == "safety"
    press(Qt.Key.Key_Return, CONTROL)
    signed = signatures(window, unit_id)[0]
    assert signed.section == "safety"
    assert "1 stop: Lockout applied" in signed.statement
    assert "Phase L3-L1 is low" not in signed.statement  # that belongs to no reading of this page


def test_a_unit_opened_while_the_list_is_worked_out_stays_open(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    monkeypatch.setattr(slices, "_TURN_S", -1.0)  # one piece a turn
    unit_id = with_faults(window)
    place = place_of(window)
    place.go("sign_off")
    sign_off = place.place("sign_off")
    assert isinstance(sign_off, SignOff)
    assert sign_off._model.ids == []  # nothing is worked out yet
    sign_off.open_page("", "site")
    panel = sign_off._panel
    assert (panel.unit_id, panel.page) == ("", "site") and focused() is panel.role
    panel.role.setCurrentIndex(1)
    qtbot.waitUntil(lambda: not sign_off._slices.is_under_way(), timeout=10_000)
    assert sign_off.list.currentIndex().row() == sign_off.model.ids.index("")
    assert (panel.unit_id, panel.page, panel.role.currentIndex()) == ("", "site", 1)
    assert unit_id in sign_off.model.ids
