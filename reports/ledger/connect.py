"""Where a ledger is and how it is opened: a file (SQLite) or a server (PostgreSQL).

Every error of a driver ends here, in words, without the password that an address may
hold.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import create_engine, event
from sqlalchemy.engine import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError, SQLAlchemyError

from reports.ledger.errors import LedgerError, UnreachableError
from reports.text import named, plain

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection
    from sqlalchemy.engine.interfaces import DBAPIConnection
    from sqlalchemy.pool import ConnectionPoolEntry

SERVER: Final = ("postgresql://", "postgres://")
PATIENCE_SECONDS: Final = 30
"""How long one bench waits for another that is adding."""
_CONNECT_SECONDS: Final = 10
_SERVER: Final = {
    "connect_timeout": _CONNECT_SECONDS,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 4,
    "tcp_user_timeout": 1000 * PATIENCE_SECONDS,
}
"""A server that is gone without a word is given up after half a minute; the system's
own rules would take hours (libpq's parameters)."""
_LOCK: Final = 0x4341_5244_4C45_4447
"""The number of PostgreSQL's advisory lock that adding takes: "CARDLEDG"."""
_TEXT: Final = 300


class Place(str):
    """A ledger's name for messages: a path, or an address without its password."""

    __slots__ = ()


def engine_of(ledger: str) -> tuple[Engine, Place]:
    """Return the engine of a ledger, nothing opened yet. Raises LedgerError."""
    if "://" not in ledger:
        return _file(Path(ledger)), Place(named(ledger))
    if not ledger.startswith(SERVER):
        kind = plain(ledger.split("://", 1)[0], 20)
        raise LedgerError(
            f"--ledger: {kind}:// is not known; a file's path or postgresql://USER@HOST/"
            "DATABASE"
        )
    try:
        url = make_url(ledger)
    except (ArgumentError, ValueError):
        raise LedgerError(
            "--ledger: this address cannot be read; postgresql://USER@HOST/DATABASE"
        ) from None
    return _server(url), Place(named(url.render_as_string(hide_password=True)))


def exists(ledger: str) -> bool:
    """Whether there is anything at a ledger's path; a server is always asked."""
    return "://" in ledger or Path(ledger).exists()


@contextmanager
def in_words(name: Place) -> Iterator[None]:
    """Turn what SQLAlchemy and its drivers raise into LedgerError."""
    try:
        yield
    except OperationalError as error:
        said = _said(error)
        if "locked" in said or "timeout" in said:
            said += "; another program holds it: try again"
        raise UnreachableError(f"{name}: the ledger cannot be used: {said}") from None
    except DBAPIError as error:
        raise LedgerError(f"{name}: no ledger, or damaged: {_said(error)}") from None
    except SQLAlchemyError as error:
        raise LedgerError(
            f"{name}: cannot be used: {plain(str(error), _TEXT)}"
        ) from None


def lock(connection: "Connection") -> None:
    """Wait until no other bench adds; SQLite has it from the transaction's begin.

    Neither wait is endless: for a bench that holds it, and for one that was cut off
    from the server while it did, whose transaction the server then ends.
    """
    if connection.dialect.name == "postgresql":
        patience = round(PATIENCE_SECONDS * 1000)
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = {patience}")
        connection.exec_driver_sql(
            f"SET LOCAL idle_in_transaction_session_timeout = {patience // 2}"
        )
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")


def prepare(engine: Engine) -> None:
    """Set what a new file keeps for good: SQLite's write-ahead log.

    With it an addition waits for the disk once, not four times. It needs a local disk:
    benches that share a ledger take PostgreSQL.
    """
    if engine.dialect.name == "sqlite":
        connection = engine.raw_connection()
        try:
            connection.cursor().execute("PRAGMA journal_mode = WAL")
        finally:
            connection.close()


def _file(path: Path) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        pool_size=1,
        connect_args={"timeout": PATIENCE_SECONDS},
    )

    @event.listens_for(engine, "connect")
    def _(connection: "DBAPIConnection", _: "ConnectionPoolEntry") -> None:
        # Transactions begin and end where we say, not where the driver guesses.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _(connection: "Connection") -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _server(url: URL) -> Engine:
    try:
        return create_engine(
            url.set(drivername="postgresql+psycopg"),
            pool_size=1,
            pool_pre_ping=True,
            connect_args={key: _SERVER[key] for key in _SERVER if key not in url.query},
        )
    except ImportError:
        raise LedgerError(
            "--ledger: PostgreSQL needs one more part; pip install "
            "'cardassay[postgres]'"
        ) from None


def _said(error: DBAPIError) -> str:
    """Return a driver's first line; what it adds about the query helps nobody."""
    cause = error.orig
    if isinstance(cause, sqlite3.DatabaseError) and "not a database" in str(cause):
        return "the file is no SQLite database"
    lines = [line for line in str(cause).splitlines() if line.strip()]
    return plain(lines[0] if lines else type(cause).__name__, _TEXT)
