"""One unit to sign: what has been signed, what is open, and the form of a new signature."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from weakref import WeakKeyDictionary

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QTextCursor
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.errors import ReadingError
from commission.language import spoken, to_say
from commission.project import SIGNATURE_ROLES, Signature
from commission.project.signatures import signed_names
from commission.wizard.adding import adding_to
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.inputs import FocusFrame, Group
from commission.wizard.open_points import OpenPoints
from commission.wizard.parts import SignLabel, button, clear, column, hint, label, wrapping_row
from commission.wizard.sign import Sign
from commission.wizard.slices import Slices

_SIGNED = Sign("done", to_say("signed"), "done")
_CHANGED = Sign("warning", to_say("changed since signed"), "inconclusive")
_NOBODY = to_say("choose who signs")
_DATE = to_say("Date and time are taken from this computer's clock when you sign.")


class SignatureLine(QFrame):
    """One signature as it stands; it can be withdrawn, and stays in the file's history.

    Signals:
        withdrawn: it was.
    """

    withdrawn = Signal()

    def __init__(
        self, document: Document, signature: Signature, appearance: Appearance, changed: bool
    ) -> None:
        super().__init__()
        self._document = document
        self._signature = signature
        px = appearance.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, px(6))
        layout.setSpacing(px(2))
        head = wrapping_row(px(8))
        self.sign = SignLabel(appearance)
        self.sign.show_sign(_CHANGED if changed else _SIGNED)
        head.addWidget(self.sign)
        head.addStretch(1)
        self._head = head
        who = f"{signature.role} {signature.printed_name}"
        self.ask = button(spoken("Withdraw"), self._ask, "quiet")
        self.ask.setAccessibleName(spoken("Withdraw the signature: {who}", who=who))
        self.sure: QPushButton | None = None
        self.keep: QPushButton | None = None
        head.addWidget(self.ask)
        layout.addLayout(head)
        section = document.form.section_by_name.get(signature.section)
        when = signature.at[:16].replace("T", " ")
        text = spoken(
            "{role} by {name}, {when}",
            role=spoken(signature.role).capitalize(),
            name=signature.printed_name,
            when=when,
        )
        if section is not None:
            text += f" ({spoken('page {title}', title=repr(section.title))})"
        layout.addWidget(label(text))
        if signature.statement:
            layout.addWidget(label(signature.statement, "muted"))

    def _ask(self) -> None:
        """Ask whether it is meant; the two answers are made when they are first needed."""
        self.ask.hide()
        if self.sure is None or self.keep is None:
            self.sure = button(spoken("Yes, withdraw"), self._withdraw)
            self.keep = button(spoken("Leave it"), self._leave, "quiet")
            self._head.addWidget(self.sure)
            self._head.addWidget(self.keep)
        self.sure.show()
        self.keep.show()
        self.keep.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave(self) -> None:
        for made in (self.sure, self.keep):
            if made is not None:
                made.hide()
        self.ask.show()
        self.ask.setFocus(Qt.FocusReason.OtherFocusReason)

    def _withdraw(self) -> None:
        project = self._document.session.project
        refusal = self._document.attempt(
            lambda: project.remove_signature(self._signature.id),
            spoken("The signature is withdrawn."),
        )
        if not refusal:
            self.withdrawn.emit()


class SignPanel(QScrollArea):
    """What a person reads and fills in to sign for one unit.

    Signals:
        changed: a signature was given or withdrawn.
        left: Escape; back to the list.
        typed: the statement was changed, and is not signed yet.
    """

    changed = Signal()
    left = Signal()
    typed = Signal()

    def __init__(
        self,
        document: Document,
        appearance: Appearance,
        points_of: Callable[[str, str], OpenPoints],
    ) -> None:
        """Make it; `points_of` tells what is open in a unit, or in a page of it."""
        super().__init__()
        self._points_of = points_of
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._document = document
        self._appearance = appearance
        self._points = OpenPoints()
        self._slices = Slices(self)
        document.closing.connect(self._slices.stop)
        self.unit_id = ""
        self.title = label("", "heading")
        self.what = label("")
        self.open_words = label("")
        self.given = column()
        self.of_pages = column()
        self.open_lines = column(appearance.px(2))
        self.pages = Choice(appearance)
        self.role = Choice(appearance)
        self.person = Choice(appearance)
        self.statement = QPlainTextEdit()
        self.statement.setTabChangesFocus(True)
        self.statement.setFixedHeight(appearance.px(60))
        self.statement.textChanged.connect(self.typed)
        hint(self.statement, spoken("In your own words (may be left empty)"))
        self.refusal = label("", "error")
        self.refusal.hide()
        self.sign_button = button(spoken("Sign"), self.sign, "primary")
        self._lay_out(appearance.px)
        self.pages.activated.connect(lambda _place: self._page_chosen())

    def _lay_out(self, px) -> None:
        # It takes the focus, so that a long list can be read by the arrow keys.
        self.card = card = Group()
        card.setAccessibleName(spoken("Sign-off"))  # until it is known what is open
        card.setProperty("role", "card")
        self._frame = FocusFrame(card, self._appearance, self)
        outer = QVBoxLayout(card)
        outer.setContentsMargins(px(16), px(12), px(16), px(12))
        outer.setSpacing(px(8))
        outer.addWidget(self.title)
        outer.addLayout(self.given)
        outer.addWidget(self.what)
        outer.addWidget(self.open_words)
        grid = QGridLayout()
        grid.setHorizontalSpacing(px(10))
        grid.setVerticalSpacing(px(6))
        grid.setColumnStretch(1, 1)
        inputs: tuple[tuple[str, QWidget], ...] = (
            (spoken("What"), self.pages),
            (spoken("As who"), self.role),
            (spoken("Person"), self.person),
            (spoken("Statement"), self.statement),
        )
        for place, (words, widget) in enumerate(inputs):
            named = label(words)
            named.setFixedWidth(px(84))
            named.setBuddy(widget)
            widget.setAccessibleName(spoken("Signature: {words}", words=words.lower()))
            is_long = widget is self.statement
            beside = Qt.AlignmentFlag.AlignTop if is_long else Qt.AlignmentFlag.AlignVCenter
            grid.addWidget(named, place, 0, beside)
            grid.addWidget(widget, place, 1)
        outer.addLayout(grid)
        outer.addWidget(self.refusal)
        buttons = wrapping_row(px(10))
        buttons.addWidget(self.sign_button)
        buttons.addWidget(label(spoken(_DATE), "muted"), 1)
        outer.addLayout(buttons)
        outer.addLayout(self.open_lines)
        outer.addLayout(self.of_pages)
        outer.addStretch(1)
        self.setWidget(card)

    # -- showing ---------------------------------------------------------------------

    def show_unit(self, unit_id: str, points: OpenPoints) -> None:
        """Show another unit, or the same one as it stands now: the form at once, then the rest."""
        self._slices.begin(self._showing(unit_id, points))
        self._slices.turn()

    def pause(self) -> None:
        """Leave the rest until it is seen again."""
        self._slices.pause()

    def go_on(self) -> None:
        """Show the rest."""
        self._slices.go_on()

    def finish(self) -> None:
        """Show now what is still to be shown."""
        self._slices.finish()

    def _showing(self, unit_id: str, points: OpenPoints) -> Iterator[None]:
        page = self.page if unit_id == self.unit_id else ""
        if unit_id != self.unit_id:
            self.statement.clear()
        self.unit_id = unit_id
        self._fill_pages(page)
        self._points = self._points_of(unit_id, self.page) if self.page else points
        self.refuse("")
        tag = self._document.tag(unit_id)
        self.title.setText(
            spoken("Sign for {tag}", tag=tag)
            if unit_id
            else spoken("Sign for the project's own pages")
        )
        self._fill_choices()
        yield
        self._show_open()
        yield
        self._show_what(tag)
        yield
        yield from self._showing_given()

    @property
    def page(self) -> str:
        """The page that is signed alone; "" for all of the unit."""
        return str(self.pages.currentData() or "")

    def _fill_pages(self, chosen: str) -> None:
        sections = self._document.results(self.unit_id).sections()
        pairs = [(section.title, section.name) for section in sections]
        fill(self.pages, [(spoken("All pages"), ""), *pairs], chosen)

    def choose_page(self, page: str) -> None:
        """Sign one page alone, or (with "") the whole unit."""
        self.pages.setCurrentIndex(max(0, self.pages.findData(page)))
        self._page_chosen()

    def _page_chosen(self) -> None:
        self.finish()
        self._points = self._points_of(self.unit_id, self.page)
        self.refuse("")
        self._show_what(self._document.tag(self.unit_id))
        self._show_open()
        self._fill_choices()

    def _show_what(self, tag: str) -> None:
        project = self._document.session.project
        names, checks = signed_names(self._document.form, self.page)
        read = project.readings(self.unit_id).values()
        count = sum(not one.is_unread and (names is None or one.name in names) for one in read)
        whose = (
            spoken("of {tag}", tag=tag) if self.unit_id else spoken("of the project's own pages")
        )
        if self.page:
            title = self._document.form.section_by_name[self.page].title
            whose = spoken("of the page '{title}' {whose}", title=title, whose=whose)
        fingerprint = project.decisions_hash(self.unit_id, names, checks)[:12]
        self.what.setText(
            spoken(
                "Signed are all {count} readings {whose}, their limits and overrides as they "
                "count now (fingerprint {fingerprint}).",
                count=count,
                whose=whose,
                fingerprint=fingerprint,
            )
        )

    def _showing_given(self) -> Iterator[None]:
        """Show the signatures, one at a time: whether each still holds takes all readings."""
        clear(self.given)
        clear(self.of_pages)
        signatures = self._document.session.project.signatures(self.unit_id)
        if any(signature.section for signature in signatures):
            self.of_pages.addWidget(label(spoken("Signatures of single pages"), "heading"))
        for signature in signatures:
            changed = is_changed(self._document, signature)
            line = SignatureLine(self._document, signature, self._appearance, changed)
            line.withdrawn.connect(self.changed)
            with adding_to(self.card, [line]):
                (self.of_pages if signature.section else self.given).addWidget(line)
            yield

    def _show_open(self) -> None:
        clear(self.open_lines)
        groups = self._points.groups()
        self.card.setAccessibleName(f"{self.title.text()}. {self._points.statement()}")
        if not groups:
            self.open_words.setText(spoken("Nothing is open."))
            return
        self.open_words.setText(
            spoken(
                "Open now: {counted}, listed below. It can be signed all the same; the list goes "
                "into the statement.",
                counted=self._points.counted(),
            )
        )
        # One label for all of a heading: a unit that was just begun has dozens of points.
        lines = []
        for heading, sentences in groups:
            lines.append(label(heading, _ROLES.get(heading.split()[1], "missing")))
            lines.append(label("\n".join(f"- {one}" for one in sentences)))
        with adding_to(self.card, lines):
            for line in lines:
                self.open_lines.addWidget(line)

    def _fill_choices(self) -> None:
        project = self._document.session.project
        given = project.signatures(self.unit_id)
        signed = {one.role for one in given if one.section == self.page}
        due = next((role for role in SIGNATURE_ROLES if role not in signed), SIGNATURE_ROLES[0])
        fill(
            self.role,
            [(spoken("{role} by", role=spoken(role)), role) for role in SIGNATURE_ROLES],
            due,
        )
        people = [(person.name, person.id) for person in project.people()]
        fill(self.person, [(spoken(_NOBODY), ""), *people], self._document.session.person_id)

    def start(self) -> None:
        """Put the focus into the form."""
        self.role.setFocus(Qt.FocusReason.OtherFocusReason)

    def half_typed(self) -> dict[str, str]:
        """Return what is filled in and not signed yet; nothing where there is no statement."""
        if not self.statement.toPlainText().strip():
            return {}
        return {
            "unit_id": self.unit_id,
            "page": self.page,
            "role": str(self.role.currentData() or ""),
            "person": str(self.person.currentData() or ""),
            "statement": self.statement.toPlainText(),
        }

    def put_half_typed(self, typed: Mapping[str, str]) -> None:
        """Fill in for the unit that is shown what was filled in once; nothing is signed."""
        self.choose_page(typed.get("page", ""))
        for box, name in ((self.role, "role"), (self.person, "person")):
            place = box.findData(typed.get(name, ""))
            if place >= 0:
                box.setCurrentIndex(place)
        self.statement.setPlainText(typed.get("statement", ""))
        self.statement.moveCursor(QTextCursor.MoveOperation.End)
        self.statement.setFocus(Qt.FocusReason.OtherFocusReason)

    # -- signing ---------------------------------------------------------------------

    def sign(self) -> None:
        """Sign as chosen, or say why not."""
        typed = " ".join(self.statement.toPlainText().split())
        statement = " ".join(filter(None, (typed, self._points.statement())))
        role = str(self.role.currentData())
        person_id = str(self.person.currentData() or "")
        name = self._document.person_name(person_id)

        def act() -> None:
            if not name:
                raise ReadingError(spoken("Choose who signs. People are added at People (Ctrl+I)."))
            names, checks = signed_names(self._document.form, self.page)
            self._document.session.project.add_signature(
                self.unit_id,
                self.page,
                role,
                person_id=person_id,
                printed_name=name,
                statement=statement,
                names=names,
                checks=checks,
            )

        tag = self._document.tag(self.unit_id)
        refusal = self._document.attempt(
            act, spoken("{tag}: {role} by {name}.", tag=tag, role=role, name=name)
        )
        self.refuse(refusal)
        if not refusal:
            self.statement.clear()
            self.changed.emit()

    def refuse(self, sentence: str) -> None:
        """Say why it is not signed; empty when it is."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        control = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and control:
            self.sign()
        elif event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)


_ROLES = {
    "stop": "stop",
    "stops": "stop",
    "failure": "fail",
    "failures": "fail",
    "inconclusive": "inconclusive",
}


_changed: WeakKeyDictionary[Document, tuple[int, dict[str, bool]]] = WeakKeyDictionary()


def is_changed(document: Document, signature: Signature) -> bool:
    """Return whether what was signed is no longer as it was.

    All readings of a unit are gone through for it, so it is kept until something is committed.
    """
    project = document.session.project
    revision, kept = _changed.get(document, (-1, {}))
    if revision != project.revision:
        kept = {}
        _changed[document] = (project.revision, kept)
    if signature.id not in kept:
        names = signed_names(document.form, signature.section)
        kept[signature.id] = not project.is_signed_still(signature, *names)
    return kept[signature.id]
