"""The limits book: limits and tables of the literature by make and model, on the person's machine.

One JSON file, the same on the machine and when it is shared. What stands in it was entered in a
project by a person, with where it comes from; nothing of it counts anywhere until a person takes
it into a unit. A file that cannot be read whole is never written over.
"""

from __future__ import annotations

import contextlib
import json
import uuid
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from commission.errors import IncomingFileError, OutputError
from commission.language import spoken
from commission.project.limits_book_reading import MARK, VERSION, BookEntry, ModelKey, entries_in

__all__ = ["BookEntry", "Joined", "LimitsBook", "ModelKey", "read_shared", "same_model"]

LARGEST_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class Joined:
    """What came of taking in a shared book: how many are new, known, and which disagree.

    `conflicts` are pairs (ours, theirs) of one place and one origin with other numbers; ours
    stays in force until `LimitsBook.put` is called with theirs.
    """

    added: int
    known: int
    conflicts: tuple[tuple[BookEntry, BookEntry], ...]


def same_model(one: ModelKey, other: ModelKey) -> bool:
    """Return whether two models are one: letter case and blanks do not count."""
    return one.folded() == other.folded()


class LimitsBook:
    """The book in one file, read anew before every change, so that two windows share it.

    Raises (all methods):
        IncomingFileError: the file is no limits book, or damaged; it is left as it is.
        OutputError: the file cannot be written; what it held before is in it, whole.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def entries(self, model: ModelKey | None = None) -> list[BookEntry]:
        """Return what the book holds, of one model or of all, in the order entered."""
        if not self.path.exists():
            return []
        found = entries_in(_text_of(self.path), str(self.path))
        return [one for one in found if model is None or same_model(one.model, model)]

    def models(self) -> list[ModelKey]:
        """Return the models of which the book holds anything, in order of their names."""
        named = {one.model.folded(): one.model for one in self.entries()}
        return [named[key] for key in sorted(named)]

    def keep(self, source_id: str, entries: Iterable[BookEntry]) -> int:
        """Let the book hold what one unit of one project holds now; return how many changed.

        What came from this source before and is not among `entries` any more leaves the book.
        An entry that the book knows with the same numbers and origin keeps its first source. Of
        one place and one origin the numbers entered last stand.
        """
        before = self.entries()
        after = [one for one in before if one.source_id != source_id]
        for entry in entries:
            known = next((one for one in before if one.says_the_same(entry)), None)
            if known is not None:
                entry = known
            after = [one for one in after if not one.is_of(entry)]
            after.append(entry)
        changed = set(_lines(before)) ^ set(_lines(after))
        if changed:
            self._write(after)
        return len(changed)

    def put(self, entry: BookEntry) -> None:
        """Let an entry stand instead of what the book has of its place and origin."""
        kept = [one for one in self.entries() if not one.is_of(entry)]
        self._write([*kept, entry])

    def forget(self, model: ModelKey) -> int:
        """Take all of one model out of the book; return how many entries that were."""
        before = self.entries()
        kept = [one for one in before if not same_model(one.model, model)]
        if len(kept) < len(before):
            self._write(kept)
        return len(before) - len(kept)

    def share(self, path: Path, models: Iterable[ModelKey] | None = None) -> int:
        """Write the book, or some models of it, to a file for others; return how many entries.

        Raises:
            OutputError: nothing to share, or the file cannot be written.
        """
        wanted = None if models is None else [model.folded() for model in models]
        chosen = [one for one in self.entries() if wanted is None or one.model.folded() in wanted]
        if not chosen:
            raise OutputError(
                spoken(
                    "{path}: the limits book holds nothing of this yet. Enter limits in "
                    "a unit with "
                    "its make and model first.",
                    path=path,
                )
            )
        # Where it was entered is this person's own affair, not the reader's.
        _write_text(path, _as_text(replace(one, source_id="") for one in chosen))
        return len(chosen)

    def take_in(self, shared: Iterable[BookEntry]) -> Joined:
        """Add what another person's book holds; what disagrees is shown, not taken."""
        entries = self.entries()
        added = known = 0
        conflicts: list[tuple[BookEntry, BookEntry]] = []
        for theirs in shared:
            ours = next((one for one in entries if one.is_of(theirs)), None)
            if ours is None:
                entries.append(replace(theirs, source_id=""))
                added += 1
            elif ours.says_the_same(theirs):
                known += 1
            else:
                conflicts.append((ours, theirs))
        if added:
            self._write(entries)
        return Joined(added, known, tuple(conflicts))

    def _write(self, entries: Iterable[BookEntry]) -> None:
        _write_text(self.path, _as_text(entries))


def read_shared(path: Path) -> list[BookEntry]:
    """Return the entries of a shared book.

    Raises:
        IncomingFileError: it is none, or damaged: all faults at once, each with its place.
    """
    return entries_in(_text_of(path), str(path))


def _text_of(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise IncomingFileError(
                spoken(
                    "{path}: is larger than {largest_bytes} MB, so it is no limits book. Choose "
                    "another file.",
                    path=path,
                    largest_bytes=LARGEST_BYTES // 10**6,
                )
            )
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise IncomingFileError(
            spoken(
                "{path}: the limits book cannot be read ({fault}). Choose another file, or put "
                "a copy of it in its place.",
                path=path,
                fault=fault,
            )
        ) from fault


def _lines(entries: Iterable[BookEntry]) -> list[str]:
    return [json.dumps(_as_plain(one), ensure_ascii=False, sort_keys=True) for one in entries]


def _as_plain(entry: BookEntry) -> dict[str, object]:
    plain: dict[str, object] = asdict(replace(entry, parts=dict(entry.parts)))
    del plain["model"]
    make_and_model = {"make": entry.model.make, "model": entry.model.model}
    return make_and_model | plain | {"index": list(entry.index)}


def _as_text(entries: Iterable[BookEntry]) -> str:
    lines = ",\n  ".join(_lines(entries))
    head = f'"format": {json.dumps(MARK)},\n "version": {VERSION}'
    return f'{{\n {head},\n "entries": [\n  {lines}\n ]\n}}\n'


def _write_text(path: Path, text: str) -> None:
    beside = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}.part")
    steps: tuple[Callable[[], object], ...] = (
        lambda: path.parent.mkdir(parents=True, exist_ok=True),
        lambda: beside.write_text(text, encoding="utf-8"),
        lambda: beside.replace(path),
    )
    try:
        for step in steps:
            step()
    except OSError as fault:
        with contextlib.suppress(OSError):  # the folder itself is not there
            beside.unlink(missing_ok=True)
        raise OutputError(
            spoken(
                "{path}: the limits book cannot be written ({strerror}). Make room, or choose "
                "another place.",
                path=path,
                strerror=fault.strerror,
            )
        ) from fault
