"""The figures of a page: a strip that folds below its entries, drawn as readings come in."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from commission.definitions.model import Figure, Section
from commission.drawing.figure import calls, drawn
from commission.drawing.readings import Wanting
from commission.drawing.shapes import Drawing
from commission.drawing.unit_calls import IDLE, Call
from commission.formula.graph import Index
from commission.language import spoken
from commission.validation.site import PROJECT
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.drawing_view import DrawingView
from commission.wizard.parts import (
    button,
    clear,
    column,
    label,
    next_in_focus,
    reveal,
    wrapping_row,
)
from commission.wizard.slices import Slices

_DRAWN_AFTER_MS = 150  # a figure follows the typing, but never holds it up
_WIDEST = 860


class FigureView(QFrame):
    """One figure: its title, the call of a unit diagram, the drawing or what is wanting."""

    def __init__(
        self, document: Document, unit_id: str, figure: Figure, index: Index, appearance: Appearance
    ) -> None:
        super().__init__()
        self._document, self._unit_id = document, unit_id
        self.figure, self.index = figure, index
        self._appearance = appearance
        self._calls: tuple[Call, ...] = ()
        self._made: Drawing | Wanting | None = None
        px = appearance.px
        self.title = label(figure.label, "heading")
        self.call = Choice(appearance)
        self.call.setAccessibleName(spoken("Call under which the unit is shown"))
        self.call.setMaximumWidth(px(260))
        self.call.currentIndexChanged.connect(lambda _: self.refresh())
        self.call.hide()
        self.wanting = label("", "muted")
        self.view = DrawingView(self._drawing, appearance)
        self.view.setMaximumWidth(px(_WIDEST))
        head = wrapping_row(px(10))
        head.addWidget(self.title, 1)
        head.addWidget(self.call)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(12), px(6), px(12), px(10))
        layout.setSpacing(px(6))
        layout.addLayout(head)
        layout.addWidget(self.wanting)
        layout.addWidget(self.view)
        self.refresh()

    def chosen_call(self) -> Call:
        """Return the call chosen, the idle unit while there is none."""
        place = self.call.currentIndex()
        return self._calls[place] if 0 <= place < len(self._calls) else IDLE

    def refresh(self) -> None:
        """Draw the figure as its readings are now."""
        self._offer_calls()
        results = self._document.results(self._unit_id)
        width = self.view.points()
        self._made = drawn(results, self.figure, self.index, width, self.chosen_call())
        self.title.setText(self._made.title)
        is_wanting = isinstance(self._made, Wanting)
        self.wanting.setText(self._made.sentence if isinstance(self._made, Wanting) else "")
        self.wanting.setVisible(is_wanting)
        self.view.setVisible(not is_wanting)
        self.call.setVisible(bool(self._calls) and not is_wanting)
        if not is_wanting:
            self.view.refresh()

    def _offer_calls(self) -> None:
        offered = calls(self._document.results(self._unit_id), self.figure, self.index)
        if offered == self._calls:
            return
        chosen = self.chosen_call()
        self._calls = offered
        pairs = [(call.words, str(number)) for number, call in enumerate(offered)]
        place = offered.index(chosen) if chosen in offered else 0
        fill(self.call, pairs, str(place))

    def _drawing(self, width: float) -> Drawing:
        results = self._document.results(self._unit_id)
        made = self._made
        if not isinstance(made, Drawing) or abs(made.width - width) > 0.01:
            made = drawn(results, self.figure, self.index, width, self.chosen_call())
        if isinstance(made, Wanting):
            return Drawing(width, 1.0, (), made.title, made.sentence)
        return made


class FiguresPart(QFrame):
    """All figures of a page; built when the page is first seen, hidden where there are none."""

    def __init__(
        self, document: Document, unit_id: str, section: Section, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._document, self._unit_id, self._section = document, unit_id, section
        self._appearance = appearance
        self._views: list[FigureView] = []
        self._slices = Slices(self)
        self._slices.turned.connect(self._drawn_on)
        self._is_wanted = False
        document.closing.connect(self._slices.stop)
        self._shown: tuple[tuple[str, Index], ...] = ()
        px = appearance.px
        self.fold = button(spoken("Figures"), self._folded, "quiet")
        self.fold.setCheckable(True)
        self.fold.setChecked(True)
        self.inner = QWidget()
        self.lines = column()
        self.inner.setLayout(self.lines)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(1, px(4), 1, 1)
        layout.setSpacing(0)
        head = wrapping_row()
        head.setContentsMargins(px(4), 0, px(12), 0)
        head.addWidget(self.fold)
        head.addStretch(1)
        layout.addLayout(head)
        layout.addWidget(self.inner)
        self._due = QTimer(self)
        self._due.setSingleShot(True)
        self._due.setInterval(_DRAWN_AFTER_MS)
        self._due.timeout.connect(self.refresh)
        self._name_fold()
        if not section.figures:
            self.hide()
        else:
            document.recomputed.connect(self._recomputed)
            document.replaced.connect(self._changed)
            document.closing.connect(self._due.stop)

    def refresh(self) -> None:
        """Draw all figures that the configuration has now."""
        results = self._document.results(self._unit_id)
        there = results.figures(self._section)
        shown = tuple((figure.name, index) for figure, index in there)
        reveal(self, bool(there))
        if shown != self._shown:
            self._shown = shown
            clear(self.lines)
            self._views = []
            self._slices.begin(self._build(there))
        elif self.fold.isChecked():
            self._slices.finish()  # all are there before one is drawn anew
            self._slices.begin(self._draw_anew())

    def _build(self, there: list[tuple[Figure, Index]]) -> Iterator[None]:
        """Make the figures one by one; each takes as long to draw as the window may stand still."""
        before: QWidget = self.fold
        for figure, index in there:
            self._views.append(self._view(figure, index))
            before = next_in_focus(before, self._views[-1])
            yield

    def _draw_anew(self) -> Iterator[None]:
        for view in list(self._views):
            view.refresh()
            yield

    @property
    def views(self) -> list[FigureView]:
        """All figures, as their readings are now."""
        self._slices.finish()
        return self._views

    def _view(self, figure: Figure, index: Index) -> FigureView:
        made = FigureView(self._document, self._unit_id, figure, index, self._appearance)
        self.lines.addWidget(made)
        made.show()
        return made

    def start(self) -> bool:
        """Come to the figures; return whether there are any."""
        self.refresh()
        if not self._shown:
            return False
        if not self.fold.isChecked():
            self.fold.click()
        self.fold.setFocus(Qt.FocusReason.OtherFocusReason)
        self._is_wanted = True
        self._drawn_on()
        return True

    def _drawn_on(self) -> None:
        """Bring the figures into view once they are there, the focus on their first choice."""
        if not self._is_wanted or len(self._views) < len(self._shown):
            return
        self._is_wanted = False
        chooser = next((view.call for view in self._views if not view.call.isHidden()), None)
        if chooser is not None and self.fold.hasFocus():
            chooser.setFocus(Qt.FocusReason.OtherFocusReason)
        QTimer.singleShot(20, self, self._bring_to_top)

    def _bring_to_top(self) -> None:
        """Scroll until the strip begins at the upper edge; a figure is nearly a page high."""
        above = self.parentWidget()
        while above is not None and not isinstance(above, QScrollArea):
            above = above.parentWidget()
        content = above.widget() if isinstance(above, QScrollArea) else None
        if isinstance(above, QScrollArea) and content is not None:
            above.verticalScrollBar().setValue(self.mapTo(content, QPoint(0, 0)).y())

    def _folded(self) -> None:
        self._name_fold()
        self.inner.setVisible(self.fold.isChecked())
        if self.fold.isChecked():
            self.refresh()

    def _name_fold(self) -> None:
        is_open = self.fold.isChecked()
        self.fold.setText(spoken("Hide figures") if is_open else spoken("Show figures"))
        self.fold.setAccessibleName(self.fold.text())

    def _recomputed(self, unit_id: str, _changed: object) -> None:
        if unit_id in (self._unit_id, PROJECT):
            self._changed()

    def _changed(self) -> None:
        if self.isVisible() or not self._shown:
            self._due.start()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # After the page itself stands.
        self._due.start(0)
        self._due.setInterval(_DRAWN_AFTER_MS)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._due.stop()
