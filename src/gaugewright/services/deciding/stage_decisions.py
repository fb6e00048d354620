"""A person decides that a stage of a circuit's chain is on or off: refused, or written down.

The chain is built with the decision before anything is kept, so that a chain that can't be is
refused in the words of the rule that it breaks, and every record that exists can be used.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import TypeVar

from gaugewright.calc.stage_kinds import Parameter, StageKind
from gaugewright.calc.stages import KINDS, kind_named
from gaugewright.errors import InputError, InputFaults
from gaugewright.present.typed import number_typed
from gaugewright.quantities import parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.corrections import StageNumber, StageSwitch
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.calibrating.calibrated_chains import force_chain_for, is_calibrated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.store.campaign import CampaignStore

__all__ = ["Wish", "decide", "decisions_of", "sources_beside", "stage_words", "wish_from"]

T = TypeVar("T")

_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
# No record has this uid: it stands for a decision that isn't written down yet.
_NOT_YET = Uid("0" * 26)
# Nobody decides these: a reading can't be had without them, or a calibration brings them itself.
_NOT_DECIDED = ("reading", "bridge", "reference", "integrity")


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person wants of one stage: its kind with number, on or off, why, with what."""

    stage: str
    on: bool
    reason: str
    numbers: tuple[StageNumber, ...] = ()
    beside: Uid | None = None


def stage_words() -> Mapping[str, str]:
    """Stages that can be decided, by kind with number, each with what it does."""
    return {
        name: kind.summary
        for name, kind in KINDS.items()
        if kind.slot not in _NOT_DECIDED and "to force" not in name and "calibrated" not in name
    }


def sources_beside(book: Book) -> Mapping[str, Uid]:
    """Whose readings a stage may need beside the gauge's own, by label."""
    found: dict[str, Uid] = {}
    for kind in (TemperaturePoint, BridgeCircuit):
        found |= {book.label(entry.uid): entry.uid for entry in book.of(kind)}
    return found


def decisions_of(book: Book, circuit: Uid) -> tuple[Entry[StageSwitch], ...]:
    """Decisions that name a circuit, first made first."""
    return tuple(s for s in book.of(StageSwitch) if circuit in s.record.circuits)


def wish_from(book: Book, texts: Mapping[str, str], numbers: Iterable[str]) -> Wish:
    """What a person typed: ``stage``, ``set`` (on or off), ``reason``, ``beside``, numbers.

    Each number is ``name = value``, with its unit where it isn't the stage's own, and
    ``± doubt`` after it, which counts as a limit.

    Raises
    ------
    InputError
        If one text can't be used.
    InputFaults
        If several can't.
    """
    faults: list[InputError] = []
    stage, reason = texts.get("stage", "").strip(), texts.get("reason", "").strip()
    kind = _tried(faults, lambda: _kind(stage))
    if texts.get("set") not in ("on", "off"):
        faults.append(InputError("set", texts.get("set", ""), "on or off"))
    if not reason:
        faults.append(InputError("reason", reason, "why this stage is on or off, in words"))
    given: list[StageNumber] = []
    if kind is not None:
        for line in numbers:
            one = _tried(faults, partial(_number, kind, line))
            given += [one] if one is not None else []
    beside, known = texts.get("beside", "").strip(), sources_beside(book)
    if beside and beside not in known:
        faults.append(InputError("beside", beside, "one of: " + ", ".join(known)))
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults("decision about a stage", faults)
    return Wish(
        kind.name if kind else stage,
        texts["set"] == "on",
        reason,
        tuple(given),
        known.get(beside),
    )


def _tried(faults: list[InputError], read: Callable[[], T]) -> T | None:
    try:
        return read()
    except InputError as fault:
        faults.append(fault)
        return None


def _kind(typed: str) -> StageKind:
    """A stage by its name; without a number the latest of that name."""
    words = stage_words()
    same = [name for name in words if name.rpartition("@")[0] == typed]
    name = typed if typed in words else (same[-1] if same else "")
    if not name:
        known = "; ".join(sorted(one.rpartition("@")[0] for one in words))
        raise InputError("stage", typed, f"one of: {known}")
    return kind_named(name)


def _number(kind: StageKind, line: str) -> StageNumber:
    name, sign, text = line.partition("=")
    wanted = {parameter.name: parameter for parameter in kind.parameters}
    name = name.strip().replace(" ", "_")
    if not sign or name not in wanted:
        allowed = "; ".join(f"{p.name} = … {_unit(p)}".rstrip() for p in kind.parameters)
        raise InputError("numbers", line.strip(), allowed or "nothing: this stage needs none")
    parameter = wanted[name]
    value, *doubt = _PLUS_MINUS.split(text, maxsplit=1)
    stated = Stated(
        _typed(parameter, value),
        abs(_typed(parameter, doubt[0], span=True)) if doubt else None,
        Meaning.LIMIT if doubt else Meaning.UNKNOWN,
        source="typed with the decision",
    )
    return StageNumber(name, stated)


def _unit(parameter: Parameter) -> str:
    return "" if parameter.unit in ("1", "V/V") else parameter.unit


def _typed(parameter: Parameter, text: str, *, span: bool = False) -> float:
    """A number with or without a unit, in the stage's own unit."""
    found = re.fullmatch(r"\s*(.*?[0-9.])\s*([^\d\s.,].*)?", text.strip())
    number, typed = (found[1], (found[2] or "").strip()) if found else (text, "")
    value = number_typed(parameter.name, number)
    if not typed:
        return value
    unit, own = parse_unit(typed), parse_unit(parameter.unit)
    if unit is None or unit.coherent != (own.coherent if own else parameter.unit):
        allowed = f"a number in {_unit(parameter) or 'no unit'}, or in another unit of its kind"
        raise InputError("numbers", f"{parameter.name} = {text.strip()}", allowed)
    inside = value * unit.factor if span else to_si(value, unit)
    return float(f"{float(inside):.15g}")  # the typed digits, not those of the conversion


def decide(store: CampaignStore, circuit: Entry[BridgeCircuit], wish: Wish) -> Entry[StageSwitch]:
    """Write a decision down, or a new version of the one there was about the same stage.

    Raises
    ------
    InputError
        If the chain can't be so, in the words of the rule it breaks; or if nothing would change.
    InputFaults
        If several rules are broken.
    """
    book = Book.read(store)
    before = _standing(book, circuit.uid, wish.stage)
    record = StageSwitch(
        f"{circuit.record.label}: {wish.stage.rpartition('@')[0]}",
        wish.stage,
        wish.on,
        wish.reason,
        (circuit.uid,),
        wish.numbers,
        wish.beside,
    )
    if before is not None and before.record == record:
        raise InputError("decision", f"{wish.stage} as it is already", "another than the last one")
    _refuse_impossible(book, circuit, record, before)
    reason = f"{'on' if wish.on else 'off'}: {wish.reason}"
    if before is None:
        return store.add(record, reason=reason)
    return store.revise(before.uid, before.version, record, reason=reason)


def _standing(book: Book, circuit: Uid, stage: str) -> Entry[StageSwitch] | None:
    """The decision about this stage of this circuit alone, if there is one."""
    found = (
        s
        for s in decisions_of(book, circuit)
        if s.record.stage == stage and s.record.circuits == (circuit,)
    )
    return next(found, None)


def _refuse_impossible(
    book: Book,
    circuit: Entry[BridgeCircuit],
    record: StageSwitch,
    before: Entry[StageSwitch] | None,
) -> None:
    """Build every chain of the circuit as it would be; faults it had already aren't this one's."""
    uid = before.uid if before is not None else _NOT_YET
    version = before.version + 1 if before is not None else 1
    wished = Entry(uid, version, datetime.now(UTC), None, record.reason, False, record)
    then = Book([*(entry for entry in book.every() if entry.uid != uid), wished])
    tried = 0
    for connection in book.connections_of(circuit.uid):
        had = _fault(book, connection)
        has = _fault(then, connection)
        tried += has is None
        if has is not None and (had is None or str(had) != str(has)):
            raise has
        if has is None and record.on:
            _refuse_unused(then, connection, wished.ref)
    if not tried:
        raise InputError(
            f"chain of {circuit.record.label}",
            "can't be built yet",
            "complete before its stages are decided",
            "connect the circuit and take its zero first",
        )


def _refuse_unused(then: Book, connection: Entry[Connection], wished: Ref) -> None:
    """A stage that is on must be found on in the chain."""
    record = then.entry(wished.uid, StageSwitch).record
    for built in _chains(then, connection):
        if any(stage.kind == record.stage and stage.on for stage in built.chain.stages):
            return
    raise InputError("stage", record.stage, "one that this circuit's chain can have")


def _chains(book: Book, connection: Entry[Connection]) -> list[BuiltChain]:
    kinds = [kind for kind in ZeroKind if book.holds_zero(connection, kind)]
    zero = ZeroKind.BEFORE_TEST if ZeroKind.BEFORE_TEST in kinds or not kinds else kinds[-1]
    built = [chain_for(book, connection, zero_kind=zero)]
    if is_calibrated(book, connection):
        built.append(force_chain_for(book, connection, zero_kind=zero))
    return built


def _fault(book: Book, connection: Entry[Connection]) -> InputError | None:
    try:
        _chains(book, connection)
    except InputError as fault:
        return fault
    return None
