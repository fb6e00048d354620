"""How fast readings of many channels become strain, against the table engine copying as much.

Baseline: polars reads the recording's raw Parquet (all the columns that reducing reads) and
writes a file with the same number and type of columns as reducing writes. Ours: the whole chain
of every channel (ratio, quarter bridge, zero, lead loss, gauge factor at temperature, large
strain, allowances, thermal output), block by block. Rounds are interleaved; medians and the
spread are printed, with the peak memory of each way in a process of its own.
Run with ``python benchmarks/reduce_speed.py [channels] [rows] [rounds]``.
"""

import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright.records import Entry
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
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import (
    Clock,
    ClockMap,
    ReadingProfile,
    Recording,
    RecordingColumn,
)
from gaugewright.records.sensors import TemperaturePoint
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
from gaugewright.services.campaign.laboratory import campaign_defaults
from gaugewright.services.strain.strain_files import write_strains
from gaugewright.services.strain.strains import Desk
from gaugewright.settings import load
from gaugewright.store.campaign import CampaignStore

BEGINS = datetime(2026, 1, 1, tzinfo=UTC)
BLOCK = 65_536


def k2(value: float, plus_minus: float) -> Stated:
    """A stated value with k = 2."""
    return Stated(value, plus_minus, Meaning.TWO_SIGMA)


def made(folder: Path, channels: int, rows: int) -> CampaignStore:
    """Invented campaign: that many quarter bridges and one thermometer in one recording."""
    campaign = Campaign("speed", "Invented campaign for timing", "UTC", invented=True)
    store = CampaignStore.create(
        folder, campaign, working_context(), defaults=campaign_defaults(load(environment={}))
    )
    with store.several():
        columns = laid_down(store, channels)
    published(store, columns, rows)
    return store


def laid_down(store: CampaignStore, channels: int) -> tuple[RecordingColumn, ...]:
    """Records of all gauges; returns the recording's columns."""

    def add(record: object) -> str:
        return store.add(record).uid

    metal = add(
        Material(
            "steel",
            SteelLaw.BILINEAR,
            k2(200e9, 2e9),
            k2(11.6e-6, 0.4e-6),
            k2(0.29, 0.01),
            k2(5e8, 5e6),
            k2(2e9, 2e8),
        )
    )
    specimen = add(Specimen("beam", SpecimenKind.CAST_MEMBER))
    bar = add(Bar("L1", specimen, metal, "d16", k2(0.016, 1e-4), k2(201e-6, 1e-6)))
    pack = add(
        GaugePack(
            "pack",
            "invented",
            k2(350.0, 1.0),
            k2(2.08, 0.02),
            3e-3,
            1.6e-3,
            k2(0.004, 0.002),
            gauge_factor_slope=k2(9e-5, 1e-5),
            thermal_output=ThermalOutput(
                (-18e-6, 1.3e-6, -0.025e-6), 2.0, 11e-6, 0.0, 70.0, k2(0.0, 6e-7)
            ),
            large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        )
    )
    recorder = add(Instrument("R", "invented", k2(1.0, 1e-3), 0.0, k2(0.0, 1e-3), True))
    lead = add(Lead("cable", 3, 18.0, k2(2.2, 0.05), 20.0))
    columns = [RecordingColumn("T", "t_degc", "°C", "value")]
    gauges = []
    for number in range(channels):
        name = f"C{number:03d}"
        station = add(Station(name, bar, "west end", 0.01 * number))
        gauge = add(Gauge(name, pack, station))
        gauges.append(gauge)
        arms = (Arm(1, 1, gauge),)
        circuit = add(BridgeCircuit(name, Topology.QUARTER_THREE_WIRE, arms, lead))
        channel = add(Channel(name, recorder, number + 1, name))
        setting = add(ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5))
        connection = add(Connection(circuit, channel, setting, BEGINS - timedelta(days=1)))
        add(
            Zero(
                ZeroKind.BEFORE_TEST,
                connection,
                k2(1e-4 * (number % 7), 1e-7),
                k2(20.0, 0.1),
                BEGINS,
            )
        )
        columns.append(RecordingColumn(name, f"{name.lower()}_mv_per_v", "mV/V", "value"))
    point = add(TemperaturePoint("T", "bar", tuple(gauges), k2(0.0, 0.3)))
    warm = add(Channel("T", recorder, 0, "T"))
    setting = add(ChannelSetting(warm, ReadingKind.OTHER, "°C"))
    add(Connection(point, warm, setting, BEGINS - timedelta(days=1)))
    return tuple(columns)


def published(store: CampaignStore, columns: tuple[RecordingColumn, ...], rows: int) -> None:
    """Random readings with five decimals, written block by block, and their clock."""
    random = np.random.default_rng(2)
    instrument = store.labelled(Instrument, "R").uid
    profile = store.add(ReadingProfile("P", "invented", "{}")).uid
    clock = store.add(Clock("K", "UTC", 0.01)).uid
    with store.new_recording(columns) as writer:
        for first in range(0, rows, BLOCK):
            count = min(BLOCK, rows - first)
            values = {
                column.field: (
                    random.normal(20.0, 0.1, count).round(2)
                    if column.field == "t_degc"
                    else random.normal(1.0, 0.4, count).round(5)
                )
                for column in columns
            }
            elapsed = (np.arange(first, first + count) * 10_000_000).astype(np.int64)
            writer.write(elapsed, {}, pl.DataFrame(values))
        entry = writer.publish(
            lambda uid: Recording(
                "timing", "none", "0" * 64, profile, clock, instrument, rows, 0, columns, (), "", ""
            )
        )
    store.add(ClockMap(entry.uid, BEGINS, k2(0.0, 0.0), 0.0, "invented"))


def reduced(store: CampaignStore) -> Path:
    """Strain of the recording from scratch; returns the folder it was written to."""
    desk = Desk(store, Book.read(store))
    key = write_strains(desk, desk.book.of(Recording)[0], ZeroKind.BEFORE_TEST)
    found = store.derived(key) if key else None
    if found is None:
        raise SystemExit("nothing was reduced")
    return found


def engine_alone(store: CampaignStore, out: Path) -> None:
    """The table engine reading as many columns and writing as many, as 32-bit numbers."""
    entry: Entry[Recording] = store.entries(Recording)[0]
    scan = store.readings(entry.uid).scan()
    fields = [c.field for c in entry.record.columns if c.field != "t_degc"]
    scan.select(pl.col(fields).cast(pl.Float32)).sink_parquet(out, compression="zstd")


def once(which: str, folder: Path) -> None:
    """One way in a process of its own: prints seconds and peak memory."""
    with CampaignStore.open(folder, working_context()) as store:
        out = folder.with_name("engine.parquet")
        began = time.perf_counter()
        if which == "ours":
            found = reduced(store)
            seconds = time.perf_counter() - began
            shutil.rmtree(found)
        else:
            engine_alone(store, out)
            seconds = time.perf_counter() - began
            out.unlink()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{seconds} {peak}")


def main() -> None:
    """Make the campaign, time both ways in turn, print medians and the ratio."""
    if len(sys.argv) > 2 and sys.argv[1] in ("ours", "engine"):
        once(sys.argv[1], Path(sys.argv[2]))
        return
    channels, rows, rounds = (
        int(sys.argv[n]) if len(sys.argv) > n else default
        for n, default in ((1, 200), (2, 200_000), (3, 3))
    )
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "campaign"
        made(place, channels, rows).close()
        times: dict[str, list[float]] = {"ours": [], "engine": []}
        peaks: dict[str, float] = {}
        for _ in range(rounds):
            for which, taken in times.items():
                command = [sys.executable, __file__, which, str(place)]
                answer = subprocess.run(command, capture_output=True, text=True, check=True)
                seconds, peak = (float(text) for text in answer.stdout.split())
                taken.append(seconds)
                peaks[which] = max(peaks.get(which, 0.0), peak)
    print(f"{channels} channels, {rows} rows, {rounds} rounds in turn")
    for which, taken in times.items():
        middle = statistics.median(taken)
        print(
            f"{which:7s} median {middle:7.2f} s, from {min(taken):.2f} to {max(taken):.2f} s, "
            f"peak {peaks[which]:.0f} MiB"
        )
    ratio = statistics.median(times["ours"]) / statistics.median(times["engine"])
    print(f"reduce over engine alone: {ratio:.2f} (aim: at most 1.5)")


if __name__ == "__main__":
    main()
