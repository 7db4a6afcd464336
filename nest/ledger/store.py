"""The ledger itself: one SQLite file, or a PostgreSQL database by its address.

All that belongs together is booked in one transaction, so that it is there whole or not at all, whatever happens to
the program or the machine.
"""

import os
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event, select
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError
from sqlalchemy.pool import NullPool

from nest.asjson import record_from_text, record_text
from nest.atomic import atomic_path
from nest.clock import now
from nest.errors import LedgerProblem, Taken
from nest.ledger import migrate, tables
from nest.text import hidden_in

LEDGER_FILE = "ledger.db"
"""Name of the ledger beside the jobs, where none is given."""

WAIT_S = 30
"""How long a booking waits for another one to end."""


@dataclass(frozen=True, slots=True)
class Booking:
    """One transaction, and the change that all its rows name."""

    connection: Connection
    change_id: int
    at: str

    def add(self, table, **values) -> int:
        """Add a row that names this change; returns its id."""
        return add(self.connection, table, change_id=self.change_id, **values)

    def add_all(self, table, rows: list[dict]) -> None:
        """Add rows that name this change."""
        for row in rows:
            _check_texts(row)
        if rows:
            self.connection.execute(table.insert(), [row | {"change_id": self.change_id} for row in rows])

    def keep(self, kind: type, value) -> int:
        """Keep a dataclass as a body; returns its id."""
        packed = zlib.compress(record_text(kind, value).encode(), 6)
        return add(self.connection, tables.body, kind=kind.__name__, packed=packed)


def add(connection: Connection, table, **values) -> int:
    """Add a row to any table; returns its id. Raises LedgerProblem if something is hidden in a text of it."""
    _check_texts(values)
    key = connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None
    return key[0]


def _check_texts(row: Mapping[str, object]) -> None:
    """Refuse what the eye does not see: an export that holds it would not be read back."""
    for name, value in row.items():
        if isinstance(value, str) and (hidden := hidden_in(value)):
            raise LedgerProblem(f"{_WORDS.get(name, name)}: the text holds {hidden}; write it without.")


_WORDS = {"said": "what was said (--why)", "said_by": "the name of who books (--by)"}


@dataclass(frozen=True, slots=True)
class Ledger:
    """An open ledger; `where` names it in messages. One that `begins` has its tables made by the first booking."""

    engine: Engine
    where: str
    begins: bool = False

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Yield a connection that sees one state of the ledger throughout.

        Raises
        ------
        LedgerProblem
            If the database fails, in words.
        """
        with _said(self.where), self.engine.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def booking(self, by: str, what: str, said: str = "") -> Iterator[Booking]:
        """Yield a booking; its rows are kept when the block ends well, and none of them when it does not.

        Raises
        ------
        Taken
            If somebody else booked the same hide, roll or order line since it was read.
        LedgerProblem
            If the database fails, in words.
        """
        if not by.strip():
            raise LedgerProblem("a booking needs a name: give yours with --by.")
        at = now().isoformat(timespec="milliseconds").replace("+00:00", "Z")
        with _said(self.where), self.engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                if self.begins:
                    _bring_up(connection, self.where)
                change_id = add(connection, tables.change, at=at, said_by=by.strip(), what=what, said=said)
                yield Booking(connection, change_id, at)

    def body(self, connection: Connection, body_id: int, kind: type):
        """The dataclass kept under an id.

        Raises
        ------
        PlanProblem, InputProblems
            If it is damaged.
        """
        packed = connection.scalar(select(tables.body.c.packed).where(tables.body.c.id == body_id))
        return record_from_text(kind, unpacked(packed, self.where), f"{self.where}, body {body_id}")


def unpacked(packed: bytes | None, where: str) -> str:
    """The text of a packed body; LedgerProblem if it is damaged, or not there."""
    try:
        return zlib.decompress(packed or b"").decode()
    except (zlib.error, UnicodeDecodeError, TypeError) as error:
        raise LedgerProblem(f"{where}: a drawing or plan in the ledger is damaged ({error}); restore a copy.") \
            from error


def open_ledger(address: str | Path, *, make: bool = False) -> Ledger:
    """The ledger at a path or at an address such as postgresql://user@host/name; made new if `make`.

    Raises
    ------
    LedgerProblem
        If there is none, or it cannot be used: see `nest.ledger.migrate.check`.
    """
    engine, where, file = _engine(str(address))
    if file is not None and not make and not file.is_file():
        raise LedgerProblem(_NONE_YET.format(where))
    ledger = Ledger(engine, where)
    with ledger.reading() as connection:
        found = migrate.check(connection, where)
    if not found and not make:
        raise LedgerProblem(_NONE_YET.format(where))
    if found < migrate.VERSION:
        with _said(where), engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                _bring_up(connection, where)
    return ledger


def _bring_up(connection: Connection, where: str) -> None:
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SELECT pg_advisory_xact_lock(7216120)")  # one at a time brings it up
    migrate.migrate(connection, where)


@contextmanager
def begun_ledger(address: str | Path) -> Iterator[Ledger]:
    """The ledger at an address for one booking; one that is new comes with that booking, or not at all.

    Raises
    ------
    Taken
        If somebody else has begun the same ledger meanwhile.
    LedgerProblem
        As `open_ledger`.
    """
    engine, where, file = _engine(str(address))
    if file is None or os.path.lexists(file):
        ledger = Ledger(engine, where)
        with ledger.reading() as connection:
            found = migrate.check(connection, where)
        yield open_ledger(address) if found else replace(ledger, begins=True)
        return
    if not os.access(file.parent, os.W_OK):
        raise LedgerProblem(f"{where}: the folder {file.parent} cannot be written; change its rights.")
    try:
        with atomic_path(file, new=True) as part:
            engine = _engine(str(part))[0]
            event.listen(engine, "connect", _keep_no_journal)
            yield Ledger(engine, where, begins=True)
    except FileExistsError as error:
        raise Taken(f"{where}: somebody else has just begun this ledger; nothing was booked, try again.") from error


def _keep_no_journal(connection, _) -> None:
    # The file goes if the booking fails, so that nothing else need be left to mend it by.
    connection.execute("PRAGMA journal_mode = MEMORY")


_NONE_YET = "{}: there is no ledger; begin one with `vampyield stock receive` or `vampyield orders take`."


def _engine(address: str) -> tuple[Engine, str, Path | None]:
    """An engine, the ledger's name in messages, and the file where it is one."""
    if "://" in address:
        try:
            url = make_url(address)
        except ArgumentError as error:
            raise LedgerProblem(f"{address}: this is no address of a database; write postgresql://user@host/name") \
                from error
        if url.get_backend_name() not in ("postgresql", "postgres"):
            raise LedgerProblem(
                f"{url.render_as_string()}: a ledger is a file, or a database at postgresql://...; name one of these."
            )
        try:
            engine = create_engine(
                url.set(drivername="postgresql+psycopg"), poolclass=NullPool, connect_args={"connect_timeout": 10}
            )
        except ImportError as error:
            raise LedgerProblem(
                'a ledger in PostgreSQL needs more libraries: pip install "vampyield[postgresql]".'
            ) from error
        event.listen(engine, "begin", _begin_postgresql)
        return engine, url.render_as_string(), None
    path = Path(address)
    if path.is_dir():
        path = path / LEDGER_FILE
    if not path.parent.is_dir():
        raise LedgerProblem(f"{path}: the folder {path.parent} does not exist; make it first.")
    # Autocommit in the driver: transactions begin and end where SQLAlchemy says so, schema changes included.
    engine = create_engine(
        URL.create("sqlite", database=str(path)), poolclass=NullPool,
        connect_args={"timeout": WAIT_S, "isolation_level": None},
    )
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine, str(path), path


def _set_up_sqlite(connection, _) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _begin_sqlite(connection: Connection) -> None:
    # A booking takes the file for itself before it reads, so that it need not give up what it has read.
    writes = connection.get_execution_options().get("writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _begin_postgresql(connection: Connection) -> None:
    if connection.get_execution_options().get("writes"):
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT_S}s'")


@contextmanager
def _said(where: str) -> Iterator[None]:
    """Say what a database reports in a sentence."""
    try:
        yield
    except IntegrityError as error:
        raise Taken(f"{where}: {_TAKEN}") from error
    except DBAPIError as error:
        if "deadlock" in str(error.orig):  # two bookings that each wait for the other: the database gives one up
            raise Taken(f"{where}: {_TAKEN}") from error
        raise LedgerProblem(f"{where}: {_reason(error)}; nothing was booked.") from error


_TAKEN = "somebody else has just booked the same thing; nothing was booked, try again."


def _reason(error: DBAPIError) -> str:
    """What a database's own message comes to."""
    text = " ".join(str(error.orig).split()) or type(error.orig).__name__
    for sign, words in _REASONS.items():
        if sign in text.casefold():
            return words
    return f"the database says: {text}"


_REASONS = {
    "database or disk is full": "there is no room left on the disk; make room and try again",
    "could not extend": "there is no room left on the disk; make room and try again",
    "file too large": "there is no room left on the disk; make room and try again",
    "no space left": "there is no room left on the disk; make room and try again",
    "disk i/o error": "the disk cannot be written, or is full; make room and try again",
    "database is locked": f"it was in use by others for {WAIT_S} s; try again",
    "lock timeout": f"it was in use by others for {WAIT_S} s; try again",
    "readonly database": "the file cannot be written; change its rights",
    "unable to open database": "the file cannot be opened; check the path and its rights",
    "file is not a database": "this file is not a ledger; name another",
    "malformed": "the file is damaged; restore a copy",
    "is the server running": "no database answers there; start it, or correct the address",
    "connection refused": "no database answers there; start it, or correct the address",
    "could not translate host": "there is no such host; correct the address",
    "failed to resolve host": "there is no such host; correct the address",
    "password authentication failed": "the user or the password is not known there; correct the address",
    "permission denied": "this user has no right to it; ask whoever keeps the database",
}

