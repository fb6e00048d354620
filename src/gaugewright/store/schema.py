"""Which tables a campaign's database has, and how instants are written in them."""

from datetime import datetime

from sqlalchemy import (
    Boolean,
    Column,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    text,
)
from sqlalchemy.types import TypeDecorator

from gaugewright.records.identity import instant_from_text, instant_text

__all__ = [
    "METADATA",
    "SCHEMA",
    "UtcText",
    "about",
    "journal",
    "latest",
    "original",
    "part",
    "record",
    "schema_version",
]

SCHEMA = 1


class UtcText(TypeDecorator[datetime]):
    """An instant as UTC text with microseconds and Z; a naive time is refused.

    SQLite has no type for instants, and the usual one drops the offset without a word.
    """

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """Text written for an instant."""
        return None if value is None else instant_text(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:
        """Instant read from text."""
        return None if value is None else instant_from_text(value)


METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# The one table that is never rewritten; every other one can be rebuilt from it.
journal = Table(
    "journal",
    METADATA,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("previous", String(64), nullable=False, unique=True),
    Column("sha256", String(64), nullable=False, unique=True),
    Column("text", Text, nullable=False),
)

record = Table(
    "record",
    METADATA,
    Column("uid", String(26), primary_key=True),
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(40), nullable=False),
    Column("label", String(80), nullable=False),
    Column("at", UtcText, nullable=False),
    Column("person", String(26)),
    Column("reason", Text, nullable=False),
    Column("withdrawn", Boolean, nullable=False),
    Column("text", Text, nullable=False),
    Column("seq", Integer, ForeignKey(journal.c.seq), nullable=False, unique=True),
)

latest = Table(
    "latest",
    METADATA,
    Column("uid", String(26), primary_key=True),
    Column("kind", String(40), nullable=False),
    Column("label", String(80), nullable=False),
    Column("version", Integer, nullable=False),
    Column("withdrawn", Boolean, nullable=False),
    Column("first_seq", Integer, nullable=False, unique=True),
    Index("ix_latest_kind", "kind", "first_seq"),
    # The rule is checked with a sentence before this; the index is the last line of defence.
    Index(
        "ix_latest_label",
        "kind",
        "label",
        unique=True,
        sqlite_where=text("label <> '' AND withdrawn = 0"),
    ),
)

part = Table(
    "part",
    METADATA,
    Column("recording", String(26), primary_key=True),
    Column("file", String(40), primary_key=True),
    Column("first_row", Integer, nullable=False),
    Column("rows", Integer, nullable=False),
    Column("sha256", String(64), nullable=False),
)

original = Table(
    "original",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    Column("file_name", String(255), nullable=False),
)

about = Table(
    "about",
    METADATA,
    Column("name", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)

# Alembic's own table, declared here so that a new campaign needs no run of Alembic.
schema_version = Table(
    "schema_version", METADATA, Column("version_num", String(32), primary_key=True)
)
