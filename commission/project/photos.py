"""Photos of a project file; the bytes stand once, and are read only when asked for."""

from __future__ import annotations

import hashlib
from pathlib import Path

from commission.errors import ProjectFileError
from commission.language import spoken
from commission.project.journal import Row, index_from, index_text
from commission.project.pictures import MEDIA_TYPE, prepare_photo
from commission.project.records import Index, Photo
from commission.project.registers import Registers

_KEEP_BYTES = "INSERT INTO photo_data (sha256, data) VALUES (?, ?) ON CONFLICT DO NOTHING"


class PhotoAlbum(Registers):
    """The photos of units and of single fields."""

    def photos(self, unit_id: str | None = None) -> list[Photo]:
        """Return the photos of one unit or of all, without reading their bytes."""
        return self._register("photo", self._photo, unit_id)

    def add_photo(
        self,
        unit_id: str,
        source: Path | bytes,
        *,
        name: str = "",
        index: Index = (),
        caption: str = "",
        keep_location: bool = False,
        prepared: bool = False,
    ) -> Photo:
        """Add a picture, re-encoded (see `prepare_photo`), to a unit or one of its fields.

        Args:
            prepared: the bytes come from `prepare_photo`; encoding them again would only lose.

        Raises:
            ProjectFileError: no picture, too many pixels, or not kept (disk full ...).
        """
        called = (
            spoken("Photo")
            if isinstance(source, bytes)
            else spoken("Photo {name}", name=source.name)
        )
        data = _bytes_of(source)
        if not prepared:
            data = prepare_photo(data, called, keep_location=keep_location)
        sha256 = hashlib.sha256(data).hexdigest()
        content = {"unit_id": unit_id, "name": name, "index": index_text(index), "caption": caption}
        content |= {"media_type": MEDIA_TYPE, "sha256": sha256}
        with self.transaction(called):
            self._refuse_unknown_unit(unit_id)
            self._connection.execute(_KEEP_BYTES, (sha256, data))
            return self._photo(self._add("photo", content, called))

    def update_photo(self, photo_id: str, **changes: object) -> Photo:
        """Change caption, name or index of a photo."""
        fixed = set(changes) - {"caption", "name", "index"}
        if fixed:
            raise ProjectFileError(
                spoken(
                    "A photo keeps its {fixed}; caption, name and index can change.",
                    fixed=", ".join(sorted(fixed)),
                )
            )
        return self._photo(self._update_fields("photo", Photo, photo_id, changes))

    def remove_photo(self, photo_id: str) -> None:
        """Take a photo off the list; its bytes stay in the file's history."""
        self._update("photo", photo_id, {"removed": True}, spoken("The removal of the photo"))

    def _photo(self, row: Row) -> Photo:
        sha256 = row["sha256"]
        return Photo(
            row["record"],
            row["unit_id"],
            row["name"],
            index_from(row["index"]),
            row["caption"],
            row["media_type"],
            row["first_at"],
            sha256,
            lambda: self._photo_bytes(sha256),
        )

    def _photo_bytes(self, sha256: str) -> bytes:
        rows = self._select("SELECT data FROM photo_data WHERE sha256 = ?", [sha256])
        if not rows:
            raise ProjectFileError(
                spoken(
                    "{path}: the bytes of photo {sha256} are not in the file. Add it again.",
                    path=self.path,
                    sha256=sha256[:8],
                )
            )
        return bytes(rows[0]["data"])


def _bytes_of(source: Path | bytes) -> bytes:
    if isinstance(source, bytes):
        return source
    try:
        return source.read_bytes()
    except OSError as fault:
        raise ProjectFileError(
            spoken(
                "{source}: the photo cannot be read ({strerror}). Choose it again.",
                source=source,
                strerror=fault.strerror,
            )
        ) from fault
