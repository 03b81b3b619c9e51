"""What a log shows: list and finding side by side, or one below the other, at any height."""

from __future__ import annotations

from collections.abc import Callable

from pytestqt.qtbot import QtBot

from commission.wizard.trend_findings import FindingsView
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of
from wizard.tour import logs, settle


def _findings(window: MainWindow) -> FindingsView:
    shown = [one for one in window.findChildren(FindingsView) if one.isVisible()]
    assert len(shown) == 1
    return shown[0]


def test_the_finding_stands_below_the_list_where_there_is_little_room(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    window = demo_tour("light", 200)
    window.resize(1024, 640)
    assert list(logs(window))
    view = _findings(window)
    outer = place_of(window).area.verticalScrollBar()
    qtbot.waitUntil(lambda: view.detail.y() > view.list.y() + view.list.height() - 1)
    qtbot.waitUntil(lambda: view.detail.verticalScrollBar().maximum() == 0)
    qtbot.waitUntil(lambda: view.list.verticalScrollBar().maximum() == 0)
    assert outer.maximum() > 0 and view.plot.height() > 100
    window.resize(1920, 1080)
    qtbot.waitUntil(lambda: view.detail.x() > view.list.width() - 1)


def test_no_height_of_the_window_lets_the_bar_come_and_go_without_end(
    demo_tour: Callable[..., MainWindow], qtbot: QtBot
) -> None:
    """A figure is lower where it is narrower: what just fits beside a bar, fits without it."""
    window = demo_tour("light", 100)
    window.resize(1280, 800)
    assert list(logs(window))
    view = _findings(window)
    content = view.detail.widget()
    assert content is not None
    widths = set()
    for height in range(640, 1000, 4):
        window.resize(1280, height)
        settle()
        widths.add(content.width())
    assert len(widths) == 1
