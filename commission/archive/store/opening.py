"""Opening a store: reached, known as ours, brought to the newest version; faults in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from sqlalchemy import (
    Connection,
    Engine,
    create_engine,
    event,
    insert,
    inspect,
    select,
    text,
    update,
)
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from commission.archive.store.faults import store_error
from commission.archive.store.tables import (
    APPLICATION,
    APPLICATION_ID,
    INFO,
    UPGRADES,
    Upgrade,
)
from commission.errors import StoreError
from commission.language import spoken

DEFAULT_STORE = "portfolio.rtustore"
_MAGIC = b"SQLite format 3\x00"
_DRIVERS = {"postgresql": "postgresql+psycopg", "postgres": "postgresql+psycopg"}
_BUSY_SECONDS = 15.0
_LOCK = 0x52545553  # any number that no other program is likely to lock


class Store:
    """An open portfolio store. Use it in a `with` statement, in one thread.

    Attributes:
        name: the store as shown to a person, without a password.
        read_only: whether nothing can be added.
    """

    def __init__(self, engine: Engine, name: str, read_only: bool) -> None:
        self.engine = engine
        self.name = name
        self.read_only = read_only

    @classmethod
    def open(
        cls, address: str, *, read_only: bool = True, upgrades: Sequence[Upgrade] = UPGRADES
    ) -> Store:
        """Open a store by file name or address (postgresql://user@host/database).

        For adding (`read_only` False) one that is not there yet is made, and an older one is
        upgraded; each step is taken whole or not at all.

        Raises:
            StoreError: cannot be reached, is none of ours, or is of a newer program.
        """
        url = store_url(address)
        name = url.database or "" if _is_file(url) else url.render_as_string(hide_password=True)
        is_new = _is_file(url) and not _is_there(Path(name), read_only)
        if _is_file(url) and read_only:
            _roll_back_interrupted(url, name)
        store = cls(_engine(url, read_only), name, read_only)
        try:
            store._prepare(upgrades)
        except BaseException:
            store.close()
            if is_new:
                Path(name).unlink(missing_ok=True)
            raise
        return store

    def close(self) -> None:
        """Let go of the database. May be called again."""
        self.engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @contextmanager
    def transaction(self, what: str) -> Iterator[Connection]:
        """Give a connection; all that is done inside is kept together, or nothing of it.

        Of several programs that add to one store at a time, one waits for the other.

        Raises:
            StoreError: the database refuses or is gone; the message says that `what` was not
                done.
        """
        try:
            with self.engine.begin() as connection:
                if not self.read_only:
                    _take_turns(connection)
                yield connection
        except SQLAlchemyError as fault:
            raise store_error(self.name, what, fault) from fault

    def _prepare(self, upgrades: Sequence[Upgrade]) -> None:
        with self.transaction(spoken("the store was not opened")) as connection:
            version = self._version(connection)
            if version > len(upgrades):
                raise StoreError(
                    spoken(
                        "{name}: is a store of version {version}; this program knows "
                        "{count}. Install "
                        "the newer program; the store is unchanged.",
                        name=self.name,
                        version=version,
                        count=len(upgrades),
                    )
                )
            if version == len(upgrades):
                return
            if self.read_only:
                raise StoreError(self._unready(version))
            for number, upgrade in enumerate(upgrades[version:], start=version + 1):
                upgrade.take(connection)
                _note_version(connection, number)

    def _unready(self, version: int) -> str:
        if not version:
            return spoken(
                "{name}: holds no store yet. 'commission store add' makes one.", name=self.name
            )
        return spoken(
            "{name}: is a store of an older version ({version}). The next 'commission store "
            "add' upgrades it; until then it cannot be searched by this program.",
            name=self.name,
            version=version,
        )

    def _version(self, connection: Connection) -> int:
        """Return the store's version, 0 for an empty database.

        Raises:
            StoreError: the database holds another program's tables.
        """
        names = inspect(connection).get_table_names()
        if not names:
            return 0
        held: dict[str, str] = {}
        if INFO.name in names and _columns(connection) == {"name", "value"}:
            rows = connection.execute(select(INFO.c.name, INFO.c.value))
            held = {row.name: row.value for row in rows}
        if held.get("application") != APPLICATION or not held.get("version", "").isdecimal():
            raise StoreError(
                spoken(
                    "{name}: holds tables of another program ({names}) and was left as it is. Give "
                    "the store a file or database of its own.",
                    name=self.name,
                    names=", ".join(sorted(names)[:3]),
                )
            )
        return int(held["version"])


def store_url(address: str) -> URL:
    """Return the address of a store: a database's own, or that of a file.

    Raises:
        StoreError: an address of a kind that cannot be used.
    """
    if "://" not in address:
        return URL.create("sqlite", database=address)
    try:
        url = make_url(address)
    except ArgumentError:
        url = URL.create("unknown")
    url = url.set(drivername=_DRIVERS.get(url.drivername, url.drivername))
    if url.drivername not in ("sqlite", "postgresql+psycopg") or not url.database:
        raise StoreError(
            spoken(
                "Store '{address}': is no address of a store. Give a file's name, or "
                "postgresql://USER@HOST/DATABASE.",
                address=address.split("@")[-1],
            )
        )
    return url


def _is_file(url: URL) -> bool:
    return url.drivername == "sqlite"


def _is_there(path: Path, read_only: bool) -> bool:
    """Look at a file's first bytes before a database is asked to open it; make a new one empty.

    The database never makes it: a file that is taken away must not come back empty.

    Raises:
        StoreError: not there to be read, cannot be made, or none of ours.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except FileNotFoundError:
        if read_only:
            raise StoreError(
                spoken(
                    "{path}: there is no store. 'commission store add' makes one; or name it by "
                    "--store.",
                    path=path,
                )
            ) from None
        _make_empty(path)
        return False
    except OSError as fault:
        raise StoreError(
            spoken(
                "{path}: cannot be read ({strerror}). Check the name and that the disk is there.",
                path=path,
                strerror=fault.strerror,
            )
        ) from fault
    mine = head[:16] == _MAGIC and int.from_bytes(head[68:72], "big") == APPLICATION_ID
    if head and not mine:
        raise StoreError(
            spoken(
                "{path}: is not a portfolio store, and was left as it is. Choose the file that "
                "'commission store add' made, or a new name.",
                path=path,
            )
        )
    return True


def _roll_back_interrupted(url: URL, name: str) -> None:
    """Let the database undo an addition that was cut off: to read only, it may not.

    Raises:
        StoreError: the file cannot be written to, so it cannot be put in order here.
    """
    journal = Path(f"{name}-journal")
    try:
        if not journal.stat().st_size:
            return
    except OSError:
        return
    try:
        engine = _engine(url, read_only=False)
        with engine.begin() as connection:  # any read makes it roll back
            connection.exec_driver_sql("SELECT count(*) FROM sqlite_schema")
        engine.dispose()
    except SQLAlchemyError as fault:
        raise StoreError(
            spoken(
                "{name}: adding was interrupted, and the store cannot be put in order here "
                "({fault}). Copy it together with {journal} to a folder that can be written "
                "to, and open it there.",
                name=name,
                fault=getattr(fault, "orig", fault),
                journal=journal.name,
            )
        ) from fault


def _make_empty(path: Path) -> None:
    try:
        path.open("xb").close()
    except FileExistsError:  # another program has made it in this very moment
        return
    except OSError as fault:
        raise StoreError(
            spoken(
                "{path}: cannot be made there ({strerror}). Check the folder and the name.",
                path=path,
                strerror=fault.strerror,
            )
        ) from fault


def _engine(url: URL, read_only: bool) -> Engine:
    if not _is_file(url):
        return _server_engine(url, read_only)
    mode = "ro" if read_only else "rw"
    place = Path(url.database or "").absolute().as_uri()
    engine = create_engine(
        URL.create("sqlite", database=place, query={"mode": mode, "uri": "true"}),
        poolclass=NullPool,
        connect_args={"timeout": _BUSY_SECONDS},
    )
    event.listen(engine, "connect", _set_up_file)
    begin = "BEGIN" if read_only else "BEGIN IMMEDIATE"
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    return engine


def _server_engine(url: URL, read_only: bool) -> Engine:
    try:
        engine = create_engine(url, poolclass=NullPool, connect_args={"connect_timeout": 10})
    except ImportError as fault:
        raise StoreError(
            spoken(
                "{address}: the PostgreSQL driver is not installed. Install it with: "
                "pip install 'rooftop-commission[store]'.",
                address=url.render_as_string(hide_password=True),
            )
        ) from fault
    return engine.execution_options(postgresql_readonly=True) if read_only else engine


def _set_up_file(connection: Any, _: object) -> None:
    """Let SQLAlchemy begin transactions itself, and flush each commit to the disk."""
    connection.isolation_level = None
    for pragma in (
        "foreign_keys = ON",
        "trusted_schema = OFF",
        "cell_size_check = ON",
        "synchronous = FULL",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _take_turns(connection: Connection) -> None:
    """Let no second program make, upgrade or add to the same store at the same time.

    A file is locked by the beginning of the transaction.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))


def _columns(connection: Connection) -> set[str]:
    return {column["name"] for column in inspect(connection).get_columns(INFO.name)}


def _note_version(connection: Connection, number: int) -> None:
    if number > 1:
        connection.execute(update(INFO).where(INFO.c.name == "version").values(value=str(number)))
        return
    rows = [{"name": "application", "value": APPLICATION}, {"name": "version", "value": "1"}]
    connection.execute(insert(INFO), rows)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
