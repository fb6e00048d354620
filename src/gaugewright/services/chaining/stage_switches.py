"""Stages that a person turned on or off: how a chain built from records follows that decision."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from gaugewright.calc import leads
from gaugewright.calc.chain import Stage
from gaugewright.calc.stage_kinds import SLOTS, Parameter, StageKind
from gaugewright.calc.stages import kind_named
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.corrections import StageSwitch
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import Basis, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import Causes
from gaugewright.services.chaining.subject import Subject
from gaugewright.services.reading.series import campaign_seconds

__all__ = ["Decided", "switched", "switches_for"]

# Columns that a person must name a source for.
_BESIDE = ("lead_temperature_degc", "reference_strain")


@dataclass(frozen=True, slots=True)
class Decided:
    """Stages as decided, in order, and whose readings a column beside the gauge is."""

    stages: tuple[Stage, ...]
    beside: Mapping[str, Uid]


def switches_for(book: Book, circuit: Uid) -> tuple[Entry[StageSwitch], ...]:
    """Decisions that are about a circuit: those that name it, and those for all."""
    found = (
        s for s in book.of(StageSwitch) if not s.record.circuits or circuit in s.record.circuits
    )
    return tuple(sorted(found, key=lambda switch: bool(switch.record.circuits)))


def switched(book: Book, subject: Subject, stages: Sequence[Stage], causes: Causes) -> Decided:
    """Stages after every decision about the circuit; one that names it outranks one for all.

    Raises
    ------
    InputError
        If a stage turned on lacks a number or a column's source, with how to give it.
    """
    now = list(stages)
    beside: dict[str, Uid] = {}
    for switch in switches_for(book, subject.circuit.uid):
        kind = kind_named(switch.record.stage)
        place = next((n for n, stage in enumerate(now) if stage.kind == kind.name), None)
        if not switch.record.on:
            if place is not None:
                now[place] = replace(now[place], on=False, reason=switch.record.reason)
            continue
        made = _made(subject, switch, kind, now, causes)
        now = [_stepped_back(stage, kind, switch.record) for stage in now]
        if place is not None:
            now[place] = made
        else:
            now.insert(_place(now, kind), made)
        for column in kind.columns:
            if column in _BESIDE:
                beside[column] = _beside(switch, column)
    return Decided(tuple(now), beside)


def _stepped_back(stage: Stage, kind: StageKind, switch: StageSwitch) -> Stage:
    """A stage that does the same as the one turned on gives way to it, and says so."""
    if stage.kind == kind.name or not stage.on or kind_named(stage.kind).slot != kind.slot:
        return stage
    name = kind.name.rpartition("@")[0]
    return replace(stage, on=False, reason=f"{name} stands in its place: {switch.reason}")


def _place(stages: Sequence[Stage], kind: StageKind) -> int:
    at = SLOTS.index(kind.slot)
    return sum(SLOTS.index(kind_named(stage.kind).slot) <= at for stage in stages)


def _beside(switch: Entry[StageSwitch], column: str) -> Uid:
    if switch.record.beside is not None:
        return switch.record.beside
    what = "temperature point of the lead" if "temperature" in column else "unloaded circuit"
    raise InputError(
        f"beside of stage switch {switch.record.label}", None, f"the {what}", "name it there"
    )


def _made(
    subject: Subject,
    switch: Entry[StageSwitch],
    kind: StageKind,
    stages: Sequence[Stage],
    causes: Causes,
) -> Stage:
    """The stage turned on: typed numbers first, then those that the chain or records hold."""
    typed = {number.name: number.stated for number in switch.record.numbers}
    unknown = sorted(typed.keys() - {parameter.name for parameter in kind.parameters})
    if unknown:
        allowed = ", ".join(p.name for p in kind.parameters) or "nothing: it needs no numbers"
        raise InputError(f"numbers of stage switch {switch.record.label}", unknown[0], allowed)
    known = {name: value for stage in stages for name, value in stage.parameters}
    own = next((stage for stage in stages if stage.kind == kind.name), None)
    kept = () if own is None else own.influences
    influences = [part for part in kept if part.parameter not in typed]
    numbers = []
    for parameter in kind.parameters:
        name = parameter.name
        if name in typed:
            stated = typed[name]
            causes.came_from(kind.name, name, switch.ref, stated.basis, stated.source)
            numbers.append((name, stated.value))
            if not parameter.fixed:
                influences += causes.stated(name, f"{name}@{switch.uid}", stated, parameter.meaning)
        elif name in known:
            numbers.append((name, known[name]))
        else:
            stated, ref = _recorded(subject, switch.record, kind, parameter)
            causes.came_from(kind.name, name, ref, stated.basis, stated.source)
            numbers.append((name, stated.value))
            if not parameter.fixed:
                influences += causes.stated(name, f"{name}@{switch.uid}", stated, parameter.meaning)
    return Stage(kind.name, True, switch.record.reason, tuple(numbers), tuple(influences))


def _recorded(
    subject: Subject, switch: StageSwitch, kind: StageKind, parameter: Parameter
) -> tuple[Stated, Ref | None]:
    """A number that no stage of the chain has yet, from the records around the circuit."""
    pack, bar, metal = subject.pack, subject.bar, subject.material
    card, zero = pack.record, subject.zero.record
    lead = subject.lead.record
    # Counted from where the resistance was measured, since the stage multiplies it with that.
    copper = leads.slope_counted_from(lead.temperature_degc).item()
    of: dict[str, tuple[Stated | None, Ref | None]] = {
        "gauge_resistance": (card.gauge_resistance, pack.ref),
        "bridge_resistance": (card.gauge_resistance, pack.ref),
        "gauge_factor": (card.gauge_factor, pack.ref),
        "gauge_factor_slope": (card.gauge_factor_slope, pack.ref),
        "transverse_sensitivity": (card.transverse_sensitivity, pack.ref),
        "card_poisson_ratio": (Stated(card.poisson_ratio_of_card, source="card"), pack.ref),
        "lead_resistance": (lead.resistance, subject.lead.ref),
        "poisson_ratio": (metal.record.poisson_ratio, metal.ref),
        "elastic_modulus": (metal.record.elastic_modulus, metal.ref),
        "area": (bar.record.area, bar.ref),
        "diameter": (bar.record.diameter, bar.ref),
        "gain": (subject.instrument.record.gain, subject.instrument.ref),
        "lead_temperature_coefficient": (
            Stated(copper, source=leads.COPPER_TEMPERATURE_COEFFICIENT.source),
            subject.lead.ref,
        ),
        "time_zero": (Stated(campaign_seconds(zero.measured), source="zero"), subject.zero.ref),
        "law_error": (Stated(0.0, basis=Basis.ASSUMED, source="this law, not the other"), None),
    }
    stated, ref = of.get(parameter.name, (None, None))
    if stated is None:
        raise InputError(
            f"{kind.name}: {parameter.name}",
            None,
            f"given [{parameter.unit}]: {parameter.meaning}",
            f"add it to the numbers of stage switch {switch.label}",
        )
    return stated, ref
