"""Which window holds a project file: one row with host, process and time.

Only one window may write. The row goes when the file is closed; one that was left by a
crash, or that came along in a copy of the file, is recognised and replaced.
"""

from __future__ import annotations

import os
import socket
import sqlite3
import sys
import uuid
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from commission.language import spoken

_DIGITS = 20  # of any 64-bit number
_OPEN_HERE: set[str] = set()
"""Tokens held by this process; a row with our process number but none of them is stale."""


@dataclass(frozen=True, slots=True)
class Holder:
    """One row of the table `holder`."""

    token: str
    host: str
    process: int
    process_started: str
    file_identity: str
    since: str

    def __str__(self) -> str:
        return spoken(
            "another window (computer {host}, process {process}, since {since})",
            host=self.host,
            process=self.process,
            since=self.since,
        )


def this_holder(path: Path) -> Holder:
    """Return the row that this process would write for `path`."""
    return Holder(
        token=str(uuid.uuid4()),
        host=socket.gethostname(),
        process=os.getpid(),
        process_started=_process_started(os.getpid()),
        file_identity=str(path.stat().st_ino),
        since=datetime.now().astimezone().isoformat(timespec="seconds"),
    )


def take(connection: sqlite3.Connection, mine: Holder, *, by_force: bool = False) -> Holder | None:
    """Write `mine` unless another window holds the file; return who does, or None if taken."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        found = current(connection)
        other = found if found and not by_force and _is_alive(found, mine) else None
        if other is None:
            connection.execute("DELETE FROM holder")
            connection.execute(
                "INSERT INTO holder VALUES (1, ?, ?, ?, ?, ?, ?)",
                (
                    mine.token,
                    mine.host,
                    mine.process,
                    # As long for all: the room of a removed row stays in the file, zeroed.
                    mine.process_started.zfill(_DIGITS),
                    mine.file_identity.zfill(_DIGITS),
                    mine.since,
                ),
            )
            _OPEN_HERE.add(mine.token)
        connection.execute("COMMIT")
    except BaseException:
        _OPEN_HERE.discard(mine.token)
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return other


def release(connection: sqlite3.Connection, mine: Holder) -> None:
    """Remove our row. A failure is left: the next window sees that this process has ended."""
    _OPEN_HERE.discard(mine.token)
    try:
        connection.execute("DELETE FROM holder WHERE token = ?", (mine.token,))
    except sqlite3.Error:
        return


def current(connection: sqlite3.Connection) -> Holder | None:
    """Return the row in the file, if any."""
    row = connection.execute(
        "SELECT token, host, process, process_started, file_identity, since FROM holder"
    ).fetchone()
    if row is None:
        return None
    token, host, process, started, identity, since = row
    return Holder(token, host, process, started.lstrip("0"), identity.lstrip("0"), since)


def _is_alive(found: Holder, mine: Holder) -> bool:
    """Whether the window that wrote `found` is still open on this very file, as far as known."""
    if found.file_identity != mine.file_identity:
        return False  # the row came along in a copy of the file
    if found.host != mine.host:
        return True  # nothing can be asked of another computer
    if found.process == mine.process:
        return found.token in _OPEN_HERE
    return _process_runs(found.process) and (
        not found.process_started or found.process_started == _process_started(found.process)
    )


def _process_started(process: int) -> str:
    """Return when a process started (Linux: clock ticks since boot), "" where unknown."""
    try:
        text = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace")
        return text.rpartition(")")[2].split()[19]
    except (OSError, IndexError):
        return ""


def _process_runs(process: int) -> bool:
    if sys.platform == "win32":  # os.kill(process, 0) would end the process there
        import ctypes

        handle = ctypes.windll.kernel32.OpenProcess(0x1000, False, process)
        if handle:
            ctypes.windll.kernel32.CloseHandle(handle)
        return bool(handle)
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True
