"""Gate checks: fields of a circuit, what is read, judged, asked back, compared and kept."""

import dataclasses
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl
import pytest

from gaugewright.errors import Faults, InputError
from gaugewright.records.electrical import Arm, BridgeCircuit, Connection, Lead, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.proof import (
    Censor,
    Gate,
    GateCheck,
    GateReading,
    Meter,
    Person,
    Verdict,
)
from gaugewright.records.stated import State, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating import checks as gate_checks
from gaugewright.services.gating import compare as gate_compare
from gaugewright.services.gating import fields as gate_fields
from gaugewright.services.gating import sheet as gate_sheet
from gaugewright.services.gating import table as gate_table
from gaugewright.services.gating.checks import Recorded, Sent, SlipError
from gaugewright.services.gating.typed import with_unit
from gaugewright.store.campaign import CampaignStore

ROME = ZoneInfo("Europe/Rome")
# Before any plug of the demo, so that nothing has to be unplugged for it.
EARLY = datetime(2026, 9, 4, 9, 0, tzinfo=UTC)


class Bench:
    """A copy of the demo with somebody at work, and one gauge at one gate."""

    def __init__(self, store: CampaignStore) -> None:
        self.whole = store
        people = Book.read(store).of(Person)
        self.first, self.second = people[0].uid, people[1].uid
        self.store = store.as_person(self.first)
        self.sendings = 0

    @property
    def book(self) -> Book:
        return Book.read(self.whole)

    def at(self, label: str = "L1-M-T", gate: Gate = Gate.BEFORE_POUR) -> gate_fields.Setup:
        return gate_fields.setup(self.book, gate_fields.gauge_named(self.book, label), gate)

    def read(
        self,
        texts: dict[str, str],
        label: str = "L1-M-T",
        gate: Gate = Gate.BEFORE_POUR,
        **how: object,
    ) -> Recorded:
        made, book = self.at(label, gate), self.book
        units = {}
        for field in made.fields:
            meter = gate_checks.meter_for(book, field, None)
            units[field.what] = gate_checks.box_unit(book, meter, field) if meter else ""
        self.sendings += 1
        sent = Sent(texts, {}, EARLY, units, 17.5)
        sent = dataclasses.replace(sent, **how)
        return gate_checks.record(self.store, book, made, sent, key=f"sending-{self.sendings:012}")


@pytest.fixture
def bench(demo_campaign: Path, tmp_path: Path) -> Iterator[Bench]:
    folder = Path(shutil.copytree(demo_campaign, tmp_path / "demo"))
    with CampaignStore.open(folder, working_context()) as store:
        yield Bench(store)


def fields_of(bench: Bench, topology: Topology, wires: int) -> list[str]:
    """Fields of a circuit of a kind that the demo hasn't."""
    book = bench.book
    gauges = book.of(Gauge)
    lead = bench.store.add(Lead(f"{wires} wires", wires, 5.0, Stated(0.5), 20.0))
    arms = tuple(Arm(n, 1, g.uid) for n, g in zip((1, 2, 3, 4), gauges[-4:], strict=True))
    arms = arms[: {"quarter": 1, "half b": 2}.get(topology.value[:7].strip(), 4)]
    others = [c for c in book.of(BridgeCircuit) if c.record.arms[0].gauge == arms[0].gauge]
    made = BridgeCircuit("as tried", topology, arms, lead.uid)
    if others:
        bench.store.revise(others[0].uid, others[0].version, made, reason="tried")
    else:
        bench.store.add(made)
    gauge = bench.book.label(arms[0].gauge or gauges[0].uid)
    return [f.what for f in bench.at(gauge, Gate.WIRED).fields if f.quantity == "resistance"]


@pytest.mark.parametrize(
    ("topology", "wires", "first", "all_of_them"),
    [
        (Topology.QUARTER_TWO_WIRE, 2, ["A-B"], {"A-B"}),
        (Topology.QUARTER_THREE_WIRE, 3, ["A-B", "B-C"], {"A-B", "B-C", "A-C"}),
        (
            Topology.QUARTER_THREE_WIRE,
            4,
            ["A-B", "A-D", "B-C"],
            {"A-B", "A-D", "B-C", "A-C", "D-B", "D-C"},
        ),
        (
            Topology.FULL_BENDING,
            4,
            ["P-N", "SP-SN"],
            {"P-N", "SP-SN", "P-SP", "P-SN", "N-SP", "N-SN"},
        ),
        (
            Topology.FULL_BENDING,
            6,
            ["P-KP", "N-KN", "SP-SN"],
            {"P-N", "SP-SN", "P-KP", "N-KN", "KP-KN", "P-SP", "P-SN", "N-SP", "N-SN"},
        ),
    ],
)
def test_fields_follow_the_circuit_the_fewest_first(
    bench: Bench, topology: Topology, wires: int, first: list[str], all_of_them: set[str]
) -> None:
    found = fields_of(bench, topology, wires)
    assert found[: len(first)] == first
    assert set(found) == all_of_them


def test_a_half_bridge_is_read_whole_and_arm_by_arm(bench: Bench) -> None:
    made = bench.at("P-F", Gate.WIRED)
    grids = {f.what: f.grids for f in made.fields if f.quantity == "resistance"}
    assert grids == {"A-B": 2, "A-C": 1, "B-C": 1}
    nominal = made.pack.gauge_resistance.value
    assert made.lead is not None
    expected = made.expected(made.field("A-B"), made.lead.temperature_degc)
    assert expected == pytest.approx(2 * nominal + 2 * made.lead.resistance.value)


def test_before_the_pour_four_readings_come_first(bench: Bench) -> None:
    assert [f.what for f in bench.at().fewest] == ["A-B", "B-C", "insulation", "reading"]


def test_wires_that_no_circuit_of_that_kind_has_are_named(bench: Bench) -> None:
    with pytest.raises(InputError, match="half bridge, 3 wires"):
        fields_of(bench, Topology.HALF_BENDING, 4)


def test_a_sound_gauge_passes_with_its_reasons_and_limits(bench: Bench) -> None:
    found = bench.read({"A-B": "353.53", "B-C": "4.41", "insulation": "> 2000"})
    check = found.entry.record
    assert check.verdict is Verdict.PASS
    assert check.flags == ()
    labels = {bench.book.label(ref.uid) for ref in check.limits}
    # A–C of the earlier visit still holds, so the wires are compared too.
    assert labels == {
        "gauge resistance from nominal",
        "insulation before pour",
        "lead difference",
    }
    assert "from its card" in check.reason
    assert check.readings[0].value == 353.53
    assert check.readings[0].typed == "353.53"
    leak = check.readings[2]
    assert (leak.value, leak.censor, leak.typed) == (2e9, Censor.ABOVE, "> 2000 MΩ")


@pytest.mark.parametrize("word", ["open", "OPEN", "OL", "o.l."])
def test_open_is_an_answer_and_names_the_lead(bench: Bench, word: str) -> None:
    found = bench.read({"A-B": word, "B-C": word, "A-C": "353.54", "insulation": "> 2000"})
    assert found.entry.record.verdict is Verdict.FAIL
    assert "A–B and B–C are open: lead B" in found.entry.record.reason
    assert found.entry.record.readings[0].value is None


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ({"A-B": "335.53"}, "353.53"),  # neighbours exchanged
        ({"A-B": "3535.3"}, "353.53"),  # a point too far
        ({"A-B": "0.35353"}, "353.53"),  # read in kilohms
        ({"B-C": "44.1"}, "4.41"),
        ({"A-B": "-353.53"}, "353.53"),
    ],
)
def test_a_probable_slip_is_asked_about_with_what_was_meant(
    bench: Bench, typed: dict[str, str], meant: str
) -> None:
    with pytest.raises(SlipError) as refused:
        bench.read(typed)
    assert [question.probable for question in refused.value.questions] == [meant]
    assert f"probably {meant} Ω" in str(refused.value)
    assert not [c for c in bench.book.of(GateCheck) if c.record.readings[0].measured == EARLY]


def test_a_leak_tester_cannot_read_beyond_its_range(bench: Bench) -> None:
    with pytest.raises(SlipError, match="probably 381 MΩ"):
        bench.read({"insulation": "381000000"})


def test_an_honest_odd_reading_is_recorded_with_a_flag(bench: Bench) -> None:
    found = bench.read({"A-B": "335.53"}, as_typed=True)
    assert any("confirmed as typed" in flag for flag in found.entry.record.flags)
    odd = bench.read({"A-B": "290.20"})  # no slip leads to it: taken as it is
    assert odd.entry.record.verdict is Verdict.FAIL
    assert any("fell by" in flag for flag in odd.entry.record.flags)


def test_a_joint_in_b_asks_for_the_full_set_and_is_then_found(bench: Bench) -> None:
    few = bench.read({"A-B": "358.49", "B-C": "9.37", "insulation": "> 2000"})
    assert few.entry.record.verdict is Verdict.CANNOT_TELL
    assert "read A–C too" in few.entry.record.reason
    assert few.judgement.looks_odd
    full = bench.read({"A-C": "353.54"})
    assert full.entry.record.verdict is Verdict.FAIL
    assert "lead B has 4.95 Ω more than lead C" in full.entry.record.reason


def test_a_coarse_meter_cannot_tell_and_is_told_which_would(bench: Bench) -> None:
    coarse = bench.store.add(Meter("coarse ohmmeter", "ohm", 0.0, 0.0, 2e6))
    meters = dict.fromkeys(("A-B", "A-C", "B-C"), coarse.uid)
    texts = {"A-B": "353.5", "B-C": "4.4", "A-C": "353.5", "insulation": "> 2000"}
    found = bench.read(texts, meters=meters)
    # Two digits of 0.1 ohm: 1.96 × 0.1 × √(2/12) = 0.080 ohm, more than the limit of 0.05.
    assert found.entry.record.verdict is Verdict.CANNOT_TELL
    line = next(line for line in found.judgement.lines if line.limit and line.better_meter)
    assert "a meter known to ±0.05 Ω would tell" in line.better_meter
    assert "0.08" in line.sentence


def test_an_insulation_beyond_a_short_range_cannot_be_told(bench: Bench) -> None:
    short = bench.store.add(Meter("short tester", "MOhm", 0.03, 0.2, 500.0, 50.0))
    found = bench.read(
        {"A-B": "353.53", "B-C": "4.41", "insulation": "> 500"},
        meters={"insulation": short.uid},
        units={},
    )
    assert found.entry.record.verdict is Verdict.CANNOT_TELL
    assert "a meter that reads beyond 1\N{NARROW NO-BREAK SPACE}000 MΩ would tell" in (
        found.entry.record.reason
    )


def test_warmth_between_gates_is_taken_off(bench: Bench) -> None:
    """By hand: two wires of 2.217 ohm at 20 degC, 24.3 to 19.0 degC, copper 0.393 % a kelvin."""
    made = bench.at("L1-M-T", Gate.BEFORE_TEST)
    readings = tuple(gate_checks.readings_at(bench.book, made).values())
    loops = [c for c in gate_compare.changes(bench.book, made, readings) if c.field.what == "B-C"]
    after_pour = next(c for c in loops if c.gate is Gate.AFTER_POUR)
    at_20 = 2 * 2.217
    assert after_pour.by_temperature == pytest.approx(at_20 * 0.00393 * (19.0 - 24.3), rel=2e-3)
    assert after_pour.change is not None
    raw = float(after_pour.now.split()[0]) - float(after_pour.before.split()[0])
    assert float(after_pour.change.value) == pytest.approx(raw - after_pour.by_temperature)
    # One meter's share and zero leave a difference; two digits of 0.01 ohm stay.
    assert float(after_pour.change.expanded()) == pytest.approx(1.96 * 0.01 / 6**0.5, rel=5e-3)


def test_a_step_is_told_in_strain(bench: Bench) -> None:
    bench.read({"A-B": "354.56", "B-C": "4.41", "insulation": "> 2000"})
    made = bench.at()
    found = gate_compare.changes(
        bench.book, made, tuple(gate_checks.readings_at(bench.book, made).values())
    )
    caged = next(c for c in found if c.field.what == "A-B" and c.gate is Gate.CAGED)
    assert caged.change is not None
    assert caged.strain == pytest.approx(float(caged.change.value) / (350.0 * 2.08))


def test_two_people_s_values_are_both_kept_and_shown(bench: Bench) -> None:
    bench.read({"A-B": "353.53", "B-C": "4.41", "insulation": "> 2000"})
    bench.store = bench.whole.as_person(bench.second)
    found = bench.read({"A-B": "353.93"})
    assert [(both.label, both.theirs, both.yours) for both in found.both] == [
        ("A–B", "353.53", "353.93")
    ]
    assert any("both are kept" in flag for flag in found.entry.record.flags)
    made = bench.at()
    mine = [
        c.record for c in gate_compare.checks_of(bench.book, made) if c.record.gate is made.gate
    ]
    assert {r.typed for c in mine for r in c.readings if r.what == "A-B"} >= {"353.53", "353.93"}


def test_the_same_sending_is_written_once(bench: Bench) -> None:
    first = bench.read({"A-B": "353.53"})
    bench.sendings -= 1
    again = bench.read({"A-B": "353.53"})
    assert (again.entry.uid, again.is_new) == (first.entry.uid, False)


def test_unplugging_ends_the_zero_and_is_said_before(bench: Bench) -> None:
    late = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
    head = bench.whole.head()
    with pytest.raises(InputError, match="ends the zero"):
        bench.read({"A-B": "353.53"}, gate=Gate.BEFORE_TEST, measured=late)
    assert bench.whole.head() == head
    made = bench.at(gate=Gate.BEFORE_TEST)
    standing = gate_fields.open_connection(bench.book, made)
    assert standing is not None
    bench.read({"A-B": "353.53"}, gate=Gate.BEFORE_TEST, measured=late, unplugged=True)
    assert bench.book.entry(standing.uid, Connection).record.ends == late
    assert gate_fields.open_connection(bench.book, made) is None


def test_pairs_after_the_reading_want_the_reading_anew(bench: Bench) -> None:
    channel = bench.store.add(Meter("recorder A", "mV/V", 5e-4, 1e-3))
    more = {"meters": {"reading": channel.uid}, "units": {"reading": "mV/V"}}
    bench.read({"reading": "-0.42"}, **more)
    with pytest.raises(InputError, match="taken anew"):
        bench.read({"A-B": "353.53", "B-C": "4.41"})
    found = bench.read({"A-B": "353.53", "B-C": "4.41", "reading": "-0.43"}, **more)
    assert found.entry.record.readings[-1].value == pytest.approx(-0.43e-3)


def test_second_name_may_come_later_and_from_somebody_else(bench: Bench) -> None:
    entry = bench.read({"A-B": "353.53"}).entry
    assert entry.record.second_person is None
    with pytest.raises(InputError, match="somebody else"):
        gate_checks.sign_second(bench.store, entry.uid, entry.version)
    signed = gate_checks.sign_second(bench.whole.as_person(bench.second), entry.uid, entry.version)
    assert signed.record.second_person == bench.second


def test_repair_is_ranked_by_what_is_left(bench: Bench) -> None:
    """L1-M-T loses its opposite too, L3-M-T keeps it: the first hangs by more."""
    poured = (Gate.AFTER_POUR, Gate.BEFORE_TEST)
    for check in bench.book.of(GateCheck):
        if check.record.gate in poured:
            bench.store.withdraw(check.uid, check.version, reason="not poured yet")
    for label in ("L1-M-T", "L1-M-U", "L3-M-T"):
        bench.read({"A-B": "open", "A-C": "open", "B-C": "4.41"}, label)
    order = [one.gauge.record.label for one in gate_table.repair_now(bench.book)]
    assert set(order) == {"L1-M-T", "L1-M-U", "L3-M-T"}
    ranked = gate_table.repair_now(bench.book)
    left = [one.left if one.left is not None else 99 for one in ranked]
    assert left == sorted(left)
    alive = {one.gauge.record.label: one.has_opposite for one in ranked}
    assert alive == {"L1-M-T": False, "L1-M-U": False, "L3-M-T": True}


def test_states_stand_on_the_one_scale(bench: Bench) -> None:
    failed = bench.read({"A-B": "open"}).entry.record
    assert gate_checks.state_of_check(failed) is State.REPAIR
    later = dataclasses.replace(failed, gate=Gate.AFTER_POUR)
    assert gate_checks.state_of_check(later) is State.LOST


def test_a_sheet_goes_out_and_back_and_says_nothing_new(bench: Bench, tmp_path: Path) -> None:
    table = gate_sheet.sheet_of(bench.book, Gate.BEFORE_POUR, ROME)
    text, book = tmp_path / "pour.csv", tmp_path / "pour.xlsx"
    text.write_text(gate_sheet.as_csv(table), encoding="utf-8-sig", newline="")
    book.write_bytes(gate_sheet.as_workbook(table))
    head = bench.whole.head()
    for path in (text, book):
        taken = gate_sheet.take_in(bench.store, bench.book, Gate.BEFORE_POUR, path, zone=ROME)
        assert (len(taken.recorded), taken.unchanged, taken.empty) == (0, 24, 6)
    assert bench.whole.head() == head


def test_no_cell_of_a_workbook_is_a_formula(bench: Bench, tmp_path: Path) -> None:
    gauge = bench.book.of(Gauge)[0]
    named = dataclasses.replace(gauge.record, label="=1+2")
    bench.store.revise(gauge.uid, gauge.version, named, reason="tried")
    path = tmp_path / "pour.xlsx"
    path.write_bytes(
        gate_sheet.as_workbook(gate_sheet.sheet_of(bench.book, Gate.BEFORE_POUR, ROME))
    )
    cells = [c for row in openpyxl.load_workbook(path).active.iter_rows() for c in row]
    assert "=1+2" in {cell.value for cell in cells}
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    text = gate_sheet.as_csv(gate_sheet.sheet_of(bench.book, Gate.BEFORE_POUR, ROME))
    assert "\r\n'=1+2," in text


def test_a_bad_sheet_names_every_row_and_leaves_nothing(bench: Bench, tmp_path: Path) -> None:
    path = tmp_path / "pour.csv"
    path.write_text(
        "gauge;temperature in °C;A-B in Ω;insulation in MΩ\n"
        "L1-M-T;17.5;353.53;> 2000\n"
        "L1-M-U;17.5;335.67;> 2000\n"
        "NIX;17.5;353.53;> 2000\n"
        "L2-M-T;17.5;3x3.67;> 2000\n",
        encoding="utf-8",
    )
    head = bench.whole.head()
    with pytest.raises(Faults) as refused:
        gate_sheet.take_in(bench.store, bench.book, Gate.BEFORE_POUR, path, zone=ROME)
    assert [fault.line for fault in refused.value.faults] == [3, 4, 5]
    assert "probably 353.67 Ω" in str(refused.value)
    assert bench.whole.head() == head


def rewired(bench: Bench, topology: Topology, wires: int, grids: int) -> str:
    """A gauge of the demo put into another circuit; its label."""
    gauges = bench.book.of(Gauge)[-grids:]
    lead = bench.store.add(Lead(f"{wires} wires", wires, 5.0, Stated(0.5), 20.0))
    arms = tuple(Arm(n, 1, g.uid) for n, g in zip((1, 2, 3, 4), gauges, strict=False))
    mine = next(c for c in bench.book.of(BridgeCircuit) if c.record.arms[0].gauge == arms[0].gauge)
    made = BridgeCircuit("as tried", topology, arms, lead.uid)
    bench.store.revise(mine.uid, mine.version, made, reason="tried")
    return bench.book.label(gauges[0].uid)


def test_an_open_lead_of_a_full_bridge_is_named_and_no_grid(bench: Bench) -> None:
    label = rewired(bench, Topology.FULL_BENDING, 4, 4)
    made = bench.at(label, Gate.WIRED)
    sound = {f.what: f"{made.expected(f, 17.5):.2f}" for f in made.fields if f.grids}
    gone = {what: "open" for what in sound if "SP" in what.split("-")}
    found = bench.read({**sound, **gone}, label, Gate.WIRED).entry.record
    assert found.verdict is Verdict.FAIL
    assert found.reason.endswith("are open: lead S+")


def test_one_bad_loop_of_six_leads_asks_for_more_and_blames_no_grid(bench: Bench) -> None:
    label = rewired(bench, Topology.FULL_BENDING, 6, 4)
    made = bench.at(label, Gate.WIRED)
    texts = {f.what: f"{made.expected(f, 17.5):.2f}" for f in made.fewest if f.wires}
    found = bench.read({**texts, "N-KN": "7.00"}, label, Gate.WIRED).entry.record
    assert found.verdict is Verdict.CANNOT_TELL
    assert "N–K− stands 6.0" in found.reason
    assert "grid stands" not in found.reason


def test_what_only_a_diagnosis_asks_for_is_kept_and_judged_by_no_limit(bench: Bench) -> None:
    bench.read({"A-B": "353.53", "B-C": "4.41", "insulation": "> 2000"}, unplugged=True)
    units = {"A to bar": "Ω"}
    found = bench.read({"A to bar": "open"}, units=units, unplugged=True)
    assert [r.what for r in found.entry.record.readings] == ["A to bar"]
    assert found.entry.record.verdict is Verdict.PASS
    assert gate_checks.state_of_check(found.entry.record) is not State.LOST


@pytest.mark.parametrize(
    ("censor", "typed", "shown"),
    [
        (Censor.EXACT, "1.2e3", "1.2e3 Ω"),  # a power of ten is no unit
        (Censor.EXACT, "1.2 kΩ", "1.2 kΩ"),
        (Censor.ABOVE, "> 2000", "> 2000 Ω"),
        (Censor.OPEN, "∞", "∞"),
    ],
)
def test_a_reading_is_shown_with_the_unit_of_its_meter_unless_one_was_typed(
    censor: Censor, typed: str, shown: str
) -> None:
    meter = Meter("M", "ohm", 0.01, 0.1)
    value = None if censor is Censor.OPEN else 1.0
    read = GateReading("A-B", value, censor, Uid("0" * 26), typed, 20.0, EARLY, EARLY)
    assert with_unit(read, meter) == shown
