"""Stages that correct nothing but carry a doubt: installation, alignment, zero, leak, section."""

import math
from datetime import datetime

import numpy as np

from gaugewright.calc import leads
from gaugewright.calc.chain import Influence, Stage
from gaugewright.calc.gauge import thermal_output_slope
from gaugewright.calc.net_area import net_area
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.records import Entry
from gaugewright.records.electrical import Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Censor, GateCheck, Limit
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.limit_labels import (
    DRIFT_RATE,
    INSTALLATION,
    LEAD_WARMING,
    MISALIGNMENT,
    ZERO_DRIFT,
)
from gaugewright.services.chaining.causes import Causes, input_of_limit
from gaugewright.services.chaining.subject import Subject
from gaugewright.services.reading.series import campaign_seconds

__all__ = [
    "alignment",
    "drift_growth",
    "dummy",
    "installation",
    "insulation",
    "section",
    "zero_stability",
]


def installation(book: Book, gauges: tuple[Entry[Gauge], ...], causes: Causes) -> Stage:
    """Scatter from gauge to gauge: bond line, technique, local stress under the grid."""
    limit = book.limit(INSTALLATION)
    kind = "installation@1"
    own = limit.record.counted is not None
    basis = Basis.MEASURED if own else Basis.ASSUMED
    words = limit.record.source
    if own:
        words = f"laboratory's own, {limit.record.counted} {limit.record.counted_what}: {words}"
    causes.came_from(kind, "installation_factor", limit.ref, basis, words)
    influences = [
        causes.add(
            "installation_factor",
            input_of_limit(f"installation@{gauge.uid}", limit, "installation of this gauge"),
            1 / len(gauges),
        )
        for gauge in gauges
    ]
    return Stage(kind, True, "", (("installation_factor", 1.0),), tuple(influences))


def alignment(book: Book, subject: Subject, causes: Causes) -> Stage | None:
    """Mean effect of small unknown angles, which is one-sided, and its doubt.

    For an angle of zero mean and standard uncertainty u, the mean of sin² is u² and its
    standard uncertainty √2 u² (chi-square with one degree of freedom, small angles). An arm of
    a rosette is left alone: there an angle changes what the rosette says of direction. So is a
    bridge in torsion: at 45 degrees an angle acts in the second order of what it does here.
    """
    gauges, material = subject.gauges, subject.material
    if gauges[0].record.group or subject.circuit.record.topology is Topology.FULL_TORSION:
        return None
    limit = book.limit(MISALIGNMENT)
    kind = "alignment@1"
    square = limit.record.value**2
    causes.came_from(kind, "mean_squared_sine", limit.ref, Basis.ASSUMED, limit.record.source)
    influences: list[Influence] = []
    for gauge in gauges:
        doubt = InputQuantity(
            f"alignment@{gauge.uid}",
            math.sqrt(2) * square,
            degrees_of_freedom=1.0,
            basis="assumed",
            meaning="angle between this gauge and the bar",
        )
        influences.append(causes.add("mean_squared_sine", doubt, 1 / len(gauges)))
    return Stage(
        kind,
        True,
        "",
        (
            ("poisson_ratio", material.record.poisson_ratio.value),
            ("mean_squared_sine", square),
        ),
        tuple(influences),
    )


def dummy(subject: Subject, causes: Causes) -> tuple[Influence, ...]:
    """Doubt of the dummy's strain: temperature there and here differ as the point's doubt says."""
    card = subject.pack.record.thermal_output
    expansion = subject.material.record.thermal_expansion.value
    steepest = expansion
    if card is not None:
        span = np.linspace(card.low_degc, card.high_degc, 101)
        slopes = np.abs(thermal_output_slope(span, card.coefficients))
        steepest = float(slopes.max()) + abs(expansion - card.thermal_expansion)
    return causes.stated(
        "dummy_strain",
        f"dummy@{subject.circuit.uid}",
        subject.point.record.doubt,
        "temperature of dummy and gauge differ",
        steepest,
    )


def zero_stability(book: Book, subject: Subject, causes: Causes) -> Stage:
    """Drift of gauge and instrument since the zero, and wires of one lead unequally warm."""
    kind = "zero stability@1"
    drift = book.limit(ZERO_DRIFT)
    warming = book.limit(LEAD_WARMING)
    pack, lead = subject.pack.record, subject.lead.record
    causes.came_from(kind, "zero_offset", drift.ref, Basis.ASSUMED, drift.record.source)
    # One wire warmer than its neighbour: r α ΔT in one arm (of R_g) is taken for strain.
    per_kelvin = (
        lead.resistance.value
        * leads.COPPER_TEMPERATURE_COEFFICIENT.value
        / (pack.gauge_resistance.value * pack.gauge_factor.value)
    )
    # A bridge of n active arms divides by n what moves one of them.
    per_kelvin /= len(subject.gauges)
    influences = [
        causes.add(
            "zero_offset",
            input_of_limit(f"drift@{subject.connection.uid}", drift, "drift since the zero"),
        ),
        causes.add(
            "zero_offset",
            input_of_limit(f"warming@{subject.lead.uid}", warming, "wires unequally warm"),
            per_kelvin,
        ),
    ]
    stability = subject.instrument.record.stability
    if stability is not None:
        influences += causes.stated(
            "zero_offset",
            f"stability@{subject.connection.uid}",
            stability,
            "zero of the recorder's channel",
            4 / (pack.gauge_factor.value * len(subject.gauges)),
        )
    return Stage(kind, True, "", (("zero_offset", 0.0),), tuple(influences))


def drift_growth(book: Book, subject: Subject, causes: Causes) -> Stage | None:
    """Drift that grows with the time since the zero, where the campaign allows for any."""
    allowed = next((e for e in book.of(Limit) if e.record.label == DRIFT_RATE), None)
    if allowed is None:
        return None
    kind = "drift allowance, growing with time@1"
    basis = Basis.ASSUMED if allowed.record.unverified else Basis.STATED
    causes.came_from(kind, "drift_rate", allowed.ref, basis, allowed.record.source)
    name = f"drift_rate@{subject.circuit.uid}"
    rate = input_of_limit(name, allowed, "drift of the gauge, in proportion to time")
    since = campaign_seconds(subject.zero.record.measured)
    numbers = (("drift_rate", 0.0), ("time_zero", since))
    return Stage(kind, True, "", numbers, (causes.add("drift_rate", rate),))


def insulation(book: Book, subject: Subject, causes: Causes) -> Stage | None:
    """Leak to the bar: between nothing and R_g/(4 k R_ins) of compression on an isolated channel.

    An insulation reading is the parallel of the leaks of both ends of the grid; in series across
    the grid they are at least four times that. No stage where nothing was ever measured: the
    register of gates says so. Where the last reading bounds nothing, the stage is off and says so:
    whoever knows how large the leak can be turns it on with that number.
    """
    last = book.once("last insulation of gauges", _last_insulation)
    known = [last[gauge.uid] for gauge in subject.gauges if gauge.uid in last]
    if not known:
        return None
    kind = "insulation@1"
    if not min(known) > 0:
        why = "the last insulation reading bounds no leak: dry, seal and read it again"
        return Stage(kind, False, why, (("leak_strain", 0.0),))
    pack = subject.pack.record
    largest = pack.gauge_resistance.value / (4 * pack.gauge_factor.value * min(known))
    leak = InputQuantity(
        f"insulation@{subject.circuit.uid}",
        largest / math.sqrt(3),
        distribution="rectangular",
        basis="calculated",
        meaning="leak to the bar, from the last insulation reading",
    )
    causes.came_from(kind, "leak_strain", None, Basis.CALCULATED, "last insulation reading")
    return Stage(kind, True, "", (("leak_strain", 0.0),), (causes.add("leak_strain", leak),))


def _last_insulation(book: Book) -> dict[Uid, float]:
    """Last insulation reading of each gauge, the bound where the meter's upper end was reached.

    0 ohm where it bounds nothing: below the meter's range, or a short. A good reading of before
    that says nothing of now.
    """
    found: dict[Uid, tuple[datetime, float]] = {}
    for check in book.of(GateCheck):
        for reading in check.record.readings:
            if reading.what != "insulation" or reading.value is None:
                continue
            is_bound = reading.value > 0 and reading.censor is not Censor.BELOW
            now = (reading.measured, reading.value if is_bound else 0.0)
            found[check.record.gauge] = max(found.get(check.record.gauge, now), now)
    return {gauge: value for gauge, (_, value) in found.items()}


def section(book: Book, subject: Subject, causes: Causes) -> tuple[Stage, ...]:
    """Strain away from the flat, off: force is taken from strain and net area at the gauge.

    For a bridge in torsion: shear strain, on, or torque, off until the bar has a diameter and
    somebody wants it.
    """
    if subject.circuit.record.topology is Topology.FULL_TORSION:
        return _torsion(subject, causes)
    bar = subject.bar.record
    flat = book.flat_of(subject.gauge)
    if bar.diameter is None or bar.area is None or flat is None:
        return ()
    kind = "flat to bar@1"
    whole = bar.area.value
    flats = 2 if flat.record.opposite else 1
    left = net_area(whole, bar.diameter.value, flat.record.width.value, flats=flats)
    causes.came_from(kind, "net_area", flat.ref, flat.record.width.basis, "width of the flat")
    stage = Stage(
        kind,
        False,
        "force is taken from strain and net area at the gauge; switch on for strain along the bar",
        (("net_area", left.value.item()), ("area", whole)),
    )
    return (stage,)


def _torsion(subject: Subject, causes: Causes) -> tuple[Stage, ...]:
    """Shear strain of the surface, and the torque of bar or tube for who wants it."""
    shear = Stage("shear strain@1", True, "", ())
    bar, metal = subject.bar, subject.material
    if bar.record.diameter is None:
        return (shear,)
    kind = "torque@1"
    parts = (
        ("elastic_modulus", f"modulus@{metal.uid}", metal.record.elastic_modulus, metal.ref),
        ("poisson_ratio", f"poisson@{metal.uid}", metal.record.poisson_ratio, metal.ref),
        ("diameter", f"diameter@{bar.uid}", bar.record.diameter, bar.ref),
    )
    influences: list[Influence] = []
    for name, cause, stated, ref in parts:
        causes.came_from(kind, name, ref, stated.basis, stated.source)
        influences += causes.stated(name, cause, stated, name.replace("_", " "))
    bore, wall = 0.0, bar.record.wall_thickness
    if wall is None:
        causes.came_from(kind, "bore", None, Basis.ASSUMED, "a solid bar; switch with its bore")
    else:
        bore = bar.record.diameter.value - 2 * wall.value
        causes.came_from(kind, "bore", bar.ref, wall.basis, "diameter less twice the wall")
        name, meaning = f"wall_thickness@{bar.uid}", "wall of the tube"
        influences += causes.stated("bore", name, wall, meaning, -2.0)
        outer = f"diameter@{bar.uid}"
        influences += causes.stated("bore", outer, bar.record.diameter, "diameter")
    numbers = ((name, stated.value) for name, _, stated, _ in parts)
    why = "shear strain is shown; switch on for torque"
    return (shear, Stage(kind, False, why, (*numbers, ("bore", bore)), tuple(influences)))
