"""A page: title, cautions, what closes it, then its entries in the form's order.

A page of dozens of lines takes longer to build than the window may stand still. So what is seen
first is built at once, the rest in slices between which the window answers. Whoever asks for all
lines (`blocks`) gets all of them.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, Qt, QTimer, Signal
from PySide6.QtGui import (
    QDragEnterEvent,
    QDragMoveEvent,
    QDropEvent,
    QHideEvent,
    QKeyEvent,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import QApplication, QFrame, QScrollArea, QVBoxLayout, QWidget

from commission.definitions.model import Check, Field, Key, Quantity, Section
from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.entry_row import WIDE_FROM, EntryRow, FieldRow, column_of
from commission.wizard.figures import FiguresPart
from commission.wizard.following import Change, Following
from commission.wizard.grid import GridBlock
from commission.wizard.in_sight import ARRIVED
from commission.wizard.limits_offer import LimitsOffer
from commission.wizard.page_head import PageHead
from commission.wizard.page_layout import Alone, Block, Shared, arranged
from commission.wizard.parts import bounded, label
from commission.wizard.photo_job import sources_in
from commission.wizard.photos import PhotosPart
from commission.wizard.slices import Slices
from commission.wizard.stops import GuardNotice, StopBanner
from commission.wizard.value_row import CheckRow, QuantityRow

_WIDEST = 1080
_FRAME_MS = 25


class SectionPage(QScrollArea):
    """One section of one unit, live.

    Signals:
        go_wanted: unit id and key to go to (a stop to be settled elsewhere).
        deficiency_wanted: unit id and check key.
        tests_wanted: the functional tests of this page are to be run step by step.
        end_reached: the last input was entered; the next page is due.
    """

    go_wanted = Signal(str, object)
    deficiency_wanted = Signal(str, object)
    tests_wanted = Signal()
    end_reached = Signal()

    def __init__(
        self,
        document: Document,
        unit_id: str,
        section: Section,
        appearance: Appearance,
        dialogs: Dialogs,
    ) -> None:
        super().__init__()
        self._dialogs = dialogs
        self.setAcceptDrops(True)
        self.document = document
        self.unit_id = unit_id
        self.section = section
        self.appearance = appearance
        self._built: list[EntryRow | GridBlock] = []
        self._figures: FiguresPart | None = None
        self._photos: PhotosPart | None = None
        self._ahead = deque(arranged(section))
        self._group: QWidget | None = None
        self._homeless: EntryRow | GridBlock | None = None
        """A line that is made and has no place on the page yet."""
        self._is_framed = self._focus_is_due = self._figures_are_due = False
        self.is_stale = False
        self._is_narrow = False
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.content = self._content()
        self.setWidget(self.content)
        self._frame_due = QTimer(self)
        self._frame_due.setSingleShot(True)
        self._frame_due.setInterval(_FRAME_MS)
        self._frame_due.timeout.connect(self.refresh_frame)
        document.recording_changed.connect(self._frame_due.start)
        document.closing.connect(self._frame_due.stop)
        self._seek_soon = QTimer(self)
        self._seek_soon.setSingleShot(True)
        self._seek_soon.setInterval(0)
        self._seek_soon.timeout.connect(self._seek_among_grown)
        document.closing.connect(self._seek_soon.stop)
        self._following = Following(document, self._is_in_view, self)
        document.closing.connect(self._following.forget)
        document.rested.connect(self._rested)
        self._slices = Slices(self)
        self._slices.turned.connect(self._grown)
        self._slices.begin(self._rest())
        document.closing.connect(self._slices.stop)

    # -- building ------------------------------------------------------------------

    @property
    def blocks(self) -> list[EntryRow | GridBlock]:
        """All lines and tables, as things stand; what is not built yet is built now."""
        self.settle()
        return self._built

    def _blocks_in_turn(self) -> Iterator[EntryRow | GridBlock]:
        """Yield all lines and tables, building no more than whoever looks takes."""
        place = 0
        while place < len(self._built) or self._slices.is_under_way():
            if place == len(self._built):
                self._slices.turn()
            else:
                yield self._built[place]
                place += 1

    @property
    def figures(self) -> FiguresPart:
        """The figures, below all lines."""
        self.complete()
        assert self._figures is not None
        return self._figures

    @property
    def photos(self) -> PhotosPart:
        """The photos, at the end of the page."""
        self.complete()
        assert self._photos is not None
        return self._photos

    def settle(self) -> None:
        """Build what is not built yet, and let all lines show how things stand, now."""
        self.complete()
        self._following.settle()

    def complete(self) -> None:
        """Build now what is not built yet."""
        if self._slices.is_under_way():
            self._slices.finish()

    def _rest(self) -> Iterator[None]:
        """Build what closes the page, its lines, and what stands below them, a piece at a time."""
        self.refresh_frame()
        yield
        while self._ahead:
            with self.document.passes.held_back():
                self._homeless = self._made(self._ahead[0])
            yield
            self._ahead.popleft()
            self._add(self._homeless)
            self._homeless = None
            yield
        self._figures = FiguresPart(self.document, self.unit_id, self.section, self.appearance)
        self._below.addWidget(self._figures)
        yield
        self._photos = PhotosPart(
            self.document, self.unit_id, self.section, self.appearance, self._dialogs
        )
        self._photos.changed.connect(self._count_photos)
        self._below.addWidget(self._photos)
        self._count_photos()
        yield
        yield from self._passes()

    def _passes(self) -> Iterator[None]:
        """Show as found, as left and retests, once they are worked out."""
        yield from self.document.passes.computing(self.unit_id)
        if len(self.document.passes.names(self.unit_id)) < 2:
            return
        for block in self._built:
            if isinstance(block, FieldRow | QuantityRow) and block.is_asked():
                block.refresh_passes()
                yield

    def _add(self, made: EntryRow | GridBlock) -> None:
        made.deficiency_wanted.connect(self.deficiency_wanted)
        made.photo_wanted.connect(lambda key: self.photos.choose(key))
        made.wants_next.connect(self.focus_next)
        self._built.append(made)
        if self._group is None:
            self._group = QWidget(self.body)
            self._group.hide()
            column_of(self._group)
        layout = self._group.layout()
        assert layout is not None
        layout.addWidget(made)
        if self._is_narrow and isinstance(made, EntryRow):
            made.set_narrow(True)

    def _grown(self) -> None:
        """A few more lines are there: shown together, the page is laid out once for all of them."""
        if self._group is not None:
            self._lines.addWidget(self._group)
            self._group.show()
            self._group = None
        self._show_whether_empty()
        if self._focus_is_due:
            self._seek_soon.start()
        if self._figures_are_due and not self._slices.is_under_way():
            self._figures_are_due = False
            self.figures.start()

    def _content(self) -> QWidget:
        px = self.appearance.px
        content = QWidget()
        content.setObjectName("ground")
        inner = QWidget()
        outer = bounded(inner, px(_WIDEST))
        content.setLayout(outer)
        outer.setContentsMargins(px(20), px(14), px(20), px(24))
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(px(10))
        self.head = PageHead(self.document, self.section, self.appearance)
        self.head.tests_wanted.connect(self.tests_wanted)
        column.addWidget(self.head)
        self.guard = GuardNotice(self.document, self.unit_id, self.section, self.appearance)
        self.guard.go_wanted.connect(lambda key: self.go_wanted.emit(self.unit_id, key))
        self.banner = StopBanner(self.document, self.unit_id, self.section, self.appearance)
        column.addWidget(self.guard)
        column.addWidget(self.banner)
        self.book = LimitsOffer(self.document, self.unit_id, self.section, self.appearance)
        column.addWidget(self.book)
        column.addWidget(self._entries())
        self.empty = label(
            spoken(
                "Nothing is asked here yet. What stands here follows from the unit's configuration."
            ),
            "muted",
        )
        column.addWidget(self.empty)
        self._below = QVBoxLayout()
        self._below.setSpacing(px(10))
        column.addLayout(self._below)
        column.addStretch(1)
        return content

    def _count_photos(self) -> None:
        """Say at each field how many photos there are of it."""
        if self._photos is None:
            return
        photos = self._photos.album.of_unit(self.unit_id)
        counts = Counter(Key(photo.name, photo.index) for photo in photos)
        for block in self._built:
            if isinstance(block, FieldRow):
                block.show_photo_count(counts[block.key])

    def _entries(self) -> QFrame:
        self.body = QFrame()
        self.body.setProperty("role", "card")
        self._lines = column_of(self.body)
        self._lines.setContentsMargins(1, 1, 1, 1)
        return self.body

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fit()

    def fit(self) -> None:
        """Put names above their inputs where they do not fit beside them."""
        narrow = self.viewport().width() < self.appearance.px(WIDE_FROM)
        if narrow == self._is_narrow:
            return
        self._is_narrow = narrow
        for block in self._built:
            if isinstance(block, EntryRow):
                block.set_narrow(narrow)

    def _made(self, block: Block) -> EntryRow | GridBlock:
        if not isinstance(block, Alone):
            return GridBlock(self.document, self.unit_id, block, self.appearance)
        key = Key(block.entry.name)
        if isinstance(block.entry, Check):
            return CheckRow(self.document, self.unit_id, key, self.appearance)
        made = FieldRow if isinstance(block.entry, Field) else QuantityRow
        return made(self.document, self.unit_id, key, self.appearance, block.checks)

    # -- following -----------------------------------------------------------------

    def refresh(self, changed: frozenset[Key] | None = None) -> None:
        """Show what is known now; None means that anything may have changed."""
        self.is_stale = False
        if changed is not None and not self._changes_shape(changed):
            touched = [block for block in self._built if self._is_touched(block, changed)]
            self._follow(touched, Change(changed, not self.document.is_preview))
            return
        self.reshape()
        self._follow(self._built, Change(None))  # what is built later shows what is known then
        self.refresh_frame()
        if not self.document.passes.is_ready(self.unit_id):
            self.refresh_passes()

    def _follow(self, touched: list[EntryRow | GridBlock], change: Change) -> None:
        self._following.follow(touched, self.row_with_focus(), change)
        if not self.document.is_typing:
            self._frame_due.start()

    def is_following(self) -> bool:
        """Return whether lines still have to show what was typed or entered."""
        return self._following.is_under_way()

    def _rested(self) -> None:
        if self.isVisible():
            self._frame_due.start()

    def _is_in_view(self, block: EntryRow | GridBlock) -> bool:
        return block.isVisible() and not block.visibleRegion().isEmpty()

    def refresh_passes(self) -> None:
        """Show as found, as left and retests anew; something was stored."""
        if not self._slices.is_under_way():  # else they come at its end
            self._slices.begin(self._passes())
            self._slices.turn()

    def reshape(self) -> None:
        """Take on what is asked now; something was stored that may decide it."""
        for block in self._built:
            if isinstance(block, GridBlock):
                block.reshape()
            elif block.is_asked() != block.isVisibleTo(self.body):
                block.refresh(None)

    def _changes_shape(self, changed: frozenset[Key]) -> bool:
        return any(self.document.is_structural(key.name) for key in changed)

    def _is_touched(self, block: EntryRow | GridBlock, changed: frozenset[Key]) -> bool:
        section = self.section.name
        entries = self.document.session.plan.entries
        if isinstance(block, GridBlock):
            return any(entries[key.name].section == section and key.index for key in changed)
        return not changed.isdisjoint((block.key, *(view.key for view in block.verdicts)))

    def refresh_frame(self) -> None:
        """Show the page's state, its stops, and whether it is closed."""
        self._is_framed = True
        self.head.show_state(self.document.results(self.unit_id))
        self.guard.refresh()
        self.banner.refresh()
        self.book.refresh()
        self.body.setEnabled(not self.guard.isVisibleTo(self))
        self._show_whether_empty()

    def _show_whether_empty(self) -> None:
        """Say that nothing is asked, once all lines are there."""
        is_empty = not any(block.isVisibleTo(self.body) for block in self._built)
        is_empty = is_empty and not self._slices.is_under_way()
        self.empty.setVisible(is_empty)
        self.body.setVisible(not is_empty)

    # -- focus ---------------------------------------------------------------------

    def stops(self) -> list[EntryRow | GridBlock]:
        """Return the lines and tables built so far that can take the focus, in order."""
        return [
            block
            for block in self._built
            if block.isVisibleTo(self.body) and block.input_widget() is not None
        ]

    def focus_first(self) -> None:
        """Put the cursor into the first input, or on the way past what closes the page."""
        self._focus_is_due = True
        self._seek_first()

    def _seek_among_grown(self) -> None:
        """Go on seeking, now that more lines are there, unless the focus went elsewhere."""
        if self._focus_is_due:
            self._focus_is_due = self.window().focusWidget() is self
            self._seek_first()

    def _seek_first(self) -> None:
        """Go to the first input that is not read, once it is there; if all are read, the first."""
        if not self._focus_is_due:
            return
        if self._is_framed and not self.body.isEnabled():
            self._focus_is_due = False
            self.guard.focus_first()
            QTimer.singleShot(0, self, lambda: self.ensureWidgetVisible(self.guard, 0, 0))
            return
        inputs = self._inputs()
        unread = next((block for block in inputs if self._is_unread(block)), None)
        if unread is None and (not self._is_framed or self._is_unread_ahead(inputs)):
            self.setFocus(Qt.FocusReason.OtherFocusReason)  # what is typed meanwhile comes here
            return
        self._focus_is_due = False
        if inputs:
            first = unread or inputs[0]
            if first is inputs[0]:
                self.focus_top()  # nothing is read here: what the page says comes first
            self._focus(first)
            self.setProperty(ARRIVED, first is inputs[0])

    def _is_unread_ahead(self, inputs: list[EntryRow | GridBlock]) -> bool:
        """Return whether the first unread input is among the lines that are not built yet."""
        if not self._slices.is_under_way():
            return False
        entries = [
            entry
            for block in self._ahead
            for entry in (block.entries if isinstance(block, Shared) else (block.entry,))
        ]
        results = self.document.results(self.unit_id)
        return (bool(entries) and not inputs) or any(
            not self.document.shown_text(self.unit_id, Key(entry.name, index))
            for entry in entries
            if isinstance(entry, Field) and entry.required
            for index in results.asked_members(entry.name)
        )

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """A key that comes before the first input is for that input."""
        if self._focus_is_due and self.hasFocus():
            while self._focus_is_due and self._slices.is_under_way():
                self._slices.turn()
                self._seek_among_grown()
            self._seek_among_grown()
            target = self.window().focusWidget()
            if target is not None and target is not self:
                QApplication.sendEvent(target, event)
                return
        super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab goes to lines that are not built yet, too."""
        here = self.window().focusWidget()
        last = self._built[-1] if self._built else None
        # Qt asks this, too, when a page is hidden: then nothing is to be built.
        if here is self or (here is not None and last is not None and last.isAncestorOf(here)):
            known = len(self.stops())
            while self._slices.is_under_way() and len(self.stops()) == known:
                self._slices.turn()
        return super().focusNextPrevChild(forward)

    def _inputs(self) -> list[EntryRow | GridBlock]:
        """Return the lines and tables built so far that can be typed into, in order."""
        return [block for block in self.stops() if not isinstance(block, CheckRow | QuantityRow)]

    def _is_unread(self, block: EntryRow | GridBlock) -> bool:
        if isinstance(block, GridBlock):
            return block.has_unread()
        if not isinstance(block, FieldRow) or not block.field.required:
            return False
        return not self.document.shown_text(self.unit_id, block.key)

    def focus_next(self) -> None:
        """Go to the input after the one that has the focus; at the end, say so."""
        here = self.window().focusWidget()
        inputs = self._inputs()
        place = next((n for n, one in enumerate(inputs) if here and one.isAncestorOf(here)), -1)
        while self._slices.is_under_way() and place == len(inputs) - 1:
            self._slices.turn()  # no more than is needed: the next one waits for the hand
            inputs = self._inputs()
        if 0 <= place < len(inputs) - 1:
            following = inputs[place + 1]
            if isinstance(following, GridBlock):
                following.begin()
            self._focus(following)
        elif place == len(inputs) - 1:
            self.end_reached.emit()

    def focus_key(self, key: Key) -> None:
        """Go to the field or check of a key."""
        for block in self._blocks_in_turn():
            if isinstance(block, GridBlock):
                if block.focus_key(key):
                    self._show_block(block)
                    return
            elif block.key == key or any(view.key == key for view in block.verdicts):
                self._focus(block)
                return
        self._focus_item_of(key)

    def _focus_item_of(self, key: Key) -> None:
        entry = self.document.session.plan.entries.get(key.name)
        if isinstance(entry, Check):
            judged = Key(entry.judges, key.index)
            if self.document.session.plan.entries[judged.name].section == self.section.name:
                self.focus_key(judged)

    def _focus(self, block: EntryRow | GridBlock) -> None:
        widget = block.input_widget()
        if widget is not None:
            widget.setFocus(Qt.FocusReason.OtherFocusReason)
            self._show_block(block)

    def _show_block(self, block: EntryRow | GridBlock) -> None:
        QTimer.singleShot(0, self, lambda: self._scroll_to(block))

    def _scroll_to(self, block: EntryRow | GridBlock) -> None:
        """Bring a line into view; of a table, the current cell."""
        if not isinstance(block, GridBlock):
            self.ensureWidgetVisible(block, 0, self.appearance.px(24))
            return
        place = block.current_rect()
        middle = block.view.viewport().mapTo(self.content, place.center())
        self.ensureVisible(middle.x(), middle.y(), 0, place.height() + self.appearance.px(24))

    def focus_top(self) -> None:
        """Show the page from its beginning."""
        self.verticalScrollBar().setValue(0)

    def show_figures(self) -> bool:
        """Go to the figures, once they are there; return whether there are any."""
        if not self.document.results(self.unit_id).figures(self.section):
            return False
        self._figures_are_due = self._slices.is_under_way()
        return self._figures_are_due or self.figures.start()

    def row_with_focus(self) -> EntryRow | GridBlock | None:
        """Return the line or table that has the focus."""
        here = self.window().focusWidget()
        return next((one for one in self._built if here and one.isAncestorOf(here)), None)

    def key_at_hand(self) -> Key | None:
        """Return the reading or verdict that has the focus; of a computed value, its verdict."""
        block, here = self.row_with_focus(), self.window().focusWidget()
        if isinstance(block, GridBlock):
            views, key = block.detail.views, block.view.current_key()
        elif block is not None:
            views, key = block.verdicts, block.key
        else:
            return None
        inside = next((view.key for view in views if here and view.isAncestorOf(here)), None)
        entry = self.document.session.plan.entries[key.name] if key is not None else None
        if inside is None and isinstance(entry, Quantity):
            return views[0].key if views else None
        return inside or key

    def end_jobs(self) -> None:
        """Wait for what is under way, and leave undone what can be."""
        self._slices.stop()
        if self._homeless is not None:
            # Nobody would take it away with the page: its buttons keep it alive.
            self._homeless.deleteLater()
            self._homeless = None
        if self._photos is not None:
            self._photos.end_jobs()

    # -- photos --------------------------------------------------------------------

    def photo_key(self) -> Key | None:
        """Return the field that has the focus, if a photo is asked of it."""
        block = self.row_with_focus()
        return self._photo_key_of(block) if block is not None else None

    def _photo_key_of(self, block: EntryRow | GridBlock) -> Key | None:
        key = block.view.current_key() if isinstance(block, GridBlock) else block.key
        return key if key is not None and key in self.photos.keys() else None  # noqa: SIM118

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if sources_in(event.mimeData()):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """A picture dropped on a field that asks for one is of that field."""
        sources = sources_in(event.mimeData())
        if not sources:
            return
        event.acceptProposedAction()
        under = self.content.mapFrom(self.viewport(), event.position().toPoint())
        block = next((one for one in self._built if _holds(one, self.content, under)), None)
        key = self._photo_key_of(block) if block is not None else None
        self.photos.take(sources, key or self.photos.chosen())

    def put_typed(self, key: Key, text: str) -> bool:
        """Put a text into a field as if it had just been typed; return whether it is here."""
        for block in self.blocks:
            if isinstance(block, FieldRow) and block.key == key:
                block.put_typed(text)
                return True
            if isinstance(block, GridBlock) and block.model.place_of(key).isValid():
                return block.view.put_typed(key, text)
        return False

    def forget_refusal(self, key: Key) -> None:
        """Show what is stored in a field again, after an undo."""
        for block in self._built:
            if isinstance(block, FieldRow) and block.key == key:
                block.forget_refusal()
            elif isinstance(block, GridBlock):
                block.model.refusals.note(key, "", "")

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._slices.go_on()
        if self.is_stale:
            self.refresh()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._slices.pause()


def _holds(block: QWidget, content: QWidget, point: QPoint) -> bool:
    """Return whether a point of the page's content lies on a line or table."""
    return block.isVisible() and QRect(block.mapTo(content, QPoint()), block.size()).contains(point)
