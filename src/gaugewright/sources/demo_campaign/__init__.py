"""An invented campaign from drawing to test: raw files, records, and the truth kept apart.

A reinforced concrete beam in four-point bending, thirty gauges, two recorders with two layouts
and two clocks. ``write_raw_files`` and ``lay_down`` give what a laboratory would have; what was
true is only in what ``write_truth`` writes, and belongs in no campaign folder.
"""

import statistics
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.sources.demo_campaign import (
    episodes,
    faults,
    gates,
    ledger,
    member,
    plan,
    recorders,
    truth,
    wiring,
    world,
)
from gaugewright.sources.demo_campaign.ledger import DemoUids
from gaugewright.sources.demo_campaign.plan import SEED
from gaugewright.sources.demo_campaign.truth import ZeroWindow
from gaugewright.sources.demo_campaign.world import Scenario
from gaugewright.sources.simulated import instrument
from gaugewright.sources.simulated.installation import stream

__all__ = [
    "SEED",
    "Demo",
    "DemoUids",
    "RawFile",
    "Replug",
    "ZeroWindow",
    "lay_down",
    "replug",
    "write_raw_files",
    "write_truth",
    "zero_windows",
]


@dataclass(frozen=True, slots=True)
class RawFile:
    """A raw file, who wrote it and when it is from; ``layout`` as a person would confirm it."""

    path: Path
    recorder: str
    purpose: str
    layout: dict[str, Any]


@dataclass(frozen=True)
class Demo:
    """The demo's raw files and the world they came from."""

    raw_files: tuple[RawFile, ...]
    scenario: Scenario


@dataclass(frozen=True, slots=True)
class Replug:
    """Readings of one circuit just before its plug was pulled and just after it was put back.

    In bridge ratio [V/V], specimen untouched; connections are keys of ``DemoUids.connections``.
    """

    circuit: str
    before: Stated
    after: Stated
    from_connection: tuple[str, int]
    to_connection: tuple[str, int]


def write_raw_files(folder: Path, *, seed: int = SEED, duration_scale: float = 1.0) -> Demo:
    """Write the six raw files of the demo: two recorders, three recordings.

    Parameters
    ----------
    folder : path
        Made when it isn't there.
    seed : int, optional
        Of everything that is drawn; another one is another campaign.
    duration_scale : float, optional
        Below 1 shortens every stretch of the test alike, for quick looks and tests [1].

    Raises
    ------
    InputError
        If ``duration_scale`` isn't from 0.02 to 1.
    """
    if not 0.02 <= duration_scale <= 1.0:
        raise InputError("duration_scale", duration_scale, "from 0.02 to 1")
    scenario = world.build(seed, duration_scale)
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for episode in episodes.episodes(scenario):
        for recorder in recorders.RECORDERS:
            suffix = "csv" if recorder.letter == "A" else "txt"
            path = folder / f"{episode.purpose} {recorder.letter}.{suffix}".replace(" ", "_")
            recorders.write_file(recorder, episode, path)
            layout = recorders.layout_of(recorder).as_plain()
            files.append(RawFile(path, recorder.label, episode.purpose, layout))
    return Demo(tuple(files), scenario)


def write_truth(demo: Demo, folder: Path) -> None:
    """Write what was true, as JSON and one table for each raw file, to a folder of its own.

    Raises
    ------
    InputError
        If the folder is where the raw files are: truth and findings must not meet.
    """
    homes = {raw.path.parent.resolve() for raw in demo.raw_files}
    if folder.resolve() in homes:
        raise InputError("folder", str(folder), "another one than that of the raw files")
    truth.written(demo.scenario, episodes.episodes(demo.scenario), folder)


def lay_down(demo: Demo, add: Callable[[object], Uid]) -> DemoUids:
    """Make every record of the demo, each after those it names, through ``add``."""
    scenario, uids = demo.scenario, DemoUids()
    ledger.lay_down_specimen(scenario, add, uids)
    ledger.lay_down_gauges(add, uids)
    wiring.lay_down_wiring(add, uids)
    wiring.lay_down_connections(add, uids)
    before_test = episodes.episodes(scenario)[1]
    ledger.lay_down_gates(gates.sheet(scenario, before_test), add, uids)
    wiring.lay_down_events(scenario.protocol, _replug_words(replug(demo)), add, uids)
    steel = uids.materials["reinforcement"]
    member.lay_down_member(add, uids.bars, uids.specimens["H3"], steel)
    return uids


def zero_windows(demo: Demo) -> tuple[ZeroWindow, ...]:
    """When each zero was taken, in campaign time."""
    return truth.windows(episodes.episodes(demo.scenario))


def replug(demo: Demo) -> Replug:
    """Readings on both sides of the one plug that was remade, as the technician noted them."""
    _, before_test, test = episodes.episodes(demo.scenario)
    gauge = plan.gauge_named(faults.REMADE)
    recorder = recorders.RECORDERS[0]
    converter = recorders.converter(recorder, gauge.column, demo.scenario.seed)
    noted = []
    for episode, second in ((before_test, before_test.duration), (test, 0.0)):
        seconds = np.full(20, second)
        ratio = instrument.bridge_ratio(episode.bridge((gauge,), seconds))
        rng = stream(demo.scenario.seed, f"noted {episode.purpose}")
        shown, _ = converter.read(1e3 * ratio, seconds, rng)
        doubt = statistics.stdev(shown.tolist()) / 20**0.5 + 0.5e-5
        noted.append(
            Stated(
                round(float(shown.mean()), 5) * 1e-3,
                doubt * 1e-3,
                Meaning.ONE_SIGMA,
                Basis.MEASURED,
                "mean of 20 readings",
                19,
            )
        )
    keys = (gauge.label, 1), (gauge.label, 2)
    return Replug(gauge.label, noted[0], noted[1], *keys)


def _replug_words(readings: Replug) -> str:
    before, after = readings.before.value * 1e3, readings.after.value * 1e3
    return f"put back and sealed; read {before:.5f} mV/V before and {after:.5f} mV/V after"
