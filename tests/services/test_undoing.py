"""What was just written can be taken back, and the journal tells both."""

import dataclasses

import pytest

from gaugewright.errors import InputError, StaleEdit
from gaugewright.records.identity import Ref
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.undoing import undo


@pytest.fixture
def question(tiny):
    return tiny.store.add(Question("load", "At which load does it yield?", "force"))


def test_an_entry_taken_back_is_out_of_the_lists_and_in_the_history(tiny, question):
    before = tiny.store.head().seq
    undo(tiny.store, question.ref)
    assert tiny.store.entries(Question) == ()
    assert [entry.withdrawn for entry in tiny.store.history(question.uid)] == [False, True]
    assert tiny.store.head().seq == before + 1


def test_a_change_taken_back_leaves_the_record_as_it_was(tiny, question):
    changed = dataclasses.replace(question.record, text="At which strain?")
    revised = tiny.store.revise(question.uid, 1, changed, reason="better words")
    undo(tiny.store, revised.ref)
    (now,) = tiny.store.entries(Question)
    assert now.record == question.record
    assert now.version == 3
    assert "taken back" in now.reason


def test_a_change_can_be_taken_back_and_that_too(tiny, question):
    changed = dataclasses.replace(question.record, text="At which strain?")
    revised = tiny.store.revise(question.uid, 1, changed, reason="better words")
    undo(tiny.store, undo(tiny.store, revised.ref).ref)
    (now,) = tiny.store.entries(Question)
    assert now.record == changed


def test_what_somebody_changed_since_isnt_taken_back(tiny, question):
    changed = dataclasses.replace(question.record, text="At which strain?")
    tiny.store.revise(question.uid, 1, changed, reason="better words")
    with pytest.raises(StaleEdit):
        undo(tiny.store, question.ref)
    assert tiny.store.entries(Question)[0].record == changed


def test_taking_back_twice_takes_back_once(tiny, question):
    undo(tiny.store, question.ref)
    with pytest.raises(StaleEdit):
        undo(tiny.store, question.ref)


def test_a_withdrawal_is_undone_by_adding_anew(tiny, question):
    gone = tiny.store.withdraw(question.uid, 1, reason="nobody asks it")
    with pytest.raises(InputError, match="add the record anew"):
        undo(tiny.store, gone.ref)


def test_what_was_never_written_cant_be_taken_back(tiny, question):
    with pytest.raises(InputError, match=r"^version is 7"):
        undo(tiny.store, Ref(question.uid, 7))
