"""The person's limits book beside an open project: kept up as limits are entered, and asked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from commission.archive.vocabulary import role_fields
from commission.definitions.model import Field, Kind
from commission.errors import CommissionError
from commission.project.limits_book import BookEntry, LimitsBook, ModelKey, same_model
from commission.validation.known_limits import Offer, model_of, offers, remember, take
from commission.validation.site import PROJECT
from commission.wizard.document import Document
from commission.wizard.preferences import config_folder

_TABLES = ("limit_entry", "reading")


def book_path() -> Path:
    """Return where the person's limits book is kept."""
    return config_folder() / "limits_book.json"


class BookKeeper(QObject):
    """Keeps the limits book up with one project, and says what it knows of a unit's model.

    Signals:
        changed: the book holds something else now.
    """

    changed = Signal()

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self.book = LimitsBook(book_path())
        self._document = document
        self._seen = document.session.project.revision
        self._stamp: tuple[int, int] | None = None
        self._entries: list[BookEntry] = []
        self._fault = ""
        roles = role_fields()
        self.make_field, self.model_field = roles["make"], roles["model"]
        self._soon = QTimer(self)  # a hand that enters does not wait for the book
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self.follow)
        for signal in (document.committed, document.replaced):
            signal.connect(self._soon.start)
        document.closing.connect(self.follow)

    @classmethod
    def of(cls, document: Document) -> BookKeeper:
        """Return the keeper of an open project, made when first asked for."""
        return document.findChild(cls) or cls(document)

    # -- keeping -------------------------------------------------------------------

    def follow(self) -> None:
        """Take what was entered since the last time into the book."""
        self._soon.stop()
        project = self._document.session.project
        if project.read_only or project.revision == self._seen:
            return
        seen, self._seen = self._seen, project.revision
        units = {
            str(row["unit_id"])
            for kind in _TABLES
            for row in project.rows(kind, seen)
            if kind == "limit_entry" or self._matters(str(row["name"]))
        }
        present = {unit.id for unit in self._document.units()}
        for unit_id in units & present:
            self._remember(unit_id)

    def _matters(self, name: str) -> bool:
        if name in (self.make_field, self.model_field):
            return True
        asked = self._document.session.plan.entries.get(name)
        return isinstance(asked, Field) and asked.kind in (Kind.TABLE, Kind.TEXT)

    def _remember(self, unit_id: str) -> None:
        session = self._document.session
        try:
            if remember(session, unit_id, self.book, self.model(unit_id)):
                self.changed.emit()
        except CommissionError as error:
            self._say_once(str(error))

    def _say_once(self, fault: str) -> None:
        if fault != self._fault:
            self._fault = fault
            self._document.said.emit(fault, True)

    # -- asking --------------------------------------------------------------------

    def model(self, unit_id: str) -> ModelKey | None:
        """Return a unit's make and model, or None while one of them is not entered."""
        session = self._document.session
        return model_of(session, unit_id, self.make_field, self.model_field)

    def offers(self, unit_id: str) -> list[Offer]:
        """Return what the book knows of a unit's model, with what counts in the unit now."""
        if unit_id == PROJECT:
            return []
        if self._soon.isActive():
            self.follow()
        model = self.model(unit_id)
        if model is None:
            return []
        known = [one for one in self.entries() if same_model(one.model, model)]
        return offers(self._document.session, unit_id, known)

    def entries(self) -> list[BookEntry]:
        """Return all that the book holds; read again only when the file has changed."""
        try:
            stat = self.book.path.stat()
            stamp: tuple[int, int] | None = (stat.st_mtime_ns, stat.st_size)
        except OSError:
            stamp = None
        if stamp != self._stamp:
            self._stamp = stamp
            try:
                self._entries = self.book.entries()
            except CommissionError as error:
                self._entries = []
                self._say_once(str(error))
        return self._entries

    # -- changing ------------------------------------------------------------------

    def take(self, unit_id: str, chosen: Sequence[Offer], done: str) -> str:
        """Record what was chosen in a unit; return the refusal, or ""."""
        refusal = self._document.attempt(
            lambda: take(self._document.session, unit_id, chosen), done
        )
        if not refusal:
            self._document.replaced.emit()
            keys = frozenset(offer.key for offer in chosen)
            self._document.committed.emit(unit_id, keys)
        return refusal

    def change(self, act: Callable[[], object], done: str = "") -> str:
        """Change the book itself; return the refusal, or ""."""
        refusal = self._document.attempt(act, done)
        self.changed.emit()
        return refusal
