"""The window stays answering, small and alive: slices, memory over visits, 200,000 texts."""

from __future__ import annotations

import gc
import sys
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shiboken6 import delete, isValid

from commission.definitions.model import Form
from commission.validation.session import Session
from commission.wizard import slices
from commission.wizard.collecting import Collector, set_aside
from commission.wizard.page import SectionPage
from commission.wizard.parts import SignLabel, label
from commission.wizard.pass_results import PassResults
from commission.wizard.preferences import Preferences
from commission.wizard.slices import Slices
from commission.wizard.states import OUTCOMES
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, focused, key, place_of, type_text

TEXTS = 200_000


@pytest.fixture
def one_piece_a_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a machine so slow that nothing but one piece fits into a turn."""
    monkeypatch.setattr(slices, "_TURN_S", -1.0)


# -- slices --------------------------------------------------------------------------------


def numbers(found: list[int], upto: int) -> Iterator[None]:
    for number in range(upto):
        found.append(number)
        yield


def test_work_goes_on_between_what_the_window_does(qtbot: QtBot, one_piece_a_turn: None) -> None:
    owner, found = QObject(), list[int]()
    work = Slices(owner)
    seen: list[int] = []
    work.turned.connect(lambda: seen.append(len(found)))
    work.begin(numbers(found, 4))
    work.turn()
    assert found == [0]
    qtbot.waitUntil(lambda: not work.is_under_way(), timeout=2_000)
    assert found == [0, 1, 2, 3]
    assert seen == [1, 2, 3, 4, 4]


def test_work_rests_ends_and_is_finished_at_once(qtbot: QtBot, one_piece_a_turn: None) -> None:
    owner, found = QObject(), list[int]()
    work = Slices(owner)
    work.begin(numbers(found, 50))
    work.pause()
    QTest.qWait(20)
    assert found == []
    work.go_on()
    qtbot.waitUntil(lambda: bool(found), timeout=2_000)
    work.finish()
    assert found == list(range(50))
    work.begin(numbers(found, 50))
    work.stop()
    QTest.qWait(20)
    assert len(found) == 50


def test_works_take_turns_one_a_round(qtbot: QtBot, one_piece_a_turn: None) -> None:
    owner, order = QObject(), list[str]()

    def letters(letter: str) -> Iterator[None]:
        for _ in range(3):
            order.append(letter)
            yield

    first, second = Slices(owner), Slices(owner)
    first.begin(letters("a"))
    second.begin(letters("b"))
    qtbot.waitUntil(lambda: not (first.is_under_way() or second.is_under_way()), timeout=2_000)
    assert order == ["a", "b", "a", "b", "a", "b"]


def test_a_work_whose_owner_is_gone_is_not_gone_on_with(
    qtbot: QtBot, one_piece_a_turn: None
) -> None:
    owner, lost, found = QObject(), list[int](), list[int]()
    stays = QObject()
    gone, other = Slices(owner), Slices(stays)
    gone.begin(numbers(lost, 50))
    other.begin(numbers(found, 3))
    delete(owner)
    qtbot.waitUntil(lambda: not other.is_under_way(), timeout=2_000)
    assert found == [0, 1, 2]
    assert lost == []


def test_a_piece_that_asks_for_the_rest_does_not_begin_it_twice(qtbot: QtBot) -> None:
    owner, found = QObject(), list[int]()
    work = Slices(owner)

    def asking() -> Iterator[None]:
        for number in range(3):
            found.append(number)
            work.finish()
            yield

    work.begin(asking())
    work.finish()
    assert found == [0, 1, 2]


# -- a page that is not whole yet ------------------------------------------------------------


def opened(window: MainWindow, name: str) -> SectionPage:
    """Open a page as a person does, who does not wait for all of it."""
    workplace = place_of(window)
    workplace.open_page(workplace.document.units()[0].id, name)
    page = workplace.pages.page
    assert page is not None
    return page


def test_lines_follow_in_their_order(window: MainWindow, qtbot: QtBot, one_piece_a_turn: None):
    page = opened(window, "volts")
    assert not page._built
    qtbot.waitUntil(lambda: not page._slices.is_under_way(), timeout=5_000)
    assert [type(block).__name__ for block in page.blocks] == [
        "GridBlock", "GridBlock", "FieldRow", "QuantityRow", "QuantityRow",
    ]  # fmt: skip
    heights = [block.mapTo(page.content, block.rect().topLeft()).y() for block in page.blocks]
    assert heights == sorted(heights)
    assert all(block.isVisible() for block in page.blocks)


def test_what_is_typed_before_the_field_is_there_goes_into_it(
    window: MainWindow, one_piece_a_turn: None
) -> None:
    workplace = place_of(window)
    unit_id = workplace.document.units()[0].id
    for name, count in (("supply_v", 3), ("motor_a", 0)):
        for number in range(1, count + 1):
            workplace.document.enter(unit_id, key(name, number), "460")
    for motor in (1, 2):
        for pair in (1, 2, 3):
            workplace.document.enter(unit_id, key("motor_a", motor, pair), "10")
    page = opened(window, "volts")
    assert focused() is page  # the field that is not read yet is below the tables
    type_text("24")
    assert len(page._built) < 5
    row = field_row(page, "control_v")
    assert focused() is row.input.editor()
    assert row.input.text() == "24"


def test_tab_reaches_lines_that_are_not_built_yet(
    window: MainWindow, one_piece_a_turn: None
) -> None:
    page = opened(window, "safety")
    while not page._built:
        page._slices.turn()
    QApplication.processEvents()
    first = page._built[0]
    known = len(page.stops())
    first.input_widget().setFocus()
    while first.isAncestorOf(focused()):
        QTest.keyClick(focused(), Qt.Key.Key_Tab)
    assert page.blocks[1].isAncestorOf(focused())
    assert known < len(page.blocks)


def test_a_page_left_half_built_goes_away_whole(window: MainWindow, one_piece_a_turn: None) -> None:
    page = opened(window, "volts")
    while page._homeless is None:
        page._slices.turn()
    line = page._homeless
    pages = place_of(window).pages
    pages._forget(pages._built.pop((page.unit_id, "volts")))
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    assert not isValid(line)
    assert not isValid(page)


# -- passes and units in pieces --------------------------------------------------------------


def test_a_unit_computed_in_pieces_is_the_same(project_path: Path, form: Form) -> None:
    with Session.open(project_path, form) as session, Session.open(project_path, form) as other:
        unit = session.units()[0]
        pieces = sum(1 for _ in session.computing(unit.id))
        assert pieces == len(session.plan.order)
        made, whole = session.results(unit.id), other.results(unit.id)
        assert made.calculation.values == whole.calculation.values
        assert made.calculation.verdicts == whole.calculation.verdicts


def test_an_entry_in_between_is_in_the_results(project_path: Path, form: Form) -> None:
    with Session.open(project_path, form) as session:
        unit = session.units()[0]
        work = session.computing(unit.id)
        next(work)
        session.enter(unit.id, "rated_v", (), "230")
        for _ in work:
            pass
        assert session.results(unit.id).value("rated_v").number == 230


def test_passes_worked_out_in_pieces_are_those_worked_out_at_once(
    project_path: Path, form: Form
) -> None:
    with Session.open(project_path, form) as session:
        unit = session.units()[0]
        session.pass_name = "as left"
        session.enter(unit.id, "rated_v", (), "230")
        passes = PassResults(session)
        assert not passes.is_ready(unit.id)
        for _ in passes.computing(unit.id):
            pass
        assert passes.is_ready(unit.id)
        kept = passes.at(unit.id, "as found")
        assert kept.value("rated_v").number == 460
        fresh = session.results_of_pass(unit.id, "as found")
        assert kept.calculation.values == fresh.calculation.values


# -- memory ----------------------------------------------------------------------------------


def settle() -> None:
    for _ in range(3):
        QApplication.processEvents()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()


def test_visits_leave_nothing_behind(
    make_window: Callable[..., MainWindow], project_path: Path, form: Form
) -> None:
    with Session.open(project_path, form) as session:
        first = session.units()[0]
        for number in range(3):
            unit = session.add_unit(f"RTU-{number + 2}")
            session.copy_configuration(first.id, unit.id, ("setup",))
    window = make_window()
    window.open_project(project_path)
    workplace = place_of(window)
    units = [unit.id for unit in workplace.document.units()]
    visits = [(unit_id, name) for unit_id in units for name in ("setup", "safety", "volts")]
    pages: weakref.WeakSet[SectionPage] = weakref.WeakSet()
    sizes = []
    for _ in range(3):
        for unit_id, name in visits:
            workplace.open_page(unit_id, name)
            page = workplace.pages.page
            assert page is not None
            page.complete()
            pages.add(page)
            QApplication.processEvents()
        settle()
        sizes.append((len(window.findChildren(QObject)), len(pages)))
    assert [kept for _, kept in sizes] == [10, 10, 10]  # of twelve
    assert sizes[2][0] < sizes[1][0] + len(visits)  # less than one object a visit


def test_labels_outlive_200_000_texts(qtbot: QtBot) -> None:
    plain = label("")
    sign = SignLabel(Preferences.load().appearance())
    qtbot.addWidget(plain)
    qtbot.addWidget(sign)
    plain.show()
    texts = [f"Average voltage {number} V" for number in range(100)]
    signs = list(OUTCOMES.values())
    held = [sys.getrefcount(text) for text in texts]
    none, true = sys.getrefcount(None), sys.getrefcount(True)
    for number in range(TEXTS):
        plain.setText(texts[number % 100])
    for number in range(TEXTS // 10):
        sign.show_sign(signs[number % len(signs)])
    assert [sys.getrefcount(text) for text in texts] == held
    # A reference too few at each call would have used these up long ago.
    assert abs(sys.getrefcount(None) - none) < 1_000
    assert abs(sys.getrefcount(True) - true) < 1_000
    assert plain.text() == texts[(TEXTS - 1) % 100]


class Ring:
    """Something that only Python's collector can take away."""

    def __init__(self) -> None:
        self.itself = self


def test_memory_is_tidied_by_the_window_alone(qtbot: QtBot) -> None:
    owner = QObject()
    collector = Collector(owner)
    try:
        assert not gc.isenabled()
        gone = weakref.ref(Ring())
        kept = [Ring() for _ in range(50_000)]  # so many new ones make it due
        qtbot.waitUntil(lambda: gone() is None, timeout=5_000)
        assert len(kept) == 50_000
        set_aside()
        assert gc.get_freeze_count() > 50_000
    finally:
        collector.end()
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0
