"""Whatever has the focus is wholly in sight, with its name, in a small window and enlarged."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from commission.language import choose_language
from commission.wizard.entry_row import EntryRow
from commission.wizard.grid import GridBlock
from commission.wizard.grid_view import GridView
from commission.wizard.in_sight import areas_round, focus_box
from commission.wizard.page import SectionPage
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, place_of
from wizard.tour import pages
from wizard.typist import Keyboard

PAGES = ("nameplate", "electrical_supply", "cooling_circuits", "superheat_chart")
_MOST_TABS = 45
_EDGES = 48  # pixels of room that a line keeps round its words, at 250 %


@pytest.fixture(autouse=True)
def speaking_english_again() -> Iterator[None]:
    yield
    choose_language("en")


def _in_window(widget: QWidget, box: QRect) -> QRect:
    return QRect(widget.mapTo(widget.window(), box.topLeft()), box.size())


def _seen_part(widget: QWidget) -> QRect:
    """Return the part of the window in which everything that scrolls a widget lets it be seen."""
    part = widget.window().rect()
    for area in areas_round(widget):
        part = part.intersected(_in_window(area.viewport(), area.viewport().rect()))
    return part


def out_of_sight(widget: QWidget) -> str:
    """Return what of the focus, its name and its head cannot be seen; "" for all seen."""
    room = _seen_part(widget)
    box = _in_window(widget, focus_box(widget))
    ends = box.bottom() if box.height() <= room.height() else box.top()  # what is too high begins
    if box.top() < room.top() or ends > room.bottom():
        return f"the focus {box} is not in {room}"
    row = _line_of(widget)
    if isinstance(row, EntryRow) and row.named is not None and row.input_widget() is widget:
        name = _in_window(row.named, row.named.rect())
        if (
            not room.contains(name.united(box))
            and name.united(box).height() < room.height() - _EDGES
        ):
            return f"its name {name} is not in {room}"
    if isinstance(widget, GridView):
        head = _in_window(widget.columns, widget.columns.rect())
        if not room.contains(head.topLeft()) and head.united(box).height() < room.height() - _EDGES:
            return f"its head {head} is not in {room}"
    return ""


def _line_of(widget: QWidget) -> EntryRow | GridBlock | None:
    above: QWidget | None = widget
    while above is not None and not isinstance(above, EntryRow | GridBlock):
        above = above.parentWidget()
    return above


def _comes_into_sight(qtbot: QtBot, name: str) -> None:
    said: list[str] = []

    def is_in_sight() -> bool:
        said.append(out_of_sight(focused()))
        return not said[-1]

    try:
        qtbot.waitUntil(is_in_sight, timeout=2000)
    except Exception:
        pytest.fail(f"{name}, {focused().accessibleName()}: {said[-1]}")


@pytest.mark.parametrize("look", [(200, "en"), (200, "es"), (250, "es"), (100, "en")])
def test_what_has_the_focus_is_wholly_in_sight(
    look: tuple[int, str], demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    """Tab through pages, there and back: each time the focus is inside all that scrolls."""
    window = demo_tour("light", *look)
    window.resize(1024, 640)
    keys = Keyboard()
    for name, _ in pages(window, PAGES):
        page = place_of(window).pages.page
        assert page is not None
        page.focus_first()
        _comes_into_sight(qtbot, name)
        visited = 0
        while visited < _MOST_TABS and page.isAncestorOf(focused()):
            keys.tab()
            visited += 1
            _comes_into_sight(qtbot, f"{name}, Tab {visited}")
        assert visited > 5
        for back in range(5):
            keys.tab(back=True)
            _comes_into_sight(qtbot, f"{name}, back {back}")


def _page(
    demo_tour: Callable[..., MainWindow],
    percent: int,
    name: str,
    size: tuple[int, int] = (1024, 640),
) -> SectionPage:
    window = demo_tour("light", percent)
    window.resize(*size)
    list(pages(window, (name,)))
    page = place_of(window).pages.page
    assert page is not None
    return page


def _table_of(page: SectionPage) -> GridBlock:
    return next(block for block in page.blocks if isinstance(block, GridBlock))


def test_the_verdict_of_a_cell_is_in_sight_where_there_is_room(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    page = _page(demo_tour, 100, "electrical_supply")
    table = _table_of(page)
    table.begin()
    Keyboard().tab()  # as it opens, a page stays at its title
    _comes_into_sight(qtbot, "electrical_supply")
    room = _seen_part(table.view)
    detail = _in_window(table.detail, table.detail.rect())
    qtbot.waitUntil(lambda: room.contains(_in_window(table.detail, QRect(0, 0, 1, 40))))
    assert detail.height() > 40


def test_who_scrolls_away_is_left_there_until_the_focus_moves(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    page = _page(demo_tour, 200, "nameplate")
    page.focus_first()
    _comes_into_sight(qtbot, "nameplate")
    here = page.verticalScrollBar().value()
    page.verticalScrollBar().setValue(page.verticalScrollBar().maximum())
    page.content.setMinimumHeight(page.content.height() + 50)
    qtbot.wait(120)
    assert out_of_sight(focused())
    assert page.verticalScrollBar().value() > here
    Keyboard().tab()
    _comes_into_sight(qtbot, "nameplate, Tab")


def test_what_grows_above_the_focus_does_not_push_it_away(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    page = _page(demo_tour, 200, "nameplate")
    page.focus_first()
    Keyboard().tab()
    _comes_into_sight(qtbot, "nameplate")
    page.guard.setFixedHeight(700)
    page.guard.show()
    QApplication.processEvents()
    _comes_into_sight(qtbot, "nameplate, with a banner above")


def test_the_check_finds_what_is_hidden(demo_tour: Callable[..., MainWindow], qtbot: QtBot) -> None:
    page = _page(demo_tour, 200, "nameplate")
    page.focus_first()
    _comes_into_sight(qtbot, "nameplate")
    bar = page.verticalScrollBar()
    box = _in_window(focused(), focused().rect())
    bar.setValue(bar.value() + box.center().y() - _seen_part(focused()).top())
    assert "the focus" in out_of_sight(focused())
    assert focused().mapTo(page.window(), QPoint()).y() < _seen_part(focused()).top()
    assert focused().focusPolicy() != Qt.FocusPolicy.NoFocus


def test_a_page_opens_at_its_title_and_cautions(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    """A table that is higher than the window does not push what warns of danger out of it."""
    page = _page(demo_tour, 100, "functional_cooling", (1280, 800))
    page.focus_first()
    _comes_into_sight(qtbot, "functional_cooling")
    qtbot.wait(150)  # what follows from the move has its place by now
    assert isinstance(page.row_with_focus(), GridBlock)
    assert page.verticalScrollBar().value() == 0
    Keyboard().tab()
    _comes_into_sight(qtbot, "functional_cooling, Tab")
