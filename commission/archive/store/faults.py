"""What a database's refusal means to a person."""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from commission.errors import StoreError

_AGAIN = "Records added before are in the store, whole; add the others again."

# SQLite's result codes (sqlite.org/rescode.html), and PostgreSQL's by class or whole code
# (PostgreSQL manual, appendix A).
_FILE_CAUSES = {
    "SQLITE_FULL": ("the disk is full", f"Make room on it. {_AGAIN}"),
    "SQLITE_IOERR": ("the disk did not take it", f"Check that it is still there. {_AGAIN}"),
    "SQLITE_READONLY": (
        "the file or its folder cannot be written to, or the file was moved or deleted",
        f"Remove the write protection, or put the file back. {_AGAIN}",
    ),
    "SQLITE_BUSY": (
        "another program is using the store",
        "Wait until it has ended, and try again.",
    ),
    "SQLITE_CANTOPEN": (
        "the file is not there (moved, deleted, its disk pulled out) or cannot be opened",
        f"Put it back where it was, or check the name. {_AGAIN}",
    ),
    "SQLITE_CORRUPT": ("the file is damaged", "Restore it from a copy; it was not changed."),
    "SQLITE_NOTADB": ("the file is no database", "Restore it from a copy, or check the name."),
}
_SERVER_CAUSES = {
    "25006": ("the database is read-only", "Use the server that can be written to."),
    "28": ("the server refuses the name or password", "Check both in the address."),
    "3D": ("there is no database of that name", "Make it on the server, or check the name."),
    "42501": ("you have no right to it there", "Ask who looks after the server for the right."),
    "53100": ("the server's disk is full", f"Make room on it. {_AGAIN}"),
    "53300": ("the server takes no more connections", "Try again later."),
    "57P": ("the server is stopping or has ended the connection", f"Try again later. {_AGAIN}"),
}
_UNREACHED = (
    "the server cannot be reached",
    f"Check the address, the network and that the server runs. {_AGAIN}",
)


def store_error(name: str, what: str, fault: SQLAlchemyError) -> StoreError:
    """Return a fault of the database as place, what was not done, why, and the cure."""
    cause, cure = _cause(fault)
    return StoreError(f"{name}: {what}: {cause}. {cure}")


def _cause(fault: SQLAlchemyError) -> tuple[str, str]:
    origin = fault.orig if isinstance(fault, DBAPIError) else None
    code = str(getattr(origin, "sqlite_errorname", "") or "")
    if code:
        primary = "_".join(code.split("_")[:2])
        if primary in _FILE_CAUSES:
            return _FILE_CAUSES[primary]
    state = str(getattr(origin, "sqlstate", "") or "")
    for length in (5, 3, 2):
        if state[:length] in _SERVER_CAUSES:
            return _SERVER_CAUSES[state[:length]]
    said = " ".join(str(origin or fault).split())
    if type(origin).__name__ == "OperationalError" and not code and not state:
        return _by_words(said)
    return f"the database says: {said}", "Try again; if it stays, restore the store from a copy."


def _by_words(said: str) -> tuple[str, str]:
    """Return the cause of a refusal to connect, for which the driver gives no code."""
    for words, state in (
        ("authentication failed", "28"),
        ("no password supplied", "28"),
        ("does not exist", "3D"),
    ):
        if words in said:
            cause, cure = _SERVER_CAUSES[state]
            return f"{cause} ({said})", cure
    cause, cure = _UNREACHED
    return f"{cause} ({said})", cure
