"""What a database's refusal means to a person."""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from commission.errors import StoreError
from commission.language import spoken, to_say

_AGAIN = to_say("Records added before are in the store, whole; add the others again.")

# SQLite's result codes (sqlite.org/rescode.html), and PostgreSQL's by class or whole code
# (PostgreSQL manual, appendix A).
_Cause = tuple[str, str, bool]
"""What happened, the cure, and whether what was added before is whole."""
_FILE_CAUSES: dict[str, _Cause] = {
    "SQLITE_FULL": (to_say("the disk is full"), to_say("Make room on it."), True),
    "SQLITE_IOERR": (
        to_say("the disk did not take it"),
        to_say("Check that it is still there."),
        True,
    ),
    "SQLITE_READONLY": (
        to_say("the file or its folder cannot be written to, or the file was moved or deleted"),
        to_say("Remove the write protection, or put the file back."),
        True,
    ),
    "SQLITE_BUSY": (
        to_say("another program is using the store"),
        to_say("Wait until it has ended, and try again."),
        False,
    ),
    "SQLITE_CANTOPEN": (
        to_say("the file is not there (moved, deleted, its disk pulled out) or cannot be opened"),
        to_say("Put it back where it was, or check the name."),
        True,
    ),
    "SQLITE_CORRUPT": (
        to_say("the file is damaged"),
        to_say("Restore it from a copy; it was not changed."),
        False,
    ),
    "SQLITE_NOTADB": (
        to_say("the file is no database"),
        to_say("Restore it from a copy, or check the name."),
        False,
    ),
}
_SERVER_CAUSES: dict[str, _Cause] = {
    "25006": (
        to_say("the database is read-only"),
        to_say("Use the server that can be written to."),
        False,
    ),
    "28": (
        to_say("the server refuses the name or password"),
        to_say("Check both in the address."),
        False,
    ),
    "3D": (
        to_say("there is no database of that name"),
        to_say("Make it on the server, or check the name."),
        False,
    ),
    "42501": (
        to_say("you have no right to it there"),
        to_say("Ask who looks after the server for the right."),
        False,
    ),
    "53100": (to_say("the server's disk is full"), to_say("Make room on it."), True),
    "53300": (to_say("the server takes no more connections"), to_say("Try again later."), True),
    "57P": (
        to_say("the server is stopping or has ended the connection"),
        to_say("Try again later."),
        True,
    ),
}
_UNREACHED: _Cause = (
    to_say("the server cannot be reached"),
    to_say("Check the address, the network and that the server runs."),
    True,
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
            return _said(_FILE_CAUSES[primary])
    state = str(getattr(origin, "sqlstate", "") or "")
    for length in (5, 3, 2):
        if state[:length] in _SERVER_CAUSES:
            return _said(_SERVER_CAUSES[state[:length]])
    said = " ".join(str(origin or fault).split())
    if type(origin).__name__ == "OperationalError" and not code and not state:
        return _by_words(said)
    return spoken("the database says: {said}", said=said), spoken(
        "Try again; if it stays, restore the store from a copy."
    )


def _said(cause: _Cause) -> tuple[str, str]:
    what, cure, again = cause
    return spoken(what), f"{spoken(cure)} {spoken(_AGAIN)}" if again else spoken(cure)


def _by_words(said: str) -> tuple[str, str]:
    """Return the cause of a refusal to connect, for which the driver gives no code."""
    for words, state in (
        ("authentication failed", "28"),
        ("no password supplied", "28"),
        ("does not exist", "3D"),
    ):
        if words in said:
            cause, cure = _said(_SERVER_CAUSES[state])
            return f"{cause} ({said})", cure
    cause, cure = _said(_UNREACHED)
    return f"{cause} ({said})", cure
