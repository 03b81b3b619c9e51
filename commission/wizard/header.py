"""The head of the window: the places to go, which pass is recorded, and who records."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QSizePolicy, QWidget

from commission.language import spoken, to_say
from commission.project import AS_FOUND, AS_LEFT, pass_rank
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.flow import FlowLayout
from commission.wizard.icon import icon
from commission.wizard.parts import button, label

PLACES = (
    ("board", to_say("Board"), "Ctrl+B"),
    ("trends", to_say("Trends"), "Ctrl+T"),
    ("deficiencies", to_say("Deficiencies"), "Ctrl+D"),
    ("sign_off", to_say("Sign-off"), "Ctrl+G"),
    ("people", to_say("People"), "Ctrl+I"),
    ("export", to_say("Export"), "Ctrl+E"),
    ("settings", to_say("Settings"), "Ctrl+,"),
)
_NOBODY = to_say("nobody")
_ADD = "\0add"
_KEYS = "\0keys"
_COMPACT_BELOW = 600  # pixels at 100 %


class Header(QFrame):
    """Always there.

    Signals:
        place_wanted: the name of a place.
        undo_wanted, redo_wanted, help_wanted.
    """

    place_wanted = Signal(str)
    undo_wanted = Signal()
    redo_wanted = Signal()
    help_wanted = Signal()

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "header")
        self._document = document
        self._appearance = appearance
        self.places: dict[str, QPushButton] = {}
        self._open = ""
        px = appearance.px
        self._is_compact = False
        layout = FlowLayout(px(2), px(2))
        layout.setContentsMargins(px(8), appearance.pad(4), px(10), appearance.pad(4))
        self.setLayout(layout)
        self.menu = Choice(appearance)
        self.menu.setAccessibleName(spoken("Go to"))
        self.menu.arrow_colour = appearance.palette["on_header"]
        self.menu.activated.connect(self._go_chosen)
        self.menu.hide()
        layout.addWidget(self.menu)
        for name, english, key in PLACES:
            words = spoken(english)
            made = button(words, partial(self.place_wanted.emit, name), "place")
            made.setCheckable(True)
            made.setToolTip(f"{words} ({key})")
            self.places[name] = made
            layout.addWidget(made)
        self.helper = button(spoken("Keys"), self.help_wanted.emit, "place")
        self.helper.setToolTip(spoken("All keys (F1)"))
        layout.addWidget(self.helper)
        self.undo = self._tool("undo", spoken("Undo"), self.undo_wanted)
        self.redo = self._tool("redo", spoken("Redo"), self.redo_wanted)
        layout.addWidget(self.undo)
        layout.addWidget(self.redo)
        self._add_boxes(layout)
        self.refresh()

    def _add_boxes(self, layout: FlowLayout) -> None:
        """Add which pass is recorded, and who records."""
        px = self._appearance.px
        self.passes = Choice(self._appearance)
        self.people = Choice(self._appearance)
        for words, box in ((spoken("Pass"), self.passes), (spoken("By"), self.people)):
            named = label(words, wraps=False)
            named.setBuddy(box)
            box.arrow_colour = self._appearance.palette["on_header"]
            pair = QWidget()
            beside = QHBoxLayout(pair)
            beside.setContentsMargins(px(6), 0, 0, 0)
            beside.setSpacing(px(4))
            beside.addWidget(named)
            beside.addWidget(box)
            pair.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
            layout.addWidget(pair)
        self.passes.setAccessibleName(spoken("Pass that is recorded"))
        self.people.setAccessibleName(spoken("Person who records"))
        self.passes.activated.connect(self._pass_chosen)
        self.people.activated.connect(self._person_chosen)

    def _hold_words(self) -> None:
        """Give each list the width of what is chosen; only a very long name is shortened."""
        px = self._appearance.px
        for box, least, most in ((self.passes, 118, 400), (self.people, 104, 220)):
            chosen = box.width_for([box.currentText()])
            box.setFixedWidth(max(px(least), min(chosen, px(most))))

    def _tool(self, picture: str, words: str, signal) -> QPushButton:
        px = self._appearance.px
        made = button("", signal.emit, "place")
        made.setIcon(icon(picture, self._appearance.palette["on_header"], px(20)))
        made.setIconSize(QSize(px(18), px(18)))
        if made.icon().isNull():
            made.setText(words)
        made.setFixedWidth(max(px(36), self._appearance.pad(44)))
        made.setToolTip(words)
        made.setAccessibleName(words)
        return made

    def refresh(self) -> None:
        """Show passes, people and what can be undone as they are now."""
        session = self._document.session
        known = {AS_FOUND, AS_LEFT, session.pass_name}
        for unit in self._document.units():
            known |= set(session.project.passes(unit.id))
        names = sorted(known, key=pass_rank)
        names.append(f"retest {max(pass_rank(names[-1]), 1)}")
        fill(self.passes, [(pass_words(name), name) for name in names], session.pass_name)
        self._tell_pass()
        people = [(person.name, person.id) for person in session.project.people()]
        pairs = [(spoken(_NOBODY), ""), *people, (spoken("Add a person"), _ADD)]
        fill(self.people, pairs, session.person_id)
        self._hold_words()
        self.people.setToolTip(
            spoken(
                "Readings are kept in the name of: {name}",
                name=self.people.currentText(),
            )
        )
        self.refresh_undo()

    def refresh_undo(self) -> None:
        """Show whether there is something to undo or to redo."""
        self.undo.setEnabled(self._document.session.can_undo())
        self.redo.setEnabled(self._document.session.can_redo())

    def mark(self, place: str) -> None:
        """Show which place is open; none of them for a page."""
        for name, made in self.places.items():
            made.setChecked(name == place)
        self._open = place
        self._fill_menu()

    def show_deficiencies(self, count: int) -> None:
        """Say how many deficiencies are open."""
        self.places["deficiencies"].setText(
            spoken("Deficiencies ({count})", count=count) if count else spoken("Deficiencies")
        )
        self._fill_menu()

    # -- little room ---------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit(event.size().width())

    def _fit(self, width: int) -> None:
        """Put the places into a list where they would take several lines."""
        compact = width < self._appearance.px(_COMPACT_BELOW)
        if compact == self._is_compact:
            return
        self._is_compact = compact
        for made in (*self.places.values(), self.helper):
            made.setVisible(not compact)
        self.menu.setVisible(compact)
        self._fill_menu()
        self.updateGeometry()

    def _fill_menu(self) -> None:
        if not self._is_compact:
            return
        pairs = [(made.text(), name) for name, made in self.places.items()]
        elsewhere = [] if self._open in self.places else [(spoken("Go to"), self._open)]
        pairs += [(spoken("Keys"), _KEYS)]
        fill(self.menu, [*elsewhere, *pairs], self._open)
        metrics = self.menu.fontMetrics()
        longest = max(metrics.horizontalAdvance(words) for words, _ in (*elsewhere, *pairs))
        self.menu.setFixedWidth(longest + self._appearance.px(30) + self._appearance.pad(30))

    def _go_chosen(self, place: int) -> None:
        chosen = str(self.menu.itemData(place) or "")
        self._fill_menu()
        if chosen == _KEYS:
            self.help_wanted.emit()
        elif chosen in self.places:
            self.place_wanted.emit(chosen)

    def _pass_chosen(self, place: int) -> None:
        self._document.choose_pass(str(self.passes.itemData(place)))
        self._tell_pass()

    def _tell_pass(self) -> None:
        """Say beside the pointer what the pass is for."""
        why = spoken("Readings are kept under this pass")
        self.passes.setToolTip(f"{why}: {self.passes.currentText()}")

    def _person_chosen(self, place: int) -> None:
        chosen = str(self.people.itemData(place) or "")
        if chosen == _ADD:
            self.refresh()
            self.place_wanted.emit("people")
            return
        self._document.choose_person(chosen)
        self.people.setToolTip(
            spoken(
                "Readings are kept in the name of: {name}",
                name=self.people.currentText(),
            )
        )


class StatusStrip(QFrame):
    """The foot of the window: what was done, or why it was refused; no word of it is cut."""

    def __init__(self, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "strip")
        self._appearance = appearance
        px = appearance.px
        layout = QHBoxLayout(self)
        layout.setContentsMargins(px(14), px(5), px(14), px(5))
        self.words = label("")
        layout.addWidget(self.words, 1)
        self.right = label("", "muted", wraps=False)
        layout.addWidget(self.right)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The file's name gives way to the sentence where there is little room."""
        super().resizeEvent(event)
        self.right.setVisible(event.size().width() >= self._appearance.px(_COMPACT_BELOW))

    def say(self, sentence: str, is_refusal: bool = False) -> None:
        """Show a sentence."""
        self.words.setText(" ".join(sentence.split()))
        self.setProperty("tone", "error" if is_refusal else "")
        self.words.setProperty("role", "error" if is_refusal else "")
        for widget in (self, self.words):
            widget.style().unpolish(widget)
            widget.style().polish(widget)
