"""Makes the campaigns of every released schema kept in tests/data: run it once a schema.

    python -m tests.store.older_campaigns tests/data/campaigns

Schema 0 was never released: it is schema 1 without the table of latest versions, kept so that
the way from one schema to the next is walked by a test from the beginning.
"""

import shutil
import sqlite3
import sys
import tempfile
from pathlib import Path

from tests.store import invented

RECEIVED = b"Time;G1;G2\r\nrow 0;0;OVL\r\n"


def make(target: Path) -> None:
    with tempfile.TemporaryDirectory() as room:
        original = Path(room) / "received.csv"
        original.write_bytes(RECEIVED)
        invented.filled_store(Path(room) / "campaign", original).close()
        for schema in (0, 1):
            folder = target / f"schema-{schema}"
            if not folder.exists():  # what was kept once is never made anew
                shutil.copytree(Path(room) / "campaign", folder)
                for name in ("cache", "incoming", "photos", "handover"):
                    shutil.rmtree(folder / name)
                if schema == 0:
                    _without_latest(folder / "campaign.sqlite")


def _without_latest(database: Path) -> None:
    connection = sqlite3.connect(database, isolation_level=None)
    connection.execute("DROP TABLE latest")
    connection.execute("UPDATE schema_version SET version_num = '0000'")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


if __name__ == "__main__":
    make(Path(sys.argv[1]))
