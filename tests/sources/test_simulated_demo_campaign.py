"""The demo campaign: its files, its records, and a truth that keeps away from both."""

import dataclasses
import itertools
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, new_uid_at
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.records.proof import Censor, Gate, GateCheck, Verdict
from gaugewright.sources import delimited, demo_campaign
from gaugewright.sources.demo_campaign import Demo, DemoUids, RawFile

SCALE = 0.1


@pytest.fixture(scope="module")
def raw(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "raw"


@pytest.fixture(scope="module")
def demo(raw: Path) -> Demo:
    return demo_campaign.write_raw_files(raw, duration_scale=SCALE)


@pytest.fixture(scope="module")
def truth(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("truth")
    demo_campaign.write_truth(demo, folder)
    return folder


class Ledger:
    """Keeps records by uid and refuses one that names a record not yet made."""

    def __init__(self) -> None:
        self.records: dict[Uid, object] = {}
        self._numbers = itertools.count(1)

    def add(self, record: object) -> Uid:
        assert from_plain(type(record), to_plain(record)) == record
        unknown = set(uids_in(to_plain(record))) - set(self.records)
        assert unknown == set()
        uid = new_uid_at(1, next(self._numbers))
        self.records[uid] = record
        return uid

    def of(self, kind: type) -> list[tuple[Uid, object]]:
        return [(uid, record) for uid, record in self.records.items() if type(record) is kind]


def uids_in(plain: object) -> Iterator[str]:
    if isinstance(plain, dict):
        plain = list(plain.values())
    if isinstance(plain, list):
        for item in plain:
            yield from uids_in(item)
    elif isinstance(plain, str) and len(plain) == 26 and plain.startswith("0000000001"):
        yield plain


@pytest.fixture(scope="module")
def laid(demo: Demo) -> tuple[Ledger, DemoUids]:
    ledger = Ledger()
    return ledger, demo_campaign.lay_down(demo, ledger.add)


def file_of(demo: Demo, purpose: str, recorder: str) -> RawFile:
    return next(f for f in demo.raw_files if (f.purpose, f.recorder) == (purpose, recorder))


def table_of(file: RawFile) -> tuple[pl.DataFrame, delimited.Reading]:
    reading = delimited.read(file.path, delimited.Layout.from_plain(file.layout))
    frames = [block.values for block in reading]
    return pl.concat(frames), reading


def test_the_seed_is_the_one_that_was_chosen() -> None:
    assert demo_campaign.SEED == 20260311


def test_one_seed_gives_the_same_bytes_and_another_gives_others(demo: Demo, tmp_path: Path) -> None:
    again = demo_campaign.write_raw_files(tmp_path / "again", duration_scale=SCALE)
    other = demo_campaign.write_raw_files(tmp_path / "other", seed=1, duration_scale=SCALE)
    for first, same, different in zip(
        demo.raw_files, again.raw_files, other.raw_files, strict=True
    ):
        assert first.path.read_bytes() == same.path.read_bytes() != different.path.read_bytes()


@pytest.mark.parametrize("scale", [0.0, 1.5, float("nan")])
def test_a_duration_that_makes_no_sense_is_refused(scale: float, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"^duration_scale"):
        demo_campaign.write_raw_files(tmp_path, duration_scale=scale)


def test_truth_goes_to_a_folder_of_its_own(demo: Demo, raw: Path, truth: Path) -> None:
    with pytest.raises(InputError, match="another one than that of the raw files"):
        demo_campaign.write_truth(demo, raw)
    assert {path.suffix for path in raw.iterdir()} == {".csv", ".txt"}
    assert len(list(truth.glob("*.parquet"))) == len(demo.raw_files)
    said = json.loads((truth / "truth.json").read_text())
    assert {bad["gauge"] for bad in said["bad gauges"]} == {
        "L2-M-U",
        "L3-R6-S",
        "L1-M-T",
        "L3-R2-S",
    }


def test_raw_files_and_records_tell_no_truth(demo: Demo, laid: tuple[Ledger, DemoUids]) -> None:
    told = b"".join(file.path.read_bytes() for file in demo.raw_files).decode("latin-1")
    told += json.dumps([to_plain(record) for record in laid[0].records.values()])
    world = demo.scenario
    drawn = [gauge.gauge_factor for gauge in world.gauges.values()]
    drawn += [gauge.transfer for gauge in world.gauges.values()]
    drawn += [world.load_cell_gain, world.clock_b_rate, world.bar.steel.yield_strength]
    assert [number for number in drawn if repr(number) in told] == []
    assert [word for word in ("truth", "debond", "lets go", "fading") if word in told.lower()] == []


@pytest.mark.parametrize("recorder", ["Recorder A", "Recorder B"])
@pytest.mark.parametrize("purpose", ["zero before pour", "zero before test", "test"])
def test_every_row_is_read_by_the_layout_given(demo: Demo, purpose: str, recorder: str) -> None:
    file = file_of(demo, purpose, recorder)
    table, reading = table_of(file)
    head = file.layout["first_data_row"] - 1
    lines = file.path.read_bytes().decode(file.layout["encoding"]).splitlines()
    assert table.height == len(lines) - head > 100
    assert reading.report.accounted
    assert table.width == len(file.layout["columns"]) - (2 if recorder == "Recorder B" else 1)
    assert all(dtype.is_numeric() for dtype in table.dtypes)


def test_a_whole_test_has_as_many_rows_as_an_hour_gives(demo: Demo) -> None:
    table, _ = table_of(file_of(demo, "test", "Recorder A"))
    whole = dataclasses.replace(demo.scenario, scale=1.0)
    assert 25_000 <= table.height / SCALE <= 45_000
    assert whole.seed == demo_campaign.SEED


def test_true_tables_have_a_row_for_every_row(demo: Demo, truth: Path) -> None:
    for file in demo.raw_files:
        table, _ = table_of(file)
        true = pl.read_parquet(truth / f"{file.path.stem}.parquet")
        assert true.height == table.height


def test_steel_stress_at_midspan_is_the_moment_over_area_and_lever(truth: Path) -> None:
    answers = json.loads((truth / "truth.json").read_text())["questions"]
    load = answers["true load at the end of 160 kN_n"]
    dead = 0.30 * 0.45 * 24.5e3 * 3.6**2 / 8
    # Lever of a cracked section with 0.67 % of steel: 0.90 of the depth, within a few per cent.
    by_hand = (load * 1.2 / 2 + dead) / (4 * 200.4e-6 * 0.90 * 0.402)
    midspan = {
        pair: stress
        for pair, stress in answers["stress of pairs at the end of 160 kN_pa"].items()
        if "-M-" in pair
    }
    # Flats take 1.2 % of the area, and bars share the force unevenly by about as much.
    assert list(midspan.values()) == pytest.approx([by_hand * 1.012] * 4, rel=0.05)


def test_a_healthy_gauge_reads_its_true_strain_within_workmanship(demo: Demo, truth: Path) -> None:
    table, _ = table_of(file_of(demo, "test", "Recorder A"))
    true = pl.read_parquet(truth / "test_A.parquet")
    row = int((true["true_load_n"].to_numpy() > 150e3).argmax())
    for column, gauge in (("A06", "L3-M-U"), ("A08", "L4-M-U"), ("A13", "L2-E-T")):
        ratio = (table[column] * 1e-3).to_numpy()
        active = (1 + 2 * ratio) / (1 - 2 * ratio)  # arm over its neighbour, both with a wire
        change = (active[row] / active[:20].mean() - 1) * (350 + 2.2) / 350
        wanted = true[gauge][row] - true[gauge][:20].to_numpy().mean()
        # 1.5 % workmanship and 1.3 % of the card, twice over; heat adds some millionths.
        assert change / 2.08 == pytest.approx(wanted, rel=0.045, abs=15e-6)


def test_tension_raises_readings_and_the_compression_bar_lowers_them(demo: Demo) -> None:
    table, _ = table_of(file_of(demo, "test", "Recorder A"))
    load = table["A17"].to_numpy()
    row = int(np.nanargmax(load))
    assert table["A06"][row] > table["A06"][0] + 1.0
    assert table["A15"][row] < table["A15"][0] - 0.1


def test_the_torn_gauge_ends_over_range_and_its_partner_reads_on(demo: Demo) -> None:
    file = file_of(demo, "test", "Recorder A")
    lines = file.path.read_text().splitlines()
    names, last = lines[0].split(","), lines[-1].split(",")
    assert last[names.index("A04")] == "OVERRANGE"
    assert float(last[names.index("A03")]) > 1.0
    assert "OVERRANGE" not in lines[2]


def test_the_crushed_cable_holds_its_channel_at_the_end_of_its_range(demo: Demo) -> None:
    before, _ = table_of(file_of(demo, "zero before pour", "Recorder B"))
    during, _ = table_of(file_of(demo, "test", "Recorder B"))
    assert before["B06"].n_unique() > 5
    assert before["B06"].abs().max() < 3000
    assert during["B06"].unique().to_list() == [-32000.0]


def test_the_fading_gauge_looks_alive_but_reads_low(demo: Demo, truth: Path) -> None:
    table, _ = table_of(file_of(demo, "test", "Recorder A"))
    true = pl.read_parquet(truth / "test_A.parquet")
    load = true["true_load_n"].to_numpy()
    rows = [int((load > level).argmax()) for level in (80e3, 240e3)]
    shares = []
    for row in rows:
        read = (table["A01"][row] - table["A01"][0]) * 4e-3 / 2.11
        shares.append(read / (true["L1-M-T"][row] - true["L1-M-T"][0]))
    assert 0.93 < shares[0] < 1.05
    assert 0.6 < shares[1] < 0.9


def test_the_pulses_of_both_files_are_the_clock_error_apart(demo: Demo, truth: Path) -> None:
    said = json.loads((truth / "truth.json").read_text())["clock of recorder B"]
    first = {}
    for recorder, column, zone, pattern in (
        ("Recorder A", "A22", "UTC", "%Y-%m-%dT%H:%M:%S.%fZ"),
        ("Recorder B", "B16", "Europe/Rome", "%d.%m.%Y %H:%M:%S.%f"),
    ):
        file = file_of(demo, "test", recorder)
        table, _ = table_of(file)
        row = int((table[column].to_numpy() > 2.5).argmax())
        line = file.path.read_bytes().decode("latin-1").splitlines()
        stamp = line[file.layout["first_data_row"] - 1 + row].split(",;"["B" in recorder])[0]
        moment = datetime.strptime(stamp, pattern).replace(tzinfo=ZoneInfo(zone))
        first[recorder] = moment.astimezone(UTC)
    apart = (first["Recorder B"] - first["Recorder A"]).total_seconds()
    wanted = said["offset_s at the beginning of"]["test"]
    # Rows are 0.1 and 0.2 s apart, filter and scan move them by less than that.
    assert apart == pytest.approx(wanted, abs=0.3)
    assert 20e-6 < said["rate"] < 60e-6


def test_every_record_names_only_what_was_there_before(laid: tuple[Ledger, DemoUids]) -> None:
    ledger, uids = laid
    assert len(ledger.records) > 500
    assert len(uids.gauges) >= 24
    named = {uid for group in (uids.gauges, uids.circuits, uids.channels) for uid in group.values()}
    assert named <= set(ledger.records)


def test_pairs_are_named_opposite_and_the_plate_has_a_rosette(
    laid: tuple[Ledger, DemoUids],
) -> None:
    gauges = [record for _, record in laid[0].of(Gauge) if isinstance(record, Gauge)]
    assert sum(gauge.opposite is not None for gauge in gauges) == 10
    arms = sorted(gauge.angle_to_axis for gauge in gauges if gauge.group == "P")
    assert arms == pytest.approx([0.0, np.pi / 4, np.pi / 2])


def test_no_channel_carries_two_things_at_once(laid: tuple[Ledger, DemoUids]) -> None:
    ledger, uids = laid
    by_channel: dict[Uid, list[Connection]] = {}
    for _, record in ledger.of(Connection):
        assert isinstance(record, Connection)
        by_channel.setdefault(record.channel, []).append(record)
    for spans in by_channel.values():
        spans.sort(key=lambda span: span.begins)
        for earlier, later in itertools.pairwise(spans):
            assert earlier.ends is not None
            assert earlier.ends < later.begins
    remade = [key for key in uids.connections if key[0] == "L4-M-T"]
    assert len(remade) == 3


def test_channels_are_in_the_order_of_the_files(demo: Demo, laid: tuple[Ledger, DemoUids]) -> None:
    ledger, uids = laid
    for recorder in ("Recorder A", "Recorder B"):
        found = sorted(
            (record.number, record.column)
            for _, record in ledger.of(Channel)
            if isinstance(record, Channel) and record.instrument == uids.instruments[recorder]
        )
        layout = file_of(demo, "test", recorder).layout
        columns = [c["name"] for c in layout["columns"] if c["role"] == "value"]
        assert [column for _, column in found] == columns


def test_every_gauge_is_wired_once(laid: tuple[Ledger, DemoUids]) -> None:
    ledger, uids = laid
    wired = [
        arm.gauge
        for _, record in ledger.of(BridgeCircuit)
        if isinstance(record, BridgeCircuit)
        for arm in record.arms
        if arm.gauge
    ]
    assert sorted(wired) == sorted(uids.gauges.values())


def checks(laid: tuple[Ledger, DemoUids], gauge: str) -> list[GateCheck]:
    uid = laid[1].gauges[gauge]
    return [
        record
        for _, record in laid[0].of(GateCheck)
        if isinstance(record, GateCheck) and record.gauge == uid
    ]


def test_gates_hold_open_and_beyond_the_meter_as_bounds(laid: tuple[Ledger, DemoUids]) -> None:
    first, again = (c for c in checks(laid, "L2-E-U") if c.gate is Gate.WIRED)
    assert {r.what for r in first.readings if r.censor is Censor.OPEN} == {"A-B", "B-C"}
    assert first.verdict is Verdict.FAIL
    assert again.verdict is Verdict.PASS
    insulation = next(r for r in again.readings if r.what == "insulation")
    assert insulation.censor is Censor.ABOVE
    assert (insulation.value, insulation.typed) == (2000e6, "> 2000 MΩ")


def test_a_healthy_pair_is_the_card_and_two_wires(laid: tuple[Ledger, DemoUids]) -> None:
    check = next(c for c in checks(laid, "L1-M-U") if c.gate is Gate.WIRED)
    ohms = {r.what: r.value for r in check.readings}
    # Card 350 within 1.05 ohm, wires 2.217 within 0.044, meter 0.09.
    assert ohms["A-B"] == pytest.approx(350 + 2 * 2.217, abs=1.3)
    assert ohms["B-C"] == pytest.approx(2 * 2.217, abs=0.15)


def test_what_the_pour_did_shows_at_the_gates_after_it(laid: tuple[Ledger, DemoUids]) -> None:
    crushed = {c.gate: c for c in checks(laid, "L3-R6-S")}
    assert crushed[Gate.BEFORE_POUR].verdict is Verdict.PASS
    assert crushed[Gate.AFTER_POUR].verdict is Verdict.FAIL
    damp = next(c for c in checks(laid, "L3-R2-S") if c.gate is Gate.AFTER_POUR)
    insulation = next(r for r in damp.readings if r.what == "insulation")
    assert 1e7 < (insulation.value or 0.0) < 1e8


def test_the_remade_plug_moved_the_reading_by_its_contacts(demo: Demo) -> None:
    noted = demo_campaign.replug(demo)
    contacts = demo.scenario.sites["L4-M-T"].contacts
    change = contacts[2] - contacts[1]
    # A wire in the active arm raises, in its neighbour lowers, by a quarter of r/R each.
    by_hand = (change[0] - change[1]) / 350 / 4
    assert noted.after.value - noted.before.value == pytest.approx(by_hand, rel=0.05, abs=1.5e-7)


def test_zeros_were_taken_unloaded_and_inside_their_files(demo: Demo) -> None:
    windows = demo_campaign.zero_windows(demo)
    assert [window.kind.value for window in windows] == [
        "before pour",
        "before test",
        "after seating",
    ]
    for window in windows:
        assert timedelta(seconds=4) < window.ends - window.begins
        if window.purpose == "test":
            begin = datetime(2026, 10, 13, 7, 40, tzinfo=UTC)
            seconds = [(at - begin).total_seconds() for at in (window.begins, window.ends)]
            loads = np.interp(seconds, demo.scenario.grid_seconds, demo.scenario.true_load)
            assert loads.max() < 300.0
