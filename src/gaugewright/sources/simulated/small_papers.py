"""What the records of a small campaign state, and the records themselves."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

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
from gaugewright.records.gauges import Gauge, GaugePack, LargeStrainLaw, ThermalOutput
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

if TYPE_CHECKING:
    from gaugewright.sources.simulated.small_campaign import SmallCampaign

__all__ = ["CONTACT_OHM", "PAPERS", "Papers", "SmallUids", "lay_down"]

Add = Callable[[object], Uid]

# Standard uncertainty of what remaking a plug adds to the bridge [ohm].
CONTACT_OHM = 0.010
_ZERO_AT = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
_REMADE_AT = _ZERO_AT + timedelta(minutes=30)
_ZERO_NOISE_SHARE = 0.15  # noise of a mean of 50 scans, over that of one


def _k2(value: float, plus_minus: float, source: str) -> Stated:
    return Stated(value, plus_minus, Meaning.TWO_SIGMA, Basis.MEASURED, source)


def _limit(value: float, plus_minus: float, source: str) -> Stated:
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.STATED, source)


def _unknown(value: float, plus_minus: float, source: str) -> Stated:
    return Stated(value, plus_minus, Meaning.UNKNOWN, Basis.STATED, source)


@dataclass(frozen=True, slots=True)
class Papers:
    """Cards, certificates and measurements of one small campaign [SI]; all of it invented."""

    pack: GaugePack
    lead_resistance: Stated
    noise: float
    labels: tuple[str, ...] = ()
    elastic_modulus: Stated = field(default_factory=lambda: _k2(200e9, 2.4e9, "coupons"))
    yield_strength: Stated = field(default_factory=lambda: _k2(540e6, 8e6, "coupons"))
    hardening_modulus: Stated = field(default_factory=lambda: _k2(2.2e9, 0.3e9, "coupons"))
    poisson_ratio: Stated = field(default_factory=lambda: _limit(0.29, 0.01, "usual"))
    thermal_expansion: Stated = field(default_factory=lambda: _limit(11.6e-6, 0.4e-6, "usual"))
    area: Stated = field(default_factory=lambda: _k2(201.0e-6, 0.9e-6, "mass and length"))
    diameter: Stated = field(default_factory=lambda: _limit(0.0160, 0.0001, "calliper"))
    flat_width: Stated = field(default_factory=lambda: _limit(0.0050, 0.0003, "calliper"))
    recorder_gain: Stated = field(default_factory=lambda: _k2(1.0, 0.001, "certificate"))
    recorder_stability: Stated = field(default_factory=lambda: _limit(0.0, 8e-7, "certificate"))
    point_doubt: Stated = field(default_factory=lambda: _limit(0.0, 0.5, "thermometer"))
    load_gain: Stated = field(default_factory=lambda: _k2(1.0, 0.005, "certificate"))
    load_offset: Stated = field(default_factory=lambda: _k2(0.0, 100.0, "certificate"))
    step: float = 1e-8

    def for_gauges(self, count: int) -> "Papers":
        """The same papers with a label for each gauge: S1-T, S1-U, S2-T, ..."""
        labels = tuple(f"S{n // 2 + 1}-{'TU'[n % 2]}" for n in range(count))
        return replace(self, labels=labels)


def _pack(ohm: float, factor: Stated, curve: ThermalOutput) -> GaugePack:
    return GaugePack(
        label=f"{ohm:.0f} ohm, small campaign",
        lot="invented",
        gauge_resistance=_limit(ohm, 0.003 * ohm, "card"),
        gauge_factor=factor,
        grid_length=3e-3,
        grid_width=1.5e-3,
        transverse_sensitivity=_unknown(0.006, 0.002, "card"),
        gauge_factor_slope=_unknown(1e-4, 0.2e-4, "card"),
        thermal_output=curve,
        strain_limit=0.08,
        large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        note="invented",
    )


PAPERS: tuple[Papers, ...] = (
    Papers(
        _pack(
            350.0,
            _k2(2.08, 0.0208, "card"),
            ThermalOutput(
                (-15.1e-6, 1.1e-6, -0.021e-6, 5e-11),
                2.0,
                11.0e-6,
                5.0,
                70.0,
                _k2(0.0, 0.6e-6, "card"),
            ),
        ),
        _limit(2.22, 0.044, "length and wire size"),
        2e-7,
    ),
    Papers(
        _pack(
            120.0,
            _unknown(2.11, 0.015, "card"),
            ThermalOutput(
                (19.0e-6, -1.3e-6, 0.024e-6, -4e-11),
                2.11,
                11.7e-6,
                0.0,
                60.0,
                _k2(0.0, 0.5e-6, "card"),
            ),
        ),
        _limit(1.03, 0.021, "length and wire size"),
        4e-7,
    ),
)


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
    campaign: "SmallCampaign", add: Add, *, limits: Mapping[str, float] | None = None
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
    campaign: "SmallCampaign", gauges: dict[str, Uid], person: Uid, add: Add
) -> None:
    meter = add(Meter("insulation meter", "ohm", 0.03, 0.0, 2e10, 50.0))
    for label, value in zip(campaign.papers.labels, campaign.insulation.tolist(), strict=True):
        reading = GateReading(
            "insulation",
            value,
            Censor.EXACT,
            meter,
            f"{value / 1e6:.1f} MOhm",
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
    campaign: "SmallCampaign", n: int, label: str, uids: SmallUids, add: Add
) -> None:
    papers, gauge = campaign.papers, uids.gauges[label]
    ohm = papers.pack.gauge_resistance.value
    lead = add(Lead(f"cable {label}", 3, 15.0, papers.lead_resistance, 20.0))
    arms = (Arm(1, 1, gauge), Arm(2, -1, resistance=_limit(ohm, 0.0005 * ohm, "certificate")))
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
