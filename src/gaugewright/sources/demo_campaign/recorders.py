"""The demo's two recorders: what each writes into its raw files, row by row.

Recorder A is fast, writes ratios, and stamps in UTC. Recorder B scans its channels one after the
other, writes strain as a linear instrument set to one gauge factor, and shows local time by a
clock that is some seconds off. Both have a filter that delays what they write.
"""

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from gaugewright.quantities import FloatArray
from gaugewright.sources.demo_campaign import plan
from gaugewright.sources.demo_campaign.episodes import Episode
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan
from gaugewright.sources.layout import Clock, Column, Layout
from gaugewright.sources.simulated import instrument
from gaugewright.sources.simulated.installation import drawn, stream

__all__ = [
    "RECORDERS",
    "SET_GAUGE_FACTOR",
    "Recorder",
    "converter",
    "layout_of",
    "row_seconds",
    "signals",
    "write_file",
]


@dataclass(frozen=True, slots=True)
class ColumnPlan:
    """A column beside the gauges: its name, unit in the file, what it shows, decimals."""

    name: str
    unit: str
    shows: str
    decimals: int


@dataclass(frozen=True, slots=True)
class Recorder:
    """A recorder as the campaign's papers describe it, and its true noise and steps.

    ``highest``, ``noise``, ``wander`` and ``step`` are in the unit the gauges are written in.
    """

    label: str
    serial: str
    rate_hz: float
    dwell: float
    filter_delay: float
    unit: str
    decimals: int
    highest: float
    noise: float
    wander: float
    step: float
    starts_late: float
    others: tuple[ColumnPlan, ...]

    @property
    def letter(self) -> str:
        """A or B, as its columns begin."""
        return self.label[-1]

    @property
    def gauges(self) -> tuple[tuple[GaugePlan, ...], ...]:
        """Gauges of each of its columns, in order of column."""
        names = sorted({g.column for g in GAUGES if g.column.startswith(self.letter)})
        return tuple(tuple(g for g in GAUGES if g.column == name) for name in names)

    @property
    def columns(self) -> tuple[tuple[str, str], ...]:
        """Name and unit of every value column, in order."""
        bridges = [(group[0].column, self.unit) for group in self.gauges]
        return (*bridges, *((other.name, other.unit) for other in self.others))


RECORDERS = (
    Recorder(
        label="Recorder A",
        serial="RA-0031 (invented)",
        rate_hz=10.0,
        dwell=0.0004,
        filter_delay=0.045,
        unit="mV/V",
        decimals=5,
        highest=10.0,
        noise=1.5e-4,
        wander=3.0e-4,
        step=2.0e-5,
        starts_late=0.0,
        others=(
            ColumnPlan("A17", "kN", "load", 3),
            ColumnPlan("A18", "mm", "D1", 4),
            ColumnPlan("A19", "mm", "D2", 4),
            ColumnPlan("A20", "°C", "TH", 2),
            ColumnPlan("A21", "°C", "TK", 2),
            ColumnPlan("A22", "V", "trigger", 3),
        ),
    ),
    Recorder(
        label="Recorder B",
        serial="RB-0007 (invented)",
        rate_hz=5.0,
        dwell=0.008,
        filter_delay=0.130,
        unit="µm/m",
        decimals=1,
        highest=32000.0,
        noise=0.5,
        wander=0.7,
        step=0.1,
        starts_late=0.37,
        others=(
            ColumnPlan("B14", "°C", "T1", 1),
            ColumnPlan("B15", "°C", "T2", 1),
            ColumnPlan("B16", "V", "trigger", 2),
        ),
    ),
)
ZONE = "Europe/Rome"
SET_GAUGE_FACTOR = 2.0
OVER = "OVERRANGE"
_HEAD_LINES = 9


def row_seconds(recorder: Recorder, episode: Episode) -> FloatArray:
    """True time of every row, from the beginning of the episode [s]."""
    count = int((episode.duration - 2 * recorder.starts_late) * recorder.rate_hz)
    ticks = np.arange(count) / recorder.rate_hz
    rate = episode.world.clock_b_rate if recorder.letter == "B" else 0.0
    return recorder.starts_late + ticks / (1 + rate)


def signals(recorder: Recorder, episode: Episode) -> list[tuple[FloatArray, FloatArray]]:
    """Numbers of every value column, each with +1 or -1 where it is over range."""
    rows = row_seconds(recorder, episode)
    seed = episode.world.seed
    read = []
    for place, group in enumerate(recorder.gauges):
        seconds = rows + place * recorder.dwell - recorder.filter_delay
        ratio = instrument.bridge_ratio(episode.bridge(group, seconds))
        scale = 1e3 if recorder.unit == "mV/V" else 4e6 / SET_GAUGE_FACTOR
        name = group[0].column
        rng = stream(seed, f"noise {name} {episode.purpose}")
        read.append(converter(recorder, name, seed).read(scale * ratio, rows, rng))
    for place, other in enumerate(recorder.others, start=len(recorder.gauges)):
        seconds = rows + place * recorder.dwell - recorder.filter_delay
        rng = stream(seed, f"noise {other.name} {episode.purpose}")
        value = _other(other.shows, episode, seconds)
        noise = _NOISE[other.shows] * rng.standard_normal(rows.size)
        read.append((value + noise, np.zeros_like(rows)))
    return read


_NOISE = {"load": 0.03, "D1": 0.0015, "D2": 0.0015, "trigger": 0.004}
_NOISE |= {"T1": 0.03, "T2": 0.03, "TH": 0.03, "TK": 0.03}


def converter(recorder: Recorder, column: str, seed: int) -> instrument.Digitiser:
    """What one channel of a recorder does to its signal."""
    gain = drawn(plan.RECORDER_GAIN[recorder.label], stream(seed, recorder.label))
    offset = 12.0 * recorder.noise * float(stream(seed, f"offset {column}").standard_normal())
    return instrument.Digitiser(
        gain, offset, recorder.wander, recorder.noise, recorder.step, recorder.highest
    )


def _other(shows: str, episode: Episode, seconds: FloatArray) -> FloatArray:
    """What a sensor beside the gauges shows, in the unit of its column."""
    world = episode.world
    if shows == "load":
        true = episode.load(seconds)
        return (true - world.load_cell_offset) / world.load_cell_gain / 1e3
    if shows == "trigger":
        return episode.trigger(seconds)
    if shows == "D1":
        # Nearly uniform curvature between the loads, straight lines outside.
        pair = [plan.gauge_named(f"L3-M-{face}") for face in "TU"]
        strain = np.mean([episode.strain(gauge, seconds)[0] for gauge in pair], axis=0)
        return np.asarray(2.1 + 1e3 * 0.105 * strain / (0.7 * 0.402) * plan.SPAN**2)
    if shows == "D2":  # counts down when the support settles
        load = episode.load(seconds)
        return 5.3 - 0.28 * load / 250e3 - 0.09 * (1 - np.exp(-load / 15e3))
    return episode.temperature(shows, seconds) + world.point_bias[shows]


def write_file(recorder: Recorder, episode: Episode, path: Path) -> None:
    """Write one raw file as the recorder would."""
    columns = [
        _texts(values, beyond, decimals, recorder)
        for (values, beyond), decimals in zip(
            signals(recorder, episode),
            (*[recorder.decimals] * len(recorder.gauges), *(o.decimals for o in recorder.others)),
            strict=True,
        )
    ]
    rows = len(columns[0])
    if recorder.letter == "A":
        lines = [",".join(row) for row in zip(_stamps_a(episode, rows), *columns, strict=True)]
        names = ",".join(["Time", *(name for name, _ in recorder.columns)])
        units = ",".join(["UTC", *(f"({unit})" for _, unit in recorder.columns)])
        path.write_bytes("\n".join([names, units, *lines, ""]).encode("utf-8"))
        return
    stamps = _stamps_b(recorder, episode, rows)
    lines = [";".join(row) + ";" for row in zip(stamps, *columns, strict=True)]
    head = _head_b(recorder, episode, rows)
    names = ";".join(["Date and time", *(name for name, _ in recorder.columns)]) + ";"
    units = ";".join(["-", *(unit for _, unit in recorder.columns)]) + ";"
    path.write_bytes("\r\n".join([*head, names, units, *lines, ""]).encode("latin-1"))


def _texts(values: FloatArray, beyond: FloatArray, decimals: int, recorder: Recorder) -> list[str]:
    shape = f"%.{decimals}f"
    texts = [shape % value for value in values.tolist()]
    if recorder.letter == "B":
        return [text.replace(".", ",") for text in texts]
    for row in np.flatnonzero(beyond).tolist():
        texts[row] = OVER
    return texts


def _stamps_a(episode: Episode, rows: int) -> list[str]:
    tick = timedelta(seconds=0.1)
    moments = (episode.begins + row * tick for row in range(rows))
    return [f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03d}Z" for moment in moments]


def _stamps_b(recorder: Recorder, episode: Episode, rows: int) -> list[str]:
    """Local time by a clock that is ``b_offset`` off at the beginning of the episode."""
    late = round((recorder.starts_late + episode.b_offset) * 1000)
    first = (episode.begins + timedelta(milliseconds=late)).astimezone(ZoneInfo(ZONE))
    moments = (first + timedelta(milliseconds=200 * row) for row in range(rows))
    return [f"{moment:%d.%m.%Y %H:%M:%S}.{moment.microsecond // 1000:03d}" for moment in moments]


def _head_b(recorder: Recorder, episode: Episode, rows: int) -> list[str]:
    return [
        f"Recorder;{recorder.serial}",
        f"Recording;{episode.purpose}",
        f"Rows;{rows}",
        "Rate;5 1/s",
        "Bridge supply;2,5 V",
        "Gauge factor set;2,000",
        "Linear;yes",
        "Temperature unit;°C",
        "",
    ]


def layout_of(recorder: Recorder) -> Layout:
    """Layout of the recorder's files, as a person would confirm it."""
    values = tuple(
        Column(
            name,
            unit=unit,
            name_in_file=name,
            unit_in_file=f"({unit})" if recorder.letter == "A" else unit,
            sign="tension" if unit in ("mV/V", "µm/m") else "",
        )
        for name, unit in recorder.columns
    )
    if recorder.letter == "A":
        return Layout(
            (Column("Time", "time", name_in_file="Time", unit_in_file="UTC"), *values),
            ",",
            Clock("stamp", (0,), pattern="yyyy-mm-ddThh:mm:ss.fffz", zone="UTC"),
            first_data_row=3,
        )
    stamp = Column("Date and time", "time", name_in_file="Date and time", unit_in_file="-")
    return Layout(
        (stamp, *values, Column("empty at the end", "empty")),
        ";",
        Clock("stamp", (0,), pattern="dd.mm.yyyy hh:mm:ss.fff", zone=ZONE),
        first_data_row=_HEAD_LINES + 3,
        encoding="latin-1",
        decimal=",",
    )
