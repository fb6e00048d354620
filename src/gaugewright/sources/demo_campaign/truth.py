"""The answers: what the demo's world truly was, written to a folder of its own."""

import dataclasses
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from gaugewright.records.proof import ZeroKind
from gaugewright.sources.demo_campaign import faults, plan
from gaugewright.sources.demo_campaign.episodes import Episode
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan
from gaugewright.sources.demo_campaign.recorders import RECORDERS, row_seconds
from gaugewright.sources.demo_campaign.world import Scenario

__all__ = ["ZeroWindow", "strain_table", "summary", "windows", "written"]


@dataclasses.dataclass(frozen=True, slots=True)
class ZeroWindow:
    """A stretch of unloaded readings a zero was taken from: in which files, and when."""

    kind: ZeroKind
    purpose: str
    begins: datetime
    ends: datetime


def windows(episodes: tuple[Episode, ...]) -> tuple[ZeroWindow, ...]:
    """When each zero was taken, in campaign time; pulses at the ends of a file do no harm."""
    before_pour, before_test, test = episodes
    taken = []
    for kind, episode in (
        (ZeroKind.BEFORE_POUR, before_pour),
        (ZeroKind.BEFORE_TEST, before_test),
    ):
        margin = timedelta(seconds=min(10.0, 0.15 * episode.duration))
        length = timedelta(seconds=episode.duration)
        begins, ends = episode.begins + margin, episode.begins + length - margin
        taken.append(ZeroWindow(kind, episode.purpose, begins, ends))
    step = test.world.protocol.step_named("after seating")
    quiet = [
        test.begins + timedelta(seconds=round(at, 3))
        for at in (step.ramp_ends + 0.2 * (step.ends - step.ramp_ends), step.ends - 0.5)
    ]
    return (*taken, ZeroWindow(ZeroKind.AFTER_SEATING, test.purpose, *quiet))


def strain_table(recorder_label: str, episode: Episode) -> pl.DataFrame:
    """True mechanical strain at every gauge at the true instant of every row of one file.

    Since bonding, local bending included; ``P-FR`` is half the difference of the bending pair.
    """
    recorder = next(r for r in RECORDERS if r.label == recorder_label)
    seconds = row_seconds(recorder, episode)
    microseconds = np.round(seconds * 1e6).astype(np.int64)
    start = np.datetime64(episode.begins.replace(tzinfo=None), "us")
    columns: dict[str, Any] = {"campaign_time": start + microseconds.astype("timedelta64[us]")}
    columns["true_load_n"] = episode.load(seconds)
    for gauge in GAUGES:
        columns[gauge.label] = episode.strain(gauge, seconds)[0]
    columns["P-FR"] = (columns["P-F"] - columns["P-R"]) / 2
    return pl.DataFrame(columns)


def summary(world: Scenario, episodes: tuple[Episode, ...]) -> dict[str, Any]:
    """Everything drawn and everything asked, as plain JSON values."""
    return {
        "about": "Truth of an invented campaign; for judging what was found, never for finding it.",
        "seed": world.seed,
        "questions": _answers(world),
        "gauges": {gauge.label: _gauge(world, gauge, episodes) for gauge in GAUGES},
        "bad gauges": [dataclasses.asdict(story) for story in faults.stories()],
        "remade plug": faults.REMADE,
        "metals": {"reinforcement": _plain(world.bar), "plate": _plain(world.plate)},
        "load cell": {"gain": world.load_cell_gain, "offset_n": world.load_cell_offset},
        "temperature bias_k": dict(world.point_bias),
        "clock of recorder B": {
            "rate": world.clock_b_rate,
            "offset_s at the beginning of": {e.purpose: e.b_offset for e in episodes},
        },
        "beam": {
            "shrinkage strain": world.beam.shrinkage_strain,
            "crack position_m and opening load_n": [
                [crack.position, load if np.isfinite(load) else None]
                for crack, load in zip(
                    world.beam.cracks, world.beam.opening_loads().tolist(), strict=True
                )
            ],
        },
        "not in the chain": _UNMODELLED,
    }


_UNMODELLED = (
    "installation scatter of 1.5 % from gauge to gauge",
    "bending of each bar by itself",
    "small steps of contacts during the test",
    "wires of one cable unequally warm under a lamp",
    "mean gauge factor of the 350 Ω pack 1.3 % above its card, which says 1 % with k = 2",
    "bias of thermometers, gain and offset of the load cell",
    "scan of recorder B one channel after another, filters of both recorders",
    "grids between constant factor and constant volume at large strain",
)


def _answers(world: Scenario) -> dict[str, Any]:
    pairs = [(g, plan.gauge_named(g.opposite)) for g in GAUGES if g.opposite and g.bar[0] == "L"]
    at_160 = _highest_before(world, "unload to 20 kN")
    plate = [world.mechanical_strain(plan.gauge_named(f"P-{n}")) for n in (1, 2, 3)]
    first, second, _ = world.plate_gains
    return {
        "yield load of unweakened bars at midspan_n": world.bar_yield_load(),
        "yield load of pairs_n": {
            f"{b.label} with {a.label}": _pair_yield(world, a, b) for a, b in pairs
        },
        "stress of pairs at the end of 160 kN_pa": {
            f"{b.label} with {a.label}": _pair_stress(world, a, b, at_160) for a, b in pairs
        },
        "force of bar L3 at the end of 160 kN, by true distance along the span_m_n": {
            gauge.label: _force(world, gauge, at_160) for gauge in GAUGES if gauge.bar == "L3"
        },
        "diameter of lower bars_m": world.beam.bar_diameter,
        "principal stress of the plate per load_pa/n": [first, second],
        "direction of the first principal stress_rad": world.plate_angle,
        "plate strains at the end of 160 kN": [float(strain[at_160]) for strain in plate],
        "true load at the end of 160 kN_n": float(world.true_load[at_160]),
    }


def _highest_before(world: Scenario, label: str) -> int:
    """Place of the last instant of the hold before a step."""
    return int(np.searchsorted(world.grid_seconds, world.protocol.step_named(label).begins)) - 2


def _pair_yield(world: Scenario, one: GaugePlan, other: GaugePlan) -> float | None:
    mean = (world.mechanical_strain(one) + world.mechanical_strain(other)) / 2
    reached = mean >= world.bar.steel.yield_strain
    return float(world.true_load[int(np.argmax(reached))]) if reached.any() else None


def _pair_stress(world: Scenario, one: GaugePlan, other: GaugePlan, at: int) -> float:
    mean = (world.mechanical_strain(one)[at] + world.mechanical_strain(other)[at]) / 2
    return float(world.bar.steel.stress(mean))


def _force(world: Scenario, gauge: GaugePlan, at: int) -> list[float]:
    """True place of a gauge, and the force of its bar there since it was bonded."""
    site = world.sites[gauge.label]
    place = gauge.x + site.shift
    highest = np.maximum.accumulate(world.true_load)[at : at + 1]
    stress = world.beam.stress(gauge.bar, place, highest).first_loading[0] * site.bar_share
    return [place, float(stress) * world.beam.section.tension[1] / 4]


def _gauge(world: Scenario, gauge: GaugePlan, episodes: tuple[Episode, ...]) -> dict[str, Any]:
    zeros = {}
    by_purpose = {episode.purpose: episode for episode in episodes}
    for window in windows(episodes):
        episode = by_purpose[window.purpose]
        first, last = ((at - episode.begins).total_seconds() for at in (window.begins, window.ends))
        seconds = np.linspace(first, last, 50)
        zeros[window.kind.value] = float(episode.strain(gauge, seconds)[0].mean())
    return {
        "gauge": _plain(world.gauges[gauge.label]),
        "site": _plain(world.sites[gauge.label]),
        "cable": _plain(world.leads[gauge.label]),
        "strain at the zero": zeros,
        "yield load_n": world.yield_load(gauge),
    }


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def written(world: Scenario, episodes: tuple[Episode, ...], folder: Path) -> None:
    """Write the truth: one JSON text and a table for each raw file."""
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(summary(world, episodes), indent=1, ensure_ascii=False, allow_nan=False)
    (folder / "truth.json").write_text(text + "\n", encoding="utf-8")
    for episode in episodes:
        for recorder in RECORDERS:
            name = f"{episode.purpose} {recorder.letter}.parquet".replace(" ", "_")
            strain_table(recorder.label, episode).write_parquet(folder / name)
