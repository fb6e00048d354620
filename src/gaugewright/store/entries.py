"""How records are written, changed, withdrawn and found: rows and journal, always together."""

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, func, select

from gaugewright.errors import InputError, StaleEdit, StoreError
from gaugewright.records import KINDS, Entry, kind_of, kind_said, label_of
from gaugewright.records.identity import Context, Uid, instant_text
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.store import journal, schema, tables

__all__ = ["Rows"]

Told = dict[str, Any]


class Rows:
    """Records of one campaign; every method works on the connection it is given.

    Versions never change, so each is decoded once and kept.
    """

    def __init__(self) -> None:
        self._decoded: dict[tuple[str, int], Entry[Any]] = {}

    def forget(self) -> None:
        """Drop what was decoded: after a transaction that was taken back."""
        self._decoded.clear()

    def add(
        self,
        connection: Connection,
        context: Context,
        record: object,
        *,
        reason: str = "",
        uid: Uid | None = None,
        action: str = "add",
        more: Told | None = None,
    ) -> Entry[Any]:
        """Write the first version of a record.

        Raises
        ------
        InputError
            If the label is taken by another record of the kind, or the uid by any record.
        """
        new = uid if uid is not None else context.new_uid()
        if self._latest(connection, new) is not None:
            raise InputError("uid", new, "new: a record has it already", "revise that record")
        _refuse_taken_label(connection, record, new)
        told = _told(context, action, record, uid=new, version=1, reason=reason)
        return self._written(connection, {**told, **(more or {})})

    def revise(
        self,
        connection: Connection,
        context: Context,
        uid: Uid,
        from_version: int,
        record: object,
        *,
        reason: str,
    ) -> Entry[Any]:
        """Write the next version of a record; the earlier ones stay.

        Raises
        ------
        StaleEdit
            If somebody wrote a version after ``from_version``.
        InputError
            If no reason is given, the kind differs or the label is taken.
        """
        now = self._fresh(connection, uid, from_version, record)
        kind = kind_of(record)
        if kind != kind_of(now.record):
            raise InputError("record", kind, f"a {kind_of(now.record)}, as it was before")
        if now.withdrawn:
            raise StoreError(f"{kind} {uid} was taken back; add it anew instead")
        _refuse_no_reason(reason)
        _refuse_taken_label(connection, record, uid)
        told = _told(context, "revise", record, uid=uid, version=now.version + 1, reason=reason)
        return self._written(connection, told)

    def withdraw(
        self, connection: Connection, context: Context, uid: Uid, from_version: int, *, reason: str
    ) -> Entry[Any]:
        """Take a record out of the lists; it stays readable with its history.

        Raises
        ------
        StaleEdit
            If somebody wrote a version after ``from_version``.
        InputError
            If no reason is given.
        """
        now = self._fresh(connection, uid, from_version, None)
        if now.withdrawn:
            raise StoreError(f"{kind_of(now.record)} {uid} was taken back already")
        _refuse_no_reason(reason)
        version = now.version + 1
        told = _told(context, "withdraw", now.record, uid=uid, version=version, reason=reason)
        return self._written(connection, told)

    def entry(self, connection: Connection, uid: Uid, version: int | None = None) -> Entry[Any]:
        """One version of a record, the latest when none is named.

        Raises
        ------
        InputError
            If there is no such record or version.
        """
        wanted = version
        if wanted is None:
            row = self._latest(connection, uid)
            if row is None:
                raise InputError("uid", uid, "that of a record in this campaign")
            wanted = int(row.version)
        table = schema.record
        found = connection.execute(
            select(table).where(table.c.uid == uid, table.c.version == wanted)
        ).one_or_none()
        if found is None:
            raise InputError("uid and version", f"{uid} {wanted}", "those of a record written here")
        return self._entry(found)

    def entries(self, connection: Connection, kind: str) -> tuple[Entry[Any], ...]:
        """Latest versions of a kind, without those withdrawn, in the order of first writing."""
        table, now = schema.record, schema.latest
        query = (
            select(table)
            .join(now, (now.c.uid == table.c.uid) & (now.c.version == table.c.version))
            .where(now.c.kind == kind, now.c.withdrawn.is_(False))
            .order_by(now.c.first_seq)
        )
        return self._entries(connection.execute(query).all())

    def count(self, connection: Connection, kind: str) -> int:
        """How many records of a kind there are, without those withdrawn."""
        now = schema.latest.c
        query = select(func.count()).where(now.kind == kind, now.withdrawn.is_(False))
        return int(connection.execute(query).scalar_one())

    def written_after(self, connection: Connection, seq: int) -> tuple[Entry[Any], ...]:
        """Latest versions of all kinds written after a journal entry, those withdrawn among them.

        In the order of first writing; all records when ``seq`` is 0.
        """
        table, now = schema.record, schema.latest
        query = (
            select(table)
            .join(now, (now.c.uid == table.c.uid) & (now.c.version == table.c.version))
            .where(table.c.seq > seq)
            .order_by(now.c.first_seq)
        )
        return self._entries(connection.execute(query).all())

    def labelled(self, connection: Connection, kind: str, label: str) -> Entry[Any]:
        """The record of a kind that a person calls by a label.

        Raises
        ------
        InputError
            If none is called so.
        """
        table = schema.latest.c
        uid = connection.execute(
            select(table.uid).where(
                table.kind == kind, table.label == to_plain(label), table.withdrawn.is_(False)
            )
        ).scalar_one_or_none()
        if uid is None:
            said = kind_said(KINDS[kind])
            known = connection.execute(
                select(table.label)
                .where(table.kind == kind, table.withdrawn.is_(False))
                .order_by(table.first_seq)
                .limit(12)
            ).scalars()
            allowed = ", ".join(known) or f"added first: there is no {said} yet"
            raise InputError(f"{said} label", label, f"one of: {allowed}")
        return self.entry(connection, Uid(uid))

    def history(self, connection: Connection, uid: Uid) -> tuple[Entry[Any], ...]:
        """Every version of a record, oldest first.

        Raises
        ------
        InputError
            If there is no such record.
        """
        table = schema.record
        query = select(table).where(table.c.uid == uid).order_by(table.c.version)
        rows = connection.execute(query).all()
        if not rows:
            raise InputError("uid", uid, "that of a record in this campaign")
        return self._entries(rows)

    def is_known(self, connection: Connection, uid: Uid) -> bool:
        """Whether any record was ever written under a uid."""
        return self._latest(connection, uid) is not None

    def _latest(self, connection: Connection, uid: str) -> Row[Any] | None:
        table = schema.latest
        return connection.execute(select(table).where(table.c.uid == uid)).one_or_none()

    def _fresh(
        self, connection: Connection, uid: Uid, from_version: int, yours: object
    ) -> Entry[Any]:
        now = self.entry(connection, uid)
        if now.version != from_version:
            raise StaleEdit(uid, from_version, now.version, now.record, yours)
        return now

    def _written(self, connection: Connection, told: Told) -> Entry[Any]:
        tables.write(connection, journal.append(connection, told))
        return self.entry(connection, told["uid"], told["version"])

    def _entries(self, rows: Sequence[Row[Any]]) -> tuple[Entry[Any], ...]:
        return tuple(self._entry(row) for row in rows)

    def _entry(self, row: Row[Any]) -> Entry[Any]:
        key = (row.uid, row.version)
        kept = self._decoded.get(key)
        if kept is None:
            person = None if row.person is None else Uid(row.person)
            record = from_plain(KINDS[row.kind], json.loads(row.text))
            kept = Entry(
                Uid(row.uid), row.version, row.at, person, row.reason, row.withdrawn, record
            )
            self._decoded[key] = kept
        return kept


def _told(
    context: Context,
    action: str,
    record: object,
    *,
    uid: Uid,
    version: int,
    reason: str,
) -> Told:
    return {
        "action": action,
        "at": instant_text(context.now()),
        "kind": kind_of(record),
        "person": context.person,
        "reason": to_plain(reason),
        "record": to_plain(record),
        "uid": uid,
        "version": version,
    }


def _refuse_taken_label(connection: Connection, record: object, uid: str) -> None:
    kind, label = kind_of(record), to_plain(label_of(record))
    if not label:
        return
    table = schema.latest.c
    other = connection.execute(
        select(table.uid).where(
            table.kind == kind,
            table.label == label,
            table.withdrawn.is_(False),
            table.uid != uid,
        )
    ).scalar_one_or_none()
    if other is not None:
        raise InputError("label", label, f"new: another {kind} is called so", "choose another one")


def _refuse_no_reason(reason: str) -> None:
    if not reason.strip():
        raise InputError("reason", reason, "a sentence that says why the record changes")
