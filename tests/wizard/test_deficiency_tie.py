"""A deficiency is tied to the reading or verdict it belongs to, by keys, and found again there."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Key
from commission.project import Deficiency, ProjectFile
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, focused, grid, key, open_page, place_of
from wizard.typist import CONTROL, SHIFT, Keyboard

KEYS = Keyboard()
press, typed, tab_to = KEYS.press, KEYS.type, KEYS.tab_to


def log_of(window: MainWindow) -> DeficiencyLog:
    made = place_of(window).place("deficiencies")
    assert isinstance(made, DeficiencyLog)
    return made


def recorded(window: MainWindow) -> list[Deficiency]:
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        return project.deficiencies()


def ties(window: MainWindow) -> list[Key]:
    return [Key(one.check, one.index) for one in recorded(window)]


def test_of_the_reading_at_hand_and_back_to_it(window: MainWindow) -> None:
    table = grid(open_page(window, "volts"), "supply_v")
    table.view.setFocus()
    table.view.setCurrentIndex(table.model.place_of(key("supply_v", 2)))
    press(Qt.Key.Key_D, CONTROL | SHIFT)
    log = log_of(window)
    assert log.about.currentText() == "Supply voltage, L2-L3, Supply volts"
    tab_to(log.form.inputs["description"])
    typed("Lug is loose.")
    press(Qt.Key.Key_Return, CONTROL)
    assert ties(window) == [key("supply_v", 2)]
    assert recorded(window)[0].unit_id == place_of(window).document.units()[0].id
    press(Qt.Key.Key_Return)  # the list: open it again
    tab_to(log.go_button)
    press(Qt.Key.Key_Space)
    page = place_of(window).page_at_hand()
    assert page is not None and page.section.name == "volts"
    again = grid(page, "supply_v")
    assert focused() is again.view and again.view.current_key() == key("supply_v", 2)


def test_of_a_value_it_is_its_verdict(window: MainWindow) -> None:
    page = open_page(window, "volts")
    row = next(
        one for one in page.blocks if getattr(one, "key", Key("")).name == "imbalance_percent"
    )
    widget = row.input_widget()
    assert widget is not None
    widget.setFocus()
    press(Qt.Key.Key_D, CONTROL | SHIFT)
    assert log_of(window).about.data() == "imbalance_small"


def test_a_tie_is_found_by_part_of_its_words_changed_and_taken_away(window: MainWindow) -> None:
    press(Qt.Key.Key_D, CONTROL)
    log = log_of(window)
    press(Qt.Key.Key_Backtab, SHIFT)
    assert focused() is log.add_button
    press(Qt.Key.Key_Space)
    tag = log.form.inputs["unit_id"]
    assert focused() is tag
    press(Qt.Key.Key_Down)  # from the project to RTU-1: its readings are offered
    tab_to(log.about)
    typed("control voltage")
    tab_to(log.form.inputs["description"])
    press(Qt.Key.Key_Return, CONTROL)
    assert log.form.isVisible() and "in 2 of them" in log.form.refusal.text()
    assert focused() in (log.about, log.about.line)
    press(Qt.Key.Key_End)
    typed(" in r")
    press(Qt.Key.Key_Down)  # the one match in the list below
    press(Qt.Key.Key_Return)
    assert log.form.isVisible() and log.about.data() == "control_in_range"
    tab_to(log.form.inputs["description"])
    typed("Transformer on the wrong tap.")
    press(Qt.Key.Key_Return, CONTROL)
    assert ties(window) == [key("control_in_range")]
    press(Qt.Key.Key_Return)
    tab_to(log.about, back=True)
    assert log.about.currentText() == "Control voltage in range (verdict), Supply volts"
    press(Qt.Key.Key_A, CONTROL)
    press(Qt.Key.Key_Delete)
    press(Qt.Key.Key_Return, CONTROL)
    assert ties(window) == [Key("")]
    press(Qt.Key.Key_Z, CONTROL)
    assert ties(window) == [key("control_in_range")]


def test_what_is_called_nothing_is_refused_in_place(window: MainWindow) -> None:
    press(Qt.Key.Key_D, CONTROL | SHIFT)  # no page is open: of nothing in particular
    log = log_of(window)
    tab_to(log.about)
    typed("flux")  # no list of matches opens: Enter keeps
    press(Qt.Key.Key_Return)
    assert "nothing is called 'flux'" in log.form.refusal.text()
    assert recorded(window) == []


def test_keeping_other_changes_leaves_a_tie_to_what_is_asked_no_more(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.session.project.add_deficiency(
        unit_id, "Hums.", check="motor_a", index=(2, 1), status="open"
    )
    document.enter(unit_id, key("motors"), "1")  # there is no second motor any more
    press(Qt.Key.Key_D, CONTROL)
    log = log_of(window)
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Return)
    assert "not asked now" in log.about.currentText()
    tab_to(log.form.inputs["owner"])
    typed("A. Owner")
    press(Qt.Key.Key_Return)
    assert recorded(window)[0].owner == "A. Owner"
    assert ties(window) == [key("motor_a", 2, 1)]
    QApplication.processEvents()


def test_failed_verdict_at_hand_brings_what_is_known(window: MainWindow) -> None:
    row = field_row(open_page(window, "safety"), "guards_fitted")
    row.input.editor().setFocus()
    typed("n")
    row.input.editor().setFocus()
    press(Qt.Key.Key_D, CONTROL | SHIFT)
    assert log_of(window).about.data() == "guards_fitted"
