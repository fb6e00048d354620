"""Clocks joined to the campaign's time, held against the truth of a simulated laboratory."""

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid, instant_from_text, working_context
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.records.specimen import Campaign
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.reading import clocks, readings
from gaugewright.sources import delimited, demo_campaign
from gaugewright.sources.delimited import Layout
from gaugewright.store.campaign import CampaignStore

STARTS_LATE_S = 0.37  # of recorder B, as the demo's own papers say
BEGINS = {
    "zero before pour": datetime(2026, 9, 8, 8, 5, tzinfo=UTC),
    "zero before test": datetime(2026, 10, 13, 7, 0, tzinfo=UTC),
    "test": datetime(2026, 10, 13, 7, 40, tzinfo=UTC),
}


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> tuple[CampaignStore, dict[str, object]]:
    """The demo's papers and raw files in a campaign, clocks not joined yet; and the truth."""
    folder = tmp_path_factory.mktemp("clocks")
    demo = demo_campaign.write_raw_files(folder / "raw", duration_scale=0.05)
    demo_campaign.write_truth(demo, folder / "truth")
    campaign = Campaign("c", "Campaign", "Europe/Rome")
    store = CampaignStore.create(folder / "campaign", campaign, working_context())
    with store.several():
        uids = demo_campaign.lay_down(demo, lambda record: store.add(record).uid)
    for raw in demo.raw_files:
        layout = Layout.from_plain(raw.layout)
        label = f"{raw.purpose}, {raw.recorder}"
        clock = readings.clock_for(store, label, layout, resolution=0.001)
        instrument = uids.instruments[raw.recorder]
        readings.bring_in(store, raw.path, layout, label=label, instrument=instrument, clock=clock)
    return store, json.loads((folder / "truth" / "truth.json").read_text())


def uid_of(store: CampaignStore, label: str) -> Uid:
    return store.labelled(Recording, label).uid


@pytest.mark.parametrize("purpose", sorted(BEGINS))
def test_the_joined_clock_is_within_its_doubt_of_the_true_one(
    world: tuple[CampaignStore, dict[str, object]], purpose: str
) -> None:
    store, truth = world
    reference = uid_of(store, f"{purpose}, Recorder A")
    other = uid_of(store, f"{purpose}, Recorder B")
    clocks.clock_map_from_stamps(store, reference, within=0.0, source="campaign time is its clock")
    made = clocks.join_by_trigger(
        store, reference, other, column_reference="A22", column_other="B16", level=2.5
    ).record
    elapsed = store.readings(other).elapsed_s()
    found = made.epoch.timestamp() + made.offset.value + (1 + made.rate) * elapsed
    drift = truth["clock of recorder B"]["rate"]  # type: ignore[index,call-overload]
    true = BEGINS[purpose].timestamp() + STARTS_LATE_S + elapsed / (1 + drift)
    assert made.offset.plus_minus is not None
    # The edge is a ramp of a second: between samples it is known better than stated.
    assert np.abs(found - true).max() < made.offset.plus_minus


def test_the_correction_of_a_clock_is_what_it_was_off(
    world: tuple[CampaignStore, dict[str, object]],
) -> None:
    store, truth = world
    clocks.clock_map_from_stamps(
        store, uid_of(store, "test, Recorder A"), within=0.0, source="campaign time is its clock"
    )
    made = clocks.join_by_trigger(
        store,
        uid_of(store, "test, Recorder A"),
        uid_of(store, "test, Recorder B"),
        column_reference="A22",
        column_other="B16",
        level=2.5,
    ).record
    off = truth["clock of recorder B"]["offset_s at the beginning of"]["test"]  # type: ignore[index,call-overload]
    assert made.offset.value == pytest.approx(-off, abs=made.offset.plus_minus)


def test_joining_again_writes_the_next_version_and_keeps_the_first(
    world: tuple[CampaignStore, dict[str, object]],
) -> None:
    store, _ = world
    recording = uid_of(store, "zero before test, Recorder A")
    first = clocks.clock_map_from_stamps(store, recording, within=1.0, source="looked at a watch")
    second = clocks.clock_map_from_stamps(store, recording, within=0.0, source="compared by radio")
    assert (second.uid, second.version) == (first.uid, first.version + 1)
    maps = [entry for entry in store.entries(ClockMap) if entry.record.recording == recording]
    assert len(maps) == 1
    assert store.history(first.uid)[-2].record.offset.plus_minus == pytest.approx(1.0005)


def test_local_stamps_become_the_instant_they_mean(
    world: tuple[CampaignStore, dict[str, object]],
) -> None:
    store, truth = world
    record = store.labelled(Recording, "test, Recorder B").record
    off = truth["clock of recorder B"]["offset_s at the beginning of"]["test"]  # type: ignore[index,call-overload]
    shown = BEGINS["test"].astimezone(ZoneInfo("Europe/Rome")) + timedelta(
        milliseconds=round((STARTS_LATE_S + off) * 1000)
    )
    assert instant_from_text(record.first_stamp) == shown


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"column_reference": "A99"}, "'A99'"),
        ({"column_other": "Date and time"}, "'Date and time'"),
        ({"level": 60.0}, "never above 60 after being below"),
        ({"column_other": "B15", "level_other": 2.5}, "'B15'"),
    ],
)
def test_a_trigger_that_is_not_there_is_named(
    world: tuple[CampaignStore, dict[str, object]], changes: dict[str, object], said: str
) -> None:
    store, _ = world
    reference = uid_of(store, "test, Recorder A")
    clocks.clock_map_from_stamps(store, reference, within=0.0, source="campaign time is its clock")
    given = {"column_reference": "A22", "column_other": "B16", "level": 2.5, **changes}
    before = store.head()
    with pytest.raises(InputError, match=said):
        clocks.join_by_trigger(store, reference, uid_of(store, "test, Recorder B"), **given)  # type: ignore[arg-type]
    assert store.head() == before


@pytest.mark.parametrize(("within", "source"), [(-1.0, "x"), (float("nan"), "x"), (1.0, " ")])
def test_trust_without_a_limit_or_a_reason_is_refused(
    world: tuple[CampaignStore, dict[str, object]], within: float, source: str
) -> None:
    store, _ = world
    with pytest.raises(InputError):
        clocks.clock_map_from_stamps(
            store, uid_of(store, "test, Recorder A"), within=within, source=source
        )


def test_strains_of_a_cracking_beam_against_its_load_are_refused(
    world: tuple[CampaignStore, dict[str, object]],
) -> None:
    store, _ = world
    reference, other = uid_of(store, "test, Recorder A"), uid_of(store, "test, Recorder B")
    clocks.clock_map_from_stamps(store, reference, within=0.0, source="campaign time is its clock")
    with pytest.raises(InputError, match="correlation of the two is"):
        clocks.join_by_signal(store, other, clocks.BySignal(reference, "A17", "B09", 60.0))


def test_one_load_read_by_two_recorders_joins_them_without_a_trigger(tmp_path) -> None:
    campaign = Campaign("c", "Campaign", "Europe/Rome")
    store = CampaignStore.create(tmp_path / "campaign", campaign, working_context())
    noise = np.random.default_rng(8)
    knots, levels = np.cumsum(noise.uniform(5, 30, 25)), noise.uniform(0, 200, 25)
    late, rate = 3.217, 6e-5
    rows = {"a": np.arange(0, 300, 0.1), "b": np.arange(0, 250, 0.25)}
    true = {"a": rows["a"], "b": late + (1 + rate) * rows["b"]}
    for name, gain in (("a", 1.0), ("b", -0.004)):
        load = gain * (np.interp(true[name], knots, levels) + noise.normal(0, 0.3, true[name].size))
        path = tmp_path / f"{name}.csv"
        path.write_text(
            "Time (s);Load (kN)\n"
            + "".join(f"{t:.3f};{v:.6f}\n" for t, v in zip(rows[name], load, strict=True))
        )
        layout = delimited.understand(path).layout()
        clock = readings.clock_for(store, name, layout, resolution=0.001)
        readings.bring_in(store, path, layout, label=name, instrument=None, clock=clock)
    first, second = uid_of(store, "a"), uid_of(store, "b")
    store.add(
        ClockMap(
            first, BEGINS["test"], Stated(0.0, 0.0, Meaning.LIMIT, Basis.STATED, "kept"), 0.0, "k"
        )
    )
    made = clocks.join_by_signal(store, second, clocks.BySignal(first, "Load", "Load", 20.0)).record
    found = (made.epoch - BEGINS["test"]).total_seconds() + made.offset.value
    assert made.offset.plus_minus is not None
    assert abs(found - late) < 3 * made.offset.plus_minus < 0.3
    assert "correlation -0.99" in made.method
