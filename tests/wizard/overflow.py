"""Finds what is cut off: text wider or higher than its widget, widgets outside what holds them."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QCheckBox,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QStyle,
    QStyleOptionButton,
    QStyleOptionComboBox,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from commission.wizard.grid_model import GridModel
from commission.wizard.grid_view import GridView
from commission.wizard.page import SectionPage
from commission.wizard.parts import SizedHeader
from commission.wizard.record_form import RecordList
from wizard.tour import described, is_scrolled_content, seen

_SLACK = 1  # a pixel of rounding
_LONGEST_VERDICT = 16  # letters


def overflows(inside: QWidget) -> Iterator[str]:
    """Yield a sentence for everything that is cut off in what is shown."""
    for widget in seen(inside):
        for found in _of(widget):
            yield f"{described(widget)}: {found}"


def _of(widget: QWidget) -> Iterator[str]:
    if isinstance(widget, QLabel):
        yield from _label(widget)
    elif isinstance(widget, QPushButton | QCheckBox):
        yield from _button(widget)
    elif isinstance(widget, QComboBox):
        yield from _choice(widget)
    elif isinstance(widget, QLineEdit):
        yield from _line(widget)
    elif isinstance(widget, SizedHeader):
        yield from _header(widget)
    elif isinstance(widget, QHeaderView):
        yield from _plain_header(widget)
    elif isinstance(widget, RecordList):
        yield from _records(widget)
    elif isinstance(widget, GridView):
        yield from _cells(widget)
    elif isinstance(widget, QListWidget):
        yield from _items(widget)
    if isinstance(widget, QAbstractScrollArea):
        yield from _scrolled(widget)
        yield from _scrolled_twice(widget)
    yield from _outside(widget)


def _widest(widget: QWidget, text: str, by_word: bool = False) -> int:
    pieces = text.split() if by_word else text.split("\n")
    return max((widget.fontMetrics().horizontalAdvance(one) for one in pieces), default=0)


def _label(label: QLabel) -> Iterator[str]:
    text = label.text()
    room = label.contentsRect().width() - 2 * label.margin()
    if not text:
        picture = label.pixmap()
        if (
            not picture.isNull()
            and picture.deviceIndependentSize().width() > label.width() + _SLACK
        ):
            yield "its picture is cut off"
        return
    needed = _widest(label, text, label.wordWrap())
    if needed > room + _SLACK:
        yield f"needs {needed} of width, has {room}"
    if label.wordWrap() and label.heightForWidth(label.width()) > label.height() + _SLACK:
        yield f"needs {label.heightForWidth(label.width())} of height, has {label.height()}"
    if not label.wordWrap() and label.sizeHint().height() > label.height() + _SLACK:
        yield f"needs {label.sizeHint().height()} of height, has {label.height()}"


def _button(button: QPushButton | QCheckBox) -> Iterator[str]:
    option = QStyleOptionButton()
    button.initStyleOption(option)
    is_push = isinstance(button, QPushButton)
    part = (
        QStyle.SubElement.SE_PushButtonContents
        if is_push
        else QStyle.SubElement.SE_CheckBoxContents
    )
    room = button.style().subElementRect(part, option, button)
    needed = _widest(button, button.text())
    if is_push and not button.icon().isNull():
        needed += button.iconSize().width() + (4 if button.text() else 0)
    if needed > room.width() + _SLACK:
        yield f"needs {needed} of width, has {room.width()}"
    if button.fontMetrics().height() > button.height():
        yield "is lower than its text"


def _choice(box: QComboBox) -> Iterator[str]:
    option = QStyleOptionComboBox()
    box.initStyleOption(option)
    control, part = QStyle.ComplexControl.CC_ComboBox, QStyle.SubControl.SC_ComboBoxEditField
    room = box.style().subControlRect(control, option, part, box).width()
    needed = _widest(box, box.currentText())
    if needed > room + _SLACK and box.currentText() not in box.toolTip():
        yield f"'{box.currentText()}' needs {needed} of width, has {room}, and no tool tip"


def _line(line: QLineEdit) -> Iterator[str]:
    if isinstance(line.parentWidget(), QComboBox) or line.text():
        return  # what is typed can be scrolled
    needed = _widest(line, line.placeholderText())
    option_room = line.contentsRect().width() - 20
    if needed > option_room + _SLACK and line.placeholderText() not in line.toolTip():
        yield f"its hint '{line.placeholderText()}' needs {needed}, has {option_room}"


def _header(header: SizedHeader) -> Iterator[str]:
    model = header.model()
    metrics = header.drawn_metrics()
    flat = header.orientation() == Qt.Orientation.Horizontal
    for section in range(header.count()):
        text = str(model.headerData(section, header.orientation()) or "")
        wide = header.sectionSize(section) if flat else header.width()
        high = header.height() if flat else header.sectionSize(section)
        needed = max((metrics.horizontalAdvance(word) for word in text.split()), default=0)
        if needed > wide - 8:
            yield f"header '{text}' needs {needed} of width, has {wide - 8}"
        box = QRect(0, 0, max(wide - 16, 1), 10_000)
        tall = metrics.boundingRect(box, int(Qt.TextFlag.TextWordWrap), text).height()
        if tall > high:
            yield f"header '{text}' needs {tall} of height, has {high}"


def _plain_header(header: QHeaderView) -> Iterator[str]:
    if header.isHidden() or header.orientation() != Qt.Orientation.Horizontal:
        return
    font = header.font()
    font.setBold(True)
    for section in range(header.count()):
        text = str(header.model().headerData(section, header.orientation()) or "")
        needed = QFontMetrics(font).horizontalAdvance(text)
        if not header.isSectionHidden(section) and needed > header.sectionSize(section):
            yield f"header '{text}' needs {needed} of width, has {header.sectionSize(section)}"


def _records(table: RecordList) -> Iterator[str]:
    """Texts of a list wrap: each word must fit, and all lines."""
    model, metrics = table.model(), table.fontMetrics()
    for place in (
        model.index(row, column)
        for row in range(model.rowCount())
        for column in range(model.columnCount())
        if not table.isColumnHidden(column)
    ):
        text = str(place.data() or "")
        wide, high = table.columnWidth(place.column()), table.rowHeight(place.row())
        needed = _widest(table, text, by_word=True)
        if needed > wide - 8:
            yield f"cell '{text}' needs {needed} of width, has {wide - 8}"
        box = QRect(0, 0, max(wide - 16, 1), 10_000)
        tall = metrics.boundingRect(box, int(Qt.TextFlag.TextWordWrap), text).height()
        if tall > high:
            yield f"cell '{text}' needs {tall} of height, has {high}"


def _items(shown: QListWidget) -> Iterator[str]:
    """All lines of an item fit into it."""
    part, flags = QStyle.SubElement.SE_ItemViewItemText, int(Qt.TextFlag.TextWordWrap)
    margin = shown.style().pixelMetric(QStyle.PixelMetric.PM_FocusFrameHMargin, None, shown) + 1
    for row in range(shown.count()):
        item = shown.item(row)
        box = shown.visualItemRect(item)
        option = QStyleOptionViewItem()
        shown.initViewItemOption(option)
        shown.itemDelegate().initStyleOption(option, shown.indexFromItem(item))
        drawn = box.intersected(shown.viewport().rect().adjusted(0, -10_000, 0, 10_000))
        drawn.setRight(min(drawn.right(), shown.viewport().width() - 1 - shown.spacing()))
        option.rect = drawn
        words = shown.style().subElementRect(part, option, shown)
        room = QRect(0, 0, words.width() - 2 * margin, 10_000)
        tall = shown.fontMetrics().boundingRect(room, flags, item.text()).height()
        if tall > box.height() + _SLACK:
            yield f"item '{item.text()}' needs {tall} of height, has {box.height()}"


def _cells(grid: GridView) -> Iterator[str]:
    """A cell of a grid says at least its verdict in full; long answers end in three points."""
    model = grid.model()
    assert isinstance(model, GridModel)
    font = grid.font()
    font.setBold(True)
    for row in range(model.rowCount()):
        for column in range(model.columnCount()):
            key = model.key_at(model.index(row, column))
            cell = model.cell(key) if key is not None else None
            if cell is None or cell.sign is None or len(cell.text) > _LONGEST_VERDICT:
                continue
            needed = QFontMetrics(font).horizontalAdvance(cell.text) + font.pixelSize()
            if needed > grid.columnWidth(column):
                yield f"cell '{cell.text}' needs {needed}, has {grid.columnWidth(column)}"


def _scrolled(area: QAbstractScrollArea) -> Iterator[str]:
    bar = area.horizontalScrollBar()
    if isinstance(area, QTableView):
        return  # many columns may scroll sideways; the page may not
    if bar.isVisible() and bar.maximum() > bar.minimum():
        yield f"scrolls sideways by {bar.maximum()}"
    if isinstance(area, QScrollArea) and area.widget() is not None:
        over = area.widget().width() - area.viewport().width()
        if over > 0:
            yield f"what it holds is {over} wider than it"


def _scrolls(area: QAbstractScrollArea) -> bool:
    bar = area.verticalScrollBar()
    return bar.isVisible() and bar.maximum() > bar.minimum()


def _scrolled_twice(area: QAbstractScrollArea) -> Iterator[str]:
    """Two bars of one direction inside each other: one is to let go.

    Two things keep theirs. Round a page the window scrolls only where header, one line and the
    foot do not fit together. The functional tests of a unit are dozens: with all of them above
    the step it would be out of reach.
    """
    if isinstance(area, SectionPage | QListWidget) or not _scrolls(area):
        return
    above = area.parentWidget()
    while above is not None:
        if isinstance(above, QAbstractScrollArea) and _scrolls(above):
            yield f"scrolls inside {type(above).__name__}, which scrolls as well"
        above = above.parentWidget()


def _outside(widget: QWidget) -> Iterator[str]:
    above = widget.parentWidget()
    if above is None or is_scrolled_content(widget) or isinstance(above, QAbstractScrollArea):
        return
    if isinstance(above.parentWidget(), QAbstractScrollArea):
        return
    box = widget.geometry()
    over = max(
        box.right() + 1 - above.width(), box.bottom() + 1 - above.height(), -box.left(), -box.top()
    )
    if over > _SLACK:
        yield f"lies {over} outside what holds it"
    layout = widget.layout()
    # Of a stack only what is shown needs room, and it is looked at by itself.
    if layout is not None and not isinstance(widget, QStackedWidget):
        least = layout.totalMinimumSize()
        if layout.hasHeightForWidth():
            # Texts need less height where they have more width than their least.
            flowed = layout.totalMinimumHeightForWidth(widget.width())
            least.setHeight(min(least.height(), flowed))
        short = max(least.width() - widget.width(), least.height() - widget.height())
        if short > _SLACK:
            yield f"is {short} smaller than what it holds needs"
