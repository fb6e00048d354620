"""What a whole job takes: a file brought in, reviewed, reduced and plotted, step by step.

A campaign is invented whose one recorder writes quarter bridges, a load cell and a thermometer
into one text file: load that rises in cycles, noise, and a few faults. Each step runs in a process
of its own and tells its time by the clock, its processors' time and its largest memory.

Beside each step stands a baseline, in a process of its own too: for bringing in, the table engine
turning the same text into Parquet; for reducing, the table engine reading the recording and
writing as many columns of the same type; for plotting, the engine reading the raw column and numpy
taking the extremes of each pixel. Reviewing has no like: it is held against bringing in.
Run with ``python benchmarks/whole_job.py [channels] [rows] [rounds]``; one round takes some
minutes at 200 channels of a million rows, and five times the text's size on the disk.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
from reduce_speed import BEGINS, k2, laid_down
from reduce_speed import engine_alone as engine_reduces

from gaugewright.calc.pyramid import bins_of
from gaugewright.records.electrical import (
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    ReadingKind,
)
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Clock, ClockMap, Recording
from gaugewright.records.sensors import Sensor
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign.laboratory import campaign_defaults
from gaugewright.services.reading import pyramid
from gaugewright.services.reading.readings import bring_in
from gaugewright.services.reducing import reduction
from gaugewright.services.reviewing import review
from gaugewright.settings import load
from gaugewright.sources import delimited
from gaugewright.store.campaign import CampaignStore

CYCLES = 12  # of the load, each higher than the last
TOP_KN = 120.0
PIXELS = 1200
PLOTTED = 5  # channels, whole record and a hundredth of it


def campaign_made(folder: Path, channels: int) -> None:
    """Records of gauges, thermometer and load cell, without a reading."""
    campaign = Campaign("whole", "Invented campaign for timing", "UTC", invented=True)
    context, limits = working_context(), campaign_defaults(load(environment={}))
    store = CampaignStore.create(folder, campaign, context, defaults=limits)
    with store, store.several():
        laid_down(store, channels)
        recorder = store.labelled(Instrument, "R").uid
        cell = store.add(Sensor("F", "force", 1, k2(1.0, 0.002), k2(0.0, 20.0))).uid
        channel = store.add(Channel("F", recorder, channels + 1, "F")).uid
        setting = store.add(ChannelSetting(channel, ReadingKind.OTHER, "kN")).uid
        store.add(Connection(cell, channel, setting, BEGINS - timedelta(days=1)))


def text_written(path: Path, channels: int, rows: int) -> None:
    """One text file: time, temperature, load and every gauge, some of them with a fault."""
    noise = np.random.default_rng(11)
    names = ["Time (s)", "T (°C)", "F (kN)", *(f"C{n:03d} (mV/V)" for n in range(channels))]
    gains = noise.uniform(0.6, 1.4, channels)
    with path.open("w", encoding="utf-8") as file:
        file.write(";".join(names) + "\n")
        for first in range(0, rows, 65_536):
            row = np.arange(first, min(first + 65_536, rows))
            phase = CYCLES * row / rows
            kn = TOP_KN * (np.floor(phase) + 1) / CYCLES * np.sin(np.pi * (phase % 1)) ** 2
            told: dict[str, object] = {names[0]: (row / 100).round(2)}
            told[names[1]] = (20 + np.sin(row / rows * 6)).round(2)
            told[names[2]] = (kn + noise.normal(0, 0.05, row.size)).round(3)
            for n in range(channels):
                value = 1e-3 * (n % 7) + 0.005 * gains[n] * kn + noise.normal(0, 4e-4, row.size)
                told[names[n + 3]] = faulted(value, row, n, rows).round(5)
            file.write(pl.DataFrame(told).write_csv(separator=";", include_header=False))


def faulted(value: np.ndarray, row: np.ndarray, n: int, rows: int) -> np.ndarray:
    """What a channel writes: of every ten one leaps, one has spikes, one stops."""
    if n % 10 == 3:
        value = value + 0.05 * (row > rows // 3 + 211 * n)
    if n % 10 == 5:
        value = value + 0.08 * np.isin(row - 211 * n, [rows // 4, rows // 2, 2 * rows // 3])
    if n % 50 == 7:
        value = np.where(row > 9 * rows // 10, 0.4, value)
    return value


def brought_in(folder: Path) -> str:
    """Text into the campaign, as a person would who confirmed what was understood."""
    path = folder.with_name("text.csv")
    with CampaignStore.open(folder, working_context()) as store:
        recorder = store.labelled(Instrument, "R").uid
        layout = delimited.understand(path).layout()
        clock = Clock("K", "UTC", 0.01)
        brought = bring_in(store, path, layout, label="test", instrument=recorder, clock=clock)
        store.add(ClockMap(brought.entry.uid, BEGINS, k2(0.0, 0.0), 0.0, "invented"))
    return f"{brought.report.rows_kept} rows kept"


def reviewed(folder: Path) -> str:
    """Every check on every gauge."""
    with CampaignStore.open(folder, working_context()) as store:
        return f"{len(review.find(store))} findings"


def reduced(folder: Path) -> str:
    """Chains, strain of everything, yield loads and forces, as the command does it."""
    with CampaignStore.open(folder, working_context()) as store:
        done = reduction.reduce(store)
    return f"{len(done.chains)} chains, {len(done.results)} results"


def plotted(folder: Path) -> str:
    """Views of a few channels, whole and close, their extremes made on the way."""
    with CampaignStore.open(folder, working_context()) as store:
        times = [looked(store, again) for again in (False, True)]
    return f"again from the extremes: {1000 * times[1] / PLOTTED / 2:.1f} ms a view"


def looked(store: CampaignStore, again: bool) -> float:
    """Seconds that the views take."""
    entry = store.entries(Recording)[0]
    rows, began = entry.record.rows, time.perf_counter()
    for column in entry.record.columns[-PLOTTED:]:
        for first, last in ((0, rows - 1), (rows // 2, rows // 2 + rows // 100)):
            pyramid.view(store, entry.uid, column.field, first=first, last=last, pixels=PIXELS)
    return time.perf_counter() - began


def engine_plots(folder: Path) -> str:
    """The same views, each from the raw column."""
    with CampaignStore.open(folder, working_context()) as store:
        entry = store.entries(Recording)[0]
        rows = entry.record.rows
        paths = sorted((store.folder / "readings" / entry.uid).glob("part-*.parquet"))
        for column in entry.record.columns[-PLOTTED:]:
            for first, last in ((0, rows - 1), (rows // 2, rows // 2 + rows // 100)):
                cut = pl.scan_parquet(paths).select(column.field).slice(first, last - first + 1)
                values = cut.collect().to_series().to_numpy()
                bins_of(values, max(1, -(-values.size // PIXELS)))
    return ""


def engine_imported(folder: Path) -> str:
    """The text into one Parquet file by the table engine."""
    path, out = folder.with_name("text.csv"), folder.with_name("engine.parquet")
    with path.open(encoding="utf-8") as file:
        names = file.readline().strip().split(";")
    scan = pl.scan_csv(path, separator=";", schema=dict.fromkeys(names, pl.Float64))
    scan.sink_parquet(out, compression="zstd", compression_level=3)
    out.unlink()
    return ""


def engine_reduced(folder: Path) -> str:
    """Columns read and as many written, as 32-bit numbers."""
    out = folder.with_name("engine.parquet")
    with CampaignStore.open(folder, working_context()) as store:
        engine_reduces(store, out)
    out.unlink()
    return ""


STEPS = {
    "bring in": (brought_in, engine_imported),
    "review": (reviewed, None),
    "reduce": (reduced, engine_reduced),
    "plot": (plotted, engine_plots),
}


def one(step: str, which: int, folder: Path) -> None:
    """A step or its baseline in a process that does nothing else; prints what it took."""
    began, used = time.perf_counter(), time.process_time()
    work = STEPS[step][which]
    said = work(folder) if work else ""
    times = time.perf_counter() - began, time.process_time() - used
    status = Path("/proc/self/status")  # Linux only: the high-water mark of this process
    lines = status.read_text().splitlines() if status.exists() else []
    peak = next((int(w.split()[1]) / 1024 for w in lines if w.startswith("VmHWM")), float("nan"))
    print(json.dumps([*times, peak, said]))


def told_by(step: str, which: int, folder: Path) -> list[object]:
    """Seconds by the clock, of the processors, peak [MiB] and words of a step."""
    command = [sys.executable, __file__, "--one", step, str(which), str(folder)]
    answer = subprocess.run(command, capture_output=True, text=True, check=True)
    found: list[object] = json.loads(answer.stdout.splitlines()[-1])
    return found


def main(channels: int = 200, rows: int = 1_000_000, rounds: int = 1) -> None:
    """Do the whole job and print what each step took."""
    taken: dict[tuple[str, int], list[list[object]]] = {}
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as room:
            folder = Path(room) / "campaign"
            campaign_made(folder, channels)
            text_written(folder.with_name("text.csv"), channels, rows)
            size = folder.with_name("text.csv").stat().st_size
            for step, (_, baseline) in STEPS.items():
                for which in (0, 1) if baseline else (0,):
                    taken.setdefault((step, which), []).append(told_by(step, which, folder))
            on_disk = sizes(folder)
    print(f"{channels} channels, {rows} rows, {size / 1e6:.0f} MB of text, {rounds} round(s)")
    print("; ".join(f"{name} {mb:.0f} MB" for name, mb in on_disk.items()))
    for step, (_, baseline) in STEPS.items():
        print(line(step, taken[step, 0], taken[step, 1] if baseline else taken["bring in", 0]))


def line(step: str, ours: list[list[object]], beside: list[list[object]]) -> str:
    """One step: seconds, processors' seconds, how many times the baseline's, memory, words."""
    clock, used = middle(ours, 0), middle(ours, 1)
    base = "of bringing in" if step == "review" else f"of the engine's {middle(beside, 0):.2f} s"
    times = clock / middle(beside, 0), used / middle(beside, 1)
    return (
        f"{step:9s} {clock:7.2f} s, processors {used:7.2f} s, {times[0]:.2f} times {base} "
        f"({times[1]:.2f} by processors), peak {middle(ours, 2):.0f} MiB; {ours[-1][3]}"
    )


def middle(taken: list[list[object]], place: int) -> float:
    """Median over the rounds."""
    return statistics.median(float(str(one[place])) for one in taken)


def sizes(folder: Path) -> dict[str, float]:
    """What lies on the disk afterwards [MB]."""
    return {
        name: sum(f.stat().st_size for f in (folder / name).rglob("*") if f.is_file()) / 1e6
        for name in ("originals", "readings", "cache")
    }


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one(sys.argv[2], int(sys.argv[3]), Path(sys.argv[4]))
    else:
        main(*(int(word) for word in sys.argv[1:]))
