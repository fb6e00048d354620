"""A step held to its method: steel lost, slips, clocks, dew, cure, dates, a name under a limit."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from gaugewright.errors import Faults, InputError, InputFaults
from gaugewright.records.benching import BenchOverride
from gaugewright.records.gauges import BenchStep, Gauge, Protection, Supply
from gaugewright.records.proof import Person
from gaugewright.records.specimen import SmoothedZone
from gaugewright.services.bench import written as bench
from gaugewright.services.bench.clocks import running
from gaugewright.services.bench.coming import Place, standing
from gaugewright.services.bench.cure_log import log_typed
from gaugewright.services.bench.lists import bench_lists
from gaugewright.services.bench.methods import method_of
from gaugewright.services.bench.put_right import method_step, taken_back, typed_before
from gaugewright.services.bench.step_words import step_words
from gaugewright.services.bench.supplies import supply_kept
from gaugewright.services.bench.typed import BenchSlip, key_of, meant
from gaugewright.services.bench.unread import unread, unread_words
from gaugewright.services.campaign.book import Book

BARE = "bare metal in a dry hall"
DAY = "2026-05-04"
SHEET = {
    "label": "glue",
    "what": "adhesive",
    "batch": "A-1",
    "expires": "2027-01-31",
    "source": "sheet of the product, 2025 (invented)",
    "pot_life": "20 min",
    "pressing": "3 min",
    "cure": "20 °C: 24 h; 40 °C: 3 h",
    "highest": "60 °C",
}


@pytest.fixture
def at_bench(tiny):
    tiny.add("AB", Person("AB", "Ada Bench (invented)"))
    tiny.add("CD", Person("CD", "Cora Dowel (invented)"))
    supply_kept(tiny.store, SHEET)
    return tiny


def done(tiny, step, *, gauges="G-T", person="AB", at="10:00", until="10:05", **more):
    values = {key_of(name.replace("_", " ")): text for name, text in more.pop("values", {}).items()}
    typed = {
        "method": BARE,
        "gauges": gauges,
        "step": step,
        "person": person,
        "begun": f"{DAY} {at}",
        "ended": f"{DAY} {until}" if until else "",
        "unread": "1",
        **values,
        **more,
    }
    return bench.noted(tiny.store, typed)


def test_a_batch_is_one_submission_with_a_value_for_each_gauge(at_bench):
    kept = done(
        at_bench,
        "smooth",
        gauges="G-T; G-U",
        values={"calliper limit": "0.02"},
        **{key_of("flat width", "G-T"): "5.0", key_of("flat width", "G-U"): "6.0"},
    )
    widths = [r.value for e in kept for r in e.record.readings if r.what == "flat width"]
    assert widths == [0.005, 0.006]
    assert {e.record.method.version for e in kept} == {1}
    assert all(e.record.limits for e in kept)
    assert [e.record.initials for e in kept] == ["AB", "AB"]


def test_steel_lost_is_that_of_the_segments_cut_off(at_bench):
    (kept,) = done(at_bench, "smooth", values={"flat width": "6.0", "calliper limit": "0.02"})
    # The two like segments by quadrature of their chords; bar 16 mm, area 200 mm².
    y = np.linspace(np.sqrt(8.0**2 - 3.0**2), 8.0, 200_001)
    segment = np.trapezoid(2 * np.sqrt(64.0 - y**2), y)
    lost = next(r for r in kept.record.readings if r.what == "steel lost")
    assert lost.value == pytest.approx(2 * segment / 200.0, rel=1e-5)
    assert "of the steel is gone" in lost.typed
    assert any("more steel is gone than 2 %" in flag for flag in kept.record.flags)
    flat = Book.read(at_bench.store).flat_of(Book.read(at_bench.store).of(Gauge)[0])
    assert flat is not None
    assert (flat.record.width.value, flat.record.width.plus_minus) == (0.006, 0.02e-3)


def test_two_diameters_make_a_smoothed_zone_and_a_depth_is_held_to_the_width(at_bench):
    (kept,) = done(
        at_bench,
        "smooth",
        values={
            "diameter left": "15.8; 15.9",
            "zone length": "40",
            "flat width": "5",
            "flat depth": "1.2",
        },
    )
    (zone,) = Book.read(at_bench.store).of(SmoothedZone)
    assert zone.record.diameter_left.value == pytest.approx(15.85e-3)
    assert any("measure both again" in flag for flag in kept.record.flags)


@pytest.mark.parametrize(
    ("step", "field", "text", "probable"),
    [
        ("smooth", "diameter left", "1.58", "15.8 mm"),
        ("smooth", "diameter left", "0.0158", "15.8 mm"),
        ("smooth", "diameter left", "0.62", "15.75 mm"),
        ("smooth", "flat width", "0.05", "5 mm"),
        ("bond", "grid resistance", "0.3502", "350.2 Ω"),
        ("bond", "metal temperature", "70", "21.11 °C"),
        ("bond", "metal temperature", "215", "21.5 °C"),
    ],
)
def test_a_slip_is_asked_about_with_what_was_probably_meant(at_bench, step, field, text, probable):
    with pytest.raises(BenchSlip) as slip:
        done(at_bench, step, values={field: text})
    assert slip.value.questions[0].probable == probable
    assert Book.read(at_bench.store).of(BenchStep) == ()
    mended = meant({key_of(field): text}, slip.value)
    assert mended == {key_of(field): probable}
    (kept,) = done(at_bench, step, as_typed="1", values={field: text})
    assert any("confirmed as typed" in flag for flag in kept.record.flags)


def test_what_cannot_be_is_refused_and_what_is_odd_is_kept_with_a_flag(at_bench):
    for values, words in (
        ({"flat width": "-5"}, "did you mean 5 mm"),
        ({"flat width": "16"}, "narrower than the bar"),
        ({"flat width": "5 Ω"}, "a number in mm"),
    ):
        with pytest.raises(InputError, match=words):
            done(at_bench, "smooth", as_typed="1", values=values)
    with pytest.raises(InputError, match="did you mean 48 %"):
        done(at_bench, "clean", humidity="480")
    (rare,) = done(at_bench, "smooth", values={"flat width": "14.5"}, gauges="G-U")
    assert any("flat width 14.5 is odd here" in flag for flag in rare.record.flags)


@pytest.mark.parametrize(
    ("typed", "kept", "told"),
    [
        ("> 20 GΩ", "> 20 GΩ", ""),
        ("> 20000", "> 20000 MΩ", ""),
        ("open", "open", ""),
        ("> 100", "> 100 MΩ", "insulation > 100 MΩ: this meter can’t tell"),
        ("< 20 GΩ", "< 20 GΩ", "this meter can’t tell"),
        ("< 100", "< 100 MΩ", ", less than"),
    ],
)
def test_a_reading_beyond_its_meter_is_kept_as_typed(at_bench, typed, kept, told):
    values = {"insulation": typed, "grid resistance": "120.1"}
    (step,) = done(at_bench, "bond", supplies="glue", as_typed="1", values=values)
    reading = next(r for r in step.record.readings if r.what == "insulation")
    assert (reading.typed, reading.value) == (kept, None)
    flags = [flag for flag in step.record.flags if "insulation" in flag]
    assert told in flags[0] if told else flags == []


def test_a_grid_that_is_open_is_told_and_words_are_no_bound(at_bench):
    (step,) = done(at_bench, "bond", supplies="glue", values={"grid resistance": "open"})
    assert "grid open: no value to hold against its card" in step.record.flags
    with pytest.raises(InputError, match=r"insulation is 'much'"):
        done(at_bench, "bond", supplies="glue", values={"insulation": "> much"})


def test_a_step_written_down_again_is_a_batch_of_its_own(at_bench):
    for _ in range(3):
        kept = done(at_bench, "lay out", gauges="G-T; G-U")
    book = Book.read(at_bench.store)
    assert bench.batch_of(book, kept[1]) == kept
    assert [len(run) for run in bench.batches(book)] == [2, 2, 2]
    assert bench.batches(book)[0] == kept  # the latest first
    assert "written down for 2 gauges" in step_words(book, bench.batch_of(book, kept[0]))[0]


def test_two_people_who_read_one_field_are_both_kept_and_told(at_bench):
    done(at_bench, "smooth", values={"flat width": "5.0"})
    (second,) = done(
        at_bench, "smooth", person="CD", at="11:00", until="11:05", values={"flat width": "5.4"}
    )
    assert any("AB read 5.0, you 5.4; both are kept" in flag for flag in second.record.flags)
    read = [
        r.value
        for e in Book.read(at_bench.store).of(BenchStep)
        for r in e.record.readings
        if r.what == "flat width"
    ]
    assert read == [0.005, 0.0054]


def test_cleaned_to_bonded_runs_out_says_what_to_do_again_and_a_name_lets_it_stand(at_bench):
    store = at_bench.store
    done(at_bench, "clean", at="10:00", until="10:10")
    (late,) = done(at_bench, "bond", at="11:02", until="11:10", supplies="glue")
    (broken,) = late.record.ran_out
    assert (broken.what, broken.redo) == ("cleaned to bonded", "clean")
    assert broken.sentence.startswith("cleaned to bonded: 52 min, at most 30 min")

    def next_step():
        book = Book.read(store)
        gauge = book.labelled(Gauge, "G-T")
        return standing(book, gauge, method_of(book, gauge)).next.name

    assert next_step() == "clean"
    done(at_bench, "clean", at="11:30", until="11:40")
    assert next_step() == "bond"
    done(at_bench, "bond", at="11:50", until="11:58", supplies="glue")
    assert next_step() == "cure"
    done(at_bench, "wire", at="11:00", until="11:01")
    assert next_step() == "cure"  # what was done before the gauge was bonded anew doesn't count
    for person, reason in (("", "x"), ("AB", " "), ("nobody", "x")):
        with pytest.raises(InputError):
            bench.overridden(store, late, "cleaned to bonded", person, reason)
    with pytest.raises(InputError, match="one that ran out"):
        bench.overridden(store, late, "pot life", "AB", "x")
    named = bench.overridden(store, late, "cleaned to bonded", "CD", "kept dry under film")
    assert store.entry(named.uid).record == BenchOverride(
        late.uid, "cleaned to bonded", at_bench.uid["CD"], "kept dry under film"
    )


def test_an_override_in_the_form_itself_lets_the_step_stand(at_bench):
    done(at_bench, "clean", at="10:00", until="10:10")
    done(
        at_bench,
        "bond",
        at="11:02",
        until="11:10",
        supplies="glue",
        override_person="CD",
        override_reason="dry air",
    )
    book = Book.read(at_bench.store)
    gauge = book.labelled(Gauge, "G-T")
    places = {p.step.name: p.place for p in standing(book, gauge, method_of(book, gauge)).places}
    assert places["bond"] is Place.DONE
    assert places["smooth"] is Place.NOT_WRITTEN


def test_pot_life_and_pressing_are_those_of_the_sheet(at_bench):
    done(at_bench, "clean", at="10:00", until="10:10")
    (slow,) = done(at_bench, "bond", at="10:12", until="10:40", supplies="glue")
    assert [one.what for one in slow.record.ran_out] == ["pot life"]
    assert "sheet of glue: sheet of the product, 2025" in slow.record.ran_out[0].sentence
    (brief,) = done(at_bench, "bond", gauges="G-U", at="10:12", until="10:14", supplies="glue")
    assert "pressing" in [one.what for one in brief.record.ran_out]
    (bare,) = done(at_bench, "bond", gauges="G-U", at="10:20", until="10:30")
    assert any("pot life can’t be told" in flag for flag in bare.record.flags)
    assert any("no batch of adhesive" in flag for flag in bare.record.flags)


def test_metal_near_the_dew_point_is_told_from_its_own_temperature(at_bench):
    air = {"temperature": "21.5", "humidity": "48"}
    (warm,) = done(at_bench, "clean", values={"metal temperature": "18"}, **air)
    assert warm.record.ran_out == ()
    (cold,) = done(at_bench, "clean", gauges="G-U", values={"metal temperature": "12"}, **air)
    (near,) = cold.record.ran_out
    assert near.sentence.startswith("dew point 10.0 °C, 2.0 K below the metal: less than the 3 K")


def test_a_supply_past_its_date_is_refused_until_it_is_confirmed(at_bench):
    supply_kept(at_bench.store, {**SHEET, "label": "old", "expires": "2026-05-03"})
    with pytest.raises(BenchSlip, match="was good until 2026-05-03"):
        done(at_bench, "bond", supplies="old")
    (kept,) = done(at_bench, "bond", supplies="old", as_typed="1")
    assert any("was good until 2026-05-03" in flag for flag in kept.record.flags)


def test_a_cure_is_added_up_from_its_log_by_the_sheet_and_the_log_is_kept(at_bench):
    done(at_bench, "bond", at="08:00", until="08:10", supplies="glue")
    lines = ["time;°C"] + [f"{h % 24:02d}:00; {21.0 if h < 19 else 17.0}" for h in range(9, 33)]
    log = "\n".join(lines)
    (short,) = done(at_bench, "cure", at="09:00", until="23:59", values={"temperature log": log})
    share = next(r for r in short.record.readings if r.what == "cured share")
    assert share.value == pytest.approx(9 / 24)  # from 9 to 18 h at 21 °C; the fall counts cold
    assert [one.redo for one in short.record.ran_out] == ["cure"]
    # Two stretches of the last hours were at 17 °C: where it stands, the sheet promises nothing.
    assert "at the last temperature it doesn’t go on" in share.typed
    assert any("colder than the sheet’s table" in flag for flag in short.record.flags)
    kept = next(r for r in short.record.readings if r.what == "temperature log")
    sha256 = kept.typed.rpartition(" ")[2]
    stored = [
        a
        for a in Book.read(at_bench.store).every()
        if getattr(a.record, "sha256", "").startswith(sha256)
    ]
    assert at_bench.store.original_bytes(stored[0].record.sha256).decode() == log
    whole = "\n".join(f"2026-05-05 {h:02d}:00, 40.5" for h in range(4))
    (cured,) = done(
        at_bench, "cure", gauges="G-T", at="12:00", until="16:00", values={"temperature log": whole}
    )
    assert cured.record.ran_out == ()


def test_a_cure_without_log_or_sheet_says_what_is_missing(at_bench):
    done(at_bench, "bond", supplies="glue")
    (blind,) = done(at_bench, "cure", at="11:00", until="20:00")
    assert [one.redo for one in blind.record.ran_out] == ["cure"]
    with pytest.raises(InputError, match="60 °C at most"):
        done(at_bench, "cure", values={"temperature log": "10:00 70\n11:00 70"})
    supply_kept(at_bench.store, {"label": "bare", "what": "adhesive", "batch": "x"})
    done(at_bench, "bond", gauges="G-U", supplies="bare")
    with pytest.raises(InputError, match="cure table"):
        done(at_bench, "cure", gauges="G-U", values={"temperature log": "10:00 20\n11:00 20"})


@pytest.mark.parametrize(
    "text",
    [
        "10:00;21,5\n11:00;21,0",
        "time,temperature\n10:00,21.5\n11:00,21.0",
        "10:00 21.5\n11:00 21.0 °C",
        "2026-05-04 10:00\t21.5\n2026-05-04 11:00\t21",
        "Recorder 7\nNo;day;time;temperature °C;humidity\n"
        "1;04.05.2026;10:00:00;21,5;48\n2;04.05.2026;11:00:00;21;47",
        '"day","time","temp","humidity"\n"2026-05-04","10:00","21.5","48"\n'
        "2026-05-04,11:00,21.0,47",
    ],
)
def test_logs_are_read_as_they_come(at_bench, text):
    log = log_typed(text, datetime(2026, 5, 4, 8, tzinfo=UTC), ZoneInfo("UTC"))
    assert log.temperatures_degc == (21.5, 21.0)
    assert log.instants[1] - log.instants[0] == timedelta(hours=1)


def test_a_cure_without_log_is_counted_with_its_lowest_temperature(at_bench):
    done(at_bench, "bond", at="08:00", until="08:10", supplies="glue")
    values = {"lowest temperature": "22", "highest temperature": "30"}
    (short,) = done(at_bench, "cure", at="09:00", until="21:00", values=values)
    share = next(r.value for r in short.record.readings if r.what == "cured share")
    assert share == pytest.approx(12 / 24)  # the sheet asks 24 h at 20 °C
    assert [one.redo for one in short.record.ran_out] == ["cure"]
    assert "counted as if all of 12 h had been at its lowest, 22.0 °C" in short.record.flags
    day = {"begun": f"{DAY} 09:00", "ended": "2026-05-05 09:00"}
    (whole,) = done(at_bench, "cure", **day, values={"lowest temperature": "20"})
    assert whole.record.ran_out == ()
    assert any("whether it stayed below 60 °C can’t be told" in f for f in whole.record.flags)
    # A log with a gap over night, and the lowest of all of it: what promises more holds.
    log = f"{DAY} 09:00;24\n{DAY} 10:00;24\n2026-05-05 09:00;24"
    (both,) = done(
        at_bench, "cure", **day, values={"temperature log": log, "lowest temperature": "21"}
    )
    assert both.record.ran_out == ()
    for wrong, words in (
        ({"lowest temperature": "25", "temperature log": log}, "the coldest of the log, 24.0"),
        ({"lowest temperature": "20", "highest temperature": "70"}, "60 °C at most"),
        ({"lowest temperature": "20", "highest temperature": "10"}, "no lower than 20 °C"),
    ):
        with pytest.raises(InputError, match=words):
            done(at_bench, "cure", **day, as_typed="1", values=wrong)


def test_a_line_with_two_numbers_is_read_only_by_a_heading():
    begun = datetime(2026, 5, 4, tzinfo=UTC)
    with pytest.raises(Faults, match="one temperature after the time"):
        log_typed("10:00;48;21\n11:00;47;21", begun, ZoneInfo("UTC"))
    log = log_typed("Recorder 7\n10:00;21\n11:00;21", begun, ZoneInfo("UTC"))
    assert log.above == ("Recorder 7",)


def test_every_line_of_a_log_that_cannot_be_read_is_named():
    begun = datetime(2026, 5, 4, tzinfo=UTC)
    with pytest.raises(Faults, match=r"(?s)line 2.*line 3"):
        log_typed("10:00 21\nnoon 21\n11:00 warm\n", begun, ZoneInfo("UTC"))


def test_clocks_that_run_are_told_with_the_gauges_they_are_for(at_bench):
    done(at_bench, "clean", gauges="G-T; G-U", at="10:00", until="10:10")
    done(at_bench, "lay out", gauges="G-T; G-U", at="10:12", until="10:15")
    zone = at_bench.store.campaign.record.zone
    now = datetime(2026, 5, 4, 10, 20, tzinfo=ZoneInfo(zone))
    (clock,) = running(Book.read(at_bench.store), now)
    assert (clock.name, clock.gauges) == ("cleaned to bonded", ("G-T", "G-U"))
    assert clock.words(now) == "20 min left"
    assert clock.words(now + timedelta(minutes=25)) == "ran out 5 min ago"
    done(at_bench, "bond", at="10:21", until="", supplies="glue")
    names = {(one.name, one.gauges) for one in running(Book.read(at_bench.store), now)}
    assert names == {
        ("cleaned to bonded", ("G-U",)),
        ("pot life", ("G-T",)),
        ("pressing", ("G-T",)),
    }


def test_a_cure_that_goes_on_has_a_clock_by_the_sheet_and_then_by_its_log(at_bench):
    done(at_bench, "bond", at="08:00", until="08:10", supplies="glue")
    zone = ZoneInfo(at_bench.store.campaign.record.zone)
    now = datetime(2026, 5, 4, 15, 0, tzinfo=zone)
    done(at_bench, "cure", at="09:00", until="", temperature="22")
    (clock,) = running(Book.read(at_bench.store), now)
    assert clock.name.startswith("cure at 20 °C by the sheet")
    assert clock.words(now) == "18 h to wait"
    log = "\n".join(f"{h:02d}:00 21.0" for h in range(9, 16))
    done(at_bench, "cure", at="09:00", until="15:00", finish="1", values={"temperature log": log})
    (clock,) = running(Book.read(at_bench.store), now)
    assert clock.name.startswith("cure, if it stays as warm")
    assert clock.words(now) == "18 h to wait"  # 6 of 24 h at 20 °C or more are done


def test_a_step_that_was_begun_is_ended_and_its_form_sent_twice_adds_nothing(at_bench):
    store = at_bench.store
    done(at_bench, "bond", at="10:12", until="", supplies="glue")
    typed = {
        "method": BARE,
        "gauges": "G-T",
        "step": "bond",
        "person": "AB",
        "ended": f"{DAY} 10:20",
        "finish": "1",
        key_of("grid resistance"): "350.1",
        "unread": "1",
    }
    (ended,) = bench.noted(store, typed, key="a key of the form, 1")
    again = bench.noted(store, typed, key="a key of the form, 1")
    assert [e.uid for e in again] == [ended.uid]
    (only,) = Book.read(store).of(BenchStep)
    assert (only.version, only.record.ended - only.record.begun) == (2, timedelta(minutes=8))
    assert only.record.supplies
    done(at_bench, "wire", gauges="G-U", at="09:00", until="")
    (late,) = done(at_bench, "wire", gauges="G-U", at="09:30", until="09:20", finish="1")
    assert late.record.ended - late.record.begun == timedelta(minutes=20)  # since it began
    with pytest.raises(InputError, match="no earlier than it began, 2026-05-04 12:00"):
        done(at_bench, "route", at="12:00", until="11:00")
    batch = {"method": BARE, "gauges": "G-T; G-U", "step": "route", "person": "AB"}
    first = bench.noted(store, batch, key="a key of the form, 2")
    assert bench.noted(store, batch, key="a key of the form, 2") == first
    assert len(Book.read(store).of(BenchStep)) == 4


def test_what_a_step_is_done_for_is_asked_about_and_then_kept_as_not_read(at_bench):
    store, own = at_bench.store, {key_of("grid resistance", "G-T"): "120.1"}
    with pytest.raises(BenchSlip) as slip:
        done(at_bench, "bond", gauges="G-T; G-U", supplies="glue", unread="", **own)
    (asked,) = slip.value.questions
    assert asked.sentence.startswith(
        "not read, though the step is done for it: insulation (all 2 gauges), "
    )
    assert Book.read(store).of(BenchStep) == ()
    kept = done(at_bench, "bond", gauges="G-T; G-U", supplies="glue", **own)
    assert [one.record.not_read for one in kept] == [
        ("insulation", "edges"),
        ("grid resistance", "insulation", "edges"),
    ]
    told = step_words(Book.read(store), kept)
    assert "G-T: not read: insulation, edges." in told
    assert unread_words(Book.read(store)) == (
        "Not read at the step bond: insulation, edges of G-T.",
        "Not read at the step bond: grid resistance, insulation, edges of G-U.",
    )
    # Begun only, or put aside, nothing is asked; read later, nothing stays open.
    done(at_bench, "wire", at="11:00", until="", unread="")
    done(at_bench, "route", at="11:00", until="11:05", unread="", parked="no clips")
    values = {"insulation": "> 20 GΩ", "grid resistance": "120.1", "edges": "closed"}
    done(at_bench, "bond", at="12:00", until="12:05", supplies="glue", unread="", values=values)
    assert [one.gauge.record.label for one in unread(Book.read(store))] == ["G-U"]


def test_every_box_that_is_wrong_is_named_with_its_gauge(at_bench):
    own = {key_of("flat width", "G-T"): "five", key_of("flat depth", "G-U"): "-2 kg"}
    with pytest.raises(InputFaults) as faults:
        done(at_bench, "smooth", gauges="G-T; G-U", values={"calliper limit": "x"}, **own)
    assert [(one.key, one.name) for one in faults.value.faults] == [
        ("value:flat width:G-T", "flat width of G-T"),
        ("value:calliper limit", "calliper limit"),
        ("value:flat depth:G-U", "flat depth of G-U"),
    ]


def test_a_step_is_put_right_as_a_new_version_and_a_wrong_one_is_taken_back(at_bench):
    store = at_bench.store
    done(at_bench, "bond", at="08:00", until="08:10", supplies="glue")
    whole = "\n".join(f"{DAY} {h:02d}:00, 40.5" for h in range(9, 13))
    cold = "\n".join(f"2026-05-06 {h:02d}:00, 12" for h in range(9, 13))
    late = {"begun": "2026-05-06 09:00", "ended": "2026-05-06 12:00"}
    (wrong,) = done(at_bench, "cure", **late, values={"temperature log": cold})
    done(at_bench, "cure", at="09:00", until="12:00", values={"temperature log": whole})

    def waits():
        book = Book.read(store)
        gauge = book.labelled(Gauge, "G-T")
        return standing(book, gauge, method_of(book, gauge)).next_place

    # The later, wrong one stands in the way, and is named.
    assert (waits().step.name, waits().by.uid) == ("cure", wrong.uid)
    book = Book.read(store)
    step = method_step(book, wrong.record)
    before = typed_before(store, book, [wrong], step, zone=ZoneInfo("UTC"), system="si")
    assert before[key_of("temperature log")] == cold
    right = {**before, key_of("temperature log"): whole.replace("40.5", "41"), "person": "AB"}
    more = {"gauges": "G-T", "step": "cure", "method": BARE}
    moment = {"begun": f"{DAY} 13:00", "ended": f"{DAY} 16:00"}
    (second,) = bench.noted(store, {**right, **more, **moment})
    assert (second.uid, second.version) == (wrong.uid, 2)
    assert waits().step.name == "wire"
    with pytest.raises(InputError, match="that of the record"):
        bench.noted(store, {**right, **more, "step": "bond", "unread": "1"})
    with pytest.raises(InputError, match="why it is taken back"):
        taken_back(store, [second], " ")
    (gone,) = taken_back(store, [second], "of another bar")
    assert (gone.withdrawn, gone.reason) == (True, "taken back: of another bar")
    assert [e.uid for e in Book.read(store).of(BenchStep)].count(second.uid) == 0


def test_a_step_put_aside_waits_and_is_not_judged(at_bench):
    (aside,) = done(at_bench, "bond", parked="hall too cold")
    assert aside.record.ran_out == ()
    assert not any("told" in flag for flag in aside.record.flags)
    book = Book.read(at_bench.store)
    gauge = book.labelled(Gauge, "G-T")
    here = standing(book, gauge, method_of(book, gauge)).next_place
    assert (here.step.name, here.place, here.why) == ("bond", Place.PARKED, "hall too cold")


def test_the_last_layer_writes_the_protection_and_supplies_have_versions(at_bench):
    store = at_bench.store
    typed = {
        "method": "bar to be cast in",
        "gauges": "G-T",
        "person": "AB",
        key_of("insulation"): "5000",
    }
    for hour, step in enumerate(
        ("coat", "mastic below the leads", "mastic above the leads", "foil tape"), 10
    ):
        covered = (
            {key_of("covered length"): "60", key_of("all round"): "yes"}
            if step == "foil tape"
            else {}
        )
        moment = {"begun": f"{DAY} {hour}:00", "ended": f"{DAY} {hour}:10"}
        bench.noted(store, {**typed, **covered, **moment, "step": f"protect: {step}"})
    (cover,) = Book.read(store).of(Protection)
    assert cover.record.layers == (
        "coat",
        "mastic below the leads",
        "mastic above the leads",
        "foil tape",
    )
    assert (cover.record.covered_length.value, cover.record.full_wrap) == (0.06, True)
    changed = supply_kept(store, {**SHEET, "batch": "A-2"})
    assert changed.version == 2
    assert supply_kept(store, {**SHEET, "batch": "A-2"}).version == 2
    for wrong in (
        {"what": ""},
        {"expires": "soon"},
        {"source": ""},
        {"cure": "24 h"},
        {"pot_life": "-3"},
    ):
        with pytest.raises(InputError):
            supply_kept(store, {**SHEET, **wrong})
    assert len(Book.read(store).of(Supply)) == 1
    assert bench_lists(Book.read(store), ZoneInfo("UTC"))
