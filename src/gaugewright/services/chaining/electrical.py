"""Stages from the reading to the change of the arm: range, ratio, bridge, zero, leads."""

from gaugewright.calc.chain import Stage
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import parse_unit, to_si
from gaugewright.records.electrical import ReadingKind, Topology
from gaugewright.records.stated import Basis
from gaugewright.services.chaining.causes import Causes, uncertain_of_stated
from gaugewright.services.chaining.subject import Subject, Wired, ratio_of_reading

__all__ = ["bridge", "in_range", "lead", "reading", "reference", "zero_reading"]

BRIDGES = {
    Topology.QUARTER_TWO_WIRE: "quarter bridge@1",
    Topology.QUARTER_THREE_WIRE: "quarter bridge@1",
    Topology.HALF_BENDING: "half bridge, bending pair@1",
    Topology.HALF_POISSON: "half bridge, Poisson pair@1",
    Topology.HALF_OPPOSITE: "half bridge, opposite pair@1",
    Topology.FULL_BENDING: "full bridge, bending@1",
    Topology.FULL_POISSON: "full bridge, Poisson pairs@1",
    Topology.FULL_TORSION: "full bridge, torsion@1",
}
WORKING_AGAINST = (Topology.HALF_BENDING, Topology.FULL_BENDING, Topology.FULL_TORSION)
POISSON = (Topology.HALF_POISSON, Topology.FULL_POISSON)
FULL = (Topology.FULL_BENDING, Topology.FULL_POISSON, Topology.FULL_TORSION)
WITHOUT_BRIDGE = (ReadingKind.STRAIN_LINEARISED, ReadingKind.RESISTANCE)
SENSED = 6


def in_range(wired: Wired, causes: Causes) -> Stage | None:
    """Nothing where the reading stands at an end of the range; no stage without a range."""
    setting = wired.setting.record
    if setting.range_low is None or setting.range_high is None:
        return None
    kind = "range of the instrument@1"
    unit = parse_unit(setting.unit)
    if unit is None:
        raise InputError("unit of the channel setting", setting.unit, "a unit this package knows")
    low, high = (float(to_si(end, unit)) for end in (setting.range_low, setting.range_high))
    for name in ("reading_low", "reading_high"):
        causes.came_from(kind, name, wired.setting.ref, Basis.STATED, "channel setting")
    return Stage(kind, True, "", (("reading_low", low), ("reading_high", high)))


def reading(wired: Wired, causes: Causes) -> Stage:
    """What the channel wrote, back to a bridge ratio or a change of the arm."""
    setting = wired.setting.record
    if setting.kind is ReadingKind.RESISTANCE:
        return _resistance(wired, causes)
    kind, name, value = "reading in ratio@1", "scale", 1.0
    if setting.kind is ReadingKind.STRAIN_LINEAR:
        # The record refuses a strain channel without its set gauge factor.
        kind, name = "reading in strain, linear instrument@1", "set_gauge_factor"
        value = 4 * ratio_of_reading(setting)
    elif setting.kind is ReadingKind.STRAIN_LINEARISED:
        kind, name = "reading in strain, linearising instrument@1", "set_gauge_factor"
        value = 4 * ratio_of_reading(setting)
    elif setting.kind is not ReadingKind.RATIO:
        ratio_of_reading(setting)
    gain = wired.instrument.record.gain
    causes.came_from(kind, name, wired.setting.ref, Basis.STATED, "channel setting")
    causes.came_from(kind, "gain", wired.instrument.ref, gain.basis, gain.source)
    return Stage(
        kind,
        True,
        "",
        ((name, value), ("gain", gain.value)),
        causes.stated("gain", f"gain@{wired.instrument.uid}", gain, "gain of the recorder"),
    )


def _resistance(wired: Wired, causes: Causes) -> Stage:
    """Resistance read with four wires: no bridge, and no lead in it."""
    kind, grid = "reading in resistance@1", wired.pack.record.gauge_resistance
    gain = wired.instrument.record.gain
    causes.came_from(kind, "gauge_resistance", wired.pack.ref, grid.basis, "card of the pack")
    causes.came_from(kind, "gain", wired.instrument.ref, gain.basis, gain.source)
    return Stage(
        kind,
        True,
        "",
        (("gauge_resistance", grid.value), ("gain", gain.value)),
        causes.stated("gain", f"gain@{wired.instrument.uid}", gain, "gain of the recorder"),
    )


def bridge(wired: Wired, causes: Causes) -> Stage | None:
    """Change of the arm behind a bridge ratio; no stage where none was measured."""
    if wired.setting.record.kind in WITHOUT_BRIDGE:
        return None
    kind = BRIDGES[wired.circuit.record.topology]
    if wired.circuit.record.topology not in POISSON:
        return Stage(kind, True, "", ())
    poisson = wired.material.record.poisson_ratio
    causes.came_from(kind, "poisson_ratio", wired.material.ref, poisson.basis, poisson.source)
    return Stage(
        kind,
        True,
        "",
        (("poisson_ratio", poisson.value),),
        causes.stated("poisson_ratio", f"poisson@{wired.material.uid}", poisson, "Poisson's ratio"),
    )


def reference(subject: Subject, causes: Causes) -> Stage:
    """What was there at the zero, taken off as its bridge needs it."""
    kind = "reference zero@1"
    bridged = subject.setting.record.kind not in WITHOUT_BRIDGE
    if bridged and subject.circuit.record.topology in WORKING_AGAINST:
        kind = "reference zero, difference@1"
    numbers = [("arm_change_zero", 0.0)]
    if bridged and subject.circuit.record.topology in POISSON:
        kind = "reference zero, Poisson pair@1"
        numbers.append(("poisson_ratio", subject.material.record.poisson_ratio.value))
    zero = subject.zero.record
    causes.came_from(
        kind,
        "arm_change_zero",
        subject.zero.ref,
        zero.bridge_ratio.basis,
        f"zero {zero.kind.value}",
    )
    # Filled in by Chain.zeroed, which keeps what zero and reading owe to the same instrument.
    return Stage(kind, True, "", tuple(numbers))


def zero_reading(subject: Subject) -> Uncertain:
    """Zero in the unit the channel writes, with the doubt of carrying it over where it was."""
    zero = subject.zero.record
    ratio = uncertain_of_stated(
        f"zero@{subject.zero.uid}", zero.bridge_ratio, "reading of the zero"
    )
    if zero.connection != subject.connection.uid and zero.transfer is not None:
        ratio = ratio + uncertain_of_stated(
            f"transfer@{subject.zero.uid}", zero.transfer, "zero carried over a remade connection"
        )
    return ratio / ratio_of_reading(subject.setting.record)


def lead(subject: Subject, causes: Causes) -> Stage | None:
    """Loss in the lead, by its wires; none for a resistance read with four of them."""
    if subject.setting.record.kind is ReadingKind.RESISTANCE:
        return None
    if subject.circuit.record.topology in FULL:
        return _supply(subject, causes)
    lead, pack = subject.lead.record, subject.pack.record
    two = subject.circuit.record.topology is Topology.QUARTER_TWO_WIRE
    kind = f"lead loss, {'two' if two else 'three'} wires@1"
    causes.came_from(
        kind, "lead_resistance", subject.lead.ref, lead.resistance.basis, lead.resistance.source
    )
    causes.came_from(
        kind, "gauge_resistance", subject.pack.ref, pack.gauge_resistance.basis, "card of the pack"
    )
    return Stage(
        kind,
        True,
        "",
        (
            ("gauge_resistance", pack.gauge_resistance.value),
            ("lead_resistance", lead.resistance.value),
        ),
        (
            *causes.stated(
                "lead_resistance",
                f"lead_resistance@{subject.lead.uid}",
                lead.resistance,
                "resistance of a lead wire",
            ),
            *causes.stated(
                "gauge_resistance",
                f"gauge_resistance@{subject.gauge.uid}",
                pack.gauge_resistance,
                "resistance of the grid",
            ),
        ),
    )


def _supply(subject: Subject, causes: Causes) -> Stage:
    """Loss in the supply wires of a full bridge, four arms of the grid's resistance."""
    kind = "lead loss, supply wires@1"
    wires, pack = subject.lead.record, subject.pack.record
    grid, wire = pack.gauge_resistance, wires.resistance
    causes.came_from(kind, "lead_resistance", subject.lead.ref, wire.basis, wire.source)
    words = "four arms of the grid's resistance, card of the pack"
    causes.came_from(kind, "bridge_resistance", subject.pack.ref, grid.basis, words)
    sensed = wires.wires == SENSED
    return Stage(
        kind,
        not sensed,
        "six wires: the recorder senses the excitation at the bridge" if sensed else "",
        (("bridge_resistance", grid.value), ("lead_resistance", wire.value)),
        (
            *causes.stated(
                "lead_resistance",
                f"lead_resistance@{subject.lead.uid}",
                wire,
                "resistance of a lead wire",
            ),
            *causes.stated(
                "bridge_resistance",
                f"gauge_resistance@{subject.circuit.uid}",
                grid,
                "resistance of the bridge",
            ),
        ),
    )
