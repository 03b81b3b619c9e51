"""The photos of a project as the window adds, captions and takes them away."""

from __future__ import annotations

from commission.definitions.model import Key
from commission.language import spoken
from commission.project import Photo
from commission.wizard.document import Document


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

    def add(self, unit_id: str, picture: bytes, key: Key | None = None) -> str:
        """Keep a picture with a field, or with the unit; return the refusal, or ""."""
        name, index = key or Key("")
        project = self._document.session.project
        refusal = self._document.attempt(
            lambda: project.add_photo(unit_id, picture, name=name, index=index),
            spoken(
                "The photo is kept with {place_words}. Its caption: Ctrl+P.",
                place_words=self.place_words(unit_id, key),
            ),
        )
        if not refusal:
            self._document.photos_changed.emit(unit_id)
        return refusal

    def place_words(self, unit_id: str, key: Key | None) -> str:
        """Return what a photo belongs to, in words."""
        if key is None or key.name not in self._document.session.plan.entries:
            return f"{self._document.tag(unit_id)} as a whole" if unit_id else "the whole project"
        return self._document.results(unit_id).label(key)

    def caption(self, photo: Photo, words: str) -> str:
        """Change a photo's caption; return the refusal, or ""."""
        project = self._document.session.project
        return self._document.attempt(
            lambda: project.update_photo(photo.id, caption=words.strip()),
            spoken("The caption is kept."),
        )

    def remove(self, photo: Photo) -> str:
        """Take a photo away; return the refusal, or ""."""
        project = self._document.session.project
        refusal = self._document.attempt(
            lambda: project.remove_photo(photo.id), spoken("The photo is taken away.")
        )
        if not refusal:
            self._document.photos_changed.emit(photo.unit_id)
        return refusal
