"""Rows that follow from the journal: written with each entry, and made again from all of them."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from gaugewright.records.identity import instant_from_text
from gaugewright.records.plain import canonical_text
from gaugewright.store import journal, schema

__all__ = ["DERIVED", "differences", "rebuild", "write"]

Told = dict[str, Any]

# Every table that can be emptied and filled again from the journal.
DERIVED: tuple[Table, ...] = (schema.record, schema.latest, schema.part, schema.original)


def write(connection: Connection, told: Told) -> None:
    """Write the rows that follow from one journal entry."""
    if told["action"] == "keep":
        _write_original(connection, told["original"])
        return
    row = _record_row(told)
    connection.execute(insert(schema.record).values(row))
    if row["version"] == 1:
        connection.execute(insert(schema.latest).values(_latest_row(row, row["seq"])))
    else:
        now = {name: row[name] for name in ("label", "version", "withdrawn")}
        connection.execute(
            update(schema.latest).where(schema.latest.c.uid == row["uid"]).values(now)
        )
    if told.get("files"):
        files = [{**file, "recording": told["uid"]} for file in told["files"]]
        connection.execute(insert(schema.part), files)


def _write_original(connection: Connection, row: Told) -> None:
    """List a kept file, unless it is listed: the same bytes may be told of twice."""
    table = schema.original
    known = select(table.c.sha256).where(table.c.sha256 == row["sha256"])
    if connection.execute(known).one_or_none() is None:
        connection.execute(insert(table).values(row))


def rebuild(connection: Connection) -> None:
    """Empty every table but the journal and fill it again from what the journal tells."""
    for table in DERIVED:
        connection.execute(delete(table))
    for entry in list(journal.entries(connection)):
        write(connection, entry.told())


def differences(connection: Connection) -> Iterator[tuple[str, str]]:
    """Rows that aren't what the journal tells: where, and what is wrong."""
    expected: dict[str, dict[tuple[Any, ...], Told]] = {table.name: {} for table in DERIVED}
    for entry in journal.entries(connection):
        for name, row in _rows(entry.told(), expected["latest"]):
            if name == "original":  # told twice when it was listed anew: the first name stays
                expected[name].setdefault(_key(name, row), row)
            else:
                expected[name][_key(name, row)] = row
    for table in DERIVED:
        yield from _table_differences(connection, table, expected[table.name])


def _table_differences(
    connection: Connection, table: Table, expected: dict[tuple[Any, ...], Told]
) -> Iterator[tuple[str, str]]:
    left = dict(expected)
    for found in connection.execute(select(table)).mappings():
        key = _key(table.name, dict(found))
        place = f"{table.name} {' '.join(str(part) for part in key)}"
        told = left.pop(key, None)
        if told is None:
            yield place, "isn't in the journal: it was put in from outside"
            continue
        changed = [name for name in told if found[name] != told[name]]
        if changed:
            yield place, f"isn't what the journal tells: {', '.join(changed)} was changed"
    for key in left:
        yield (
            f"{table.name} {' '.join(str(part) for part in key)}",
            "is missing: the journal has it",
        )


def _rows(told: Told, latest: dict[tuple[Any, ...], Told]) -> Iterator[tuple[str, Told]]:
    if told["action"] == "keep":
        yield "original", told["original"]
        return
    row = _record_row(told)
    yield "record", row
    before = latest.get((row["uid"],))
    yield "latest", _latest_row(row, before["first_seq"] if before else row["seq"])
    for file in told.get("files", ()):
        yield "part", {**file, "recording": told["uid"]}


def _record_row(told: Told) -> Told:
    return {
        "uid": told["uid"],
        "version": told["version"],
        "kind": told["kind"],
        "label": told["record"].get("label", ""),
        "at": instant_from_text(told["at"]),
        "person": told["person"],
        "reason": told["reason"],
        "withdrawn": told["action"] == "withdraw",
        "text": canonical_text(told["record"]),
        "seq": told["seq"],
    }


def _latest_row(row: Told, first_seq: int) -> Told:
    kept = {name: row[name] for name in ("uid", "kind", "label", "version", "withdrawn")}
    return {**kept, "first_seq": first_seq}


def _key(table: str, row: Told) -> tuple[Any, ...]:
    names = [column.name for column in schema.METADATA.tables[table].primary_key]
    return tuple(row[name] for name in names)
