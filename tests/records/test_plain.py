"""Records of every kind, as text and back: what was written is what is read, bit for bit."""

import dataclasses
import enum
import json
import types
import typing
import unicodedata
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from gaugewright.errors import Faults, InputError
from gaugewright.records import KINDS
from gaugewright.records.identity import Uid, new_uid_at
from gaugewright.records.member import BarPlace, LoadPoint, Outline, OutlineShape
from gaugewright.records.plain import canonical_text, from_plain, to_plain
from gaugewright.records.proof import Limit
from gaugewright.records.scheduling import BenchFixture, BenchPiece, StepTime, WorkingHours
from gaugewright.records.specimen import Question
from gaugewright.records.stated import Stated

WORDS = (
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=40)
    .map(lambda text: unicodedata.normalize("NFC", text))
    .filter(lambda text: text.strip() and len(text) <= 80)
)
UIDS = st.builds(new_uid_at, st.integers(0, (1 << 48) - 1), st.integers(0, (1 << 80) - 1))
FLOATS = st.one_of(
    st.floats(min_value=0, exclude_min=True, max_value=1, width=64),
    st.floats(min_value=1, max_value=1e300),
    st.floats(allow_nan=False, allow_infinity=False),
)
INSTANTS = st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001 - bounds are naive by contract
STATED = st.builds(Stated, FLOATS)
SMALL, LARGE = (st.builds(Stated, st.floats(*ends)) for ends in ((0.01, 0.1), (0.2, 3.0)))
# Fields whose allowed values no type tells.
NAMED: dict[str, st.SearchStrategy[Any]] = {
    "zone": st.sampled_from(["UTC", "Europe/Rome", "Asia/Tokyo"]),
    "units": st.sampled_from(["si", "us"]),
    "sha256": st.text("0123456789abcdef", min_size=64, max_size=64),
    "taken_sha256": st.just("") | st.text("0123456789abcdef", min_size=64, max_size=64),
    "sign": st.sampled_from([-1, 1]),
    "wires": st.sampled_from([2, 3, 4, 6]),
    "lot_share": st.floats(0, 1),
    "number": st.integers(1, 4),
    "coefficients": st.lists(FLOATS, min_size=1, max_size=6).map(tuple),
    "rows": st.integers(0, 1 << 40),
    "rows_reported": st.integers(0, 1 << 40),
    "outline": st.one_of(
        st.builds(Outline, st.just(OutlineShape.CIRCLE), LARGE),
        st.builds(Outline, st.just(OutlineShape.RECTANGLE), LARGE, LARGE),
        st.builds(Outline, st.just(OutlineShape.TEE), LARGE, LARGE, LARGE, SMALL),
    ),
    "bars": st.lists(
        st.builds(BarPlace, UIDS, SMALL, STATED, STATED),
        min_size=1,
        max_size=3,
        unique_by=lambda place: place.bar,
    ).map(tuple),
    "supports": st.tuples(SMALL, LARGE),
    "pour_time": st.just("07:30"),
    "hours": st.lists(
        st.builds(
            WorkingHours,
            st.sampled_from(["Mon", "Tue"]),
            st.sampled_from(["Wed", "Sun"]),
            st.sampled_from(["07:00", "13:30"]),
            st.sampled_from(["15:00", "23:59"]),
        ),
        min_size=1,
        max_size=2,
    ).map(tuple),
    "people": st.lists(UIDS, min_size=1, max_size=3).map(tuple),
    "reserve": st.floats(0, 8e6),
    "fixtures": st.lists(
        st.builds(BenchFixture, WORDS, st.integers(1, 9), st.tuples(WORDS)), max_size=2
    ).map(tuple),
    "times": st.lists(st.builds(StepTime, WORDS, st.none(), st.floats(0, 8e6)), max_size=2).map(
        tuple
    ),
    "pieces": st.lists(
        st.builds(
            lambda gauge, steps, begins, lasts: BenchPiece(
                gauge, steps, begins, begins + timedelta(seconds=lasts)
            ),
            UIDS,
            st.tuples(WORDS),
            INSTANTS,
            st.integers(0, 90_000),
        ),
        max_size=2,
    ).map(tuple),
    "made_by": st.sampled_from(["list", "CP-SAT"]),
    # Numbers of a metal, each positive: of any size and sign they hardly ever go together.
    "yield_strength": st.none() | LARGE,
    "tensile_strength": st.none() | LARGE.map(lambda one: Stated(one.value + 3)),
    "hardening_modulus": st.none() | SMALL,
    "hardening_strain": st.none() | st.just(Stated(0.01)),
    "hardening_onset_modulus": st.none() | SMALL,
    "ultimate_strain": st.none() | SMALL.map(lambda one: Stated(one.value + 0.01)),
    "exponent": st.none() | LARGE,
    "coupon_rate": st.none() | SMALL,
    "load_points": st.lists(st.builds(LoadPoint, STATED, FLOATS), min_size=1, max_size=3).map(
        tuple
    ),
}


# A coupon's size is given in one of three ways: drawn apart they hardly ever go together.
LEFT_OUT = {
    (KINDS["coupon test"], name)
    for name in ("width", "thickness", "area", "gauge_length", "marked_length", "final_length")
} | {(KINDS["material"], name) for name in ("curve", "cyclic")}


def of_hint(hint: Any) -> st.SearchStrategy[Any]:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        return st.one_of([of_hint(argument) for argument in arguments])
    if origin is tuple:
        if arguments[1:] == (Ellipsis,):
            return st.lists(of_hint(arguments[0]), max_size=4).map(tuple)
        return st.tuples(*map(of_hint, arguments))
    if dataclasses.is_dataclass(hint):
        return of_kind(hint)
    if isinstance(hint, type) and issubclass(hint, enum.Enum):
        return st.sampled_from(hint)
    simple: dict[Any, st.SearchStrategy[Any]] = {
        Uid: UIDS,
        str: WORDS,
        bool: st.booleans(),
        int: st.integers(-(1 << 53), 1 << 53),
        float: FLOATS,
        datetime: INSTANTS,
        date: st.dates(),
        type(None): st.none(),
    }
    return simple[hint]


@st.composite
def of_kind(draw: st.DrawFn, kind: Any) -> Any:
    hints = typing.get_type_hints(kind)
    fields = {
        field.name: draw(
            st.none()
            if (kind, field.name) in LEFT_OUT
            else NAMED[field.name]
            if field.name in NAMED
            else of_hint(hints[field.name])
        )
        for field in dataclasses.fields(kind)
    }
    try:
        return kind(**fields)
    except (InputError, Faults):  # fields that don't go together: no record, nothing to write
        reject()


@pytest.mark.parametrize("name", sorted(KINDS))
def test_a_record_of_each_kind_comes_back_as_it_was(name: str) -> None:
    kind = KINDS[name]

    @settings(
        max_examples=25,
        suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
    )
    @given(record=of_kind(kind))
    def comes_back(record: Any) -> None:
        text = canonical_text(to_plain(record))
        again = from_plain(kind, json.loads(text))
        assert again == record
        assert canonical_text(to_plain(again)) == text

    comes_back()


@given(number=st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_comes_back_bit_for_bit(number: float) -> None:
    back = from_plain(Stated, json.loads(canonical_text(to_plain(Stated(number))))).value
    assert back.hex() == number.hex()


@given(text=st.text(st.characters(exclude_categories=("Cs",))))
def test_text_is_written_in_one_form_only(text: str) -> None:
    composed, apart = (unicodedata.normalize(form, text) for form in ("NFC", "NFD"))
    assert canonical_text(to_plain(composed)) == canonical_text(to_plain(apart))


def test_the_order_of_fields_does_not_matter() -> None:
    assert canonical_text({"b": [1, 2.5], "a": "é"}) == '{"a":"é","b":[1,2.5]}'
    assert canonical_text({"a": "é", "b": [1, 2.5]}) == '{"a":"é","b":[1,2.5]}'


@given(
    instant=INSTANTS,
    hours=st.integers(-12, 14),
)
def test_an_instant_is_the_same_text_in_every_zone(instant: datetime, hours: int) -> None:
    there = instant.astimezone(timezone(timedelta(hours=hours)))
    assert to_plain(there) == to_plain(instant)


def test_a_naive_time_is_refused() -> None:
    with pytest.raises(InputError, match="a time with its zone"):
        to_plain(datetime(2026, 1, 1))  # noqa: DTZ001 - what must be refused


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_a_number_that_is_none_is_refused(number: float) -> None:
    with pytest.raises(InputError, match="finite"):
        to_plain(number)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"value": None}, r"Limit\.value"),
        ({"value": True}, r"Limit\.value"),
        ({"value": "5"}, r"Limit\.value"),
        ({"unverified": 1}, r"Limit\.unverified"),
        ({"label": 5}, r"Limit\.label"),
        ({"colour": "red"}, "Limit field is 'colour'"),
        ({"source": " "}, "source is"),
    ],
)
def test_a_wrong_field_is_refused_by_name(change: dict[str, Any], words: str) -> None:
    limit = to_plain(Limit("l", "strain", 5.0, "1", "house rule (invented)"))
    with pytest.raises(InputError, match=words):
        from_plain(Limit, {**limit, **change})


def test_a_missing_field_is_named_and_one_with_a_usual_value_may_be_left_out() -> None:
    plain = to_plain(Question("q", "Where?", "strain"))
    assert from_plain(Question, {n: plain[n] for n in ("label", "text", "quantity")}) == Question(
        "q", "Where?", "strain"
    )
    del plain["text"]
    with pytest.raises(InputError, match=r"Question\.text"):
        from_plain(Question, plain)
