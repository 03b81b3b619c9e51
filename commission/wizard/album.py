"""The photos of a project as the window adds, captions and takes them away."""

from __future__ import annotations

from commission.definitions.model import Key
from commission.language import spoken
from commission.project import Photo
from commission.wizard.document import Document
from commission.wizard.undoing import PHOTO


class Album:
    """Photos tied to a field, or to a unit as a whole (the project's, for "")."""

    def __init__(self, document: Document) -> None:
        self._document = document

    def of_unit(self, unit_id: str) -> list[Photo]:
        """Return a unit's photos; their bytes are read when asked for."""
        return self._document.session.project.photos(unit_id)

    def count(self, unit_id: str, key: Key) -> int:
        """Return how many photos a field has."""
        photos = self.of_unit(unit_id)
        return sum(Key(photo.name, photo.index) == key for photo in photos)

    def add(
        self, unit_id: str, picture: bytes, key: Key | None = None, *, prepared: bool = False
    ) -> str:
        """Keep a picture with a field, or with the unit; return the refusal, or "".

        `prepared`: it is made fit already (`prepare_photo`), and is not made fit again.
        """
        name, index = key or Key("")
        session = self._document.session

        def act() -> None:
            with session.undoable(unit_id, PHOTO, "photo", key=Key(name, index)):
                session.project.add_photo(
                    unit_id, picture, name=name, index=index, prepared=prepared
                )

        refusal = self._document.attempt(
            act,
            spoken(
                "The photo is kept with {place}. Its caption: Ctrl+P.",
                place=self.place_words(unit_id, key),
            ),
        )
        if not refusal:
            self._document.photos_changed.emit(unit_id)
        return refusal

    def place_words(self, unit_id: str, key: Key | None) -> str:
        """Return what a photo belongs to, in words."""
        if key is None or key.name not in self._document.session.plan.entries:
            tag = self._document.tag(unit_id)
            return spoken("{tag} as a whole", tag=tag) if unit_id else spoken("the whole project")
        return self._document.results(unit_id).label(key)

    def caption(self, photo: Photo, words: str) -> str:
        """Change a photo's caption; return the refusal, or ""."""
        session = self._document.session

        def act() -> None:
            with session.undoable(photo.unit_id, PHOTO, "photo", key=Key(photo.name, photo.index)):
                session.project.update_photo(photo.id, caption=words.strip())

        return self._document.attempt(act, spoken("The caption is kept."))

    def remove(self, photo: Photo) -> str:
        """Take a photo away; return the refusal, or ""."""
        session = self._document.session

        def act() -> None:
            with session.undoable(photo.unit_id, PHOTO, "photo", key=Key(photo.name, photo.index)):
                session.project.remove_photo(photo.id)

        refusal = self._document.attempt(
            act, spoken("The photo is taken away. Undo (Ctrl+Z) puts it back.")
        )
        if not refusal:
            self._document.photos_changed.emit(photo.unit_id)
        return refusal
