"""The photos of a page: chosen as files, dropped or pasted, listed below its entries."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QCoreApplication, QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFrame, QSizePolicy, QVBoxLayout

from commission.definitions.model import Key, Section
from commission.language import spoken
from commission.project import Photo
from commission.wizard.album import Album
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.flow import FlowLayout
from commission.wizard.parts import bring_into_view, button, clear, column, label, reveal
from commission.wizard.photo_job import PhotoJob, Source, sources_in
from commission.wizard.photo_line import PhotoLine


class PhotosPart(QFrame):
    """The foot of a page: its photos, and the three ways to add one.

    Signals:
        changed: another number of photos.
    """

    changed = Signal()

    def __init__(
        self,
        document: Document,
        unit_id: str,
        section: Section,
        appearance: Appearance,
        dialogs: Dialogs,
    ) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self.album = Album(document)
        self._document = document
        self._unit_id = unit_id
        self._section = section
        self._appearance = appearance
        self._dialogs = dialogs
        self.jobs: list[PhotoJob] = []
        self._refusals: list[str] = []
        self.lines: list[PhotoLine] = []
        self._shown: tuple[str, ...] | None = None
        px = appearance.px
        self.title = label(spoken("Photos"), "heading", wraps=False)
        self.of = Choice(appearance)
        self.of.setAccessibleName(spoken("A new photo belongs to"))
        self.of.setFixedWidth(px(230))
        ink = appearance.palette["ink"]
        self.add = button(spoken("Add photos"), self.choose, "", "photo", ink)
        self.paste_button = button(spoken("Paste"), self.paste, "quiet")
        self.paste_button.setToolTip(spoken("Paste a copied picture (Ctrl+Shift+V)"))
        self.paste_button.setAccessibleName(spoken("Paste a photo"))
        self.hint = label(spoken("A picture can also be dropped onto the page."), "muted")
        self.said = label("", "error")
        self.said.hide()
        self.lines_column = column()
        self._lay_out(px)
        document.photos_changed.connect(self._photos_changed)
        document.closing.connect(self.end_jobs)

    def _lay_out(self, px) -> None:
        head = FlowLayout(px(10), px(6))
        head.setContentsMargins(px(12), px(8), px(12), px(8))
        self.title.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.title.setMinimumWidth(px(90))
        head.addWidget(self.title)
        named = label(spoken("Belongs to"), wraps=False)
        named.setBuddy(self.of)
        for made in (named, self.of, self.add, self.paste_button):
            head.addWidget(made)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(1, 1, 1, 1)
        layout.setSpacing(0)
        layout.addLayout(head)
        below = column(px(4))
        below.setContentsMargins(px(12), 0, px(12), px(8))
        below.addWidget(self.hint)
        below.addWidget(self.said)
        layout.addLayout(below)
        layout.addLayout(self.lines_column)

    # -- which -----------------------------------------------------------------------

    def keys(self) -> list[Key]:
        """Return the fields of this page that a photo is asked of, as they are asked now."""
        results = self._document.results(self._unit_id)
        return [
            Key(field.name, index)
            for field in self._section.fields
            if field.photo
            for index in results.asked_members(field.name)
        ]

    def photos(self) -> list[Photo]:
        """Return the photos of this page's fields, then those of the unit as a whole."""
        here = {field.name for field in self._section.fields}
        photos = self.album.of_unit(self._unit_id)
        of_fields = [photo for photo in photos if photo.name in here]
        return [*of_fields, *(photo for photo in photos if not photo.name)]

    def refresh(self) -> None:
        """Show the photos and the fields as they are now."""
        results = self._document.results(self._unit_id)
        pairs = [(self.album.place_words(self._unit_id, None), "")]
        pairs += [(results.label(key), _as_data(key)) for key in self.keys()]
        fill(self.of, pairs, str(self.of.currentData() or ""))
        self.of.setToolTip(self.of.currentText())
        photos = self.photos()
        shown = tuple(photo.id for photo in photos)
        count = len(photos)
        self.title.setText(spoken("Photos ({count})", count=count) if count else spoken("Photos"))
        if shown == self._shown:
            return
        self._shown = shown
        clear(self.lines_column)
        self.lines = [self._line(photo) for photo in photos]

    def _line(self, photo: Photo) -> PhotoLine:
        made = PhotoLine(self.album, photo, self._appearance)
        made.left.connect(partial(self.add.setFocus, Qt.FocusReason.OtherFocusReason))
        self.lines_column.addWidget(made)
        return made

    def _photos_changed(self, unit_id: str) -> None:
        if unit_id == self._unit_id:
            if self.isVisible():
                self.refresh()
            self.changed.emit()

    def showEvent(self, event) -> None:
        super().showEvent(event)
        # After the page itself stands: pictures take longer than readings.
        QTimer.singleShot(0, self, self.refresh)

    # -- adding ----------------------------------------------------------------------

    def start(self, key: Key | None = None) -> None:
        """Come to the photos, with a field chosen if one is named."""
        self.refresh()
        if key is not None:
            self.of.setCurrentIndex(max(0, self.of.findData(_as_data(key))))
        target = self.lines[-1].caption if self.lines and key is None else self.add
        target.setFocus(Qt.FocusReason.OtherFocusReason)
        bring_into_view(self)

    def chosen(self) -> Key | None:
        """Return the field that a new photo belongs to, or None for the unit."""
        data = str(self.of.currentData() or "")
        return next((key for key in self.keys() if _as_data(key) == data), None)

    def choose(self, key: Key | None = None) -> None:
        """Ask for files."""
        self.take(self._dialogs.choose_photos(self), key or self.chosen())

    def paste(self, key: Key | None = None) -> None:
        """Take the picture, or the picture files, that were copied."""
        sources = sources_in(QGuiApplication.clipboard().mimeData())
        if not sources:
            self._refuse(spoken("No picture was copied. Copy one, then paste it here."))
            return
        self.take(sources, key or self.chosen())

    def take(self, sources: Sequence[Source], key: Key | None) -> None:
        """Add pictures to a field, or to the unit."""
        if not sources:
            return
        self._refusals.clear()
        self._refuse("")
        self.hint.setText(spoken("Taking in the picture ..."))
        job = PhotoJob(sources, key, self)
        job.prepared.connect(self._prepared)
        job.refused.connect(self._refuse)
        job.finished.connect(self._job_ended)
        self.jobs.append(job)
        job.start()

    def _prepared(self, picture: bytes, key: Key | None) -> None:
        self._refuse(self.album.add(self._unit_id, picture, key, prepared=True))

    def _job_ended(self) -> None:
        for job in [job for job in self.jobs if job.isFinished()]:
            self.jobs.remove(job)
            job.deleteLater()
        if not self.jobs:
            self.hint.setText(spoken("A picture can also be dropped onto the page."))

    def end_jobs(self) -> None:
        """Take in the pictures under way, since the page or the project goes away."""
        for job in self.jobs:
            job.wait()
        QCoreApplication.sendPostedEvents(self, QEvent.Type.MetaCall.value)

    def _refuse(self, sentence: str) -> None:
        """Say why a picture is not kept, below what was said of the others; "" is no refusal."""
        if sentence and sentence not in self._refusals:
            self._refusals.append(sentence)
            self._document.said.emit(sentence, True)
        self.said.setText("\n".join(self._refusals))
        reveal(self.said, bool(self._refusals))


def _as_data(key: Key) -> str:
    return f"{key.name} {' '.join(map(str, key.index))}"
