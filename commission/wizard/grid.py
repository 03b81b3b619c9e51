"""A table of repeats with what belongs to it: the current cell in full, and what is wrong."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Field, Key
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome
from commission.wizard.appearance import Appearance
from commission.wizard.cell_detail import CellDetail
from commission.wizard.document import Document
from commission.wizard.grid_model import GridModel
from commission.wizard.grid_view import GridView
from commission.wizard.page_layout import Crossed, Shared
from commission.wizard.parts import (
    column,
    label,
    reveal,
)
from commission.wizard.verdict_view import VerdictView

_HINT = to_say(
    "Type to fill a cell. Enter goes down, Tab goes right, and a block copied from a "
    "spreadsheet can be pasted."
)
_MOST_LISTED = 12


class GridBlock(QFrame):
    """One table of a page.

    Signals:
        deficiency_wanted: unit id and check key.
        photo_wanted: the key of a field that a photo is asked of.
        wants_next: the person is done here.
    """

    deficiency_wanted = Signal(str, object)
    photo_wanted = Signal(object)
    wants_next = Signal()

    def __init__(
        self, document: Document, unit_id: str, block: Shared | Crossed, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "entry")
        self._appearance = appearance
        self.model = GridModel(document, unit_id, block)
        title = unit = ""
        if isinstance(block, Crossed):
            title = block.entry.label
            unit = self.model.results.shown_unit(block.entry.name)
        self.view = GridView(self.model, appearance, title or spoken("Readings by member"))
        self._detail = CellDetail(self.model, appearance, self.view)
        self.said = label("", "warning")
        self.said.hide()
        self._problems = column(appearance.px(2))
        self._listed: tuple[Key, ...] = ()
        self._hint_said = False
        self._problem_views: list[VerdictView] = []
        self._made_problems: dict[Key, VerdictView] = {}
        self._problems_are_due = False
        self._problems_due = QTimer(self)
        self._problems_due.setSingleShot(True)
        self._problems_due.setInterval(0)
        self._problems_due.timeout.connect(self._list_problems)
        document.closing.connect(self._problems_due.stop)
        document.rested.connect(self._rested)
        self._lay_out(f"{title}, {unit}" if unit else title)
        self.view.moved.connect(self._moved)
        self.view.opened.connect(self._opened)
        self.view.below_wanted.connect(self._detail.start)
        self.view.ended.connect(self.wants_next)
        self.view.said.connect(self._say)
        self._detail.deficiency_wanted.connect(self.deficiency_wanted)
        self._detail.photo_wanted.connect(self.photo_wanted)
        self.refresh()

    @property
    def detail(self) -> CellDetail:
        """The current cell in full, as it stands now."""
        self._detail.catch_up()
        return self._detail

    def _lay_out(self, title: str) -> None:
        px = self._appearance.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(12), px(10), px(12), px(12))
        layout.setSpacing(px(8))
        if title:
            layout.addWidget(label(title, "heading"))
        layout.addWidget(self.view)
        layout.addWidget(self.said)
        layout.addWidget(self._detail)
        layout.addLayout(self._problems)

    def _moved(self, key: Key | None) -> None:
        if key is not None and not self._hint_said:
            self._hint_said = True
            self.model.document.said.emit(spoken(_HINT), False)
        self._detail.show_key(key)
        self._problems_due.start()  # after the cell's own verdicts, which are not said twice

    def _opened(self, key: Key) -> None:
        """Enter on a check: edit its limit below."""
        self._detail.show_key(key)
        for view in self._detail.views:
            if view.key == key and view.change.isVisibleTo(self):
                view.edit_limit()

    def _say(self, sentences: list[str]) -> None:
        self.said.setText("\n".join(sentences))
        self.said.setVisible(bool(sentences))

    def is_asked(self) -> bool:
        """Return whether the configuration has any cell of this table."""
        return bool(self.model.shape.rows and self.model.shape.columns)

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        """Show what is known now.

        Args:
            changed: the keys that were computed anew; None means that anything may differ.
            stored: False where what has changed was only typed so far.
        """
        if changed is None:
            self.reshape()
            self.view.fit()
        own = self.model.own(changed) if changed is not None else None
        self.model.changed(own)
        if own:
            self.view.hold(own)
        if stored or changed is None:
            self._detail.refresh()
        else:
            self._detail.show_typed(changed)
        if changed is None:
            self._list_problems()
        elif self.model.document.is_typing:  # the cell says it at once, the sentences below later
            self._problems_are_due = True
        else:
            self._problems_due.start()

    def _rested(self) -> None:
        """Say below what waited while a number was typed."""
        for view in (*self._detail.views, *self._problem_views):
            view.offer_due()
        if self._problems_are_due:
            self._list_problems()

    def reshape(self) -> None:
        """Take on the lines and members that are asked now."""
        current = self.view.current_key()
        if self.model.reshape():
            if current is not None:
                self.view.setCurrentIndex(self.model.place_of(current))
            self._list_problems()
        reveal(self, self.is_asked())
        if self._problems_due.isActive():  # something was stored
            self._list_problems()

    def _list_problems(self) -> None:
        """Say in words what the table can only show as a sign: everything that is wrong."""
        self._problems_due.stop()
        self._problems_are_due = False
        wrong = (Outcome.FAIL, Outcome.INCONCLUSIVE)
        found = tuple(
            Key(verdict.check.name, verdict.index)
            for verdict in self.model.verdicts()
            if verdict.outcome in wrong
        )[:_MOST_LISTED]
        if found != self._listed:
            self._listed = found
            self._problem_views = [self._problem(key) for key in found]
            for view in self._made_problems.values():
                if view.key not in found:
                    view.hide()
        shown_above = {view.key for view in self._detail.views}
        for view in self._problem_views:
            if view.key in shown_above:
                view.hide()
            else:
                view.refresh()

    def _problem(self, key: Key) -> VerdictView:
        """Return the view of a verdict; kept, since half a number often fails and the whole not."""
        if key in self._made_problems:
            view = self._made_problems[key]
            self._problems.removeWidget(view)  # to stand in the order of the list
            self._problems.addWidget(view)
            return view
        document, unit_id = self.model.document, self.model.unit_id
        view = VerdictView(document, unit_id, key, self._appearance, with_member=True)
        view.deficiency_wanted.connect(self.deficiency_wanted)
        self._problems.addWidget(view)
        self._made_problems[key] = view
        return view

    def focus_key(self, key: Key) -> bool:
        """Make the cell of a key current and focused; return whether it is here."""
        place = self.model.place_of(key)
        if not place.isValid():
            return False
        self.view.setFocus(Qt.FocusReason.OtherFocusReason)
        self.view.setCurrentIndex(place)
        return True

    def begin(self) -> None:
        """Come to the first field."""
        self.view.setFocus(Qt.FocusReason.OtherFocusReason)
        self.view.first_place(anew=True)

    def has_unread(self) -> bool:
        """Return whether a reading that is asked is not there."""
        model = self.model
        return any(
            isinstance(entry := model.entry(key), Field)
            and entry.required
            and model.results.relevant(*key)
            and not model.cell(key).text
            for keys in model.shape.keys
            for key in keys
        )

    def current_rect(self) -> QRect:
        """Return where the current cell is, in the table's own pixels."""
        return self.view.visualRect(self.view.currentIndex())

    def input_widget(self) -> QWidget:
        """Return what takes the focus."""
        return self.view

    def mark_not_applicable(self) -> None:
        """Begin "n/a" in the current cell."""
        self.view.mark_not_applicable()

    def write_note(self) -> None:
        """Begin to type a note on the current cell's reading."""
        self._detail.write_note()

    def toggle_help(self) -> None:
        """How to read stands below the table already; what was read before is added to it."""
        self._detail.toggle_history()
