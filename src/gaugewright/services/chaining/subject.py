"""Records behind one connection of a gauge circuit, found once for the chain that needs them."""

import math
from dataclasses import dataclass, fields

from gaugewright.calc.chain import Influence
from gaugewright.calc.evaluation import stated_distribution, stated_standard_uncertainty
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
    ReadingKind,
)
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.specimen import Bar, Material
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import Causes

__all__ = [
    "Subject",
    "Wired",
    "gauge_factor_influences",
    "ratio_of_reading",
    "subject_of",
    "temperature_influence",
    "wired_of",
]


@dataclass(frozen=True, slots=True)
class Wired:
    """A circuit on a channel and the metal under it: all that is there before any zero."""

    circuit: Entry[BridgeCircuit]
    connection: Entry[Connection]
    setting: Entry[ChannelSetting]
    instrument: Entry[Instrument]
    lead: Entry[Lead]
    gauges: tuple[Entry[Gauge], ...]
    pack: Entry[GaugePack]
    bar: Entry[Bar]
    material: Entry[Material]

    @property
    def gauge(self) -> Entry[Gauge]:
        """First gauge of the circuit: the one a quarter bridge is named after."""
        return self.gauges[0]


@dataclass(frozen=True, slots=True)
class Subject(Wired):
    """Everything a chain is built from, found once."""

    point: Entry[TemperaturePoint]
    zero: Entry[Zero]


def subject_of(book: Book, connection: Entry[Connection], zero_kind: ZeroKind) -> Subject:
    """Records behind a connection of a gauge circuit.

    Raises
    ------
    InputError
        Naming what is missing: circuit, channel, pack, material, temperature point or zero.
    """
    wired = wired_of(book, connection)
    return Subject(
        **{field.name: getattr(wired, field.name) for field in fields(Wired)},
        point=book.temperature_point_of(wired.gauge),
        zero=book.zero_for(connection, zero_kind),
    )


def wired_of(book: Book, connection: Entry[Connection]) -> Wired:
    """Records behind a connection that are there before any zero was taken.

    Raises
    ------
    InputError
        Naming what is missing: circuit, channel, pack or material.
    """
    circuit = book.entry(connection.record.subject, BridgeCircuit)
    gauges = book.gauges_of(circuit)
    packs = {gauge.record.pack for gauge in gauges}
    if len(packs) != 1:
        raise InputError(
            f"packs of circuit {circuit.record.label}",
            ", ".join(book.label(uid) for uid in packs),
            "one pack",
            "gauges of one bridge must share a pack",
        )
    channel = book.entry(connection.record.channel, Channel)
    return Wired(
        circuit,
        connection,
        book.setting_of(connection),
        book.entry(channel.record.instrument, Instrument),
        book.entry(circuit.record.lead, Lead),
        gauges,
        book.pack_of(gauges[0]),
        book.bar_of(gauges[0]),
        book.material_of(gauges[0]),
    )


def ratio_of_reading(setting: ChannelSetting) -> float:
    """Bridge ratio of one unit of reading in SI, as the channel is set [V/V].

    Raises
    ------
    InputError
        If the channel doesn't write a bridge reading.
    """
    if setting.kind is ReadingKind.RATIO:
        return 1.0
    if setting.kind is ReadingKind.RESISTANCE:
        return 1.0  # no bridge: the zero of such a channel is kept as it reads
    strain = (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED)
    if setting.kind in strain and setting.set_gauge_factor is not None:
        return setting.set_gauge_factor / 4
    raise InputError("reading of the channel", setting.kind.value, "a bridge ratio or a strain")


def gauge_factor_influences(
    subject: Subject, causes: Causes, parameter: str = "gauge_factor"
) -> tuple[Influence, ...]:
    """Card's doubt of the gauge factor: a part common to the pack, a part of each gauge."""
    factor = subject.pack.record.gauge_factor
    if factor.plus_minus is None:
        return ()
    spread = stated_standard_uncertainty(factor.plus_minus, factor.meaning.value)
    shape = stated_distribution(factor.meaning.value)
    share = subject.pack.record.lot_share
    lot = InputQuantity(
        f"gauge_factor_lot@{subject.pack.uid}",
        spread * math.sqrt(share),
        distribution=shape,
        basis=factor.basis.value,
        meaning="gauge factor, what all gauges of the pack share",
    )
    influences = [causes.add(parameter, lot)]
    for gauge in subject.gauges:
        own = InputQuantity(
            f"gauge_factor_own@{gauge.uid}",
            spread * math.sqrt(1 - share),
            distribution=shape,
            basis=factor.basis.value,
            meaning="gauge factor, this gauge's own part",
        )
        influences.append(causes.add(parameter, own, 1 / len(subject.gauges)))
    return tuple(influences)


def temperature_influence(subject: Subject, causes: Causes) -> tuple[Influence, ...]:
    """Doubt of the temperature point, sensor and distance together."""
    return causes.stated(
        "temperature_degc",
        f"temperature@{subject.point.uid}",
        subject.point.record.doubt,
        "temperature at the gauge",
    )
