"""Entering a plan through its forms: read, refused, changed, taken out and taken back."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gaugewright import settings
from gaugewright.errors import InputError, InputFaults, StaleEdit
from gaugewright.records.identity import Ref, working_context
from gaugewright.records.specimen import Bar, Campaign, Station
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering.kinds import Asking
from gaugewright.services.plan import order
from gaugewright.store.campaign import CampaignStore

BEAM = {"label": "H3", "kind": "cast member", "length": "4200"}
STEEL = {
    "label": "B500",
    "law": "bilinear",
    "elastic_modulus": "199 ± 2.4 (k=2), 4 degrees of freedom",
    "elastic_modulus_basis": "measured",
    "elastic_modulus_source": "coupons",
    "poisson_ratio": "0.29 ± 0.01 (limit)",
    "thermal_expansion": "11.6 ± 0.4 (limit)",
    "yield_strength": "538 ± 7 (k=2)",
}


def new(folder: Path, units: str = "si") -> CampaignStore:
    shipped = settings.load({}, environment={}, user_folder=folder / "no settings")
    record = Campaign(label="plan", title="A plan", zone="Europe/Rome", units=units)
    return campaigns.new(folder / "plan", record, shipped, context=working_context())


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    with new(tmp_path) as made:
        yield made


@pytest.fixture
def us_store(tmp_path: Path) -> Iterator[CampaignStore]:
    with new(tmp_path, "us") as made:
        yield made


def bars_of(store: CampaignStore, **texts: str) -> tuple[Any, ...]:
    plan_entry.written(store, "specimen", BEAM)
    plan_entry.written(store, "material", STEEL)
    typed = {"label": "L1; L2", "specimen": "H3", "material": "B500", "size": "d16"} | texts
    return plan_entry.written(store, "bar", typed)


def test_a_metal_is_kept_as_it_was_stated(store: CampaignStore) -> None:
    (entry,) = plan_entry.written(store, "material", STEEL)
    assert entry.record.elastic_modulus == Stated(
        199e9, 2.4e9, Meaning.TWO_SIGMA, Basis.MEASURED, "coupons", 4
    )
    assert entry.record.yield_strength.basis is Basis.STATED


def test_all_that_is_wrong_is_told_at_once_by_field_and_nothing_is_written(
    store: CampaignStore,
) -> None:
    before = store.head()
    with pytest.raises(InputFaults) as told:
        plan_entry.written(store, "material", STEEL | {"elastic_modulus": "hard", "label": ""})
    assert [fault.name for fault in told.value.faults] == ["label", "elastic_modulus"]
    with pytest.raises(InputError, match="yield_strength"):
        plan_entry.written(store, "material", STEEL | {"yield_strength": ""})
    assert store.head() == before


def test_several_bars_are_entered_at_once_with_their_nominal_numbers(store: CampaignStore) -> None:
    first, second = bars_of(store)
    assert (first.record.label, second.record.label) == ("L1", "L2")
    assert first.record.area == Stated(201.1e-6, basis=Basis.STATED, source="nominal, EN 10080")
    with pytest.raises(InputError, match="each label once"):
        plan_entry.written(store, "bar", {"label": "L3; L3", "specimen": "H3", "material": "B500"})


def test_both_sides_of_a_flat_bar_make_its_area_with_their_doubts(store: CampaignStore) -> None:
    """60 by 12.1 mm, each ± 0.05 mm as a limit: u² = (12.1 a)² + (60 a)², a = 0.05 / √3 mm."""
    plan_entry.written(store, "specimen", {"label": "F", "kind": "bare metal"})
    plan_entry.written(store, "material", STEEL)
    typed = {"label": "flat", "specimen": "F", "material": "B500", "side": "60 ± 0.05 (limit)"}
    both = typed | {"thickness": "12.1 ± 0.05 (limit)"}
    (made,) = plan_entry.written(store, "bar", both)
    assert made.record.area.value == pytest.approx(726e-6)
    assert made.record.area.plus_minus == pytest.approx(3.534e-6, rel=2e-3)
    assert made.record.area.meaning is Meaning.TWO_SIGMA
    with pytest.raises(InputError, match="thickness"):
        plan_entry.written(store, "bar", typed | {"label": "half"})
    with pytest.raises(InputError, match="area"):
        plan_entry.written(store, "bar", both | {"label": "twice", "area": "700"})


def test_the_only_bar_needs_no_choosing_in_a_table_of_stations(store: CampaignStore) -> None:
    bars_of(store, label="L1")
    rows = {"rows.1.label": "S1", "rows.1.distance": "100", "rows.1.angle": "0"}
    plan_entry.many_written(store, "stations", {"datum": "end"} | rows)
    (station,) = Book.read(store).of(Station)
    assert Book.read(store).label(station.record.bar) == "L1"


def test_a_sensor_on_no_channel_is_what_is_left_of_a_plan(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="waits for a channel"):
        plan_entry.many_written(store, "sensed", {})
    typed = {"label": "cell", "quantity": "force", "reads": "own", "sign": "1", "gain": "1"}
    plan_entry.written(store, "sensor", typed | {"offset": "0", "lag": "0"})
    (facts,) = (f for f in order.stage_facts(Book.read(store)) if f.stage.key == "sensor")
    assert (facts.is_done, facts.left, facts.way) == (False, "cell is on no channel", "sensed")


def test_metric_and_soft_metric_sixteens_are_two_choices(store: CampaignStore) -> None:
    one, _ = bars_of(store, size="16M")
    assert one.record.area is not None
    assert one.record.area.value == pytest.approx(199e-6)
    assert one.record.area.source == "nominal, ASTM A615/A706, soft metric"


def test_inches_are_meant_where_the_campaign_shows_them_and_others_when_written(
    us_store: CampaignStore,
) -> None:
    bars_of(us_store, size="#5")
    typed = {"label": "S", "bar": "L1", "datum": "end", "angle_planned": "90"}
    (plain,) = plan_entry.written(us_store, "station", typed | {"distance_planned": "10 1/2"})
    (metric,) = plan_entry.written(
        us_store, "station", typed | {"label": "M", "distance_planned": "100 mm"}
    )
    assert plain.record.distance_planned == pytest.approx(10.5 * 0.0254)
    assert metric.record.distance_planned == 0.1


def test_fractions_of_an_inch_may_be_doubts_too(us_store: CampaignStore) -> None:
    bars_of(us_store, size="#5", diameter="5/8 ± 1/64 (limit)")
    found = Book.read(us_store).labelled(Bar, "L1").record.diameter
    assert found is not None
    assert found.value == pytest.approx(0.625 * 0.0254)
    assert found.plus_minus == pytest.approx(0.0254 / 64)


def test_fields_follow_the_kind(store: CampaignStore) -> None:
    book = Book.read(store)

    def asked(key: str, **texts: str) -> set[str]:
        kind = plan_entry.KINDS[key]
        return {blank.name for blank in kind.blanks(Asking(book, texts, "si"))}

    assert "flange_width" in asked("member", shape="T")
    assert not {"width", "flange_width"} & asked("member", shape="circle")
    assert "width" not in asked("specimen", kind="strand")
    assert "ultimate_strain" in asked("material", law="plateau, hardening after Mander")
    full = asked("circuit", topology="full bridge, bending")
    assert {f"gauge_{n}" for n in (1, 2, 3, 4)} <= full
    assert "completion" not in full
    assert "load" not in asked("question", quantity="yield load")
    # What isn't a choice is refused by its field later, not a fault of ours.
    assert "flange_width" not in asked("member", shape="octagon")


def test_what_is_left_as_it_stood_keeps_its_last_bit(store: CampaignStore) -> None:
    first, _ = bars_of(store)
    odd = Station("X", first.uid, "west end", 1 / 3, 0.1 + 0.2)
    entry = store.add(odd)
    kind = plan_entry.KINDS["station"]
    texts = plan_entry.texts_of(kind, Book.read(store), entry, "si")
    later = plan_entry.changed(store, "station", "X", 1, texts | {"datum": "east end"})
    assert later.version == 2
    assert later.record == Station("X", first.uid, "east end", 1 / 3, 0.1 + 0.2)
    with pytest.raises(InputError, match="something other"):
        plan_entry.changed(store, "station", "X", 2, texts | {"datum": "east end"})


def test_a_stale_change_holds_both_and_writes_nothing(store: CampaignStore) -> None:
    bars_of(store)
    kind = plan_entry.KINDS["bar"]
    book = Book.read(store)
    texts = plan_entry.texts_of(kind, book, book.labelled(Bar, "L1"), "si")
    plan_entry.changed(store, "bar", "L1", 1, texts | {"length": "4140"})
    with pytest.raises(StaleEdit) as told:
        plan_entry.changed(store, "bar", "L1", 1, texts | {"length": "4000"})
    assert isinstance(told.value.theirs, Bar)
    assert isinstance(told.value.yours, Bar)
    assert (told.value.theirs.length, told.value.yours.length) == (4.14, 4.0)
    assert Book.read(store).labelled(Bar, "L1").record.length == 4.14


def test_nothing_is_taken_from_under_what_names_it(store: CampaignStore) -> None:
    made = bars_of(store)
    plan_entry.written(
        store,
        "station",
        {
            "label": "L1-M",
            "bar": "L1",
            "datum": "end",
            "distance_planned": "10",
            "angle_planned": "0",
        },
    )
    with pytest.raises(InputError, match="named by station L1-M"):
        plan_entry.taken_out(store, "bar", "L1", 1)
    with pytest.raises(InputError, match="named by station L1-M"):
        plan_entry.taken_back(store, [entry.ref for entry in made])
    assert len(Book.read(store).of(Bar)) == 2
    plan_entry.taken_out(store, "station", "L1-M", 1)
    plan_entry.taken_back(store, [entry.ref for entry in made])
    assert Book.read(store).of(Bar) == ()
    assert len(store.history(made[0].uid)) == 2


def test_stations_in_a_table_gauges_bridges_and_channels_follow(store: CampaignStore) -> None:
    bars_of(store)
    rows = {"datum": "west end"}
    places = (("L1-T", "L1", "0"), ("L1-U", "L1", "180"), ("L2-T", "L2", "0"))
    for number, (label, bar, angle) in enumerate(places, start=1):
        rows |= {
            f"rows.{number}.label": label,
            f"rows.{number}.bar": bar,
            f"rows.{number}.distance": "2070",
            f"rows.{number}.angle": angle,
        }
    assert len(plan_entry.many_written(store, "stations", rows)) == 3
    plan_entry.written(store, "pack", PACK)
    gauges = {"pack": "350", "stations": "L1-T; L1-U; L2-T", "angle_to_axis": "0"}
    refs = plan_entry.many_written(store, "gauges", gauges)
    under = store.entry(refs[1].uid).record
    assert under.opposite == refs[0].uid
    assert store.entry(refs[2].uid).record.opposite is None
    leads = {
        "gauges": "L1-T; L1-U; L2-T",
        "completion": "350 ± 0.05 %",
        "wires": "3",
        "length": "18",
        "conductor": "0.14 ± 2 %",
        "temperature_degc": "20",
    }
    made = plan_entry.many_written(store, "circuits", leads)
    lead = store.entry(made[0].uid).record
    # Copper at 20 °C: 1/58 ohm mm²/m by its standard.
    assert lead.resistance.value == pytest.approx(18 / 58 / 0.14, rel=1e-5)
    assert lead.resistance.plus_minus == pytest.approx(0.02 * 18 / 58 / 0.14, rel=1e-3)
    assert lead.resistance.basis is Basis.CALCULATED
    plan_entry.written(store, "instrument", RECORDER)
    channels = {"instrument": "A", "first": "A01", "number": "1", "count": "3"}
    assert len(plan_entry.many_written(store, "channels", channels)) == 3
    wired = {
        "circuits": "L1-T; L1-U; L2-T",
        "channels": "A01; A02; A03",
        "at": "2026-10-13 08:00",
        "writes": "ratio",
        "unit": "mV/V",
        "excitation": "2.5",
    }
    refs = plan_entry.many_written(store, "wired", wired)
    assert len(refs) == 6
    # The fixed arm was asked with the bridge: it is the completion of the channel.
    setting = store.entry(refs[0].uid).record
    assert setting.completion_resistance == Stated(350.0, 0.175, Meaning.UNKNOWN)
    with pytest.raises(InputError, match="as many as circuits"):
        plan_entry.many_written(store, "wired", wired | {"channels": "A01"})


def test_a_load_cell_is_entered_by_its_plate_and_put_on_a_channel(store: CampaignStore) -> None:
    plate = {
        "label": "cell",
        "quantity": "force",
        "reads": "bridge_ratio",
        "sign": "1",
        "full_scale": "200",
        "output": "2 ± 0.002 (limit)",
        "offset": "0 ± 0.1 (k=2)",
        "lag": "0",
    }
    (cell,) = plan_entry.written(store, "sensor", plate)
    # "2 mV/V is 200 kN": 100 MN for each V/V, as wide in parts of itself as what the plate says.
    assert (cell.record.gain.value, cell.record.gain.plus_minus) == (1e8, 1e5)
    book, kind = Book.read(store), plan_entry.KINDS["sensor"]
    texts = plan_entry.texts_of(kind, book, cell, "si")
    assert (texts["full_scale"], texts["output"]) == ("200", "2 ± 0.002 (limit)")
    later = plan_entry.changed(store, "sensor", "cell", 1, texts | {"certificate": "7"})
    assert later.record.gain == cell.record.gain
    own = {k: v for k, v in plate.items() if k not in ("full_scale", "output")}
    own |= {"label": "shown in kN", "reads": "own", "gain": "1.002 ± 0.005 (k=2)"}
    (shown,) = plan_entry.written(store, "sensor", own)
    # It shows 0.2 % too much: what is true is less than its reading.
    assert shown.record.gain.value == pytest.approx(1 / 1.002, rel=1e-11)
    plan_entry.written(store, "instrument", RECORDER)
    counted = {"instrument": "A", "first": "A01", "number": "1", "count": "2"}
    plan_entry.many_written(store, "channels", counted)
    sensed = plan_entry.MANY["sensed"]
    book = Book.read(store)
    texts = plan_entry.standing_texts(sensed.blanks(Asking(book, {}, "si")), {}, book)
    assert [texts[f"rows.1.{name}"] for name in ("subject", "channel", "unit")] == [
        "cell",
        "A01",
        "mV/V",
    ]
    texts["at"] = "2026-10-13 08:00"
    with pytest.raises(InputError, match="unit is 'kN'; it must be one of bridge ratio"):
        plan_entry.many_written(store, "sensed", texts | {"rows.1.unit": "kN"})
    assert len(plan_entry.many_written(store, "sensed", texts)) == 4


def test_a_tie_is_entered_without_supports_and_has_the_size_of_its_specimen(
    store: CampaignStore,
) -> None:
    bars_of(store)
    square = BEAM | {"label": "T7", "width": "120", "height": "120"}
    plan_entry.written(store, "specimen", square)
    plan_entry.written(store, "concrete", {"label": "mix", "compressive_strength": "30 ± 2 (k=2)"})
    book, kind = Book.read(store), plan_entry.KINDS["member"]

    def form(**texts: str) -> dict[str, str]:
        blanks = kind.blanks(Asking(book, texts, "si"))
        names = {blank.name for blank in blanks}
        assert not {"support_near", "load_points", "load_per_length"} & names
        return plan_entry.standing_texts(blanks, texts, book)

    chosen = {"specimen": "T7", "held": "at its two ends alone, loaded along its axis"}
    # What follows another choice stands there also after the fields were sent empty.
    texts = form(**chosen, height="", width="", pull_share="")
    assert (texts["height"], texts["width"], texts["pull_share"]) == ("120", "120", "1")
    assert texts["concrete"] == "mix"
    rows = {"bar": "L1", "depth": "60 ± 2", "across": "0 ± 2", "begins": "-150"}
    texts |= {f"bars.1.{name}": text for name, text in rows.items()}
    texts |= {"label": "T7", "datum": "end of its concrete", "shape": "rectangle"}
    (entry,) = plan_entry.written(store, "member", texts)
    assert (entry.record.supports, entry.record.axial_share) == ((), 1.0)
    assert plan_entry.texts_of(kind, Book.read(store), entry, "si")["pull_share"] == "1"
    with pytest.raises(InputError, match="1 where all of the load pulls"):
        plan_entry.written(store, "member", texts | {"label": "x", "pull_share": "0"})


def test_what_fails_halfway_leaves_nothing(store: CampaignStore) -> None:
    bars_of(store)
    rows = {"datum": "west end"}
    for number, label in enumerate(("S1", "S2", "S1"), start=1):
        rows |= {
            f"rows.{number}.label": label,
            f"rows.{number}.bar": "L1",
            f"rows.{number}.distance": "10",
            f"rows.{number}.angle": "0",
        }
    before = store.head()
    with pytest.raises(InputError):
        plan_entry.many_written(store, "stations", rows)
    assert store.head() == before


def test_every_kind_of_the_demo_comes_back_from_its_form_as_it_was(demo_campaign: Path) -> None:
    """Each record of the demo put into its form and read again is the same record."""
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as demo:
        book = Book.read(demo)
        seen = set()
        for key, kind in plan_entry.KINDS.items():
            for entry in book.of(kind.record):
                texts = plan_entry.texts_of(kind, book, entry, "si")
                made = plan_entry.record_typed(kind, book, texts, "si")
                again = plan_entry.texts_of(kind, book, type(entry)(**_with(entry, made)), "si")
                assert again == texts, (key, entry.record)
                seen.add(key)
    assert {"question", "bar", "member", "pack", "gauge", "circuit", "lead", "sensor"} <= seen


def _with(entry: Any, record: Any) -> dict[str, Any]:
    return {name: getattr(entry, name) for name in entry.__dataclass_fields__} | {"record": record}


PACK = {
    "label": "350",
    "lot": "Q7",
    "gauge_resistance": "350 ± 1.05 (limit)",
    "gauge_factor": "2.08 ± 1 % (k=2)",
    "transverse_sensitivity": "0.4 ± 0.2",
    "gauge_factor_temperature_degc": "23",
    "grid_length": "3",
    "grid_width": "1.6",
    "strain_limit": "8 %",
    "large_strain_law": "constant gauge factor",
    "has_thermal": "no",
}
RECORDER = {
    "label": "A",
    "serial": "1",
    "gain": "1 ± 0.001 (k=2)",
    "dwell": "0",
    "filter_delay": "0.004 ± 0.002 (limit)",
}


def test_a_pack_is_read_from_its_card(store: CampaignStore) -> None:
    card = {
        "has_thermal": "yes",
        "thermal_coefficients": "−18.2; 1.31; −0.0247; 6.5e-5",
        "thermal_gauge_factor": "2.0",
        "thermal_metal": "11",
        "thermal_low": "5",
        "thermal_high": "70",
        "thermal_doubt": "0 ± 0.6 (k=2)",
    }
    (entry,) = plan_entry.written(store, "pack", PACK | card)
    found = entry.record.thermal_output
    assert found is not None
    assert found.coefficients == pytest.approx((-18.2e-6, 1.31e-6, -0.0247e-6, 6.5e-11))
    assert found.slope_uncertainty.plus_minus == pytest.approx(0.6e-6)
    assert entry.record.gauge_factor.plus_minus == pytest.approx(0.0208)
    assert entry.record.strain_limit == pytest.approx(0.08)
    matched = {"label": "m", "has_thermal": "match", "matched_expansion": "11"}
    (only,) = plan_entry.written(store, "pack", PACK | matched)
    assert only.record.thermal_output is None
    assert only.record.matched_expansion == pytest.approx(11e-6)
    texts = plan_entry.texts_of(plan_entry.KINDS["pack"], Book.read(store), only, "si")
    assert (texts["has_thermal"], texts["matched_expansion"]) == ("match", "11")
    with pytest.raises(InputError, match="above low_degc"):
        plan_entry.written(store, "pack", PACK | card | {"label": "x", "thermal_high": "1"})
    # The record holds six, the chain takes off five: told at the form, not at the reduction.
    six = {"label": "x", "thermal_coefficients": "1; 2; 3; 4; 5; 6"}
    with pytest.raises(InputError, match="5 at most"):
        plan_entry.written(store, "pack", PACK | card | six)


def test_taking_back_nothing_is_refused(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="nothing"):
        plan_entry.taken_back(store, ())
    with pytest.raises(InputError):
        plan_entry.taken_back(store, [Ref(store.campaign.uid, 99)])
