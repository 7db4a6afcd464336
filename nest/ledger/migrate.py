"""The ledger's schema, version by version: an older ledger is brought up to date when it is opened for booking."""


from sqlalchemy import Connection, func, inspect, select

from nest.clock import now
from nest.errors import LedgerProblem
from nest.ledger import tables

VERSION = 3


def _first(connection: Connection) -> None:
    tables.metadata.create_all(connection, tables=tables.OF_VERSION_1)


def _days(connection: Connection) -> None:
    """Version 2: what becomes of plans, and what was cut."""
    tables.metadata.create_all(connection, tables=[
        table for table in tables.metadata.sorted_tables if table is not tables.lacking
    ])
    for index in (index for table in tables.metadata.tables.values() for index in table.indexes):
        index.create(connection, checkfirst=True)


def _lacking(connection: Connection) -> None:
    """Version 3: reinforcements that vamps do without."""
    tables.lacking.create(connection)


STEPS = (_first, _days, _lacking)
"""What leads from each version to the next; the first from an empty database."""


def version_of(connection: Connection) -> int:
    """Version of the schema in a database: 0 if it holds no ledger."""
    if not inspect(connection).has_table(tables.version.name):
        return 0
    return connection.scalar(select(func.max(tables.version.c.version))) or 0


def check(connection: Connection, where: str) -> int:
    """Version of a ledger that this program can use.

    Raises
    ------
    LedgerProblem
        If a newer program wrote it, or the database belongs to another program.
    """
    found = version_of(connection)
    if found > VERSION:
        raise LedgerProblem(
            f"{where}: the ledger has schema version {found}, this program knows up to {VERSION}; update the program."
        )
    if not found and inspect(connection).get_table_names():
        raise LedgerProblem(f"{where}: the database holds no ledger but other tables; name a new file or database.")
    return found


def migrate(connection: Connection, where: str) -> None:
    """Bring the schema up to date, all of it or nothing; raises as `check`."""
    found = check(connection, where)
    for number, step in enumerate(STEPS[found:], start=found + 1):
        step(connection)
        connection.execute(tables.version.insert().values(version=number, at=now().isoformat(timespec="seconds")))
