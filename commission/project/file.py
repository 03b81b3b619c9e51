"""The project file: one SQLite file that holds a site's units, readings and their history."""

from __future__ import annotations

import os
import sqlite3
import uuid
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType

from commission.errors import ProjectFileError
from commission.language import spoken
from commission.project import holder, opening
from commission.project.going_back import GoingBack
from commission.project.holder import Holder
from commission.project.journal import Clock
from commission.project.schema import APPLICATION_ID
from commission.project.upgrades import (
    UPGRADES,
    Upgrade,
    take_step,
    upgrade_file,
    upgraded_in_memory,
)


def local_clock() -> datetime:
    """Return the time now, with this computer's offset from UTC."""
    return datetime.now().astimezone()


def random_id() -> str:
    """Return a fresh UUID, so that rows of two files can be merged."""
    return str(uuid.uuid4())


class ProjectFile(GoingBack):
    """An open project. Every change is on the disk when the call returns; there is no Save.

    Open by `ProjectFile.open(path)` or `ProjectFile.create(path, ...)`, close by `close()` or
    a `with` statement. One window at a time may write; a further one reads only, and
    `read_only_reason` says who has it.

    An object belongs to the thread that opened it; another thread opens the file itself,
    with `read_only=True`.
    """

    kept_copies: tuple[Path, ...] = ()
    """Copies kept by the upgrades of this opening."""

    @property
    def uuid(self) -> str:
        """The project's own id, given when it was made; a copy of the file keeps it."""
        return self._meta("project_uuid")

    @property
    def made_at(self) -> str:
        """When the project was made, ISO 8601 with offset."""
        return self._meta("made_at")

    def _meta(self, key: str) -> str:
        rows = self._select("SELECT value FROM meta WHERE key = ?", [key])
        return str(rows[0]["value"]) if rows else ""

    @classmethod
    def create(
        cls,
        path: str | os.PathLike[str],
        *,
        form_id: str,
        form_version: str,
        form_hash: str,
        title: str,
        clock: Clock = local_clock,
        new_id: Callable[[], str] = random_id,
    ) -> ProjectFile:
        """Make a new project file and open it; an existing file is never replaced.

        Raises:
            ProjectFileError: the file exists, or its folder cannot be written to.
        """
        place = Path(path)
        _claim_name(place)
        try:
            _make_tables(place, new_id(), clock())
            project = cls.open(place, clock=clock, new_id=new_id)
            try:
                with project.transaction(spoken("The new project")):
                    project.set_setting("title", title)
                    project.adopt_form(form_id, form_version, form_hash)
            except BaseException:
                project.close()
                raise
        except BaseException as fault:
            place.unlink(missing_ok=True)
            if not isinstance(fault, sqlite3.Error):
                raise
            raise ProjectFileError(
                spoken(
                    "{place}: the project could not be made ({fault}). Choose another folder or "
                    "make room on the disk.",
                    place=place,
                    fault=fault,
                )
            ) from fault
        return project

    @classmethod
    def open(
        cls,
        path: str | os.PathLike[str],
        *,
        read_only: bool = False,
        take_over: bool = False,
        clock: Clock = local_clock,
        new_id: Callable[[], str] = random_id,
        upgrades: Sequence[Upgrade] = UPGRADES,
    ) -> ProjectFile:
        """Open a project file; an older one is upgraded after a copy has been kept.

        Args:
            read_only: do not write, not even the note that a window has it open.
            take_over: write although another window seems to have it; that one can then
                write no more.
        Raises:
            ProjectFileError: absent, empty, cut short, damaged, foreign, or changed by
                another program; the file has then not been written to.
        """
        place = Path(path)
        try:
            reason = spoken("it was opened for reading only") if read_only else ""
            version = opening.check_file(place, upgrades)
            reason = reason or _reason_by_file(place, version, len(upgrades))
            if not reason:
                held = hold(place, by_force=take_over)
                if not isinstance(held, str):
                    return cls._open_held(held, place, clock, new_id, version, upgrades)
                reason = held
            connection = _connect_to_read(place, version, upgrades)
            return cls(connection, place, clock=clock, new_id=new_id, read_only_reason=reason)
        except sqlite3.Error as fault:
            raise opening.cannot_open(place, fault) from fault

    @classmethod
    def _open_held(
        cls,
        held: tuple[sqlite3.Connection, Holder],
        place: Path,
        clock: Clock,
        new_id: Callable[[], str],
        version: int,
        upgrades: Sequence[Upgrade],
    ) -> ProjectFile:
        connection, mine = held
        try:
            copies = upgrade_file(connection, place, version, upgrades)
            project = cls(connection, place, clock=clock, new_id=new_id, held_by=mine)
        except BaseException:
            holder.release(connection, mine)
            connection.close()
            raise
        project.kept_copies = tuple(copies)
        return project

    def close(self) -> None:
        """Give the file free for other windows. May be called again."""
        if self._holder is not None:
            holder.release(self._connection, self._holder)
            self._holder = None
        self._connection.close()

    def __enter__(self) -> ProjectFile:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def save_copy(self, path: str | os.PathLike[str]) -> None:
        """Write a whole copy of the project, as it stands now, to a new file.

        Raises:
            ProjectFileError: the file exists, or cannot be written; nothing is left there.
        """
        place = Path(path)
        _claim_name(place)
        try:
            self._connection.execute("VACUUM INTO ?", (str(place),))
        except sqlite3.Error as fault:
            place.unlink(missing_ok=True)
            raise ProjectFileError(
                spoken(
                    "{place}: the copy could not be written ({fault}). Choose another folder or "
                    "make room on the disk; the project itself is unchanged.",
                    place=place,
                    fault=fault,
                )
            ) from fault


def _claim_name(place: Path) -> None:
    """Make an empty file of this name, so that no other file can be replaced by mistake."""
    try:
        place.open("xb").close()
    except FileExistsError as fault:
        raise ProjectFileError(
            spoken(
                "{place}: there is a file of this name already; it was left as it is. Choose "
                "another name, or open that file.",
                place=place,
            )
        ) from fault
    except OSError as fault:
        raise ProjectFileError(
            spoken(
                "{place}: cannot be made there ({strerror}). Choose another folder.",
                place=place,
                strerror=fault.strerror,
            )
        ) from fault


def _make_tables(place: Path, project_uuid: str, moment: datetime) -> None:
    connection = opening.connect(place, "rw")
    try:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        for version, upgrade in enumerate(UPGRADES, start=1):
            take_step(connection, version, upgrade)
        made = {"project_uuid": project_uuid, "made_at": moment.isoformat(timespec="seconds")}
        connection.executemany("INSERT INTO meta (key, value) VALUES (?, ?)", made.items())
        connection.execute("COMMIT")
    finally:
        connection.close()


def _reason_by_file(place: Path, version: int, newest: int) -> str:
    if version > newest:
        return spoken(
            "it was written by a newer program (file version {version}, this program writes "
            "{newest}); install the newer program to add to it",
            version=version,
            newest=newest,
        )
    return opening.why_not_writable(place)


def hold(place: Path, *, by_force: bool) -> tuple[sqlite3.Connection, Holder] | str:
    """Open for writing and note that this window has the file; else return why it cannot."""
    connection = opening.connect(place, "rw")
    try:
        connection.execute("PRAGMA journal_mode = DELETE")
        mine = holder.this_holder(place)
        other = holder.take(connection, mine, by_force=by_force)
    except sqlite3.OperationalError as fault:
        connection.close()
        return spoken("it cannot be written to now ({fault})", fault=fault)
    except BaseException:
        connection.close()
        raise
    if other is None:
        return connection, mine
    connection.close()
    return spoken(
        "{other} has it open; close it there, or take the file over if that window is gone",
        other=other,
    )


def _connect_to_read(place: Path, version: int, upgrades: Sequence[Upgrade]) -> sqlite3.Connection:
    connection = opening.connect(place, "ro")
    if version >= len(upgrades):
        return connection
    try:
        return upgraded_in_memory(connection, version, upgrades)
    finally:
        connection.close()
