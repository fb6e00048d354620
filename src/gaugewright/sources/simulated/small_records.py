"""The records of a small campaign, each laid down after those it names."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import (
    Censor,
    Gate,
    GateCheck,
    GateReading,
    Limit,
    Meter,
    Person,
    Verdict,
    Zero,
    ZeroKind,
)
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import (
    Bar,
    Flat,
    Material,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.sources.simulated.small_campaign import SmallCampaign
from gaugewright.sources.simulated.small_papers import CONTACT_OHM, Papers, limit

__all__ = ["SmallUids", "lay_down"]

Add = Callable[[object], Uid]

_ZERO_AT = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
_REMADE_AT = _ZERO_AT + timedelta(minutes=30)
_ZERO_NOISE_SHARE = 0.15  # noise of a mean of 50 scans, over that of one


@dataclass
class SmallUids:
    """Uids of a small campaign's records, by label of gauge where there is one of each."""

    material: Uid
    pack: Uid
    bar: Uid
    instrument: Uid
    load_cell: Uid
    point: Uid
    gauges: dict[str, Uid]
    circuits: dict[str, Uid]
    connections: dict[str, Uid]
    zeros: dict[str, Uid]


def lay_down(
    campaign: SmallCampaign, add: Add, *, limits: Mapping[str, float] | None = None
) -> SmallUids:
    """Make the records of a small campaign through ``add``; ``connections`` are those now valid.

    ``limits`` adds the allowances as limits, for campaigns that weren't given any.
    """
    papers = campaign.papers
    person = add(Person("bench", "Nobody Real (invented)"))
    for label, value in (limits or {}).items():
        unit = {"lead warming difference": "K", "misalignment allowance": "rad"}.get(label, "1")
        add(Limit(label, label, value, unit, "what this campaign was drawn from", False))
    material, bar = _metal(papers, add)
    pack = add(papers.pack)
    gauges: dict[str, Uid] = {}
    for n, label in enumerate(papers.labels):
        station = add(
            Station(label, bar, "end of the bar", 0.3 + 0.1 * (n // 2), (n % 2) * 3.14159)
        )
        add(Flat(station, papers.flat_width, opposite=True))
        partner = gauges[papers.labels[n - 1]] if n % 2 else None
        gauges[label] = add(Gauge(label, pack, station, 0.0, partner, number_in_pack=n + 1))
    point = add(TemperaturePoint("T", "on the bar", tuple(gauges.values()), papers.point_doubt))
    cell = add(Sensor("load cell", "force", 1, papers.load_gain, papers.load_offset))
    _lay_down_insulation(campaign, gauges, person, add)
    instrument = add(_instrument(papers))
    uids = SmallUids(material, pack, bar, instrument, cell, point, gauges, {}, {}, {})
    for n, label in enumerate(papers.labels):
        _lay_down_circuit(campaign, n, label, uids, add)
    return uids


def _metal(papers: Papers, add: Add) -> tuple[Uid, Uid]:
    material = add(
        Material(
            "bar steel",
            SteelLaw.BILINEAR,
            papers.elastic_modulus,
            papers.thermal_expansion,
            papers.poisson_ratio,
            papers.yield_strength,
            papers.hardening_modulus,
        )
    )
    specimen = add(Specimen("bar in tension", SpecimenKind.BARE_METAL, "invented", 1.2))
    bar = Bar("S", specimen, material, "d16", papers.diameter, papers.area, 1.2)
    return material, add(bar)


def _instrument(papers: Papers) -> Instrument:
    return Instrument(
        "recorder",
        "invented",
        papers.recorder_gain,
        0.0,
        Stated(0.0, 0.001, Meaning.LIMIT, Basis.STATED, "certificate"),
        True,
        stability=papers.recorder_stability,
    )


def _lay_down_insulation(
    campaign: SmallCampaign, gauges: dict[str, Uid], person: Uid, add: Add
) -> None:
    meter = add(Meter("insulation meter", "ohm", 0.03, 0.0, 2e10, 50.0))
    for label, value in zip(campaign.papers.labels, campaign.insulation.tolist(), strict=True):
        reading = GateReading(
            "insulation",
            value,
            Censor.EXACT,
            meter,
            f"{value / 1e6:.1f} MΩ",
            20.0,
            _ZERO_AT,
            _ZERO_AT,
        )
        add(
            GateCheck(
                gauges[label],
                Gate.BEFORE_TEST,
                (reading,),
                Verdict.PASS,
                "fit for a short test",
                (),
                person,
            )
        )


def _lay_down_circuit(
    campaign: SmallCampaign, n: int, label: str, uids: SmallUids, add: Add
) -> None:
    papers, gauge = campaign.papers, uids.gauges[label]
    ohm = papers.pack.gauge_resistance.value
    lead = add(Lead(f"cable {label}", 3, 15.0, papers.lead_resistance, 20.0))
    arms = (Arm(1, 1, gauge), Arm(2, -1, resistance=limit(ohm, 0.0005 * ohm, "certificate")))
    circuit = add(BridgeCircuit(label, Topology.QUARTER_THREE_WIRE, arms, lead))
    channel = add(Channel(label, uids.instrument, n + 1, label))
    setting = add(ChannelSetting(channel, ReadingKind.RATIO, "V/V", 2.5))
    begins = _ZERO_AT - timedelta(hours=1)
    first_ends = _REMADE_AT if n == 0 else None
    first = now = add(Connection(circuit, channel, setting, begins, first_ends))
    carried: tuple[Uid, ...] = ()
    transfer = None
    if n == 0:
        now = add(Connection(circuit, channel, setting, _REMADE_AT + timedelta(minutes=2)))
        carried = (now,)
        # One lead of a bridge with equal arms: a quarter of its relative change.
        doubt = CONTACT_OHM / (4 * ohm)
        transfer = Stated(0.0, doubt, Meaning.ONE_SIGMA, Basis.ASSUMED, "contact of a plug")
    noise = papers.noise * _ZERO_NOISE_SHARE
    zero = Zero(
        ZeroKind.BEFORE_TEST,
        first,
        Stated(float(campaign.zero_ratio[n]), noise, Meaning.ONE_SIGMA, Basis.MEASURED, "mean"),
        Stated(campaign.zero_temperature_degc, 0.05, Meaning.LIMIT, Basis.MEASURED, "mean"),
        _ZERO_AT,
        carried_to=carried,
        transfer=transfer,
    )
    uids.circuits[label], uids.connections[label] = circuit, now
    uids.zeros[label] = add(zero)
