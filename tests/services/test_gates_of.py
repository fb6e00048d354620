"""Gates that a campaign has: those of a cage and a pour only where something is cast."""

from dataclasses import replace

import pytest

from gaugewright.records.proof import Gate
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.gates import gate_number, gates_of


@pytest.mark.parametrize(
    ("kind", "number"), [(SpecimenKind.CAST_MEMBER, 8), (SpecimenKind.BARE_METAL, 5)]
)
def test_a_pour_has_gates_where_something_is_cast(tiny, kind: SpecimenKind, number: int) -> None:
    store = tiny.store
    for one in Book.read(store).of(Specimen):
        if one.record.kind is not kind:
            changed = replace(one.record, kind=kind)
            store.revise(one.uid, one.version, changed, reason="what it is")
    book = Book.read(store)
    assert gate_number(book, Gate.BEFORE_TEST) == number == len(gates_of(book))
    assert (Gate.CAGED in gates_of(book)) is (kind is SpecimenKind.CAST_MEMBER)
