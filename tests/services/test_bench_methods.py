"""Shipped methods: whole, unverified, with every fact of the trade; edited as data, by version."""

import re
from dataclasses import replace

import pytest

from gaugewright.errors import FileError, InputError, StaleEdit
from gaugewright.records.benching import StepKind
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Method
from gaugewright.services.bench.limit_words import limit_text, limit_value_typed
from gaugewright.services.bench.method_text import method_toml, methods_typed
from gaugewright.services.bench.methods import (
    complete_methods,
    held_method,
    method_named,
    method_of,
    revised_limit,
    revised_method,
    step_named,
)
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped, shipped_records

CAST, BARE, STRAND = "bar to be cast in", "bare metal in a dry hall", "strand"
ALL = (BARE, CAST, STRAND)
# Facts of the trade (common practice, no source), each with the methods and step it belongs to.
FACTS = [
    (
        ALL,
        "smooth",
        "on a bar the smoothed zone reaches about half way round "
        "and removes as little steel as possible",
    ),
    (ALL, "clean", "each stroke with a clean part of the wipe"),
    (ALL, "clean", "go on until a wipe comes away clean"),
    (ALL, "clean", "end with one neutralising wipe"),
    (ALL, "bond", "pressure is on the whole gauge for a few minutes while a fast adhesive sets"),
    (
        ALL,
        "protect: coat",
        "a brushed epoxy coat needs some 15 to 20 minutes in a warm hall before the next layer, "
        "which is prepared meanwhile; the product’s data sheet decides",
    ),
    ((BARE,), "protect: coat", "a coat is enough for bare metal in a dry hall"),
    (
        (CAST, STRAND),
        "protect: mastic below the leads",
        "it also needs a mastic barrier below and above the leads, and a metal-foil tape outside",
    ),
    (
        (CAST,),
        "protect: mastic below the leads",
        "a coat alone is not enough for a bar cast into concrete",
    ),
    ((BARE, CAST), "wire", "leads touch neither each other nor the bar"),
    ((STRAND,), "wire", "leads touch neither each other nor the strand"),
    (ALL, "route", "tie the cable near the gauge with slack"),
    (ALL, "wire", "a healthy gauge reads nearly steady"),
    (
        ALL,
        "wire",
        "in a three-lead quarter bridge the single lead has its place; "
        "the two of the pair may be exchanged",
    ),
]


def shipped() -> dict[str, Method]:
    records = [r for r in shipped_records() if isinstance(r, Method) and r.steps]
    return {method.label: method for method in records}


@pytest.mark.parametrize(("labels", "step", "fact"), FACTS)
def test_each_fact_of_the_trade_stands_in_the_methods_it_belongs_to(labels, step, fact):
    for label in labels:
        text = " ".join(step_named(shipped()[label], step).text.split()).casefold()
        text = text.replace("where on a bar", "on a bar")
        words = re.findall(r"[\w-]+", fact.casefold())
        assert " ".join(words) in " ".join(re.findall(r"[\w-]+", text)), (label, step)


def test_three_methods_are_complete_and_say_that_nothing_of_them_has_a_source():
    assert set(shipped()) == set(ALL)
    for method in shipped().values():
        assert method.unverified
        assert method.source == "common practice, no source"
        kinds = list(dict.fromkeys(step.kind for step in method.steps))
        assert kinds == list(StepKind)
        for step in method.steps:
            assert step.hazards, step.name
            assert any("safety data sheet" in one for one in step.cautions), step.name
            assert step.fields, step.name
            for label in (*step.limits, *(c.limit for c in step.clocks if c.limit)):
                limit_or_shipped(Book(()), label)
    order = [step.name for step in shipped()[CAST].steps if step.kind is StepKind.PROTECT]
    assert order == [
        "protect: coat",
        "protect: mastic below the leads",
        "protect: mastic above the leads",
        "protect: foil tape",
    ]


def test_a_method_as_text_comes_back_as_it_was_and_faults_are_named():
    for method in shipped().values():
        assert methods_typed(method_toml(method)) == (method,)
    for text, words in (
        ("[[method]", "isn't TOML"),
        ("[[limit]]\n", "something else"),
        ('[[method]]\nlabel = "x"\ntext = "y"\nsource = "z"\ncolour = 1\n', "Method field"),
    ):
        with pytest.raises((FileError, InputError), match=words):
            methods_typed(text)


def test_a_changed_method_is_a_new_version_and_a_stale_change_shows_both(tiny):
    book = Book.read(tiny.store)
    first = held_method(tiny.store, book, CAST)
    label = step_named(first.record, "label")
    changed = replace(label, text="Label both ends, and the middle.")
    steps = tuple(changed if s == label else s for s in first.record.steps)
    second = revised_method(
        tiny.store, replace(first.record, steps=steps), from_version=1, reason="cables were cut"
    )
    assert second.version == 2
    assert tiny.store.entry(first.uid, 1).record == first.record
    with pytest.raises(StaleEdit):
        revised_method(tiny.store, first.record, from_version=1, reason="the old one")
    with pytest.raises(InputError, match="reason"):
        revised_method(tiny.store, first.record, from_version=2, reason=" ")
    with pytest.raises(InputError, match="as it was"):
        revised_method(tiny.store, second.record, from_version=2, reason="again")
    unknown = replace(label, limits=("no such limit",))
    with pytest.raises(InputError, match="no such limit"):
        revised_method(
            tiny.store, replace(first.record, steps=(unknown,)), from_version=2, reason="x"
        )


def test_a_campaign_older_than_methods_is_worked_by_the_shipped_ones(tiny):
    book = Book.read(tiny.store)
    assert [method.label for method in complete_methods(book)] == list(ALL)
    gauge = book.of(Gauge)[0]
    assert method_of(book, gauge).label == BARE
    with pytest.raises(InputError, match="one of"):
        method_named(book, "no such method")


def test_limits_are_typed_as_they_are_shown_and_each_change_is_a_version(tiny):
    for label, text, value in (
        ("cleaned to bonded", "20", 1200.0),
        ("cleaned to bonded", "0.5 h", 1800.0),
        ("area lost, aim", "3 %", 0.03),
        ("above dew point", "2.5", 2.5),
        ("insulation wired", "500", 5e8),
    ):
        limit = limit_or_shipped(Book(()), label)
        assert limit_value_typed(limit, text) == pytest.approx(value)
        assert limit_value_typed(limit, limit_text(limit)) == pytest.approx(limit.value)
    own = replace(
        limit_or_shipped(Book(()), "above dew point"), value=2.5, source="house rule (invented)"
    )
    changed = revised_limit(tiny.store, own, from_version=None, reason="own trials")
    assert changed.version == 2  # the shipped one was taken in first, so both are on record
    with pytest.raises(InputError, match="reason"):
        revised_limit(tiny.store, replace(own, value=2.0), from_version=2, reason="")
