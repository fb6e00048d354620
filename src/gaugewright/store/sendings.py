"""Which forms sent from a device were taken in already, so that sending one again adds nothing."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Column, MetaData, String, Table, select
from sqlalchemy.dialects.sqlite import insert

from gaugewright.errors import InputError
from gaugewright.records.identity import Context, Uid
from gaugewright.store.engine import Database
from gaugewright.store.folders import Folder
from gaugewright.store.schema import UtcText

__all__ = ["Sending", "Sendings"]

KEY_LENGTH = 80
_METADATA = MetaData()
_sending = Table(
    "sending",
    _METADATA,
    Column("key", String(KEY_LENGTH), primary_key=True),
    Column("content", String(64), nullable=False),
    Column("uid", String(26), nullable=False),
    Column("received", UtcText, nullable=False),
)


@dataclass(frozen=True, slots=True)
class Sending:
    """A form by its key: the uid that its record has or will have, and when it came first."""

    key: str
    uid: Uid
    received: datetime
    is_new: bool


class Sendings:
    """Keys of forms that came in, in the cache beside the jobs.

    A key is put down with the uid of the record to be *before* that record is written. Whatever
    stops the program in between, the form sent again meets the same uid, and the record either
    has it already or gets it now.
    """

    def __init__(self, folder: Folder) -> None:
        folder.cache.mkdir(parents=True, exist_ok=True)
        self._database = Database(folder.cache / "work.sqlite")
        self._database.make_tables(_METADATA)

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    def received(self, key: str, content: str, context: Context) -> Sending:
        """Put a form down by its key, or find it put down before.

        ``content`` is the SHA-256 of what was sent: a key stands for one content only.

        Raises
        ------
        InputError
            If the key can't be one, or came before with another content.
        """
        if not (key.isascii() and key.isprintable() and 16 <= len(key) <= KEY_LENGTH):
            raise InputError("key of a form", key, f"16 to {KEY_LENGTH} plain characters")
        new = context.new_uid()
        with self._database.writing() as connection:
            row = {"key": key, "content": content, "uid": new, "received": context.now()}
            connection.execute(insert(_sending).values(**row).on_conflict_do_nothing())
            kept = connection.execute(select(_sending).where(_sending.c.key == key)).one()
        if kept.content != content:
            raise InputError(
                "key of a form", key, "new: it came before with other words", "send the form anew"
            )
        return Sending(key, Uid(kept.uid), kept.received, kept.uid == new)
