"""The list of a unit's pages: by stage, searchable, each with its state in icon and words."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFont,
    QFontMetrics,
    QKeyEvent,
    QPainter,
    QStandardItem,
    QStandardItemModel,
)
from PySide6.QtWidgets import (
    QFrame,
    QLineEdit,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTreeView,
    QVBoxLayout,
    QWidget,
)

from commission.definitions.model import Section
from commission.language import spoken
from commission.validation.results import UnitResults
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.icon import draw
from commission.wizard.parts import label
from commission.wizard.sign import Sign
from commission.wizard.slices import Slices
from commission.wizard.states import counted, sign_of_state

Place = QModelIndex | QPersistentModelIndex

_LEAST_WIDTH, _MOST_WIDTH, _LEAST_TREE = 176, 266, 120
_ANY_WIDTH = 16_777_215  # Qt's own largest

_NAME = Qt.ItemDataRole.UserRole
_SIGN = Qt.ItemDataRole.UserRole + 1
_COUNTS = Qt.ItemDataRole.UserRole + 2


class PageDelegate(QStyledItemDelegate):
    """Draws a page: icon, title, and the state in words below it."""

    def __init__(self, appearance: Appearance, view: QTreeView) -> None:
        super().__init__(view)
        self._appearance = appearance
        self._view = view

    def _fonts(self, option: QStyleOptionViewItem) -> tuple[QFont, QFont]:
        title, small = QFont(option.font), QFont(option.font)
        title.setPixelSize(self._appearance.px(14))
        small.setPixelSize(self._appearance.px(12))
        return title, small

    def _room(self) -> int:
        return self._view.viewport().width() - self._appearance.px(48)

    def sizeHint(self, option: QStyleOptionViewItem, place: Place) -> QSize:
        px = self._appearance.px
        if place.data(_NAME) is None:
            return QSize(px(100), px(34))
        title, small = self._fonts(option)
        title.setBold(True)  # as the page that is open is drawn
        box = QRect(0, 0, self._room(), 10_000)
        flags = int(Qt.TextFlag.TextWordWrap)
        height = QFontMetrics(title).boundingRect(box, flags, str(place.data())).height()
        return QSize(px(100), max(px(44), height + QFontMetrics(small).height() + px(12)))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, place: Place) -> None:
        px, palette = self._appearance.px, self._appearance.palette
        title, small = self._fonts(option)
        rect = QRect(option.rect)
        rect.setLeft(0)
        painter.save()
        if place.data(_NAME) is None:
            title.setBold(True)
            title.setPixelSize(px(13))
            painter.setFont(title)
            painter.setPen(palette["muted"])
            inner = rect.adjusted(px(12), px(8), -px(4), 0)
            painter.drawText(inner, int(Qt.AlignmentFlag.AlignVCenter), str(place.data()))
            painter.restore()
            return
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(rect, palette["accent_ground"])
            painter.fillRect(QRect(0, rect.top(), px(4), rect.height()), palette["accent"])
            title.setBold(True)
        sign: Sign | None = place.data(_SIGN)
        if sign is not None:
            size = px(18)
            box = QRectF(px(12), rect.top() + px(8), size, size)
            draw(painter, sign.icon, palette[sign.colour], box)
        inner = rect.adjusted(px(38), px(6), -px(8), 0)
        painter.setFont(title)
        painter.setPen(palette["ink"])
        flags = int(Qt.TextFlag.TextWordWrap)
        used = painter.boundingRect(inner, flags, str(place.data()))
        painter.drawText(inner, flags, str(place.data()))
        if sign is None:  # not worked out yet
            painter.restore()
            return
        painter.setFont(small)
        painter.setPen(palette[sign.colour])
        words = f"{sign.word}: {place.data(_COUNTS)}" if place.data(_COUNTS) else sign.word
        below = QRect(inner.left(), used.bottom() + px(1), inner.width(), px(18))
        shown = painter.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, below.width())
        painter.drawText(below, int(Qt.AlignmentFlag.AlignLeft), shown)
        painter.restore()


class _Tree(QTreeView):
    chosen = Signal(QModelIndex)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.chosen.emit(self.currentIndex())
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self.scheduleDelayedItemsLayout()


class Navigation(QFrame):
    """Which unit, a search, and the pages that its configuration has.

    Signals:
        page_chosen: unit id and section name.
    """

    page_chosen = Signal(str, str)

    _grows = False
    _width = 0

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "side")
        self._document = document
        self._appearance = appearance
        self.unit_id = ""
        self.order: tuple[str, ...] = ()
        self._items: dict[str, QStandardItem] = {}
        self._due: dict[str, None] = {}
        self._slices = Slices(self)
        document.closing.connect(self._slices.stop)
        px = appearance.px
        self.setMinimumWidth(px(_LEAST_WIDTH))
        self.setMaximumWidth(px(_MOST_WIDTH))
        self.units = Choice(appearance)
        self.units.setAccessibleName(spoken("Unit"))
        self.units.activated.connect(self._unit_chosen)
        self.search = QLineEdit()
        self.search.setPlaceholderText(spoken("Find a page or reading"))
        self.search.setToolTip(f"{self.search.placeholderText()} (Ctrl+K)")
        self.search.setAccessibleName(spoken("Find a page or reading"))
        self.search.setClearButtonEnabled(True)
        self.search.textEdited.connect(self._filter)
        self.search.returnPressed.connect(self._open_first)
        self._model = QStandardItemModel(self)
        self.tree = self._tree()
        self.nothing = label("", "muted")
        self.nothing.hide()
        self._lay_out(px)
        self.refill_units()

    def _tree(self) -> _Tree:
        tree = _Tree()
        tree.setAccessibleName(spoken("Pages"))
        tree.setModel(self._model)
        tree.setItemDelegate(PageDelegate(self._appearance, tree))
        tree.setHeaderHidden(True)
        tree.setRootIsDecorated(False)
        tree.setItemsExpandable(False)
        tree.setIndentation(0)
        tree.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        tree.setVerticalScrollMode(QTreeView.ScrollMode.ScrollPerPixel)
        tree.setEditTriggers(QTreeView.EditTrigger.NoEditTriggers)
        tree.clicked.connect(self._chosen)
        tree.chosen.connect(self._chosen)
        return tree

    def _lay_out(self, px) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, px(10), 0, 0)
        layout.setSpacing(px(8))
        for widget in (self.units, self.search, self.nothing):
            holder = QWidget()
            inner = QVBoxLayout(holder)
            inner.setContentsMargins(px(10), 0, px(10), 0)
            inner.addWidget(widget)
            layout.addWidget(holder)
        layout.addWidget(self.tree, 1)

    def fit(self, width: int) -> None:
        """Take a width, within what its words need."""
        px = self._appearance.px
        self._width = max(px(_LEAST_WIDTH), min(px(_MOST_WIDTH), width))
        if not self._grows:
            self.setFixedWidth(self._width)

    def let_grow(self, grows: bool) -> None:
        """Take all the width there is, or the width that `fit` gave."""
        self._grows = grows
        self.tree.setMinimumHeight(self._appearance.px(_LEAST_TREE) if grows else 0)
        if grows:
            self.setMinimumWidth(0)
            self.setMaximumWidth(_ANY_WIDTH)
        elif self._width:
            self.setFixedWidth(self._width)

    # -- what is shown -------------------------------------------------------------

    def refill_units(self) -> None:
        """Show the units as they are now."""
        pairs = [(spoken("Project"), ""), *((unit.tag, unit.id) for unit in self._document.units())]
        if self.unit_id not in [unit_id for _, unit_id in pairs]:
            self.unit_id = ""  # the unit was removed
        fill(self.units, pairs, self.unit_id)

    def show_unit(self, unit_id: str) -> None:
        """Show another unit's pages."""
        self.unit_id = unit_id
        self.units.setCurrentIndex(max(0, self.units.findData(unit_id)))
        for item in self._items.values():  # what stands there is another unit's
            for role in (_SIGN, _COUNTS, _ACCESSIBLE):
                item.setData(None, role)
        self.refresh()

    @property
    def results(self) -> UnitResults:
        """The results of the unit shown."""
        return self._document.results(self.unit_id)

    def pages(self) -> tuple[Section, ...]:
        """Return the pages of the unit shown that are relevant now."""
        return self.results.sections()

    def refresh(self, names: set[str] | None = None) -> None:
        """Show which pages there are, and the states of the pages in `names` (None: all).

        A state takes a millisecond or two to work out, and there are dozens: those that there is
        no time for now follow in slices.
        """
        sections = self.pages()
        order = tuple(section.name for section in sections)
        if order != self.order:
            self._rebuild(sections)
            names = None
        wanted = [name for name in order if names is None or name in names]
        current = self.current_name()
        wanted.sort(key=lambda name: name != current)  # the page that is open comes first
        self._due |= dict.fromkeys(wanted)
        if self._due:
            self._slices.begin(self._states())

    def _states(self) -> Iterator[None]:
        """Show the states that are due, one after the other."""
        while self._due:
            name = next(iter(self._due))
            del self._due[name]
            if name in self._items:
                self._show_state(self._document.form.section_by_name[name])
            yield

    def settle(self) -> None:
        """Show all states now."""
        self._slices.finish()

    def _rebuild(self, sections: tuple[Section, ...]) -> None:
        current = self.current_name()
        self.order = tuple(section.name for section in sections)
        self._model.clear()
        self._items = {}
        stage_item: QStandardItem | None = None
        for section in sections:
            if stage_item is None or stage_item.text() != section.stage:
                stage_item = QStandardItem(section.stage)
                stage_item.setFlags(Qt.ItemFlag.ItemIsEnabled)
                self._model.appendRow(stage_item)
            item = QStandardItem(section.title)
            item.setData(section.name, _NAME)
            item.setToolTip(section.title)
            stage_item.appendRow(item)
            self._items[section.name] = item
        self.tree.expandAll()
        self._filter(self.search.text())
        self.select(current)

    def _show_state(self, section: Section) -> None:
        item = self._items[section.name]
        sign = sign_of_state(self.results.state(section))
        counts = counted(self.results.progress(section))
        if item.data(_SIGN) != sign or item.data(_COUNTS) != counts:
            item.setData(sign, _SIGN)
            item.setData(counts, _COUNTS)
            item.setData(f"{section.title}: {sign.word}, {counts}", _ACCESSIBLE)

    def select(self, name: str) -> None:
        """Mark the page that is open."""
        item = self._items.get(name)
        if item is not None:
            self.tree.setCurrentIndex(item.index())
            self.tree.scrollTo(item.index(), QTreeView.ScrollHint.PositionAtCenter)

    def current_name(self) -> str:
        """Return the name of the page that is marked."""
        return str(self.tree.currentIndex().data(_NAME) or "")

    # -- choosing ------------------------------------------------------------------

    def _unit_chosen(self, place: int) -> None:
        unit_id = self.units.itemData(place) or ""
        name = self.current_name()
        self.show_unit(unit_id)
        names = [section.name for section in self.pages()]
        if names:
            self.page_chosen.emit(unit_id, name if name in names else names[0])

    def _chosen(self, place: QModelIndex) -> None:
        name = place.data(_NAME)
        if name:
            self.page_chosen.emit(self.unit_id, name)

    def neighbour(self, name: str, step: int) -> str:
        """Return the page before or after one, or "" at the end."""
        if name not in self.order:
            return self.order[0] if self.order else ""
        place = self.order.index(name) + step
        return self.order[place] if 0 <= place < len(self.order) else ""

    def start_search(self) -> None:
        """Put the cursor into the search."""
        self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.search.selectAll()

    def _matches(self, section: Section, words: list[str]) -> bool:
        asked = " ".join(entry.label for entry in section.entries)
        text = f"{section.stage} {section.title} {asked}".casefold()
        return all(word in text for word in words)

    def _filter(self, text: str) -> None:
        words = text.casefold().split()
        found = 0
        for row in range(self._model.rowCount()):
            stage = self._model.item(row)
            shown = 0
            for child in range(stage.rowCount()):
                section = self._document.form.section_by_name[stage.child(child).data(_NAME)]
                matches = self._matches(section, words)
                self.tree.setRowHidden(child, stage.index(), not matches)
                shown += matches
            self.tree.setRowHidden(row, QModelIndex(), not shown)
            found += shown
        self.nothing.setVisible(not found)
        self.nothing.setText(
            spoken("No page has '{text}'.", text=text) if text else spoken("No pages.")
        )

    def _open_first(self) -> None:
        words = self.search.text().casefold().split()
        found = [section for section in self.pages() if self._matches(section, words)]
        if found:
            # A page that is called so comes before one that only asks for something called so.
            by_title = [s for s in found if all(word in s.title.casefold() for word in words)]
            self.search.clear()
            self._filter("")
            self.page_chosen.emit(self.unit_id, (by_title or found)[0].name)


_ACCESSIBLE = Qt.ItemDataRole.AccessibleTextRole
