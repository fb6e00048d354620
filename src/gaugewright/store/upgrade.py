"""Which schema a campaign was written with, and how an older one is brought to today's."""

from pathlib import Path

from sqlalchemy import Connection, insert
from sqlalchemy.exc import DatabaseError

import gaugewright
from gaugewright.errors import SchemaError, StoreError
from gaugewright.store import schema
from gaugewright.store.engine import Database

__all__ = ["make", "refuse_other_schema", "schema_of", "upgraded"]


def make(database: Database) -> None:
    """Make the tables of a new campaign, as the migrations would have left them."""
    database.make_tables(schema.METADATA)
    with database.writing() as connection:
        connection.execute(insert(schema.schema_version).values(version_num=_revision()))
        connection.execute(insert(schema.about).values(name="needs", value=gaugewright.__version__))


def schema_of(database: Database) -> tuple[int, str]:
    """Schema number of a campaign and the version of this package that it needs.

    Raises
    ------
    StoreError
        If the file isn't a campaign's database.
    """
    try:
        with database.reading() as connection:
            number = connection.exec_driver_sql("SELECT version_num FROM schema_version").scalar()
            needs = connection.exec_driver_sql(
                "SELECT value FROM about WHERE name = 'needs'"
            ).scalar()
    except DatabaseError as error:  # also when connecting: the first thing asked of the file
        raise StoreError(
            f"{database.path} isn't a campaign's database, or is damaged; take it from a copy"
        ) from error
    if number is None or not str(number).isdecimal():
        raise StoreError(f"{database.path} doesn't say its schema; take it from a copy")
    return int(number), str(needs or "not written down")


def refuse_other_schema(path: Path, *, upgrade: bool, read_only: bool) -> bool:
    """Whether the campaign is to be upgraded; anything else but today's schema is refused.

    Raises
    ------
    SchemaError
        If the campaign is newer, or older and not to be upgraded.
    StoreError
        If the file isn't a campaign's database.
    """
    looked_at = Database(path, read_only=True)  # a file that isn't ours must stay as it is
    try:
        number, needs = schema_of(looked_at)
    finally:
        looked_at.close()
    folder = path.parent
    if number == schema.SCHEMA:
        return False
    if number > schema.SCHEMA:
        raise SchemaError(
            f"{folder} has schema {number}; gaugewright {gaugewright.__version__} knows up to "
            f"{schema.SCHEMA}; open it with gaugewright {needs} or newer"
        )
    if read_only:
        raise SchemaError(
            f"{folder} has schema {number}, older than {schema.SCHEMA}, and reading only never "
            "changes a campaign; upgrade a copy of it: copy the folder, then open the copy for "
            "writing with upgrade=True"
        )
    if not upgrade:
        raise SchemaError(
            f"{folder} has schema {number}, older than {schema.SCHEMA}; open it once with "
            "upgrade=True: its database is copied beside itself first"
        )
    return True


def upgraded(database: Database) -> Path:
    """Bring a campaign to today's schema and return the copy made before."""
    number, _ = schema_of(database)
    copy = _free_name(database.path, number)
    database.backup(copy)
    with database.writing() as connection:
        _migrate(connection, number)
        connection.execute(
            schema.about.update()
            .where(schema.about.c.name == "needs")
            .values(value=gaugewright.__version__)
        )
    return copy


def _migrate(connection: Connection, number: int) -> None:
    """Take every step from schema ``number`` to today's, in the transaction at hand."""
    # Alembic takes a third of a second to import: only an upgrade pays for it.
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(Path(schema.__file__).parent / "migrations"))
    steps = list(scripts.iterate_revisions(_revision(), f"{number:04d}"))
    context = MigrationContext.configure(connection, opts={"render_as_batch": True})
    with Operations.context(context):
        for step in reversed(steps):
            step.module.upgrade()
    connection.execute(schema.schema_version.update().values(version_num=_revision()))


def _revision() -> str:
    return f"{schema.SCHEMA:04d}"


def _free_name(path: Path, number: int) -> Path:
    for attempt in range(1, 1000):
        copy = path.with_name(f"campaign.schema-{number}.{attempt}.sqlite")
        if not copy.exists():
            return copy
    raise StoreError(f"{path.parent} is full of copies made before upgrades; move them away")
