"""The records of an odd beam: laid down once, copied for each beam, its readings brought in."""

import importlib.util
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

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
from gaugewright.records.identity import Uid, seeded_context
from gaugewright.records.member import BarPlace, Concrete, LoadPoint, Member, Outline, OutlineShape
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Clock, ReadingProfile
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import (
    Bar,
    Campaign,
    Material,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import shipped_records
from gaugewright.services.reviewing import arbiter, review
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros
from gaugewright.store.campaign import CampaignStore
from tests.services import odd_beams as odd

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider, exact, Tiny = (
    _tiny.BEGINS, _tiny.divider_mv_per_v, _tiny.exact, _tiny.Tiny
)  # fmt: skip
TEST = BEGINS + timedelta(hours=1)


def about(value, share):
    """A value known to a share of itself, one standard deviation."""
    return Stated(value, share * value, Meaning.ONE_SIGMA)


def lay_down(folder):
    """A campaign without readings; returns uids by name."""
    context = seeded_context(datetime(2026, 5, 4, 7, 0, tzinfo=UTC))
    campaign = Campaign("beam", "Beam (invented)", "UTC", invented=True)
    with CampaignStore.create(folder, campaign, context) as store, store.several():
        tiny = Tiny(store)
        for limit in shipped_records():
            store.add(limit)
        _metal(tiny)
        _member(tiny)
        _recorder(tiny)
        for number, label in enumerate(odd.GAUGES):
            _gauge(tiny, number, label)
        _others(tiny)
    return tiny.uid


def _metal(tiny):
    steel = Material(
        "B500", SteelLaw.BILINEAR, about(odd.STEEL, 0.01), exact(12e-6), exact(0.3),
        about(odd.YIELD, 0.01), exact(2e9),
    )  # fmt: skip
    tiny.add("steel", steel)
    tiny.add("beam", Specimen("beam", SpecimenKind.CAST_MEMBER))
    for label in odd.BARS:
        bar = Bar(label, tiny.uid["beam"], tiny.uid["steel"], "d16", exact(0.016),
                  about(odd.AREA, 0.005), odd.SPAN)  # fmt: skip
        tiny.add(label, bar)


def _member(tiny):
    mix = Concrete(
        "mix", about(38e6, 0.05), about(odd.CONCRETE, 0.05), about(odd.TENSION, 0.08), exact(0.0)
    )
    tiny.add("mix", mix)
    bars = tuple(
        BarPlace(tiny.uid[label], about(odd.DEPTH, 0.005), exact(across), exact(0.0))
        for label, across in zip(odd.BARS, (-0.1, 0.1), strict=True)
    )
    tiny.add(
        "member",
        Member(
            "beam", tiny.uid["beam"], tiny.uid["mix"],
            Outline(OutlineShape.RECTANGLE, exact(odd.HEIGHT), exact(odd.WIDTH)),
            bars, "west support", (exact(0.0), exact(odd.SPAN)),
            tuple(LoadPoint(exact(x), 0.5) for x in (odd.ARM, odd.SPAN - odd.ARM)),
        ),
    )  # fmt: skip


def _recorder(tiny):
    pack = GaugePack(
        "pack", "invented", exact(350.0), exact(2.0), 3e-3, 1.5e-3, exact(0.0),
        large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        thermal_output=ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, exact(0.0)),
    )  # fmt: skip
    tiny.add("pack", pack)
    tiny.add("recorder", Instrument("R", "invented", exact(1.0), 0.0, exact(0.0), True))
    tiny.add("profile", ReadingProfile("P", "test", "{}"))
    tiny.add("clock", Clock("K", "UTC", 1.0))
    tiny.add("lead", Lead("cable", 3, 10.0, exact(3.5), 20.0))


def _gauge(tiny, number, label):
    bar, station, side = label[:2], int(label[3]), label[4]
    angle = 0.0 if side == "T" else float(np.pi)
    place = odd.STATIONS[station - 1]
    made = Station(label, tiny.uid[bar], "end", place, angle, exact(place))
    at = tiny.add(f"station {label}", made)
    opposite = tiny.uid[label[:4] + "T"] if side == "U" else None
    gauge = tiny.add(label, Gauge(label, tiny.uid["pack"], at, opposite=opposite))
    circuit = tiny.add(
        f"circuit {label}",
        BridgeCircuit(label, Topology.QUARTER_THREE_WIRE, (Arm(1, 1, gauge),), tiny.uid["lead"]),
    )
    channel = tiny.add(f"channel {label}", Channel(label, tiny.uid["recorder"], number, label))
    setting = tiny.add(f"setting {label}", ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5))
    begins = BEGINS - timedelta(hours=1)
    tiny.add(f"connection {label}", Connection(circuit, channel, setting, begins))


def _others(tiny):
    gauges = tuple(tiny.uid[label] for label in odd.GAUGES)
    for number, (name, unit, subject) in enumerate(
        (
            ("P", "kN", Sensor("cell", "force", 1, exact(1.0), exact(0.0))),
            ("T", "°C", TemperaturePoint("T", "bar", gauges, exact(0.0))),
        ),
        start=len(odd.GAUGES),
    ):
        uid = tiny.add(name, subject)
        channel = tiny.add(f"channel {name}", Channel(name, tiny.uid["recorder"], number, name))
        setting = tiny.add(f"setting {name}", ChannelSetting(channel, ReadingKind.OTHER, unit))
        begins = BEGINS - timedelta(hours=1)
        tiny.add(f"connection {name}", Connection(uid, channel, setting, begins))


def with_readings(base, uid, folder, made):
    """Copy of the campaign with a beam's zero and test brought in; open for writing."""
    shutil.copytree(base, folder)
    store = CampaignStore.open(folder, seeded_context(datetime(2026, 5, 5, tzinfo=UTC)))
    tiny = Tiny(store, dict(uid))
    rng = np.random.default_rng(7)
    still = {label: divider(1e-6 * rng.standard_normal(60)) for label in made.ratio}
    flat = np.zeros(60)
    with store.several():
        tiny.record("zero", BEGINS, {**still, "P": flat, "T": flat + 20})
        for label in made.ratio:
            zeros.take_zero(
                store, kind=ZeroKind.BEFORE_TEST, connection=uid[f"connection {label}"],
                recording=tiny.uid["zero"], begins=BEGINS, ends=BEGINS + timedelta(seconds=60),
            )  # fmt: skip
        settings = {label: Uid(uid[f"setting {label}"]) for label in odd.GAUGES}
        odd.recorded(tiny, made, divider, TEST, settings)
    return store


def drawn(seed, number, kind, extra=0):
    """Generator of one trial: the same whatever was drawn before it."""
    return np.random.default_rng([seed, number, extra, *map(ord, kind)])


def trial(base, uid, kind, seed, number):
    """(gauge, code) of every finding on one beam, its bad gauges, and how many it has."""
    made = odd.beam(drawn(seed, number, kind), kind)
    folder = base.with_name(f"{kind} {number}")
    with with_readings(base, uid, folder, made) as store:
        found = review.find(store)
        told = [(store.entry(e.record.subject).record.label, e.record.code) for e in found]
    shutil.rmtree(folder)
    return told, made.bad, len(made.ratio)


def verdict(base, uid, kind, seed, number, *, others):
    """Verdict on the gauge that something happened to, asked at that instant."""
    rng = drawn(seed, number, kind, int(others))
    label = str(rng.choice(odd.GAUGES))
    if kind in ("cracking", "yielding"):
        label = f"{label[:3]}2{label[4]}"  # where the moment is large enough for both
    to_yield = True if kind == "yielding" else None
    kept = odd.GAUGES if others else (label,)
    made = odd.beam(rng, kind, to_yield=to_yield, kept=kept)
    row = {"cracking": made.cracks[1], "yielding": made.yields.get(label, 0)}.get(kind)
    if row is None:
        label, row = made.bad[0], made.place[0]
    folder = base.with_name(f"{kind} {number} {others}")
    with with_readings(base, uid, folder, made) as store:
        desk = Desk(store, Book.read(store))
        watched = tuple(review.everybody(desk))
        one = next(each for each in watched if each.gauge.record.label == label)
        time = one.stretches[-1].time
        judged = arbiter.judged(desk, watched, one, float(time[min(row + 1, time.size - 1)]))
    shutil.rmtree(folder)
    return judged
