"""A signature is a person's word for exact versions, at a head that can be checked."""

import dataclasses
from datetime import UTC, datetime

import pytest

from gaugewright.errors import InputError, StoreError
from gaugewright.records.identity import Ref, seeded_context
from gaugewright.records.proof import Person, Signature
from gaugewright.records.results import Result
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.undoing import undo
from gaugewright.services.laboratory import signing
from gaugewright.store.campaign import CampaignStore

MADE = "I made these"


def result(label, value=1.0):
    return Result(label, "force", value, 0.1, 0.95, "N", "largest", (), ())


@pytest.fixture
def store(tmp_path):
    context = seeded_context(datetime(2031, 5, 4, 8, 0, tzinfo=UTC))
    campaign = Campaign("S", "To be signed (invented)", "UTC", invented=True)
    with CampaignStore.create(tmp_path / "s", campaign, context) as made:
        yield made


@pytest.fixture
def person(store):
    return store.add(Person("AB", "A. Bonder (invented)")).uid


@pytest.fixture
def results(store):
    return [store.add(result(label)) for label in ("force one", "force two")]


def signed(store, person, of, statement=MADE):
    return signing.sign(store, person=person, statement=statement, of=[e.ref for e in of])


def standings(store):
    book = Book.read(store)
    return signing.signatures_of(book, signing.results_to_sign(book))


def test_the_head_signed_is_that_of_the_entry_right_before_the_signature(store, person, results):
    before = store.head()
    entry = signed(store, person, results)
    assert entry.record.journal_head == before.sha256
    last = list(store.journal())[-1]
    assert last.told()["uid"] == entry.uid
    assert last.previous == entry.record.journal_head


def test_what_is_written_in_the_same_transaction_is_below_the_head_signed(store, person, results):
    with store.several():
        added = store.add(result("force three"))
        entry = signed(store, person, [*results, added])
    *_, third, last = store.journal()
    assert third.told()["uid"] == added.uid
    assert entry.record.journal_head == third.sha256 == last.previous


def test_it_says_who_signed_which_versions_with_which_words(store, person, results):
    entry = signed(store, person, results, "  I checked\n these ")
    assert entry.record.statement == "I checked these"
    assert set(entry.record.of) == {e.ref for e in results}
    assert entry.person == entry.record.person == person
    assert signing.signer(store, entry.record) == "A. Bonder (invented)"


def test_the_signature_is_in_the_journal_and_survives_rebuilding(store, person, results):
    entry = signed(store, person, results)
    store.rebuild()
    assert store.entry(entry.uid).record == entry.record
    assert store.problems() == ()


def test_nothing_cant_be_signed(store, person):
    before = store.head()
    with pytest.raises(InputError, match="nothing to sign"):
        signed(store, person, [])
    assert store.head() == before


def test_a_version_that_changed_is_refused_by_its_label_and_nothing_is_written(
    store, person, results
):
    store.revise(results[0].uid, 1, result("force one", 2.0), reason="reduced again")
    before = store.head()
    said = r"^version of force one is 1; it must be 2, the current one; look at what it says now"
    with pytest.raises(InputError, match=said):
        signed(store, person, results)
    assert store.head() == before
    assert store.entries(Signature) == ()


def test_several_that_changed_or_were_taken_out_are_told_at_once(store, person, results):
    store.revise(results[0].uid, 1, result("force one", 2.0), reason="reduced again")
    store.withdraw(results[1].uid, 1, reason="no such force")
    with pytest.raises(InputError, match=r"is 2; it must be 0.*force one and force two"):
        signed(store, person, results)


def test_what_was_taken_out_cant_be_signed_in_its_last_version_either(store, person, results):
    gone = store.withdraw(results[1].uid, 1, reason="no such force")
    with pytest.raises(InputError, match="force two"):
        signed(store, person, [results[0], gone])


def test_a_version_nobody_has_written_yet_is_refused(store, person, results):
    with pytest.raises(InputError, match="version of force one is 2; it must be 1"):
        signing.sign(store, person=person, statement=MADE, of=[Ref(results[0].uid, 2)])


def test_the_same_twice_is_refused_and_other_words_or_another_person_are_not(
    store, person, results
):
    signed(store, person, results)
    with pytest.raises(InputError, match="stands already"):
        signed(store, person, reversed(results))
    signed(store, person, results, "I checked these")
    other = store.add(Person("CD", "C. Checker (invented)")).uid
    signed(store, other, results)
    assert len(store.entries(Signature)) == 3


@pytest.mark.parametrize(
    "statement", ["", " \n", "x" * (signing.LONGEST + 1), "a\x00b", "a\u202eb"]
)
def test_words_that_cant_be_printed_on_a_line_are_refused(store, person, results, statement):
    with pytest.raises(InputError, match=r"^statement"):
        signed(store, person, results, statement)


def test_nobody_signs_for_somebody_else(store, person, results):
    other = store.add(Person("CD", "C. Checker (invented)")).uid
    with pytest.raises(InputError, match="nobody signs for somebody else"):
        signed(store.as_person(other), person, results)


def test_only_a_person_signs(store, results):
    with pytest.raises(InputError, match=r"^person"):
        signed(store, results[0].uid, results)


def test_a_campaign_open_for_reading_isnt_signed(store, person, results):
    with (
        CampaignStore.open(store.folder, store.context, read_only=True) as read_only,
        pytest.raises(StoreError, match="reading only"),
    ):
        signed(read_only, person, results)


def test_a_signature_holds_until_something_signed_changes(store, person, results):
    signed(store, person, results)
    (standing,) = standings(store)
    assert standing.holds
    assert signing.standing_words(standing) == "holds for the 2 results"
    store.revise(results[1].uid, 1, result("force two", 3.0), reason="reduced again")
    (standing,) = standings(store)
    assert not standing.holds
    assert standing.changed == (results[1].ref,)
    said = "the results have changed since: 1 of the 2 signed"
    assert signing.standing_words(standing) == said


def test_a_value_put_back_is_still_another_version(store, person, results):
    signed(store, person, results)
    store.revise(results[0].uid, 1, result("force one", 3.0), reason="reduced again")
    store.revise(results[0].uid, 2, results[0].record, reason="as it was")
    (standing,) = standings(store)
    assert not standing.holds


def test_what_came_since_is_not_spoken_for(store, person, results):
    signed(store, person, results)
    new = store.add(result("force three"))
    (standing,) = standings(store)
    assert standing.holds
    assert standing.unsigned == (new.ref,)
    assert signing.standing_words(standing) == "holds for the 2 results signed; 1 came since"


def test_a_signature_of_what_is_gone_is_told_and_one_of_other_records_isnt(store, person, results):
    signed(store, person, results)
    store.withdraw(results[0].uid, 1, reason="no such force")
    store.withdraw(results[1].uid, 1, reason="no such force")
    other = store.add(Person("CD", "C. Checker (invented)"))
    signed(store, person, [other])
    (standing,) = standings(store)
    assert {ref.uid for ref in standing.changed} == {e.uid for e in results}


def test_the_name_is_still_known_when_the_person_was_taken_out_of_the_lists(store, person, results):
    entry = signed(store, person, results)
    store.withdraw(person, 1, reason="left the laboratory")
    assert signing.signer(store, entry.record) == "A. Bonder (invented)"


def test_a_signature_isnt_taken_back_by_a_button(store, person, results):
    entry = signed(store, person, results)
    with pytest.raises(InputError, match="a signature stays on record"):
        undo(store, entry.ref)
    assert len(standings(store)) == 1


def test_the_digest_tells_versions_apart_and_not_their_order():
    a, b = Ref("0A", 1), Ref("0B", 1)
    assert signing.digest([a, b]) == signing.digest([b, a, a])
    others = {signing.digest(refs) for refs in ([], [a], [b], [a, b], [a, Ref("0B", 2)])}
    assert len(others) == 5


def test_a_signature_is_frozen(store, person, results):
    entry = signed(store, person, results)
    with pytest.raises(dataclasses.FrozenInstanceError):
        entry.record.statement = "another"
