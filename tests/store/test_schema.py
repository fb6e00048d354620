"""Campaigns of other schemas: older ones are upgraded when asked, newer ones refused."""

import re
import shutil
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, create_engine, insert, select
from sqlalchemy.exc import StatementError

from gaugewright.errors import InputError, SchemaError
from gaugewright.records.proof import Person
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Question
from gaugewright.store import schema, tables, upgrade
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.engine import Database
from tests.store import invented

KEPT = Path(__file__).parents[1] / "data" / "campaigns"


@pytest.fixture
def kept(tmp_path: Path) -> Callable[[int], Path]:
    """Copy of a campaign of a schema, so that opening it leaves the kept one alone."""

    def copied(number: int) -> Path:
        return Path(shutil.copytree(KEPT / f"schema-{number}", tmp_path / f"schema-{number}"))

    return copied


def holds_what_was_written(store: CampaignStore) -> None:
    assert store.problems() == ()
    (person,) = store.entries(Person)
    assert person.record.name == "Nora Beispiel (invented)"
    (asked,) = store.entries(Question)
    assert (asked.version, asked.person, asked.reason) == (2, person.uid, "asked better")
    assert asked.record.text == "At which load?"
    assert [entry.withdrawn for entry in store.history(asked.uid)] == [False, False]
    (recording,) = store.entries(Recording)
    readings = store.readings(recording.uid)
    assert readings.values("g1").tolist() == [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert readings.marks().row(0) == ("G2", 0, 0, "over-range", "OVL")
    received = store.original_bytes(recording.record.original_sha256)
    assert received == b"Time;G1;G2\r\nrow 0;0;OVL\r\n"


def test_there_is_a_campaign_of_every_schema() -> None:
    kept = sorted(path.name for path in KEPT.iterdir() if path.is_dir())
    assert kept == [f"schema-{number}" for number in range(schema.SCHEMA + 1)]


def test_the_kept_campaign_of_this_schema_opens(kept: Callable[[int], Path]) -> None:
    with CampaignStore.open(kept(schema.SCHEMA), invented.context(days=9)) as store:
        holds_what_was_written(store)


@pytest.mark.parametrize("number", range(schema.SCHEMA))
def test_an_older_campaign_is_upgraded_when_asked(kept: Callable[[int], Path], number: int) -> None:
    folder = kept(number)
    before = (folder / "campaign.sqlite").read_bytes()
    with pytest.raises(SchemaError, match="open it once with upgrade=True"):
        CampaignStore.open(folder, invented.context(days=9))
    assert (folder / "campaign.sqlite").read_bytes() == before

    with CampaignStore.open(folder, invented.context(days=9), upgrade=True) as store:
        holds_what_was_written(store)
        store.add(invented.question("new"))
    (copy,) = folder.glob(f"campaign.schema-{number}.*.sqlite")
    connection = sqlite3.connect(copy)
    assert connection.execute("SELECT version_num FROM schema_version").fetchone() == (
        f"{number:04d}",
    )
    connection.close()
    with CampaignStore.open(folder, invented.context(days=10)) as store:
        assert store.labelled(Question, "new").version == 1


def test_reading_only_never_upgrades(kept: Callable[[int], Path]) -> None:
    folder = kept(0)
    for asked in (False, True):
        with pytest.raises(SchemaError, match="never changes a campaign"):
            CampaignStore.open(folder, invented.context(), read_only=True, upgrade=asked)
    assert [path.name for path in folder.glob("campaign*")] == ["campaign.sqlite"]


def test_an_upgrade_leaves_the_journal_as_it_is(kept: Callable[[int], Path]) -> None:
    def texts(folder: Path) -> list[tuple[object, ...]]:
        connection = sqlite3.connect(folder / "campaign.sqlite")
        rows = connection.execute("SELECT * FROM journal ORDER BY seq").fetchall()
        connection.close()
        return rows

    folder = kept(0)
    before = texts(folder)
    CampaignStore.open(folder, invented.context(days=9), upgrade=True).close()
    assert texts(folder) == before
    assert len(before) > 5


def test_a_failed_upgrade_changes_nothing(
    kept: Callable[[int], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = upgrade._migrate

    def migrate_and_fail(connection: Connection, number: int) -> None:
        whole(connection, number)
        raise InputError("disk", "full", "not full")

    folder = kept(0)
    monkeypatch.setattr(upgrade, "_migrate", migrate_and_fail)
    with pytest.raises(InputError, match="disk is 'full'"):
        CampaignStore.open(folder, invented.context(days=9), upgrade=True)
    monkeypatch.undo()
    with pytest.raises(SchemaError, match="has schema 0"):
        CampaignStore.open(folder, invented.context(days=9))
    with CampaignStore.open(folder, invented.context(days=9), upgrade=True) as store:
        holds_what_was_written(store)
    assert len(list(folder.glob("campaign.schema-0.*.sqlite"))) == 2


def test_a_newer_campaign_is_refused_with_the_version_it_needs(tmp_path: Path) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    connection = sqlite3.connect(folder / "campaign.sqlite")
    connection.execute("UPDATE schema_version SET version_num = '0007'")
    connection.execute("UPDATE about SET value = '9.4.0' WHERE name = 'needs'")
    connection.commit()
    connection.close()
    for read_only in (False, True):
        with pytest.raises(SchemaError, match=re.escape("gaugewright 9.4.0 or newer")):
            CampaignStore.open(folder, invented.context(), read_only=read_only, upgrade=True)


def test_migrations_and_tables_agree(tmp_path: Path, kept: Callable[[int], Path]) -> None:
    upgraded, new = kept(0), tmp_path / "new"
    CampaignStore.open(upgraded, invented.context(days=9), upgrade=True).close()
    invented.new_store(new).close()

    def described(folder: Path) -> dict[str, object]:
        connection = sqlite3.connect(folder / "campaign.sqlite")
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema")]
        told: dict[str, object] = {}
        for name in names:
            columns = connection.execute(f"PRAGMA table_info('{name}')").fetchall()
            indexes = connection.execute(f"PRAGMA index_list('{name}')").fetchall()
            told[name] = (sorted(columns), sorted(row[2:] for row in indexes))
        connection.close()
        return told

    assert described(upgraded) == described(new)
    engine = create_engine(f"sqlite:///{upgraded / 'campaign.sqlite'}")
    with engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"version_table": schema.schema_version.name}
        )
        assert compare_metadata(context, schema.METADATA) == []
    engine.dispose()


def test_migrations_touch_only_what_follows_from_the_journal() -> None:
    allowed = {table.name for table in tables.DERIVED}
    folder = Path(schema.__file__).parent / "migrations" / "versions"
    steps = sorted(path for path in folder.glob("0*.py") if not path.name.startswith("0000"))
    assert steps
    for path in steps:
        text = path.read_text(encoding="utf-8")
        touched = set(
            re.findall(r'(?:create_table|drop_table|batch_alter_table)\(\s*"(\w+)"', text)
        )
        touched |= set(re.findall(r"(?:INSERT INTO|UPDATE|DELETE FROM) (\w+)", text))
        assert touched <= allowed, path.name


def test_an_instant_is_written_as_utc_text_and_comes_back(tmp_path: Path) -> None:
    database = Database(tmp_path / "d.sqlite")
    database.make_tables(schema.METADATA)
    row = {"uid": "U", "version": 1, "kind": "k", "label": "", "reason": "", "withdrawn": False}
    told = {**row, "text": "{}", "seq": 1}
    rome = datetime.fromisoformat("2026-07-01T12:00:00.000001+02:00")
    with database.writing() as connection:
        connection.execute(
            insert(schema.journal).values(seq=1, previous="0", sha256="1", text="{}")
        )
        connection.execute(insert(schema.record).values(**told, at=rome))
        text = connection.exec_driver_sql("SELECT at FROM record").scalar_one()
        assert text == "2026-07-01T10:00:00.000001Z"
        back = connection.execute(select(schema.record.c.at)).scalar_one()
        assert back == datetime(2026, 7, 1, 10, 0, 0, 1, tzinfo=UTC)
    naive = datetime(2026, 7, 1, 12)  # noqa: DTZ001 - what must be refused
    with (
        pytest.raises(StatementError, match="a time with its zone"),
        database.writing() as connection,
    ):
        connection.execute(insert(schema.record).values(**{**told, "version": 2}, at=naive))
    database.close()
