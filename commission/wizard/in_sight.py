"""What has the focus stands wholly in sight: with its name, and what is said below it if that fits.

In a small window a page scrolls, and the window round it may scroll as well. What Qt brings into
view is a widget, in the innermost of them; of a table that is higher than the window it may be
the wrong part, and a field may come without its name.
"""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QObject, QPoint, QRect, QTimer
from PySide6.QtWidgets import QAbstractItemView, QApplication, QScrollArea, QScrollBar, QWidget
from shiboken6 import isValid

_MOMENTS_MS = (0, 40)  # at once, and again when what follows from the move has its place
_MARGIN = 8  # pixels left above and below
ARRIVED = "arrived_at_the_top"
"""Property of what scrolls: it was just opened, and stays at its title and cautions if it can."""


def areas_round(widget: QWidget) -> list[QScrollArea]:
    """Return what scrolls a widget, the innermost first."""
    found: list[QScrollArea] = []
    above = widget.parentWidget()
    while above is not None:
        if isinstance(above, QScrollArea):
            content = above.widget()
            if content is not None and (content is widget or content.isAncestorOf(widget)):
                found.append(above)
        above = above.parentWidget()
    return found


def focus_box(widget: QWidget) -> QRect:
    """Return what of a widget shows the focus: of a table or list the current cell."""
    if isinstance(widget, QAbstractItemView):
        return _cell_box(widget, widget.currentIndex()) or widget.rect()
    return widget.rect()


def _cell_box(view: QAbstractItemView, place: QModelIndex) -> QRect | None:
    """Return where a cell lies in its table; None for one that is not seen."""
    seen = view.visualRect(place).intersected(view.viewport().rect())
    return seen.translated(view.viewport().pos()) if not seen.isEmpty() else None


def show_whole(widget: QWidget, box: QRect | None = None) -> None:
    """Scroll everything round a widget so that a part of it (all by default) is seen."""
    areas = areas_round(widget)
    if not areas:
        return
    frame = _content_of(areas[0])
    lowest = min(area.viewport().height() for area in areas)
    needed, wanted = _wanted(widget, box or widget.rect(), frame, lowest - 2 * _MARGIN)
    for area in areas:
        content = _content_of(area)
        below = needed.translated(frame.mapTo(content, QPoint()))
        if area.property(ARRIVED) and _is_seen_from_the_top(area, below):
            continue
        top = frame.mapTo(content, wanted.topLeft()).y()
        _scroll(area, top, top + wanted.height())


def _is_seen_from_the_top(area: QScrollArea, needed: QRect) -> bool:
    """Return whether what is needed is seen where a page begins, with its title and cautions."""
    return area.verticalScrollBar().value() == 0 and needed.bottom() < area.viewport().height()


def _content_of(area: QScrollArea) -> QWidget:
    content = area.widget()
    assert content is not None
    return content


def _scroll(area: QScrollArea, top: int, bottom: int) -> None:
    """Scroll no farther than is needed, nor where all is seen; of what is too high, to its top."""
    bar, height = area.verticalScrollBar(), area.viewport().height()
    if bottom > bar.value() + height:
        bar.setValue(bottom + _MARGIN - height)
    if top < bar.value():
        bar.setValue(top - _MARGIN)


def _wanted(widget: QWidget, box: QRect, frame: QWidget, height: int) -> tuple[QRect, QRect]:
    """Return what must and what should be seen of a frame.

    The box, and what belongs to it as far as it fits: first what stands above it in its line or
    table (its name, the head), then what is below. A line must be seen whole; of a table the
    cell with its head and the verdict below it.
    """
    wanted = _place(widget, box, frame)
    chain = _chain(widget, frame)
    for line in chain:
        top = min(_place(line, line.rect(), frame).top(), wanted.top())
        to_top = QRect(QPoint(wanted.left(), top), wanted.bottomRight())
        wanted = _joined(wanted, to_top, height)
    if isinstance(widget, QAbstractItemView):  # a verdict may be in the row below
        here = widget.currentIndex()
        below = _cell_box(widget, here.siblingAtRow(here.row() + 1))
        wanted = _joined(wanted, _place(widget, below or box, frame), height)
    needed = wanted
    for line in chain:
        wanted = _joined(wanted, _place(line, line.rect(), frame), height)
    if chain and _is_line(chain[-1]):
        wanted = _down(chain[-1], wanted, frame, height)
    return (needed if isinstance(widget, QAbstractItemView) else wanted), wanted


def _chain(widget: QWidget, frame: QWidget) -> list[QWidget]:
    """Return a widget and what it is in, up to its line of the page, or the frame."""
    found: list[QWidget] = []
    here: QWidget | None = widget
    while here is not None and here is not frame:
        found.append(here)
        if _is_line(here):
            break
        here = here.parentWidget()
    return found


def _is_line(widget: QWidget) -> bool:
    return widget.property("role") == "entry"


def _down(line: QWidget, wanted: QRect, frame: QWidget, height: int) -> QRect:
    """Return what is wanted of a line with as much of what follows in it as fits."""
    parts = [
        (_place(part, part.rect(), frame), part)
        for part in line.children()
        if isinstance(part, QWidget) and part.isVisible() and not part.isWindow()
    ]
    for place, part in sorted(parts, key=lambda one: one[0].top()):
        if place.bottom() <= wanted.bottom():
            continue
        joined = _joined(wanted, place, height)
        if joined == wanted:  # it does not fit: as much of it as does
            return wanted if place.top() <= wanted.top() else _down(part, wanted, frame, height)
        wanted = joined
    return wanted


def _place(widget: QWidget, box: QRect, frame: QWidget) -> QRect:
    return QRect(widget.mapTo(frame, box.topLeft()), box.size())


def _joined(one: QRect, other: QRect, height: int) -> QRect:
    """Return both as one, or the first alone where they are too high together."""
    both = one.united(other)
    return both if both.height() <= height else one


class InSight(QObject):
    """Keeps in sight what has the focus inside a widget: when it moves, and when things grow.

    Whoever scrolls away to look at something is left there until the focus moves on.
    """

    def __init__(self, content: QWidget) -> None:
        super().__init__(content)
        self._content = content
        self._left_at: list[tuple[QScrollBar, int]] = []
        self._due = [self._timer(moment) for moment in _MOMENTS_MS]
        QApplication.instance().focusChanged.connect(self._moved)  # type: ignore[union-attr]

    def _timer(self, moment: int) -> QTimer:
        made = QTimer(self)
        made.setSingleShot(True)
        made.setInterval(moment)
        made.timeout.connect(self._show)
        return made

    def _focus(self) -> QWidget | None:
        now = QApplication.focusWidget()
        return now if now is not None and self._content.isAncestorOf(now) else None

    def _moved(self, _before: QWidget | None, _now: QWidget | None) -> None:
        now = self._focus()
        if now is None:
            return
        if isinstance(now, QAbstractItemView):
            _once(now, now.selectionModel().currentChanged, self._move_on)
        for area in areas_round(now):
            bar = area.verticalScrollBar()
            _once(bar, bar.rangeChanged, self._grown)
        self._move_on()

    def _move_on(self, *_: object) -> None:
        now = self._focus()
        for area in areas_round(now) if now is not None else ():
            area.setProperty(ARRIVED, False)
        self._begin()

    def _begin(self, *_: object) -> None:
        for due in self._due:
            due.start()

    def _grown(self, *_: object) -> None:
        """What the focus is in has grown or shrunk; who has not scrolled away stays with it."""
        there = [(bar, value) for bar, value in self._left_at if isValid(bar)]
        if all(bar.value() == min(value, bar.maximum()) for bar, value in there):
            self._begin()

    def _show(self) -> None:
        now = self._focus()
        if now is None:
            return
        show_whole(now, focus_box(now))
        bars = (area.verticalScrollBar() for area in areas_round(now))
        self._left_at = [(bar, bar.value()) for bar in bars]


def _once(owner: QObject, signal, slot) -> None:
    """Connect a signal of an object unless it is connected; it ends with either of both."""
    if not owner.property("in_sight"):
        owner.setProperty("in_sight", True)
        signal.connect(slot)
