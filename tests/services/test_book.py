"""A book follows its campaign: what changed is read, and nothing else is read again."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records.identity import seeded_context
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Campaign, Question
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore


def question(label: str) -> Question:
    return Question(label, f"What is {label}?", "force")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    context = seeded_context(datetime(2026, 5, 4, 8, 0, tzinfo=UTC), 1.0)
    campaign = Campaign("book", "Records that change", "UTC", invented=True)
    with CampaignStore.create(tmp_path / "campaign", campaign, context) as made:
        yield made


def as_told(book: Book) -> list[tuple[str, int, str]]:
    return [(e.uid, e.version, e.record.text) for e in book.of(Question)]


def test_a_followed_book_is_the_book_read_anew_whatever_changed(store: CampaignStore) -> None:
    first, second, third = (store.add(question(label)) for label in ("one", "two", "three"))
    book, seq = Book.read(store), store.head().seq
    store.revise(second.uid, 1, question("other"), reason="it was meant otherwise")
    store.withdraw(first.uid, 1, reason="nobody asks it")
    store.add(question("four"))
    followed = book.followed(store, seq)
    assert as_told(followed) == as_told(Book.read(store))
    assert [e.record.label for e in followed.of(Question)] == ["other", "three", "four"]
    assert followed.entry(third.uid, Question) is book.entry(third.uid, Question)


def test_the_earlier_book_stays_as_it_was_read(store: CampaignStore) -> None:
    entry = store.add(question("one"))
    book, seq = Book.read(store), store.head().seq
    store.withdraw(entry.uid, 1, reason="nobody asks it")
    with pytest.raises(InputError):
        book.followed(store, seq).entry(entry.uid, Question)
    assert book.entry(entry.uid, Question).version == 1


def test_following_from_the_beginning_reads_everything(store: CampaignStore) -> None:
    store.add(question("one"))
    assert as_told(Book(()).followed(store, 0)) == as_told(Book.read(store))


def test_what_follows_from_the_records_is_worked_out_once(store: CampaignStore) -> None:
    book, asked = Book.read(store), []

    def work_out(of: Book) -> int:
        asked.append(of)
        return len(of.of(Question))

    assert [book.once("questions", work_out) for _ in range(3)] == [0, 0, 0]
    assert asked == [book]


def test_what_stands_apart_from_what_changed_holds_in_the_next_book(store: CampaignStore) -> None:
    book, seq = Book.read(store), store.head().seq
    for name, apart_from in (("kept", frozenset({Person})), ("anew", frozenset())):
        assert book.once(name, lambda _: "before", apart_from) == "before"
    store.add(Person("AB", "A. Bonder (invented)"))
    later = book.followed(store, seq)
    assert later.once("kept", lambda _: "after", frozenset({Person})) == "before"
    assert later.once("anew", lambda _: "after") == "after"
    seq = store.head().seq
    store.add(question("Q9"))
    assert later.followed(store, seq).once("kept", lambda _: "after") == "after"
