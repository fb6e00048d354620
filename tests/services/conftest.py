"""A tiny campaign whose every number can be worked out by hand: a pulled bar with two gauges."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

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
from gaugewright.records.gauges import Gauge, GaugePack, LargeStrainLaw
from gaugewright.records.identity import seeded_context
from gaugewright.records.proof import Limit
from gaugewright.records.readings import (
    Clock,
    ClockMap,
    LoadStep,
    ReadingProfile,
    Recording,
    RecordingColumn,
)
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import (
    Bar,
    Campaign,
    Flat,
    Material,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Meaning, Stated
from gaugewright.store.campaign import CampaignStore

BEGINS = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
GAUGE_FACTOR = 2.0
GRID_OHM = 350.0
LEAD_OHM = 3.5  # one hundredth of the grid: the lead loss is one per cent exactly
MODULUS = 200e9
AREA = 200e-6
ALLOWANCES = {
    "installation scatter": 0.0,
    "misalignment allowance": 0.0,
    "zero drift allowance": 0.0,
    "lead warming difference": 0.0,
    "contact change": 0.01,
    "over-range scans": 3.0,
    "frozen scans": 50.0,
    "falling away": 0.1,
    "local bending share": 0.1,
    "silent share": 0.1,
    "insulation after pour": 1e8,
    "gauge resistance from nominal": 0.005,
}


def exact(value):
    """A value nobody doubts."""
    return Stated(value, 0.0, Meaning.LIMIT)


def divider_mv_per_v(strain):
    """Reading of a three-wire quarter bridge, by resistances and voltage division alone."""
    grid = GRID_OHM * (1 + GAUGE_FACTOR * np.asarray(strain))
    active, completion = grid + LEAD_OHM, GRID_OHM + LEAD_OHM
    return 1e3 * (active / (active + completion) - 0.5)


@dataclass
class Tiny:
    """The store and the uids a test needs."""

    store: CampaignStore
    uid: dict = field(default_factory=dict)

    def add(self, key, record):
        """Write a record down and remember its uid."""
        self.uid[key] = self.store.add(record).uid
        return self.uid[key]

    def record(self, label, begins, columns, *, rate=0.0, offset=None):
        """Publish a recording: columns of the recorder by name, one row a second."""
        rows = len(next(iter(columns.values())))
        units = {"P": "kN", "T": "°C"}
        made = tuple(
            RecordingColumn(name, f"{name.lower()}_x", units.get(name, "mV/V"), "value")
            for name in columns
        )
        marks = {
            name: np.flatnonzero(np.isinf(np.asarray(values, dtype=float)))
            for name, values in columns.items()
        }
        with self.store.new_recording(made) as writer:
            values = {}
            for name, given in columns.items():
                data = np.asarray(given, dtype=float)
                series = pl.Series(np.where(np.isfinite(data), data, np.nan)).fill_nan(None)
                values[f"{name.lower()}_x"] = series
                if marks[name].size:
                    first, last = int(marks[name][0]), int(marks[name][-1])
                    writer.mark(name, first, last, "overrange", "OVER")
            writer.write(np.arange(rows, dtype=np.int64) * 10**9, {}, pl.DataFrame(values))
            entry = writer.publish(
                lambda uid: Recording(
                    label,
                    "tiny.csv",
                    "0" * 64,
                    self.uid["profile"],
                    self.uid["clock"],
                    self.uid["recorder"],
                    rows,
                    0,
                    made,
                    (),
                    "",
                    "test",
                )
            )
        self.uid[label] = entry.uid
        self.store.add(ClockMap(entry.uid, begins, offset or exact(0.0), rate, "by hand"))
        return entry


def laid_down(store):
    """Records of the pulled bar: gauges G-T and G-U opposite each other, load cell, thermometer."""
    tiny = Tiny(store)
    for label, value in ALLOWANCES.items():
        store.add(Limit(label, label, value, "1", "of this test"))
    steel = tiny.add(
        "steel",
        Material(
            "steel",
            SteelLaw.BILINEAR,
            exact(MODULUS),
            exact(12e-6),
            exact(0.3),
            exact(500e6),
            exact(2e9),
        ),
    )
    specimen = tiny.add("specimen", Specimen("bar", SpecimenKind.BARE_METAL))
    bar = tiny.add("bar", Bar("S", specimen, steel, "d16", exact(0.016), exact(AREA)))
    pack = tiny.add(
        "pack",
        GaugePack(
            "pack",
            "invented",
            exact(GRID_OHM),
            exact(GAUGE_FACTOR),
            3e-3,
            1.5e-3,
            exact(0.0),
            large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        ),
    )
    tiny.add("recorder", Instrument("R", "invented", exact(1.0), 0.0, exact(0.0), True))
    tiny.add("profile", ReadingProfile("P", "test", "{}"))
    tiny.add("clock", Clock("K", "UTC", 1.0))
    lead = tiny.add("lead", Lead("cable", 3, 10.0, exact(LEAD_OHM), 20.0))
    gauges = []
    for number, label in enumerate(("G-T", "G-U")):
        station = tiny.add(f"station {label}", Station(label, bar, "end", 0.3, number * np.pi))
        opposite = gauges[0] if number else None
        gauges.append(tiny.add(label, Gauge(label, pack, station, opposite=opposite)))
        circuit = tiny.add(
            f"circuit {label}",
            BridgeCircuit(
                label,
                Topology.QUARTER_THREE_WIRE,
                (Arm(1, 1, gauges[-1]),),
                lead,
                dummy=None,
            ),
        )
        channel = tiny.add(f"channel {label}", Channel(label, tiny.uid["recorder"], number, label))
        setting = tiny.add(
            f"setting {label}", ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5)
        )
        tiny.add(
            f"connection {label}",
            Connection(circuit, channel, setting, BEGINS - timedelta(hours=1)),
        )
    for name, unit, subject in (
        ("P", "kN", Sensor("cell", "force", 1, exact(1.0), exact(0.0))),
        ("T", "°C", TemperaturePoint("T", "bar", tuple(gauges), exact(0.0))),
    ):
        uid = tiny.add(name, subject)
        number = {"P": 2, "T": 3}[name]
        channel = tiny.add(f"channel {name}", Channel(name, tiny.uid["recorder"], number, name))
        setting = tiny.add(f"setting {name}", ChannelSetting(channel, ReadingKind.OTHER, unit))
        tiny.add(
            f"connection {name}",
            Connection(uid, channel, setting, BEGINS - timedelta(hours=1)),
        )
    return tiny


@pytest.fixture
def tiny(tmp_path):
    """The pulled bar's records, no readings yet."""
    context = seeded_context(datetime(2026, 5, 4, 7, 0, tzinfo=UTC))
    campaign = Campaign("tiny", "Pulled bar (invented)", "UTC", invented=True)
    with CampaignStore.create(tmp_path / "tiny", campaign, context) as store:
        with store.several():
            made = laid_down(store)
        yield made


@pytest.fixture
def add_flat():
    """Grind a flat at a station of the tiny campaign."""

    def grind(tiny, label, width, **words):
        return tiny.add(f"flat {label}", Flat(tiny.uid[f"station {label}"], exact(width), **words))

    return grind


@pytest.fixture
def add_step():
    """Name a stretch of the tiny test, in seconds from its first row."""

    def name(tiny, label, begins, ends, load):
        first = BEGINS + timedelta(hours=1)
        step = LoadStep(
            label, first + timedelta(seconds=begins), first + timedelta(seconds=ends), load
        )
        return tiny.add(label, step)

    return name
