"""What a key brings: the line at hand at once, the rest of the page right after, offers at rest."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.wizard.grid import GridBlock
from commission.wizard.page import SectionPage
from commission.wizard.value_row import QuantityRow
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, focused, key, open_page, outcome, press, type_text


def volts_at_the_third_pair(window: MainWindow) -> tuple[SectionPage, GridBlock]:
    page = open_page(window, "volts")
    table = next(one for one in page.blocks if isinstance(one, GridBlock))
    table.focus_key(key("supply_v", 1))
    for reading in ("460", "460"):
        type_text(reading)
        press(Qt.Key.Key_Tab)
    table.focus_key(key("supply_v", 3))
    QApplication.processEvents()
    return page, table


def quantity_row(page: SectionPage, name: str) -> QuantityRow:
    # Not by `page.blocks`: that would let every line catch up.
    return next(o for o in page._built if isinstance(o, QuantityRow) and o.key.name == name)


def test_the_line_at_hand_follows_the_key_itself_and_the_others_the_loop(
    window: MainWindow, qtbot: QtBot
) -> None:
    page, table = volts_at_the_third_pair(window)
    average = quantity_row(page, "average_v")
    before = average.value.text()
    own = next(view for view in table.detail.views if view.key == key("supply_in_range", 3))
    type_text("400")  # no event loop between these keys
    assert own.sign.word.text() == "fail"  # 400 V is below 0.9 x 460 V = 414 V
    assert average.value.text() == before
    assert page.is_following()
    qtbot.waitUntil(lambda: not page.is_following())
    # (460 + 460 + 400) / 3 = 440; NEMA MG 1, 12.45: largest deviation 40 / 440 = 9.09 %
    assert average.value.text().startswith("440.0")
    imbalance = quantity_row(page, "imbalance_percent")
    assert imbalance.value.text().startswith("9.09")
    assert imbalance.verdicts[0].sign.word.text() == "fail"


def test_whoever_asks_for_the_lines_gets_them_as_things_stand(window: MainWindow) -> None:
    page, _table = volts_at_the_third_pair(window)
    type_text("400")
    assert page.is_following()
    row = next(o for o in page.blocks if isinstance(o, QuantityRow) and o.key.name == "average_v")
    assert row.value.text().startswith("440.0")
    assert not page.is_following()


def test_keys_faster_than_the_page_leave_no_line_behind(window: MainWindow, qtbot: QtBot) -> None:
    page, _table = volts_at_the_third_pair(window)
    for letter in "4001234":
        QTest.keyClick(focused(), letter)
    for _ in range(4):
        press(Qt.Key.Key_Backspace)
    qtbot.waitUntil(lambda: not page.is_following())
    assert quantity_row(page, "average_v").value.text().startswith("440.0")


def test_what_to_do_waits_for_the_whole_number(window: MainWindow, qtbot: QtBot) -> None:
    page, _table = volts_at_the_third_pair(window)
    verdict = quantity_row(page, "imbalance_percent").verdicts[0]
    type_text("4")
    qtbot.waitUntil(lambda: not page.is_following())
    assert verdict.sign.word.text() == "fail"
    assert verdict._deficiency is None or not verdict._deficiency.isVisibleTo(page)
    type_text("60")
    qtbot.waitUntil(lambda: not page.document.is_typing)
    assert outcome(window, "imbalance_small").value == "pass"
    assert verdict._deficiency is None  # none was made for half a number
    press(Qt.Key.Key_Backspace)
    press(Qt.Key.Key_Backspace)
    assert verdict._deficiency is None
    qtbot.waitUntil(lambda: verdict._deficiency is not None)
    assert verdict._deficiency is not None and verdict._deficiency.isVisibleTo(page)
    assert verdict._cure is not None and "Balance the phases." in verdict._cure.text()


def test_what_to_do_comes_with_enter_at_once(window: MainWindow) -> None:
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    view = row.verdicts[0]
    page.document.set_limit(page.unit_id, view.key, {"low": 24, "high": 28}, "Sheet 3")
    row.input.editor().setFocus()
    type_text("20")
    assert view.sign.word.text() == "fail"
    assert view._deficiency is None
    press(Qt.Key.Key_Return)
    assert view._deficiency is not None and view._deficiency.isVisibleTo(page)
