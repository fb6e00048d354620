"""Supplies of a plan by hand: amounts, spares by own losses, lots, routes, dates, papers."""

import io
from dataclasses import replace
from datetime import UTC, date, datetime

import openpyxl
import pypdf
import pytest
from scipy import stats

from gaugewright import settings
from gaugewright.errors import Faults, InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.plain import to_plain
from gaugewright.records.proof import Person
from gaugewright.records.scheduling import BenchDays, BenchPiece, BenchPlan, WorkingHours
from gaugewright.records.specimen import Station
from gaugewright.records.stated import Stated
from gaugewright.records.supplying import OnShelf
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory import on_shelf
from gaugewright.services.laboratory.survival_published import FILE, Count, Counted
from gaugewright.services.plan import packs_on_hand
from gaugewright.services.plan.packs import assumed_packs
from gaugewright.services.plan_parts.parts import Asked, part_lists
from gaugewright.services.showing.listings import Column, Listing, named
from gaugewright.services.supplying import papers as plan_papers
from gaugewright.store import kept_lines
from gaugewright.store.campaign import CampaignStore
from tests.services import planned_campaigns as made

NOW = datetime(2026, 9, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan") / "brace"
    made.brace(folder)
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        yield Asked(store, Book.read(store), None, "si")


@pytest.fixture
def lab(tmp_path):
    given = {"laboratory": str(tmp_path)}
    return settings.load(given, environment={}, user_folder=tmp_path / "none")


def lists(asked, lab=None, **typed):
    return part_lists(replace(asked, settings=lab, typed=typed), "supplies")


def row(found, key, name):
    rows = named(found, key).rows
    exact = [one for one in rows if one[0] == name]
    (mine,) = exact or [one for one in rows if str(one[0]).startswith(name)]
    heads = [column.head for column in named(found, key).columns]
    return dict(zip(heads, mine, strict=True))


def publish(lab, tmp_path, *stages):
    counts = tuple(
        Count(name, "bare metal", "3 mm, 350 ohm", "no protection on record", passed, lost, 0, 0)
        for name, passed, lost in stages
    )
    one = Counted("c" * 26, "earlier", "2026-01-01T00:00:00.000000Z", "0" * 64, counts, ())
    kept_lines.add_line(tmp_path / FILE, to_plain(one))


def on_hand(lab, *lots):
    (_, pack) = assumed_packs()
    for lot, left, factor in lots:
        card = replace(pack, label=f"pack {lot}", lot=lot, gauge_factor=Stated(factor, 0.02))
        packs_on_hand.kept_card(lab, card, left, at=NOW, person="AB")


def test_amounts_are_gauges_with_spares_times_rates(asked):
    found = lists(asked)
    # Four stations, 15 % assumed: 0.6 of a gauge is one.
    assert row(found, "supplies", "gauges, 350")["needed"] == 5
    assert row(found, "supplies", "degreasing solvent")["needed"] == 5 * 15
    assert row(found, "supplies", "plugs")["needed"] == 4
    assert row(found, "supplies", "label tags")["needed"] == 3 * 4
    told = " ".join(str(one[1]) for one in named(found, "rests-on").rows)
    assert "15 % spares assumed" in told
    assert "common practice, no source" in told
    assert "publish survival, or type a share" in told


def test_a_share_typed_takes_the_place_of_the_assumed_one(asked):
    assert row(lists(asked, spares="100"), "supplies", "gauges")["needed"] == 8
    with pytest.raises(InputError, match="spares"):
        lists(asked, spares="some")


def test_spares_follow_the_laboratorys_own_losses(asked, lab, tmp_path):
    publish(lab, tmp_path, ("bonded", 30, 6), ("wired", 30, 0))
    found = lists(asked, lab)
    needed = row(found, "supplies", "gauges")["needed"]
    # The share through both gates: the product of two beta means and mean squares, by moments.
    a, b = 30.5, 30.5
    m = a / 37 * b / 31
    s = a * (a + 1) / (37 * 38) * (b * (b + 1)) / (31 * 32)
    worth = (m - s) / (s - m * m)
    law = stats.betabinom(needed, m * worth, (1 - m) * worth)
    fewer = stats.betabinom(needed - 1, m * worth, (1 - m) * worth)
    assert law.sf(3) >= 0.95 > fewer.sf(3)
    assert needed > 5
    words = " ".join(str(one[1]) for one in named(found, "rests-on").rows)
    assert "laboratory's own counts (bonded 30 of 36; wired 30 of 30)" in words


def test_one_lot_short_is_seen_with_what_mixing_would_do(asked, lab):
    on_hand(lab, ("A1", 4, 2.10), ("B2", 3, 2.14))
    one = row(lists(asked, lab), "supplies", "gauges")
    assert (one["needed"], one["on hand"], one["short by"]) == (5, 4, 1)
    assert "one lot short: 7 are on hand but lot A1, the largest, has 4, 1 too few" in one["told"]
    assert "2.1, 2.14, 1.9 % apart" in one["told"]
    on_hand(lab, ("C3", 9, 2.1))
    assert "lot C3 has enough: 4 left over" in row(lists(asked, lab), "supplies", "gauges")["told"]


def test_a_route_is_the_bar_the_way_to_the_plug_and_slack(asked):
    found = lists(asked, plug="6")
    # Stations at mid-length of a 3 m tube: 1.5 + 6 + 1 m, four of them.
    assert row(found, "cable", "T0")["whole"] == pytest.approx(8.5)
    assert row(found, "supplies", "cable")["needed"] == pytest.approx(34.0)
    assert row(found, "supplies", "cable ties")["needed"] == 4 * 34
    us = part_lists(replace(asked, system="us", typed={"plug": "6 m"}), "supplies")
    assert row(us, "supplies", "cable")["unit"] == "ft"
    assert row(us, "supplies", "cable")["needed"] == pytest.approx(34 / 0.3048, rel=5e-3)


def test_what_runs_out_before_its_day_is_no_stock(asked, lab):
    for batch, day in (("old", date(2026, 9, 30)), ("new", date(2026, 10, 1))):
        one = OnShelf("degreasing solvent", 50.0, batch, day)
        on_shelf.kept_shelf(lab, one, at=NOW, person="AB")
    found = lists(asked, lab, bonding="2026-10-01")
    one = row(found, "supplies", "degreasing")
    assert (one["on hand"], one["short by"]) == (50.0, 25.0)
    assert "50 ml more will be out of date by then" in one["told"]
    dates = {r[1]: r[5] for r in named(found, "in-date").rows if r[0] == "degreasing solvent"}
    assert dates == {"old": "out of date 1 day before", "new": "in date, 0 days to spare"}
    undated = {r[5] for r in named(lists(asked, lab), "in-date").rows if r[1] == "old"}
    assert undated == {"type the day of bonding"}
    with pytest.raises(InputError, match="bonding"):
        lists(asked, lab, bonding="soon")


def test_adhesive_and_cover_decide_which_supplies(asked):
    found = lists(asked, adhesive="two-part epoxy cured at room temperature")
    names = [one[0] for one in named(found, "supplies").rows]
    assert "two-part epoxy adhesive" in names
    assert "fast adhesive" not in names
    with pytest.raises(InputError, match="family that lasts and cures"):
        lists(asked, hours="0.5")


def test_a_laboratorys_own_rates_take_the_place_of_the_shipped(asked, lab, tmp_path):
    text = '[[supply]]\nlabel = "degreasing solvent"\nper = "gauge"\namount = 20.0\nunit = "ml"\n'
    (tmp_path / "supplies.toml").write_text(text + 'source = "counted in 2025"\n')
    one = row(lists(asked, lab), "supplies", "degreasing")
    assert one["needed"] == 100
    assert "counted in 2025" in one["told"]
    with pytest.raises(InputError, match="one of"):
        on_shelf.kept_shelf(lab, OnShelf("gold", 1.0), at=NOW, person="AB")
    (tmp_path / "supplies.toml").write_text(text)
    with pytest.raises(Faults, match="source"):
        lists(asked, lab)


def test_lists_become_a_workbook_without_formulas_and_a_paper(asked, tmp_path):
    odd = Listing("odd", "Odd", (Column("what"), Column("n")), (("=1+2", 3),), "")
    found = (*lists(asked), odd)
    book = openpyxl.load_workbook(io.BytesIO(plan_papers.lists_workbook(found, "si")))
    assert book.sheetnames == ["supplies", "gauge-lots", "cable", "in-date", "rests-on", "odd"]
    assert (book["odd"]["A2"].value, book["odd"]["A2"].data_type) == ("=1+2", "s")
    assert [cell.value for cell in book["supplies"][2]][:3] == [
        "gauges, 350 Ω, grid 3 × 1.5 mm",
        5,
        "pieces",
    ]
    paper = tmp_path / "s.pdf"
    plan_papers.written(asked.store, found, "si", paper, title="Supplies")
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(paper).pages)
    assert "degreasing solvent" in text
    with pytest.raises(InputError, match="ends with"):
        plan_papers.written(asked.store, found, "si", tmp_path / "s.doc", title="Supplies")


def test_days_planned_for_the_bench_are_those_that_count(tmp_path):
    made.brace(tmp_path / "brace")
    with CampaignStore.open(tmp_path / "brace", working_context()) as store:
        person = store.add(Person("AB", "A. Bonder (invented)")).uid
        hours = (WorkingHours("Mon", "Fri", "08:00", "16:00"),)
        planned_days = BenchDays("days", date(2026, 10, 30), "12:00", hours, (person,), 20.0)
        days = store.add(planned_days)
        pack = store.add(replace(assumed_packs()[0], expires=date(2026, 10, 19))).uid
        station = Book.read(store).of(Station)[0].uid
        gauge = store.add(Gauge("T0", pack, station)).uid
        pieces = tuple(
            BenchPiece(
                gauge,
                (name,),
                datetime(2026, 10, day, 8, tzinfo=UTC),
                datetime(2026, 10, day, 9, tzinfo=UTC),
            )
            for name, day in (("smooth", 19), ("bond", 20), ("wire", 26))
        )
        store.add(BenchPlan("plan", days.ref, pieces, "list"))
        found = part_lists(Asked(store, Book.read(store), None, "si"), "supplies")
    one = row(found, "in-date", f"gauges, {assumed_packs()[0].label}")
    assert one["needed until"] == "bonding, 2026-10-20"
    assert one["verdict"] == "out of date 1 day before"
    assert "is planned or typed" not in named(found, "in-date").about
