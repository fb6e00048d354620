"""The journal: every entry follows from the one before, and what was touched is found."""

import hashlib
import json
import sqlite3
from pathlib import Path

import pytest

from gaugewright.records.gauges import Supply
from gaugewright.records.specimen import Question
from gaugewright.store.campaign import CampaignStore
from tests.store.invented import question


def edited(store: CampaignStore, *statements: str) -> CampaignStore:
    """The campaign after somebody went into the database by hand."""
    folder, context = store.folder, store.context
    store.close()
    connection = sqlite3.connect(folder / "campaign.sqlite")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()
    return CampaignStore.open(folder, context)


def test_each_hash_is_that_of_the_previous_hash_and_the_text(filled: CampaignStore) -> None:
    previous = "0" * 64
    entries = list(filled.journal())
    for number, entry in enumerate(entries, start=1):
        assert entry.seq == number
        assert entry.previous == previous
        previous = hashlib.sha256((previous + entry.text).encode()).hexdigest()
        assert entry.sha256 == previous
    head = filled.head()
    assert (head.seq, head.sha256) == (len(entries), previous)


def test_an_entry_tells_the_whole_record(store: CampaignStore) -> None:
    written = store.add(Supply("glue", "Kleber für ε", "B1"), reason="bought")
    last = list(store.journal(start=2))[-1]
    assert json.loads(last.text) == {
        "action": "add",
        "at": written.at.strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
        "kind": "supply",
        "person": None,
        "reason": "bought",
        "record": {
            "batch": "B1",
            "expires": None,
            "label": "glue",
            "sheet": None,
            "what": "Kleber für ε",
        },
        "seq": 2,
        "uid": written.uid,
        "version": 1,
    }


def test_the_text_is_the_same_whoever_writes_it(store: CampaignStore) -> None:
    store.add(question("q"))
    for entry in store.journal():
        told = json.loads(entry.text)
        again = json.dumps(told, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert again == entry.text


def test_reading_can_begin_at_an_entry(filled: CampaignStore) -> None:
    head = filled.head()
    assert [entry.seq for entry in filled.journal(head.seq - 1)] == [head.seq - 1, head.seq]


def test_a_whole_campaign_has_no_problems(filled: CampaignStore) -> None:
    assert filled.problems() == ()


@pytest.mark.parametrize(
    ("statement", "place", "words"),
    [
        (
            "UPDATE record SET text = replace(text, 'yield first', 'yield last') "
            "WHERE kind = 'question' AND version = 1 AND label = 'yield'",
            "record",
            "text was changed",
        ),
        (
            "UPDATE record SET reason = 'no reason' WHERE version = 2",
            "record",
            "reason was changed",
        ),
        (
            "UPDATE record SET at = '2020-01-01T00:00:00.000000Z' WHERE kind = 'person'",
            "record",
            "at was changed",
        ),
        ("UPDATE record SET person = NULL WHERE kind = 'question'", "record", "person was changed"),
        (
            "UPDATE latest SET withdrawn = 1 WHERE label = 'yield'",
            "latest",
            "withdrawn was changed",
        ),
        ("DELETE FROM record WHERE kind = 'person'", "record", "is missing"),
        ("UPDATE part SET rows = 9", "part", "rows was changed"),
        ("UPDATE original SET size = 1", "original", "size was changed"),
        (
            "INSERT INTO original VALUES ('" + "0" * 64 + "', 1, 'forged.csv')",
            "original",
            "isn't in the journal",
        ),
    ],
)
def test_a_row_edited_by_hand_is_found(
    filled: CampaignStore, statement: str, place: str, words: str
) -> None:
    with edited(filled, statement) as store:
        found = [problem for problem in store.problems() if problem.place.startswith(place)]
    assert any(words in problem.sentence for problem in found), found


def test_a_journal_entry_edited_by_hand_is_found(filled: CampaignStore) -> None:
    statement = "UPDATE journal SET text = replace(text, 'At which load?', 'When?')"
    with edited(filled, statement) as store:
        sentences = " ".join(problem.sentence for problem in store.problems())
    assert "has been changed: its text doesn't have the hash" in sentences
    assert "record" in sentences  # and the record no longer is what the journal tells


def test_a_journal_entry_taken_out_is_found(filled: CampaignStore) -> None:
    statements = (
        "DELETE FROM record WHERE seq = 3",
        "DELETE FROM latest WHERE first_seq = 3",
        "DELETE FROM journal WHERE seq = 3",
    )
    with edited(filled, *statements) as store:
        sentences = [p.sentence for p in store.problems() if p.place == "journal 4"]
    assert any("entries are missing" in sentence for sentence in sentences)
    assert any("doesn't follow" in sentence for sentence in sentences)


def test_a_chain_forged_from_end_to_end_no_longer_has_the_printed_head(
    filled: CampaignStore,
) -> None:
    # The chain proves order; only the head that was printed on paper proves honesty.
    printed = filled.head()
    folder, context = filled.folder, filled.context
    texts = [entry.text.replace("At which load?", "When?") for entry in filled.journal()]
    filled.close()
    connection = sqlite3.connect(folder / "campaign.sqlite")
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("DELETE FROM journal")
    previous = "0" * 64
    for seq, text in enumerate(texts, start=1):
        sha256 = hashlib.sha256((previous + text).encode()).hexdigest()
        connection.execute("INSERT INTO journal VALUES (?, ?, ?, ?)", (seq, previous, sha256, text))
        previous = sha256
    connection.commit()
    connection.close()
    with CampaignStore.open(folder, context) as store:
        store.rebuild()
        assert store.problems() == ()
        assert store.labelled(Question, "yield").record.text == "When?"
        assert store.head().seq == printed.seq
        assert store.head().sha256 != printed.sha256


def test_every_other_table_can_be_made_again_from_the_journal(filled: CampaignStore) -> None:
    def content(folder: Path) -> dict[str, list[tuple[object, ...]]]:
        connection = sqlite3.connect(folder / "campaign.sqlite")
        tables = ("record", "latest", "part", "original")
        told = {t: sorted(connection.execute(f"SELECT * FROM {t}"), key=repr) for t in tables}
        connection.close()
        return told

    before = content(filled.folder)
    assert all(before.values())
    spoilt = [f"DELETE FROM {table}" for table in before]
    with edited(filled, *spoilt) as store:
        assert store.problems() != ()
        head = store.head()
        store.rebuild()
        assert store.problems() == ()
        assert content(store.folder) == before
        assert store.head() == head
