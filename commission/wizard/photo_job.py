"""Making a picture fit for the project file in a thread of its own, and where it comes from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMimeData, QObject, QThread, Signal
from PySide6.QtGui import QImage, QImageWriter

from commission.definitions.model import Key
from commission.errors import CommissionError
from commission.language import spoken

PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif")

Source = Path | bytes


class PhotoJob(QThread):
    """Reads and shrinks pictures one after the other; the project file is not touched here.

    What is prepared here is kept byte for byte: encoding it once more would only lose.

    Signals:
        prepared: a picture's bytes, and the field it belongs to (or None).
        refused: a sentence.
    """

    prepared = Signal(object, object)
    refused = Signal(str)

    def __init__(self, sources: Sequence[Source], key: Key | None, parent: QObject) -> None:
        super().__init__(parent)
        self._sources = tuple(sources)
        self._key = key

    def run(self) -> None:
        """Prepare all; a fault of one is a sentence, and the others go on."""
        from commission.project.pictures import prepare_photo

        for source in self._sources:
            called = (
                spoken("Photo")
                if isinstance(source, bytes)
                else spoken("Photo {file}", file=source.name)
            )
            try:
                data = source if isinstance(source, bytes) else source.read_bytes()
                self.prepared.emit(prepare_photo(data, called), self._key)
            except CommissionError as fault:
                self.refused.emit(str(fault))
            except OSError as fault:
                self.refused.emit(
                    spoken(
                        "{photo}: cannot be read ({fault}). Choose it again.",
                        photo=called,
                        fault=fault.strerror,
                    )
                )
            except Exception as fault:
                self.refused.emit(
                    spoken("{photo}: could not be added ({fault}).", photo=called, fault=fault)
                )


def sources_in(mime: QMimeData | None) -> list[Source]:
    """Return the pictures that were dropped or copied: files, or the picture itself."""
    if mime is None:
        return []
    local = [Path(url.toLocalFile()) for url in mime.urls() if url.isLocalFile()]
    pictures: list[Source] = [one for one in local if one.suffix.lower() in PHOTO_SUFFIXES]
    if pictures or not mime.hasImage():
        return pictures
    image = mime.imageData()
    return [_bytes_of(image)] if isinstance(image, QImage) and not image.isNull() else []


def _bytes_of(image: QImage) -> bytes:
    """Return a picture as an uncompressed file, which takes no time to write."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QImageWriter(buffer, QByteArray(b"bmp"))
    writer.write(image.convertToFormat(QImage.Format.Format_RGB32))
    return bytes(buffer.data().data())
