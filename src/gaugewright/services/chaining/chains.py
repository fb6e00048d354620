"""The correction chain of a connection, built from records: every value with where it came from."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from gaugewright.calc.chain import Chain, Influence, Stage
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Connection, Topology
from gaugewright.records.gauges import LargeStrainLaw, ThermalOutput
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.results import ParameterSource
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining import allowances, electrical
from gaugewright.services.chaining.causes import Causes
from gaugewright.services.chaining.matched import flat_curve
from gaugewright.services.chaining.stage_switches import switched
from gaugewright.services.chaining.subject import (
    Subject,
    gauge_factor_influences,
    subject_of,
    temperature_influence,
)

__all__ = ["COMPENSATED", "BuiltChain", "chain_for", "thermal_output"]

THERMAL = "thermal output@1"
# Bridges whose neighbouring arms see the same temperature: it cancels.
COMPENSATED = (
    Topology.HALF_BENDING,
    Topology.HALF_POISSON,
    Topology.FULL_BENDING,
    Topology.FULL_POISSON,
    Topology.FULL_TORSION,
)
LAWS = {
    LargeStrainLaw.CONSTANT_GAUGE_FACTOR: "large strain, constant gauge factor@1",
    LargeStrainLaw.CONSTANT_VOLUME_GRID: "large strain, constant-volume grid@1",
}


@dataclass(frozen=True, slots=True)
class BuiltChain:
    """A chain ready to run, what it was built from and where its values came from.

    ``beside`` names whose readings a column of the chain is: a temperature point of the lead, or
    a circuit that isn't loaded.
    """

    chain: Chain
    subject: Subject
    sources: tuple[ParameterSource, ...]
    beside: Mapping[str, Uid] = field(default_factory=dict)


def chain_for(
    book: Book, connection: Entry[Connection], *, zero_kind: ZeroKind = ZeroKind.BEFORE_TEST
) -> BuiltChain:
    """Chain from the channel's reading to mechanical strain at the gauge.

    Raises
    ------
    InputError
        Naming the record or the value that is missing.
    """
    subject = subject_of(book, connection, zero_kind)
    causes = Causes()
    stages = (
        electrical.in_range(subject, causes),
        electrical.reading(subject, causes),
        electrical.bridge(subject, causes),
        electrical.reference(subject, causes),
        electrical.lead(subject, causes),
        _gauge_factor(subject, causes),
        _large_strain(subject, causes),
        allowances.installation(book, subject.gauges, causes),
        allowances.alignment(book, subject, causes),
        _transverse(subject, causes),
        _temperature(book, subject, causes),
        allowances.zero_stability(book, subject, causes),
        allowances.drift_growth(book, subject, causes),
        allowances.insulation(book, subject, causes),
        *allowances.section(book, subject, causes),
    )
    decided = switched(book, subject, [stage for stage in stages if stage], causes)
    chain = Chain(decided.stages, tuple(causes.inputs.values()))
    zeroed = chain.zeroed(electrical.zero_reading(subject), {})
    return BuiltChain(zeroed, subject, tuple(causes.sources), decided.beside)


def _gauge_factor(subject: Subject, causes: Causes) -> Stage:
    pack = subject.pack.record
    kind, card = "gauge factor@1", "card of the pack"
    factor, slope = pack.gauge_factor, pack.gauge_factor_slope
    causes.came_from(kind, "gauge_factor", subject.pack.ref, factor.basis, factor.source or card)
    influences = [
        *gauge_factor_influences(subject, causes),
        *temperature_influence(subject, causes),
    ]
    if slope is None:
        words = "no slope on the card: taken as none"
        causes.came_from(kind, "gauge_factor_slope", None, Basis.ASSUMED, words)
    else:
        causes.came_from(kind, "gauge_factor_slope", subject.pack.ref, slope.basis, card)
        name = f"gauge_factor_slope@{subject.pack.uid}"
        meaning = "temperature slope of the gauge factor"
        influences += causes.stated("gauge_factor_slope", name, slope, meaning)
    return Stage(
        kind,
        True,
        "",
        (
            ("gauge_factor", factor.value),
            ("gauge_factor_slope", slope.value if slope else 0.0),
            ("reference_temperature_degc", pack.gauge_factor_temperature_degc),
        ),
        tuple(influences),
    )


def _large_strain(subject: Subject, causes: Causes) -> Stage:
    pack = subject.pack.record
    law = LAWS.get(pack.large_strain_law)
    if law is None:
        kind = "large strain, not declared@1"
        causes.came_from(kind, "strain_limit", None, Basis.ASSUMED, "no law declared for the pack")
        return Stage(kind, True, "", (("strain_limit", 0.01),))
    causes.came_from(law, "law_error", subject.pack.ref, Basis.STATED, "law declared for the pack")
    between = InputQuantity(
        f"large_strain_law@{subject.pack.uid}",
        1 / math.sqrt(3),
        distribution="rectangular",
        basis="assumed",
        meaning="which law the grid follows at large strain",
    )
    return Stage(
        law,
        True,
        "",
        (("gauge_factor", pack.gauge_factor.value), ("law_error", 0.0)),
        (causes.add("law_error", between), *gauge_factor_influences(subject, causes)),
    )


def _transverse(subject: Subject, causes: Causes) -> Stage | None:
    kind = "transverse, uniaxial@1"
    pack, poisson = subject.pack.record, subject.material.record.poisson_ratio
    side = pack.transverse_sensitivity
    # An arm of a rosette is corrected together with its neighbours, not alone.
    if subject.gauge.record.group:
        return None
    across = causes.stated(
        "transverse_sensitivity",
        f"transverse_sensitivity@{subject.pack.uid}",
        side,
        "transverse sensitivity",
    )
    numbers = [
        ("transverse_sensitivity", side.value),
        ("card_poisson_ratio", pack.poisson_ratio_of_card),
    ]
    if subject.circuit.record.topology is Topology.FULL_TORSION:
        kind = "transverse, pure shear@1"
        causes.came_from(kind, "transverse_sensitivity", subject.pack.ref, side.basis, "card")
        return Stage(kind, True, "", tuple(numbers), across)
    causes.came_from(kind, "transverse_sensitivity", subject.pack.ref, side.basis, "card")
    causes.came_from(kind, "poisson_ratio", subject.material.ref, poisson.basis, poisson.source)
    return Stage(
        kind,
        True,
        "",
        (*numbers, ("poisson_ratio", poisson.value)),
        (
            *across,
            *causes.stated(
                "poisson_ratio", f"poisson@{subject.material.uid}", poisson, "Poisson's ratio"
            ),
        ),
    )


def _temperature(book: Book, subject: Subject, causes: Causes) -> Stage | None:
    if subject.circuit.record.topology in COMPENSATED:
        return None
    if subject.circuit.record.dummy is not None:
        causes.came_from(
            "dummy@1",
            "dummy_strain",
            subject.circuit.ref,
            Basis.MEASURED,
            "circuit of the dummy gauge",
        )
        return Stage("dummy@1", True, "", (), allowances.dummy(subject, causes))
    return thermal_output(book, subject, causes)


def thermal_output(book: Book, subject: Subject, causes: Causes) -> Stage:
    """Apparent strain by the pack's card between the zero and now, to be taken off.

    A card that names only the metal it is matched to is taken as flat there, which is assumed.

    Raises
    ------
    InputError
        If the card gives neither.
    """
    card, matched = subject.pack.record.thermal_output, subject.pack.record.matched_expansion
    if card is None and matched is not None:
        card = flat_curve(book, subject.pack.record, matched)
    if card is None:
        raise InputError(
            f"thermal output of pack {subject.pack.record.label}",
            None,
            "on its card, or a dummy circuit named",
            "on the pack's page in the plan, type in the curve from the card or the metal it is "
            "matched to, or name the dummy that stands for it",
        )
    powers = dict.fromkeys(("c0", "c1", "c2", "c3", "c4"), 0.0)
    powers |= {f"c{n}": value for n, value in enumerate(card.coefficients)}
    numbers = (
        *powers.items(),
        ("card_gauge_factor", card.gauge_factor),
        ("gauge_factor", subject.pack.record.gauge_factor.value),
        ("thermal_expansion", subject.material.record.thermal_expansion.value),
        ("card_thermal_expansion", card.thermal_expansion),
        ("slope_error", 0.0),
        ("temperature_zero_degc", subject.zero.record.temperature.value),
        ("span_low_degc", card.low_degc),
        ("span_high_degc", card.high_degc),
    )
    return Stage(THERMAL, True, "", numbers, _thermal_influences(subject, causes, card))


def _thermal_influences(
    subject: Subject, causes: Causes, card: ThermalOutput
) -> tuple[Influence, ...]:
    """Doubts of curve, expansion and both temperatures, and where their values came from."""
    expansion = subject.material.record.thermal_expansion
    zero = subject.zero.record.temperature
    metal, words = subject.material.uid, "temperature at the zero"
    basis, told = Basis.STATED, "card of the pack"
    if subject.pack.record.thermal_output is None:
        basis = Basis.ASSUMED
        why = card.slope_uncertainty.source
        told = f"no curve on the card: none on the metal it is matched to ({why})"
    causes.came_from(THERMAL, "c0 ... c4", subject.pack.ref, basis, told)
    causes.came_from(
        THERMAL, "thermal_expansion", subject.material.ref, expansion.basis, expansion.source
    )
    causes.came_from(THERMAL, "temperature_zero_degc", subject.zero.ref, zero.basis, words)
    return (
        *causes.stated(
            "slope_error",
            f"thermal_slope@{subject.pack.uid}",
            card.slope_uncertainty,
            "thermal output of the pack",
        ),
        *causes.stated(
            "thermal_expansion",
            f"expansion@{metal}",
            expansion,
            "thermal expansion of the metal",
        ),
        *causes.stated(
            "temperature_zero_degc", f"temperature_zero@{subject.zero.uid}", zero, words
        ),
        *temperature_influence(subject, causes),
    )
