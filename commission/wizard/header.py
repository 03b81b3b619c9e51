"""The head of the window: the places to go, which pass is recorded, and who records."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from commission.language import spoken
from commission.project import AS_FOUND, AS_LEFT, pass_rank
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.icon import icon
from commission.wizard.parts import OneLine, button, label

PLACES = (
    ("board", "Board", "Ctrl+B"),
    ("trends", "Trends", "Ctrl+T"),
    ("deficiencies", "Deficiencies", "Ctrl+D"),
    ("sign_off", "Sign-off", "Ctrl+G"),
    ("people", "People", "Ctrl+I"),
    ("export", "Export", "Ctrl+E"),
    ("settings", "Settings", "Ctrl+,"),
)
_NOBODY = "nobody"
_ADD = "\0add"


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
        px = appearance.px
        layout = QHBoxLayout(self)
        layout.setContentsMargins(px(8), px(4), px(10), px(4))
        layout.setSpacing(px(2))
        for name, words, key in PLACES:
            made = button(words, partial(self.place_wanted.emit, name), "place")
            made.setCheckable(True)
            made.setToolTip(f"{words} ({key})")
            self.places[name] = made
            layout.addWidget(made)
        helper = button(spoken("Keys"), self.help_wanted.emit, "place")
        helper.setToolTip(spoken("All keys (F1)"))
        layout.addWidget(helper)
        self.undo = self._tool("undo", "Undo", self.undo_wanted)
        self.redo = self._tool("redo", "Redo", self.redo_wanted)
        layout.addWidget(self.undo)
        layout.addWidget(self.redo)
        layout.addStretch(1)
        self.passes = Choice(appearance)
        self.people = Choice(appearance)
        widths = (("Pass", self.passes, 92, 116), ("By", self.people, 104, 152))
        for words, box, least, most in widths:
            named = label(words, wraps=False)
            named.setBuddy(box)
            box.arrow_colour = appearance.palette["on_header"]
            box.setMinimumWidth(px(least))
            box.setMaximumWidth(px(most))
            layout.addSpacing(px(6))
            layout.addWidget(named)
            layout.addSpacing(px(2))
            layout.addWidget(box, 100)
        self.passes.setAccessibleName(spoken("Pass that is recorded"))
        self.passes.setToolTip(spoken("Readings are kept under this pass"))
        self.people.setAccessibleName(spoken("Person who records"))
        self.passes.activated.connect(self._pass_chosen)
        self.people.activated.connect(self._person_chosen)
        self.refresh()

    def _tool(self, picture: str, words: str, signal) -> QPushButton:
        px = self._appearance.px
        made = button("", signal.emit, "place")
        made.setIcon(icon(picture, self._appearance.palette["on_header"], px(20)))
        if made.icon().isNull():
            made.setText(words)
        made.setFixedWidth(px(36))
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
        fill(self.passes, [(name, name) for name in names], session.pass_name)
        people = [(person.name, person.id) for person in session.project.people()]
        pairs = [(_NOBODY, ""), *people, ("Add a person", _ADD)]
        fill(self.people, pairs, session.person_id)
        self.people.setToolTip(
            spoken(
                "Readings are kept in the name of: {currenttext}",
                currenttext=self.people.currentText(),
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

    def show_deficiencies(self, count: int) -> None:
        """Say how many deficiencies are open."""
        self.places["deficiencies"].setText(
            spoken("Deficiencies ({count})", count=count) if count else spoken("Deficiencies")
        )

    def _pass_chosen(self, place: int) -> None:
        self._document.choose_pass(str(self.passes.itemData(place)))

    def _person_chosen(self, place: int) -> None:
        chosen = str(self.people.itemData(place) or "")
        if chosen == _ADD:
            self.refresh()
            self.place_wanted.emit("people")
            return
        self._document.choose_person(chosen)
        self.people.setToolTip(
            spoken(
                "Readings are kept in the name of: {currenttext}",
                currenttext=self.people.currentText(),
            )
        )


class StatusStrip(QFrame):
    """One line at the foot of the window: what was done, or why it was refused."""

    def __init__(self, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "strip")
        px = appearance.px
        layout = QHBoxLayout(self)
        layout.setContentsMargins(px(14), px(5), px(14), px(5))
        self.words = OneLine("")
        layout.addWidget(self.words, 1)
        self.right = label("", "muted", wraps=False)
        layout.addWidget(self.right)

    def say(self, sentence: str, is_refusal: bool = False) -> None:
        """Show a sentence."""
        self.words.say(sentence)
        self.setProperty("tone", "error" if is_refusal else "")
        self.words.setProperty("role", "error" if is_refusal else "")
        for widget in (self, self.words):
            widget.style().unpolish(widget)
            widget.style().polish(widget)
