"""The pages of a project: navigation at the left, the page, and Back and Next below it."""

from __future__ import annotations

from collections import OrderedDict

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Key
from commission.language import spoken, to_say
from commission.validation.site import PROJECT
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.navigation import Navigation
from commission.wizard.page import SectionPage
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.room import RoomyStack

_KEPT_PAGES = 10
_COMPACT_BELOW = 600  # pixels at 100 %: the list of pages then comes on request
_LEAST_HEIGHT = 128
_LAST = to_say("That was the last page. The board (Ctrl+B) shows what is open; Ctrl+G signs.")


class Pages(QWidget):
    """Builds a page when it is first shown, and keeps the last ten.

    Signals:
        deficiency_wanted: unit id and check key.
        tests_wanted: unit id and section name, whose functional tests are to be run.
        shown: unit id and section name of the page now open.
    """

    deficiency_wanted = Signal(str, object)
    tests_wanted = Signal(str, str)
    shown = Signal(str, str)

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__()
        self._dialogs = dialogs
        self._document = document
        self._appearance = appearance
        self._built: OrderedDict[tuple[str, str], SectionPage] = OrderedDict()
        self.navigation = Navigation(document, appearance)
        self.stack = RoomyStack()
        self.back = button(spoken("Back"), lambda: self.step(-1), "", "back", self._ink)
        self.next = button(spoken("Next"), lambda: self.step(1), "primary", "next", self._on_accent)
        self.next.setLayoutDirection(Qt.LayoutDirection.RightToLeft)
        self.where = label("", "muted")
        self._is_compact = False
        self.list_button = button(spoken("Pages"), self._toggle_list, "", "", self._ink)
        self.list_button.setCheckable(True)
        self.list_button.setToolTip(spoken("The list of pages (Ctrl+K)"))
        self.list_button.hide()
        self._touched: set[str] = set()
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(40)
        self._later.timeout.connect(self._refresh_navigation)
        self._lay_out()
        self.navigation.page_chosen.connect(self.open)
        document.closing.connect(self._later.stop)
        document.recomputed.connect(self._recomputed)
        document.committed.connect(self._committed)
        document.replaced.connect(self._replaced)
        document.units_changed.connect(self._units_changed)

    @property
    def _ink(self) -> str:
        return self._appearance.palette["ink"]

    @property
    def _on_accent(self) -> str:
        return self._appearance.palette["on_accent"]

    def _lay_out(self) -> None:
        px = self._appearance.px
        for made in (self.back, self.next):
            made.setIconSize(QSize(px(18), px(18)))
        layout = self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.navigation)
        right = QVBoxLayout()
        right.setSpacing(0)
        right.addWidget(self.stack, 1)
        self.stack.setMinimumHeight(px(_LEAST_HEIGHT))
        foot = QFrame()
        foot.setProperty("role", "foot")
        line = wrapping_row(px(12))
        line.setContentsMargins(px(20), px(6), px(20), px(6))
        line.addWidget(self.back)
        line.addWidget(self.list_button)
        line.addWidget(self.where, 1)
        line.addWidget(self.next)
        self.where.setAlignment(Qt.AlignmentFlag.AlignCenter)
        foot.setLayout(line)
        right.addWidget(foot)
        layout.addLayout(right, 1)

    # -- little room ---------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The list takes three tenths of the window where its words leave the page no room."""
        super().resizeEvent(event)
        self.navigation.fit(self.width() * 3 // 10)
        compact = self.width() < self._appearance.px(_COMPACT_BELOW)
        if compact != self._is_compact:
            self._is_compact = compact
            self.list_button.setVisible(compact)
            self.where.setVisible(not compact)
            self._show_list(not compact)

    def _show_list(self, shown: bool) -> None:
        """Show the list of pages: beside the page, or in its place where there is no room."""
        alone = shown and self._is_compact
        self.list_button.setChecked(alone)
        self.navigation.setVisible(shown)
        self.navigation.let_grow(alone)
        self.stack.setVisible(not alone)
        directions = QBoxLayout.Direction
        self._line.setDirection(directions.TopToBottom if alone else directions.LeftToRight)
        self._line.setStretch(0, int(alone))
        self._line.setStretch(1, int(not alone))

    def _toggle_list(self) -> None:
        if self.list_button.isChecked():
            self.start_search()
        else:
            self._show_list(False)

    def start_search(self) -> None:
        """Put the cursor into the search, with the list of pages before one's eyes."""
        if self._is_compact:
            self._show_list(True)
        self.navigation.start_search()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self._is_compact and self.list_button.isChecked():
            self._show_list(False)
            if self.page is not None:
                self.page.focus_first()
        else:
            super().keyPressEvent(event)

    # -- opening -------------------------------------------------------------------

    @property
    def page(self) -> SectionPage | None:
        """The page that is open."""
        widget = self.stack.currentWidget()
        return widget if isinstance(widget, SectionPage) else None

    def open(self, unit_id: str, name: str) -> SectionPage:
        """Open a page of a unit."""
        key = (unit_id, name)
        page = self._built.get(key)
        if page is None:
            page = self._build(unit_id, name)
        self._built.move_to_end(key)
        if page.is_stale:
            page.refresh()
        self.stack.setCurrentWidget(page)
        if self._is_compact:
            self._show_list(False)
        if self.navigation.unit_id != unit_id or not self.navigation.current_name():
            self.navigation.show_unit(unit_id)
        self.navigation.select(name)
        self._show_where(page)
        page.focus_first()
        self.shown.emit(unit_id, name)
        self._forget_oldest()
        return page

    def _build(self, unit_id: str, name: str) -> SectionPage:
        section = self._document.form.section_by_name[name]
        page = SectionPage(self._document, unit_id, section, self._appearance, self._dialogs)
        page.go_wanted.connect(self.go_to)
        page.deficiency_wanted.connect(self.deficiency_wanted)
        page.tests_wanted.connect(lambda: self.tests_wanted.emit(unit_id, name))
        page.end_reached.connect(self._end_reached)
        self._built[(unit_id, name)] = page
        # Its lines come in where they stay: a change of place would dress each of them twice.
        self.stack.addWidget(page)
        return page

    def _end_reached(self) -> None:
        """The last input of a page was entered: Enter again opens the next page."""
        if self.next.isEnabled():
            self.next.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self._document.said.emit(spoken(_LAST), False)

    def _forget_oldest(self) -> None:
        while len(self._built) > _KEPT_PAGES:
            _, page = self._built.popitem(last=False)
            self._forget(page)

    def _forget(self, page: SectionPage) -> None:
        page.end_jobs()
        self.stack.removeWidget(page)
        page.deleteLater()

    def end_jobs(self) -> None:
        """Wait for what the pages have under way."""
        for page in self._built.values():
            page.end_jobs()

    def open_first(self) -> None:
        """Open the first page there is: of the first unit, else of the project."""
        units = self._document.units()
        unit_id = units[0].id if units else PROJECT
        sections = self._document.results(unit_id).sections()
        if not sections:
            unit_id, sections = PROJECT, self._document.results(PROJECT).sections()
        if sections:
            self.open(unit_id, sections[0].name)

    def go_to(self, unit_id: str, key: Key) -> None:
        """Open the page of a field or check, and put the focus on it."""
        section = self._document.form.section_of(key.name)
        owner = PROJECT if section.level == "project" else unit_id
        page = self.open(owner, section.name)
        page.focus_key(key)

    def step(self, by: int) -> bool:
        """Open the next relevant page, or the one before; return whether there is one."""
        page = self.page
        if page is None:
            self.open_first()
            return True
        name = self.navigation.neighbour(page.section.name, by)
        if name:
            self.open(page.unit_id, name)
        return bool(name)

    def step_unit(self, by: int) -> bool:
        """Open the same page of the next unit, or of the one before."""
        page = self.page
        if page is None:
            return False
        ids = [unit.id for unit in self._document.units()]
        place = ids.index(page.unit_id) + by if page.unit_id in ids else 0
        if ids and 0 <= place < len(ids):
            names = [section.name for section in self._document.results(ids[place]).sections()]
            if names:
                name = page.section.name if page.section.name in names else names[0]
                self.open(ids[place], name)
                return True
        return False

    def _show_where(self, page: SectionPage) -> None:
        tag = self._document.tag(page.unit_id)
        order = self.navigation.order
        name = page.section.name
        place = (
            spoken("page {number} of {total}", number=order.index(name) + 1, total=len(order))
            if name in order
            else ""
        )
        where = f"{tag}, {place}" if place else tag
        self.where.setText(where)
        numbers = f" {order.index(name) + 1}/{len(order)}" if name in order else ""
        self.list_button.setText(f"{spoken('Pages')}{numbers}")
        self.list_button.setAccessibleName(f"{spoken('Pages')}: {where}")
        self.back.setEnabled(bool(self.navigation.neighbour(name, -1)))
        self.next.setEnabled(bool(self.navigation.neighbour(name, 1)))

    # -- following -----------------------------------------------------------------

    def _recomputed(self, unit_id: str, changed: frozenset[Key]) -> None:
        current = self.page
        for (owner, _), page in self._built.items():
            if page is current and owner == unit_id:
                page.refresh(changed)
            elif page is current and unit_id == PROJECT:
                page.refresh()
            elif owner == unit_id or unit_id == PROJECT:
                page.is_stale = True

    def _committed(self, unit_id: str, changed: frozenset[Key]) -> None:
        if any(self._document.is_structural(key.name) for key in changed):
            self._touched = {section.name for section in self._document.form.sections}
        else:
            self._touched |= self._document.touched_sections(changed)
            if self.page is not None:
                self.page.reshape()
        self._later.start()

    def _refresh_navigation(self) -> None:
        touched, self._touched = self._touched, set()
        self.navigation.refresh(touched)
        if self.page is not None:
            self._show_where(self.page)
            self.page.refresh_passes()

    def catch_up(self) -> None:
        """Take on now what was entered a moment ago."""
        if self._later.isActive():
            self._later.stop()
            self._refresh_navigation()

    def settle(self) -> None:
        """Bring page and list up to date, what would follow in slices too."""
        self.catch_up()
        self.navigation.settle()
        if self.page is not None:
            self.page.settle()

    def _replaced(self) -> None:
        for page in self._built.values():
            page.is_stale = page is not self.page
        if self.page is not None:
            self.page.refresh()
        self.navigation.refresh()

    def _units_changed(self) -> None:
        there = {PROJECT, *(unit.id for unit in self._document.units())}
        for key in [key for key in self._built if key[0] not in there]:
            self._forget(self._built.pop(key))
        self.navigation.refill_units()
        self._replaced()
