"""What scrolls by itself, and lets its own bar go where the window round it scrolls already.

Two bars of one direction inside each other are a trap: what a wheel or a finger moves depends on
where it is. So a form or a list that stands in a window scrolled as a whole is as high as what it
holds. A very long list alone keeps its bar, or what stands below it would be out of reach.
"""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QAbstractScrollArea, QScrollArea, QTableView, QWidget

_MOST = 16_000  # pixels; about 100 records with three lines each, enlarged as far as can be


@runtime_checkable
class WholeRound(Protocol):
    """What scrolls as a whole, and tells those inside whether it does."""

    def take_whole(self, whole: Whole) -> None:
        """Hear of one that is shown inside."""


class Whole(QObject):
    """Gives a form or list the height of what it holds, while what is round it scrolls."""

    def __init__(self, area: QAbstractScrollArea, least: int) -> None:
        """Watch an area that needs at least so many pixels of height where nothing is round it."""
        super().__init__(area)
        self.area = area
        self.is_stacked = True
        self._least = least
        self._is_held = False
        self._bar = area.verticalScrollBarPolicy()
        self._due = QTimer(self)
        self._due.setSingleShot(True)
        self._due.setInterval(0)
        self._due.timeout.connect(self._follow)
        area.setMinimumHeight(least)
        area.installEventFilter(self)
        if isinstance(area, QTableView):
            area.verticalHeader().sectionResized.connect(self._changed)
            area.model().modelReset.connect(self._changed)

    @property
    def extra(self) -> int:
        """How many pixels higher it is than it would have to be."""
        return self.area.minimumHeight() - self._least

    def set_least(self, least: int) -> None:
        """Need another height at least where nothing round it scrolls."""
        self._least = least
        self._follow()

    def set_stacked(self, is_stacked: bool) -> None:
        """Stand in one column with all the rest, or beside another thing that has its own height.

        Beside another it scrolls by itself: what is round it would not grow by as much.
        """
        self.is_stacked = is_stacked
        if not is_stacked:
            self.hold(False)

    def hold(self, is_held: bool) -> None:
        """Be as high as what it holds, or scroll by itself again."""
        if is_held != self._is_held:
            self._is_held = is_held
            self._due.start()  # not while layouts are being asked what they need

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        kind = event.type()
        if watched is self.area and kind == QEvent.Type.Show:
            content = self.area.widget() if isinstance(self.area, QScrollArea) else None
            if content is not None:  # a form is built when it is asked for
                content.removeEventFilter(self)
                content.installEventFilter(self)
            self._announce()
        if watched is self.area and kind in (QEvent.Type.Show, QEvent.Type.Resize):
            self._keep_width()
        if kind in (QEvent.Type.Resize, QEvent.Type.LayoutRequest):
            self._changed()
        return False

    def _keep_width(self) -> None:
        """Leave the bar's width free whether there is a bar or not.

        A drawing is lower where it is narrower: what just fits beside a bar would not fit
        without one, and Qt would show and hide the bar without end.
        """
        content = self.area.widget() if isinstance(self.area, QScrollArea) else None
        if content is not None:
            free = self.area.verticalScrollBar().sizeHint().width()
            content.setMaximumWidth(max(1, self.area.width() - free))

    def _changed(self, *_: object) -> None:
        if self._is_held:
            self._due.start()

    def _announce(self) -> None:
        above: QWidget | None = self.area.parentWidget()
        while above is not None:
            if isinstance(above, WholeRound):
                above.take_whole(self)
                return
            above = above.parentWidget()

    def _follow(self) -> None:
        whole = self._height() if self._is_held else 0
        fits = self._is_held and whole <= _MOST
        policy = Qt.ScrollBarPolicy.ScrollBarAlwaysOff if fits else self._bar
        is_table = isinstance(self.area, QTableView)  # a form has none where it is whole
        if is_table and self.area.verticalScrollBarPolicy() != policy:
            self.area.setVerticalScrollBarPolicy(policy)
        height = max(self._least, whole) if fits else self._least
        if self.area.minimumHeight() != height:
            self.area.setMinimumHeight(height)

    def _height(self) -> int:
        """Return how high the area must be to show all that it holds."""
        area = self.area
        bar = area.horizontalScrollBar()
        edges = area.height() - area.viewport().height()
        if bar.isVisible():
            edges = max(edges, bar.height())
        if isinstance(area, QTableView):
            return area.verticalHeader().length() + edges
        content = area.widget() if isinstance(area, QScrollArea) else None
        if content is None:
            return 0
        layout, width = content.layout(), min(area.viewport().width(), content.maximumWidth())
        if layout is not None and layout.hasHeightForWidth():
            return layout.totalHeightForWidth(width) + edges
        return content.minimumSizeHint().height() + edges
