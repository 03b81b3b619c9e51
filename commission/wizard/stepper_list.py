"""The functional tests of a unit as a list: each with its state in icon and words."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QListWidget,
    QListWidgetItem,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
)

from commission.language import spoken, to_say
from commission.sequence.functional_model import FunctionalTest
from commission.sequence.functional_record import Standing, TestState, standing
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.icon import icon
from commission.wizard.parts import label
from commission.wizard.sign import STOP_SIGN, Sign

_WIDTH, _LOW = 252, 172
_ANY_SIZE = 16_777_215  # Qt's own largest
_TEST = Qt.ItemDataRole.UserRole
Place = QModelIndex | QPersistentModelIndex
SIGNS = {
    TestState.STOP: STOP_SIGN,
    TestState.FAIL: Sign("fail", to_say("fail"), "fail"),
    TestState.INCONCLUSIVE: Sign("inconclusive", to_say("inconclusive"), "inconclusive"),
    TestState.BEGUN: Sign("partial", to_say("begun"), "missing"),
    TestState.NOT_DONE: Sign("empty", to_say("to do"), "missing"),
    TestState.NOT_JUDGED: Sign("missing", to_say("limit missing"), "missing"),
    TestState.PASS: Sign("pass", to_say("pass"), "done"),
    TestState.DEFERRED: Sign("not_applicable", "n/a", "missing"),
}


class _List(QListWidget):
    entered_item = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Right):
            self.entered_item.emit()
        elif event.key() in (
            Qt.Key.Key_Space,
            Qt.Key.Key_PageDown,
            Qt.Key.Key_PageUp,
            Qt.Key.Key_F5,
            Qt.Key.Key_F6,
            Qt.Key.Key_Escape,
        ):
            event.ignore()  # the place knows them
        else:
            super().keyPressEvent(event)


class _Lines(QStyledItemDelegate):
    """Measures the lines of an item for the width in which they are drawn.

    Qt measures them for the width of the list, and then keeps the spacing off both ends.
    """

    def __init__(self, shown: _List, least: int) -> None:
        """Make it for a list; an item is at least so many pixels high."""
        super().__init__(shown)
        self._shown, self._least = shown, least

    def sizeHint(self, option: QStyleOptionViewItem, place: Place) -> QSize:
        drawn_in = QStyleOptionViewItem(option)
        width = self._shown.viewport().width() - 2 * self._shown.spacing()
        drawn_in.rect = QRect(0, 0, width, option.rect.height())
        return super().sizeHint(drawn_in, place).expandedTo(QSize(0, self._least))


class TestList(QFrame):
    """Which unit, its signals, and its tests.

    Signals:
        test_chosen: the test.
        signals_chosen: the signals table is wanted.
        unit_chosen: unit id.
        entered: go into the step.
    """

    __test__ = False  # for pytest

    test_chosen = Signal(object)
    signals_chosen = Signal()
    unit_chosen = Signal(str)
    entered = Signal()

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "side")
        self._document = document
        self._appearance = appearance
        self._unit_id = ""
        px = appearance.px
        self.set_narrow(False)
        self.units = Choice(appearance)
        self.units.setAccessibleName(spoken("Unit"))
        self.units.activated.connect(
            lambda place: self.unit_chosen.emit(str(self.units.itemData(place) or ""))
        )
        self.items = _List()
        self.items.setAccessibleName(spoken("Functional tests"))
        self.items.setItemDelegate(_Lines(self.items, px(44)))
        self.items.setWordWrap(True)
        self.items.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.items.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.items.setSpacing(px(3))
        self.items.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # Always there: Qt measures wrapped lines before it takes the bar's width from them.
        self.items.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.items.currentItemChanged.connect(lambda now, _before: self._chosen(now))
        self.items.entered_item.connect(self.entered)
        self.items.itemActivated.connect(lambda _item: self.entered.emit())
        self.empty = label(spoken("This unit's form has no functional tests."), "muted")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(10), px(10), px(10), px(6))
        layout.setSpacing(px(8))
        for widget in (self.units, self.empty):
            layout.addWidget(widget)
        layout.addWidget(self.items, 1)

    def set_narrow(self, narrow: bool) -> None:
        """Stand above the step, all the width wide and low, or beside it."""
        px = self._appearance.px
        self.setMinimumWidth(0 if narrow else px(_WIDTH))
        self.setMaximumWidth(_ANY_SIZE if narrow else px(_WIDTH))
        self.setMaximumHeight(px(_LOW) if narrow else _ANY_SIZE)
        self.setMinimumHeight(px(_LOW) if narrow else 0)

    def show_unit(
        self,
        unit_id: str,
        tests: Sequence[FunctionalTest],
        chosen: FunctionalTest | None = None,
        *,
        keep: bool = False,
    ) -> None:
        """Show a unit's tests and open one, else the first; with `keep`, what is marked stays."""
        marked = self._marked() if keep else None
        at_signals = keep and self.items.currentRow() == 0
        self._unit_id = unit_id
        pairs = [(unit.tag, unit.id) for unit in self._document.units()]
        fill(self.units, pairs, unit_id)
        self.items.blockSignals(True)
        self.items.clear()
        signals = QListWidgetItem(spoken("Signals: what each terminal energises"))
        self.items.addItem(signals)
        for test in tests:
            item = QListWidgetItem()
            item.setData(_TEST, test)
            self.items.addItem(item)
        self.refresh(tests)
        self.items.blockSignals(False)
        self.empty.setVisible(not tests)
        self.items.setVisible(bool(tests))
        if marked is not None or at_signals:
            self._mark_row(self._row(marked) if marked is not None else 0)
        elif tests:
            self.items.setCurrentRow(1 if chosen is None else self._row(chosen))

    def refresh(self, tests: Sequence[FunctionalTest]) -> None:
        """Show how the tests stand now."""
        results = self._document.results(self._unit_id)
        palette = self._appearance.palette
        for place, test in enumerate(tests, start=1):
            item = self.items.item(place)
            held = standing(results, test)
            sign = SIGNS[held.state]
            words = f"{test.title}\n{_words(held, sign)}"
            if item is not None and item.text() != words:
                item.setText(words)
                item.setIcon(icon(sign.icon, palette[sign.colour]))

    def _marked(self) -> FunctionalTest | None:
        item = self.items.currentItem()
        return item.data(_TEST) if item is not None else None

    def _row(self, test: FunctionalTest) -> int:
        for place in range(1, self.items.count()):
            other = self.items.item(place).data(_TEST)
            if (other.name, other.index) == (test.name, test.index):
                return place
        return -1

    def mark(self, test: FunctionalTest) -> None:
        """Mark a test as the one that is open, without opening it."""
        self._mark_row(self._row(test))

    def _mark_row(self, place: int) -> None:
        self.items.blockSignals(True)
        self.items.setCurrentRow(place)
        self.items.blockSignals(False)

    def _chosen(self, item: QListWidgetItem | None) -> None:
        if item is None:
            return
        test = item.data(_TEST)
        if test is None:
            self.signals_chosen.emit()
        else:
            self.test_chosen.emit(test)


def _words(held: Standing, sign: Sign) -> str:
    if held.state is TestState.BEGUN:
        return spoken(
            "{state}: {marked} of {asked} marked",
            state=sign.word,
            marked=held.marked,
            asked=held.asked,
        )
    return f"{sign.word}: {held.why}" if held.why else sign.word
