"""A tour of the window: every place, and every page of the form on a unit that shows it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator

from PySide6.QtCore import QPoint, QRect
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QWidget

from commission.validation.site import PROJECT
from commission.wizard.header import PLACES
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of

_MOMENT_MS = 60
_MOST_MOMENTS = 5
_MOST_WAITS = 500  # moments until a log is judged
OTHER_PLACES = ("read_back", "tests", "witness", "schedule")


def settle() -> None:
    """Let the window lay out and paint what is new."""
    for _ in range(3):
        QApplication.processEvents()


def at_rest(faults: Callable[[], list[str]]) -> list[str]:
    """Return the faults that stay; a page that was just resized takes a moment to lie still."""
    found = faults()
    for _ in range(_MOST_MOMENTS):
        if not found:
            break
        QTest.qWait(_MOMENT_MS)
        found = faults()
    return found


def places(window: MainWindow) -> Iterator[tuple[str, QWidget]]:
    """Go to every place; yield its name and what there is to see of it."""
    workplace = place_of(window)
    for name in (*(one[0] for one in PLACES), *OTHER_PLACES):
        if name == "tests":
            unit = workplace.document.units()[0]
            workplace.run_tests(unit.id, "functional_cooling")
        else:
            workplace.go(name)
        if name == "board":
            workplace.board.model.settle()
        settle()
        yield f"place {name}", workplace
    yield from logs(window)
    workplace.go("people")
    people = workplace.place("people")
    people.ask_instrument()  # type: ignore[attr-defined]
    settle()
    yield "place people, form of an instrument", workplace
    people.instrument_form.hide()  # type: ignore[attr-defined]
    workplace.go("deficiencies")
    log = workplace.place("deficiencies")
    log.ask_new()  # type: ignore[attr-defined]
    settle()
    yield "place deficiencies, form", workplace
    log.form.hide()  # type: ignore[attr-defined]
    workplace.go("board")
    board = workplace.board
    board.form.ask_new()
    settle()
    yield "place board, new unit", workplace
    board.form.ask_change(workplace.document.units()[0].id)
    settle()
    yield "place board, form of a unit", workplace
    board.form.hide()
    workplace.who.ask()
    settle()
    yield "place board, who records", workplace
    workplace.who.leave()


def logs(window: MainWindow) -> Iterator[tuple[str, QWidget]]:
    """Show what a log shows, of the first unit that has one."""
    workplace = place_of(window)
    project = workplace.document.session.project
    with_log = [one.id for one in workplace.document.units() if project.trend_logs(one.id)]
    if not with_log:
        return
    workplace.go("trends")
    trends = workplace.place("trends")
    trends.units.setCurrentIndex(trends.units.findData(with_log[0]))  # type: ignore[attr-defined]
    trends.units.activated.emit(trends.units.currentIndex())  # type: ignore[attr-defined]
    for _ in range(_MOST_WAITS):
        if trends.shown is not None:  # type: ignore[attr-defined]
            break
        QTest.qWait(_MOMENT_MS)
    assert trends.shown is not None  # type: ignore[attr-defined]
    QTest.qWait(_MOMENT_MS)
    settle()
    yield "place trends, what a log shows", workplace


def start_screens(window: MainWindow) -> Iterator[tuple[str, QWidget]]:
    """Show the first screen, without and with the form of a new project."""
    start = window.start
    assert start is not None
    window.stack.setCurrentWidget(start)
    settle()
    yield "start", start
    start.new_form.ask()
    settle()
    yield "start, new project", start
    start.new_form.hide()
    window.stack.setCurrentWidget(place_of(window))
    settle()


def pages(window: MainWindow, only: Collection[str] = ()) -> Iterator[tuple[str, QWidget]]:
    """Open every page of the form (or those) once, each on the first unit that has it open."""
    document = place_of(window).document
    for section in document.form.sections:
        owners = [PROJECT] if section.level == "project" else [u.id for u in document.units()]
        shown = [one for one in owners if section in document.results(one).sections()]
        opened = [one for one in shown if not document.results(one).blocking(section)]
        if not shown or (only and section.name not in only):
            continue
        place_of(window).open_page((opened or shown)[0], section.name)
        page = place_of(window).pages.page
        assert page is not None
        page.complete()
        opened_page = place_of(window).pages.page
        assert opened_page is not None
        opened_page.complete()
        settle()
        yield f"page {section.name}", place_of(window)


def keys_laid_over(window: MainWindow) -> Iterator[tuple[str, QWidget]]:
    """Show the list of keys."""
    place_of(window).go("board")
    window.show_help()
    settle()
    yield "keys", window.help
    window.help.leave()


def everywhere(window: MainWindow, only: Collection[str] = ()) -> Iterator[tuple[str, QWidget]]:
    """The whole tour; with `only`, of those pages."""
    yield from start_screens(window)
    yield from places(window)
    yield from keys_laid_over(window)
    yield from pages(window, only)


def seen(inside: QWidget) -> Iterator[QWidget]:
    """Yield every widget that is shown, whether scrolled into view or not."""
    for one in inside.findChildren(QWidget):
        if one.isVisible() and not one.isWindow() and one.width() > 0:
            yield one


def words_of(widget: QWidget) -> str:
    """Return what a widget says, short, to find it by."""
    for ask in ("text", "currentText", "placeholderText", "toPlainText"):
        method = getattr(widget, ask, None)
        text = method() if callable(method) else ""
        if isinstance(text, str) and text:
            return text[:60]
    return widget.accessibleName()[:60]


def described(widget: QWidget) -> str:
    """Return kind and words of a widget, and of the one that holds it."""
    above = widget.parentWidget()
    holder = type(above).__name__ if above is not None else "-"
    return f"{type(widget).__name__} '{words_of(widget)}' in {holder}"


def place_in(widget: QWidget, frame: QWidget) -> QRect:
    """Return where a widget lies in another, scrolled or not."""
    return QRect(widget.mapTo(frame, QPoint()), widget.size())


def is_scrolled_content(widget: QWidget) -> bool:
    """Return whether a widget may rightly be larger than what holds it."""
    above = widget.parentWidget()
    holder = above.parentWidget() if above is not None else None
    return isinstance(holder, QAbstractScrollArea) and holder.viewport() is above
