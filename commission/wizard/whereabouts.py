"""Where a person is in a project, kept outside it, so that a crash reopens there.

Each window keeps one small file while a project is open, and takes it away when the project is
closed in order. A file whose window is not running any more was left behind by a crash; it is
told by the lock beside it, which the system gives free when a process ends, however it ends.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from PySide6.QtCore import QLockFile

from commission.definitions.model import Key
from commission.wizard.preferences import config_folder

_FOLDER = "open_now"
_LONGEST_TYPED = 20_000


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Project, unit, page and field; `typed` is what stood in the field and was not kept yet.

    `place` is where a person was if that was no page: "deficiencies", "sign_off" ...; `form`
    what stood in its form and was not kept yet.
    """

    project: str
    unit_id: str = ""
    page: str = ""
    name: str = ""
    index: tuple[int, ...] = ()
    typed: str = ""
    place: str = ""
    form: dict[str, str] = field(default_factory=dict)

    @property
    def key(self) -> Key | None:
        """The field or check, or None where none was at hand."""
        return Key(self.name, self.index) if self.name else None


class Trace:
    """The file of one window."""

    def __init__(self) -> None:
        self._file = _folder() / f"{uuid.uuid4().hex}.json"
        self._lock = _lock_of(self._file)
        self._last: Whereabouts | None = None

    def note(self, here: Whereabouts) -> None:
        """Write down where a person is; where that cannot be done the window works without."""
        if here == self._last:
            return
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            if not self._lock.isLocked() and not self._lock.tryLock(0):
                return
            beside = self._file.with_suffix(".new")
            beside.write_text(json.dumps(asdict(here)), encoding="utf-8")
            beside.replace(self._file)
        except OSError:
            return
        self._last = here

    def end(self) -> None:
        """Take the file away: the project was closed in order."""
        self._last = None
        with suppress(OSError):
            self._file.unlink(missing_ok=True)
        self._lock.unlock()


def left_behind() -> list[Whereabouts]:
    """Return where windows were that ended without closing, newest first; told only once."""
    return [here for _, here in sorted(_left(), key=lambda one: one[0], reverse=True)]


def _left() -> Iterator[tuple[float, Whereabouts]]:
    for file in list(_folder().glob("*.json")):
        lock = _lock_of(file)
        if not lock.tryLock(0):
            continue  # its window is open
        try:
            at, here = file.stat().st_mtime, _read(file)
            file.unlink()
        except (OSError, ValueError):
            here = None
        finally:
            lock.unlock()
        if here is not None:
            yield at, here


def _read(file: Path) -> Whereabouts | None:
    stored: Any = json.loads(file.read_text(encoding="utf-8"))
    if not isinstance(stored, dict) or not isinstance(stored.get("project"), str):
        return None
    index, form = stored.get("index"), stored.get("form")
    form = form if isinstance(form, dict) else {}
    texts = {name: str(stored.get(name, "")) for name in ("unit_id", "page", "name", "place")}
    return Whereabouts(
        project=stored["project"],
        index=tuple(n for n in index if isinstance(n, int)) if isinstance(index, list) else (),
        typed=str(stored.get("typed", ""))[:_LONGEST_TYPED],
        form={str(name): str(text)[:_LONGEST_TYPED] for name, text in form.items()},
        **texts,
    )


def _folder() -> Path:
    return config_folder() / _FOLDER


def _lock_of(file: Path) -> QLockFile:
    lock = QLockFile(str(file.with_suffix(".lock")))
    lock.setStaleLockTime(0)  # by the process alone, never by the clock
    return lock
