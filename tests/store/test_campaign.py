"""Records of a campaign: written, changed, withdrawn, found; never half, never silently."""

import sqlite3
import threading
from datetime import datetime
from pathlib import Path

import pytest

from gaugewright.errors import InputError, StaleEdit, StoreError
from gaugewright.records.gauges import Supply
from gaugewright.records.identity import Context, Uid, new_uid_at
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Bar, Campaign, Question
from gaugewright.store.campaign import CampaignStore
from tests.store import invented
from tests.store.invented import question


def test_what_was_written_is_read_after_opening_again(tmp_path: Path) -> None:
    with invented.new_store(tmp_path / "c") as store:
        person = store.add(Person("NB", "Nora Beispiel (invented)"))
        written = store.as_person(person.uid).add(question("q"), reason="asked by the engineer")
    with CampaignStore.open(tmp_path / "c", invented.context()) as store:
        assert store.entry(written.uid) == written
        assert written.person == person.uid
        assert (written.version, written.reason) == (1, "asked by the engineer")
        assert store.campaign.record == invented.CAMPAIGN


def test_defaults_are_copied_into_the_new_campaign(tmp_path: Path) -> None:
    defaults = [Supply("glue", "adhesive", "B1"), Supply("tape", "film", "B2")]
    with CampaignStore.create(
        tmp_path / "c", invented.CAMPAIGN, invented.context(), defaults=defaults
    ) as store:
        assert [entry.record for entry in store.entries(Supply)] == defaults


def test_a_campaign_that_cannot_be_begun_leaves_nothing(tmp_path: Path) -> None:
    twice = [Supply("glue", "adhesive", "B1"), Supply("glue", "adhesive", "B2")]
    with pytest.raises(InputError, match="label is 'glue'"):
        CampaignStore.create(tmp_path / "c", invented.CAMPAIGN, invented.context(), defaults=twice)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_with_something_in_it_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(StoreError, match="isn't empty"):
        invented.new_store(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "c").mkdir()
    invented.new_store(tmp_path / "c").close()
    assert (tmp_path / "c" / "campaign.sqlite").is_file()


def test_a_folder_without_a_campaign_is_refused_and_left_alone(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="holds no campaign"):
        CampaignStore.open(tmp_path, invented.context())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("read_only", [True, False])
def test_a_file_that_is_no_database_is_refused(tmp_path: Path, *, read_only: bool) -> None:
    letter = b"this is a letter, not a database" * 100
    (tmp_path / "campaign.sqlite").write_bytes(letter)
    with pytest.raises(StoreError, match="isn't a campaign's database"):
        CampaignStore.open(tmp_path, invented.context(), read_only=read_only)
    assert (tmp_path / "campaign.sqlite").read_bytes() == letter


def test_a_database_of_something_else_is_refused_and_left_alone(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "campaign.sqlite")
    connection.execute("CREATE TABLE songs (title)")
    connection.commit()
    connection.close()
    before = (tmp_path / "campaign.sqlite").read_bytes()
    for read_only in (True, False):
        with pytest.raises(StoreError, match="isn't a campaign's database"):
            CampaignStore.open(tmp_path, invented.context(), read_only=read_only)
    assert (tmp_path / "campaign.sqlite").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["campaign.sqlite"]


def test_revising_keeps_every_version(store: CampaignStore) -> None:
    first = store.add(question("q", "one?"))
    second = store.revise(first.uid, 1, question("q", "two?"), reason="clearer")
    third = store.revise(first.uid, 2, question("renamed", "two?"), reason="renamed")
    assert store.history(first.uid) == (first, second, third)
    assert store.entry(first.uid, 1).record.text == "one?"
    assert store.entry(first.uid) == third
    assert store.labelled(Question, "renamed") == third


def test_a_stale_edit_shows_both_values_and_changes_nothing(store: CampaignStore) -> None:
    first = store.add(question("q", "one?"))
    theirs = store.revise(first.uid, 1, question("q", "theirs?"), reason="theirs")
    head = store.head()
    with pytest.raises(StaleEdit) as caught:
        store.revise(first.uid, 1, question("q", "mine?"), reason="mine")
    assert (caught.value.expected, caught.value.found) == (1, 2)
    assert caught.value.theirs == theirs.record
    assert caught.value.yours == question("q", "mine?")
    assert store.head() == head


def test_a_label_is_used_once_in_a_kind(store: CampaignStore) -> None:
    store.add(question("q"))
    other = store.add(question("p"))
    store.add(Supply("q", "tape", "B1"))
    with pytest.raises(InputError, match="another question is called so"):
        store.add(question("q"))
    with pytest.raises(InputError, match="another question is called so"):
        store.revise(other.uid, 1, question("q"), reason="renamed")


def test_labels_that_look_the_same_are_the_same(store: CampaignStore) -> None:
    store.add(question("Träger"))
    with pytest.raises(InputError, match="another question is called so"):
        store.add(question("Tra\N{COMBINING DIAERESIS}ger"))
    assert store.labelled(Question, "Tra\N{COMBINING DIAERESIS}ger").record.label == "Träger"


def test_a_withdrawn_record_frees_its_label_and_keeps_its_history(store: CampaignStore) -> None:
    first = store.add(question("q"))
    gone = store.withdraw(first.uid, 1, reason="asked twice")
    assert gone.withdrawn
    assert gone.version == 2
    assert store.entries(Question) == ()
    again = store.add(question("q"))
    assert store.entries(Question) == (again,)
    assert store.history(first.uid) == (first, gone)
    with pytest.raises(StoreError, match="taken back"):
        store.revise(first.uid, 2, question("z"), reason="back")
    with pytest.raises(StoreError, match="taken back already"):
        store.withdraw(first.uid, 2, reason="again")


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_change_needs_a_reason(store: CampaignStore, reason: str) -> None:
    first = store.add(question("q"))
    with pytest.raises(InputError, match="reason is"):
        store.revise(first.uid, 1, question("q", "other?"), reason=reason)
    with pytest.raises(InputError, match="reason is"):
        store.withdraw(first.uid, 1, reason=reason)


def test_a_record_cannot_become_one_of_another_kind(store: CampaignStore) -> None:
    first = store.add(question("q"))
    with pytest.raises(InputError, match="record is 'supply'; it must be a question"):
        store.revise(first.uid, 1, Supply("q", "tape", "B1"), reason="odd")


def test_entries_come_in_the_order_of_first_writing(store: CampaignStore) -> None:
    made = [store.add(question(label)) for label in ("c", "a", "b")]
    store.revise(made[0].uid, 1, question("z"), reason="renamed")
    assert [entry.record.label for entry in store.entries(Question)] == ["z", "a", "b"]
    assert store.entries(Bar) == ()


def test_an_unknown_label_names_those_there_are(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="there is no question yet"):
        store.labelled(Question, "q")
    store.add(question("p"))
    with pytest.raises(InputError, match="one of: p"):
        store.labelled(Question, "q")


def test_unknown_uids_versions_and_kinds_are_refused(store: CampaignStore) -> None:
    first = store.add(question("q"))
    nobody = new_uid_at(0, 0)
    for ask in (
        lambda: store.entry(nobody),
        lambda: store.entry(first.uid, 2),
        lambda: store.history(nobody),
        lambda: store.readings(nobody),
        lambda: store.readings(first.uid),
        lambda: store.entries(str),
        lambda: store.add("text"),
    ):
        with pytest.raises(InputError):
            ask()


def test_a_uid_is_used_once(store: CampaignStore) -> None:
    uid = new_uid_at(1, 1)
    assert store.add(question("q"), uid=uid).uid == uid
    with pytest.raises(InputError, match="uid is"):
        store.add(question("p"), uid=uid)


def write_together(store: CampaignStore, *labels: str) -> None:
    with store.several():
        for label in labels:
            store.add(question(label))


def test_several_writes_are_kept_together(store: CampaignStore) -> None:
    with store.several():
        first = store.add(question("a"))
        store.revise(first.uid, 1, question("b"), reason="renamed")
        assert store.labelled(Question, "b").version == 2
    assert store.entry(first.uid).record.label == "b"


def test_several_writes_are_taken_back_together(store: CampaignStore) -> None:
    before = store.head()
    with pytest.raises(InputError, match="another question is called so"):
        write_together(store, "a", "b", "a")
    assert store.head() == before
    assert store.entries(Question) == ()


def test_an_inner_group_is_taken_back_alone(store: CampaignStore) -> None:
    with store.several():
        kept = store.add(question("kept"))
        with pytest.raises(InputError, match="another question is called so"):
            write_together(store, "lost", "lost")
        again = store.add(question("lost"))
    assert store.entries(Question) == (kept, again)
    assert store.problems() == ()


def test_what_was_taken_back_is_not_remembered(store: CampaignStore) -> None:
    uid = new_uid_at(5, 5)

    def write_and_fail() -> None:
        with store.several():
            assert store.add(question("a", "first?"), uid=uid).record.text == "first?"
            store.add(question("a"))

    with pytest.raises(InputError, match="another question is called so"):
        write_and_fail()
    assert store.add(question("a", "second?"), uid=uid).record.text == "second?"
    assert store.entry(uid).record.text == "second?"


def test_a_naive_time_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with invented.new_store(tmp_path / "c") as store:
        before = store.head()
    naive = Context(lambda: datetime(2026, 1, 1), lambda: new_uid_at(9, 9))  # noqa: DTZ001 - on purpose
    with CampaignStore.open(tmp_path / "c", naive) as store:
        with pytest.raises(InputError, match="a time with its zone"):
            store.add(question("q"))
        assert store.head() == before


def test_threads_share_one_store_without_losing_a_write(store: CampaignStore) -> None:
    def write(number: int) -> None:
        for turn in range(10):
            store.add(question(f"{number}-{turn}"), uid=new_uid_at(number, turn))

    threads = [threading.Thread(target=write, args=(n,)) for n in range(1, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(store.entries(Question)) == 40
    assert store.problems() == ()


def test_two_campaigns_built_alike_are_alike_to_the_last_hash(tmp_path: Path) -> None:
    heads = []
    for name in ("a", "b"):
        with invented.new_store(tmp_path / name) as store:
            store.add(question("q"))
            heads.append(store.head())
    assert heads[0] == heads[1]


def test_a_clean_close_leaves_one_database_file(tmp_path: Path) -> None:
    with invented.new_store(tmp_path / "c") as store:
        store.add(question("q"))
    assert sorted(path.name for path in (tmp_path / "c").glob("campaign*")) == ["campaign.sqlite"]


def test_the_campaign_is_a_record_like_any_other(store: CampaignStore) -> None:
    entry = store.campaign
    changed = Campaign("INV-1", "Invented slab", "Europe/Rome", invented=True)
    store.revise(entry.uid, entry.version, changed, reason="it was a slab")
    assert store.campaign.record.title == "Invented slab"
    assert isinstance(store.campaign.uid, str)
    assert Uid(store.campaign.uid) == entry.uid
