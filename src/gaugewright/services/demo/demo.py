"""The whole job on an invented campaign, in the order in which a laboratory does it."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid, seeded_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Clock
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns, laboratory
from gaugewright.services.handover import report as handover
from gaugewright.services.reading import clocks, readings
from gaugewright.services.reducing import reduction
from gaugewright.services.reducing.reduction import YieldRow
from gaugewright.services.reviewing import review
from gaugewright.services.zeros import everything as zeroing
from gaugewright.services.zeros import zeros
from gaugewright.settings import SETTINGS, load
from gaugewright.sources import demo_campaign
from gaugewright.sources.delimited import Layout
from gaugewright.sources.demo_campaign import Demo, DemoUids, RawFile
from gaugewright.store.campaign import CampaignStore

__all__ = ["DemoOutcome", "run"]

Progress = Callable[[int, int, str], None]

LABEL = "demo"
# After everything the invented records say was done; the same at every run, so that two demos
# of one version are the same to the last byte.
START = datetime(2026, 10, 14, 6, 0, tzinfo=UTC)
REFERENCE = "Recorder A"  # whose clock is the campaign's time
TRIGGERS = {"Recorder A": "A22", "Recorder B": "B16"}
TRIGGER_LEVEL_V = 2.5


@dataclass(frozen=True, slots=True)
class DemoOutcome:
    """What the demo made, and how long it took [s]."""

    campaign: Path
    raw: Path
    truth: Path
    moved_aside: tuple[Path, ...]
    report: Path
    yields: tuple[YieldRow, ...]
    seconds: float


def run(
    folder: Path,
    *,
    truth: Path | None = None,
    again: bool = False,
    duration_scale: float = 1.0,
    progress: Progress | None = None,
) -> DemoOutcome:
    """Make the demo campaign in ``folder``, raw files and truth beside it.

    Raises
    ------
    InputError
        If a folder is in use and isn't an earlier demo to be moved aside with ``again``, or
        the truth would come to lie in the campaign.
    """
    began = time.monotonic()
    folder = folder.absolute()
    raw = folder.with_name(f"{folder.name}-raw")
    truth = (truth or folder.with_name(f"{folder.name}-truth")).absolute()
    if truth.is_relative_to(folder):
        raise InputError("truth", str(truth), "outside the campaign: findings must not meet it")
    moved = _cleared((folder, raw, truth), again=again)
    tell = progress or (lambda done, total, what: None)
    tell(0, 3, "invented raw files")
    demo = demo_campaign.write_raw_files(raw, duration_scale=duration_scale)
    demo_campaign.write_truth(demo, truth)
    tell(3, 3, "invented raw files")
    with _begun(folder) as begun:
        store, uids = _laid_down(begun, demo)
        recordings = _imported(store, demo, uids, progress)
        _zeros_taken(store, demo, uids, recordings, progress)
        review.find(store, progress=progress)
        done = reduction.reduce(store, progress=progress)
        report = handover.report(store, progress=progress)
    seconds = time.monotonic() - began
    return DemoOutcome(folder, raw, truth, moved, report, done.yields, seconds)


def _cleared(folders: tuple[Path, ...], *, again: bool) -> tuple[Path, ...]:
    """Make sure that nothing stands in the way; an earlier demo is moved aside, never deleted."""
    used = [folder for folder in folders if folder.exists() and any(folder.iterdir())]
    if not used:
        return ()
    if not again:
        do = "name another folder, or move an earlier demo aside with --again"
        allowed = "an empty folder or one that doesn't exist yet"
        raise InputError("folder", str(used[0]), allowed, do)
    if folders[0] in used:
        _refuse_other_than_demo(folders[0])
    elif used:
        do = "move it away yourself: there is no demo beside it"
        raise InputError("folder", str(used[0]), "one that an earlier demo made", do)
    number = 1
    while any(_aside(folder, number).exists() for folder in folders):
        number += 1
    return tuple(folder.rename(_aside(folder, number)) for folder in used)


def _aside(folder: Path, number: int) -> Path:
    return folder.with_name(f"{folder.name}-earlier-{number}")


def _refuse_other_than_demo(folder: Path) -> None:
    found = campaigns.listed(folder)
    if not (found and found[0].invented and found[0].label == LABEL):
        do = "name another folder: only a demo is moved aside"
        raise InputError("folder", str(folder), "an earlier demo", do)


def _begun(folder: Path) -> CampaignStore:
    """Empty campaign with the limits and methods shipped, whoever runs the demo."""
    shipped = load({name: choice.shipped for name, choice in SETTINGS.items()}, environment={})
    record = Campaign(
        label=LABEL,
        title="Beam in four-point bending (invented)",
        zone="Europe/Rome",
        purpose="At which load does the reinforcement yield, and how well is that known?",
        invented=True,
    )
    defaults = laboratory.campaign_defaults(shipped)
    context = seeded_context(START, 0.25)
    return CampaignStore.create(folder, record, context, defaults=defaults)


def _laid_down(store: CampaignStore, demo: Demo) -> tuple[CampaignStore, DemoUids]:
    """Every record a laboratory would have written by hand, and the person at work from now on."""
    with store.several():
        uids = demo_campaign.lay_down(demo, lambda record: store.add(record).uid)
    return store.as_person(uids.people["engineer"]), uids


def _imported(
    store: CampaignStore, demo: Demo, uids: DemoUids, progress: Progress | None
) -> dict[tuple[str, str], Uid]:
    """Every raw file, by purpose and recorder; the reference of each purpose comes first."""
    kept: dict[tuple[str, str], Uid] = {}
    known: dict[str, tuple[Uid, Uid]] = {}
    for raw in sorted(demo.raw_files, key=lambda raw: raw.recorder != REFERENCE):
        layout = Layout.from_plain(raw.layout)
        clock: Uid | Clock = Clock(f"clock of {raw.recorder}", layout.clock.zone, 0.001)
        profile: Uid | str = f"files of {raw.recorder}"
        if raw.recorder in known:
            clock, profile = known[raw.recorder]
        brought = readings.bring_in(
            store,
            raw.path,
            layout,
            label=f"{raw.purpose}, {raw.recorder}",
            instrument=uids.instruments[raw.recorder],
            clock=clock,
            profile=profile,
            joint=_joint(raw, kept),
            progress=progress,
        )
        record = brought.entry.record
        known[raw.recorder] = (record.clock, record.profile)
        kept[raw.purpose, raw.recorder] = brought.entry.uid
    return kept


def _joint(raw: RawFile, kept: dict[tuple[str, str], Uid]) -> clocks.ByStamps | clocks.ByTrigger:
    if raw.recorder == REFERENCE:
        return clocks.ByStamps(0.0, f"campaign time is the clock of {REFERENCE}")
    return clocks.ByTrigger(
        kept[raw.purpose, REFERENCE],
        TRIGGERS[REFERENCE],
        TRIGGERS[raw.recorder],
        TRIGGER_LEVEL_V,
        TRIGGER_LEVEL_V,
    )


def _zeros_taken(
    store: CampaignStore,
    demo: Demo,
    uids: DemoUids,
    recordings: dict[tuple[str, str], Uid],
    progress: Progress | None,
) -> None:
    """All kinds of zero, and what keeps each of them good over plugs that were remade."""
    replug = demo_campaign.replug(demo)
    remade = uids.connections[replug.from_connection]
    for window in demo_campaign.zero_windows(demo):
        both = tuple(uid for (purpose, _), uid in recordings.items() if purpose == window.purpose)
        shared = zeroing.take_zeros(
            store, window.kind, both, begins=window.begins, ends=window.ends, progress=progress
        )
        for zero in shared.taken:
            if window.kind is ZeroKind.BEFORE_TEST and zero.record.connection == remade:
                zeros.bridge_zero(
                    store,
                    zero.uid,
                    uids.connections[replug.to_connection],
                    before=replug.before,
                    after=replug.after,
                    reason="plug pulled and put back with the beam untouched",
                )
    zeros.carry_over(
        store, ZeroKind.BEFORE_POUR, reason="plugs were remade after the pour; beam untouched"
    )
