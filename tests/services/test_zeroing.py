"""Zeros of everything that was plugged in: each taken, or named with the reason."""

from datetime import UTC, datetime, timedelta

import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Campaign
from gaugewright.services.reading import clocks, readings
from gaugewright.services.zeros import everything as zeroing
from gaugewright.sources import demo_campaign
from gaugewright.sources.delimited import Layout
from gaugewright.store.campaign import CampaignStore

PURPOSE = "zero before test"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> CampaignStore:
    """A quiet recording of both recorders; all that channel A02 wrote there is over range."""
    folder = tmp_path_factory.mktemp("zeros")
    demo = demo_campaign.write_raw_files(folder / "raw", duration_scale=0.1)
    campaign = Campaign("c", "Campaign", "UTC")
    store = CampaignStore.create(folder / "campaign", campaign, working_context())
    with store.several():
        uids = demo_campaign.lay_down(demo, lambda record: store.add(record).uid)
    raw = next(r for r in demo.raw_files if (r.purpose, r.recorder) == (PURPOSE, "Recorder A"))
    lines = raw.path.read_text().splitlines()
    place = lines[0].split(",").index("A02")
    for number, line in enumerate(lines[2:], start=2):
        cells = line.split(",")
        cells[place] = "OVERRANGE"
        lines[number] = ",".join(cells)
    raw.path.write_text("\n".join(lines) + "\n")
    joint: clocks.ByStamps | clocks.ByTrigger
    joint = clocks.ByStamps(0.0, "campaign time is its clock")
    for raw in (r for r in demo.raw_files if r.purpose == PURPOSE):  # recorder A comes first
        layout = Layout.from_plain(raw.layout)
        entry = readings.bring_in(
            store,
            raw.path,
            layout,
            label=raw.recorder,
            instrument=uids.instruments[raw.recorder],
            clock=readings.clock_for(store, raw.recorder, layout, resolution=0.001),
            joint=joint,
        ).entry
        joint = clocks.ByTrigger(entry.uid, "A22", "B16", 2.5, 2.5)
    return store


def window(store: CampaignStore) -> tuple[datetime, datetime]:
    recording = store.labelled(Recording, "Recorder A").record
    begins = datetime.fromisoformat(recording.first_stamp) + timedelta(seconds=10)
    return begins, begins + timedelta(seconds=15)


def test_every_circuit_has_its_zero_or_a_sentence(store: CampaignStore) -> None:
    begins, ends = window(store)
    said: list[tuple[int, int, str]] = []
    zeros = zeroing.take_zeros(
        store,
        ZeroKind.BEFORE_TEST,
        tuple(entry.uid for entry in store.entries(Recording)),
        begins=begins,
        ends=ends,
        progress=lambda *told: said.append(told),
    )
    [(circuit, sentence)] = zeros.missed
    assert store.entry(circuit).record.label in sentence
    subjects = {store.entry(z.record.connection).record.subject for z in zeros.taken}
    assert circuit not in subjects
    assert len(subjects) == len(zeros.taken)
    known = {entry.uid for entry in store.entries(BridgeCircuit)}
    assert subjects < known
    assert said[-1][:2] == (len(zeros.taken) + 1, len(zeros.taken) + 1)


def test_a_stretch_with_nothing_plugged_in_is_refused(store: CampaignStore) -> None:
    uid = store.labelled(Recording, "Recorder A").uid
    begins = datetime(2026, 9, 20, tzinfo=UTC)
    with pytest.raises(InputError, match="circuits plugged in"):
        zeroing.take_zeros(
            store, ZeroKind.BEFORE_TEST, (uid,), begins=begins, ends=begins + timedelta(seconds=9)
        )


def test_a_stretch_that_ends_before_it_begins_is_refused(store: CampaignStore) -> None:
    begins, ends = window(store)
    with pytest.raises(InputError, match="after it begins"):
        zeroing.take_zeros(store, ZeroKind.BEFORE_TEST, (), begins=ends, ends=begins)
