"""Sections of the demo's beam: found, read at any instant as through the test, closed, lost."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.services.campaign.book import Book
from gaugewright.services.planes import gauges as section_gauges
from gaugewright.services.planes import look as section_look
from gaugewright.services.planes import sections
from gaugewright.services.planes.look import SectionLook
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

MIDSPAN = "H3 at 1.80 m"
# Steps of rising load before anything yields, by the demo's protocol.
ELASTIC = ("70 kN", "100 kN", "130 kN", "160 kN", "190 kN", "215 kN", "232 kN")


@pytest.fixture(scope="module")
def desk(demo_campaign: Path) -> Iterator[Desk]:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield Desk(store, Book.read(store))


@pytest.fixture(scope="module")
def look(desk: Desk) -> SectionLook:
    return section_look.look_at_section(desk, MIDSPAN)


def row_named(look: SectionLook, label: str) -> int:
    hold = next(hold for hold in look.held if hold.label == label)
    return section_look.row_of_hold(look, hold)


def test_places_with_gauges_at_two_depths_are_sections_and_single_rows_are_not(
    desk: Desk,
) -> None:
    found = {one.label: one for one in section_gauges.sections_of(desk)}
    assert list(found) == ["H3 at 1.40 m", MIDSPAN, "H3 at 2.20 m"]
    labels = {gauge.label for gauge in found[MIDSPAN].gauges}
    assert labels == {f"{bar}-M-{side}" for bar in ("L1", "L2", "L3", "L4", "C1") for side in "TU"}
    assert section_gauges.section_named(desk).label == MIDSPAN
    with pytest.raises(InputError, match=r"one of H3 at 1\.40 m"):
        section_gauges.section_named(desk, "H9 at 1 m")


def test_grids_lie_above_and_below_the_axis_of_their_bar_by_what_the_flat_left(
    look: SectionLook,
) -> None:
    by = {gauge.label: gauge.place for gauge in look.section.gauges}
    upper, lower = (float(by[f"L3-M-{side}"].depth.value) for side in "TU")
    # The papers say 401 mm, a core of 15.97 mm and flats about 4.8 mm wide.
    assert (upper + lower) / 2 == pytest.approx(0.401, abs=1e-6)
    assert lower - upper == pytest.approx(np.sqrt(0.01597**2 - 0.0048**2), abs=3e-4)
    assert float(by["L3-M-T"].across.value) == pytest.approx(0.035, abs=1e-6)


@pytest.mark.parametrize("biaxial", [False, True])
def test_an_instant_is_a_row_of_the_series(desk: Desk, look: SectionLook, biaxial: bool) -> None:
    times = look.series.time[[10, 90, 140]]
    whole = sections.series_of_section(desk, look.section, times, biaxial=biaxial)
    for row, time in enumerate(times):
        one = sections.instant_of_section(desk, look.section, float(time), biaxial=biaxial)
        assert one.plane is not None
        pairs = [
            (whole.planes.curvature, one.plane.curvature),
            (whole.planes.top_strain, one.plane.top_strain),
            (whole.inside, one.series.inside[0]),
            (whole.difference, one.series.difference[0]),
        ]
        for series, single in pairs:
            assert series.value[row] == pytest.approx(float(single.value), rel=1e-9)
            assert series.standard_uncertainty()[row] == pytest.approx(
                float(single.standard_uncertainty()), rel=1e-6
            )


def test_a_record_cut_in_two_gives_the_same_series(desk: Desk, look: SectionLook) -> None:
    times = look.series.time[::7]
    halves = [
        sections.series_of_section(desk, look.section, part) for part in np.array_split(times, 2)
    ]
    joined = np.concatenate([half.inside.value for half in halves])
    assert joined == pytest.approx(look.series.inside.value[::7], rel=1e-9, nan_ok=True)


def test_the_moment_closes_before_yield_within_what_is_stated(look: SectionLook) -> None:
    for label in ELASTIC:
        row = row_named(look, label)
        difference = look.series.difference[row]
        # Three standard uncertainties, and never too large: concrete in tension between cracks
        # isn't counted, so that the moment from strains is rather too small (its note says so).
        assert float(difference.value) > -float(difference.expanded(0.95)), label
        assert float(difference.value) < 3 * float(difference.standard_uncertainty()), label
        applied = look.series.applied.value[row]
        # It says something: the interval is far narrower than the moment.
        assert float(difference.expanded(0.95)) < 0.25 * applied


def test_it_cracks_between_25_and_70_kn_and_the_neutral_axis_rises(look: SectionLook) -> None:
    before, after = (row_named(look, label) for label in ("25 kN", "70 kN"))
    bend, axis = look.series.planes.curvature.value, look.series.axes.neutral_axis_depth.value
    load = look.series.load.value
    assert bend[after] / bend[before] > 2 * load[after] / load[before]
    assert axis[after] < 0.15 < axis[before]


def test_every_gauge_reads_what_was_predicted_before_yield(desk: Desk, look: SectionLook) -> None:
    found, why = section_look.compared(desk, look)
    assert why == ""
    shares = [
        one.in_uncertainties
        for one in found
        if one.held.label in ELASTIC and one.in_uncertainties is not None
    ]
    assert len(shares) == len(ELASTIC) * len(look.section.used)
    assert np.max(np.abs(shares)) < 3


def test_an_unloading_has_no_prediction(desk: Desk, look: SectionLook) -> None:
    found, _ = section_look.compared(desk, look)
    unloaded = [one for one in found if one.held.label in ("unload to 20 kN", "unload")]
    assert unloaded
    assert all(one.predicted is None and one.measured is not None for one in unloaded)


def test_a_gauge_that_reads_a_thousand_too_much_is_named(look: SectionLook) -> None:
    row = row_named(look, "160 kN")
    assert look.instant(row).plane.outlier is None
    off = tuple(
        replace(reading, total=reading.total + 1.5e-3)
        if reading.gauge.label == "C1-M-T"
        else reading
        for reading in look.series.readings
    )
    found = sections.instant_of_series(replace(look.series, readings=off), row)
    assert found.plane.outlier is not None
    assert found.plane.outlier.names == ("C1-M-T",)


def only(look: SectionLook, *labels: str) -> section_gauges.GaugedSection:
    kept = tuple(
        replace(gauge, used=gauge.used and gauge.label in labels) for gauge in look.section.gauges
    )
    return replace(look.section, gauges=kept)


def test_lost_gauges_widen_the_plane_and_take_the_test_away(desk: Desk, look: SectionLook) -> None:
    time = float(look.series.time[row_named(look, "160 kN")])
    three = sections.instant_of_section(desk, only(look, "L3-M-T", "L3-M-U", "C1-M-T"), time)
    two = sections.instant_of_section(desk, only(look, "L3-M-T", "C1-M-T"), time)
    one = sections.instant_of_section(desk, only(look, "L3-M-T"), time)
    assert (three.plane.spare, two.plane.spare, one.plane) == (1, 0, None)
    assert "not which gauge" in three.untested
    assert "can't be tested" in two.untested
    assert "no plane" in one.untested
    whole = look.instant(row_named(look, "160 kN")).plane
    doubts = [
        float(plane.curvature.standard_uncertainty()) for plane in (whole, three.plane, two.plane)
    ]
    assert doubts == sorted(doubts)
    assert doubts[0] < doubts[-1]


def test_none_left_is_told(desk: Desk, look: SectionLook) -> None:
    with pytest.raises(InputError, match="none usable"):
        sections.series_of_section(desk, only(look), look.series.time[:1])


def test_too_many_or_unordered_instants_are_refused(desk: Desk, look: SectionLook) -> None:
    for times in (np.arange(5000.0), np.array([2.0, 1.0]), np.array([])):
        with pytest.raises(InputError, match="rising order"):
            sections.series_of_section(desk, look.section, times)


def test_a_load_that_was_never_reached_is_told_with_the_highest(look: SectionLook) -> None:
    with pytest.raises(InputError, match="reached in the test"):
        section_look.row_at(look, load=900e3)
    row = section_look.row_at(look, load=160e3)
    assert look.series.load.value[row] == pytest.approx(160e3, rel=0.02)


def test_bending_of_a_bar_by_itself_drops_out_of_a_pair(desk: Desk, look: SectionLook) -> None:
    """Both gauges of a pair share it with opposite signs: their mean hardly owes to it."""
    row = row_named(look, "160 kN")
    by = {reading.gauge.label: reading.total[row] for reading in look.series.readings}
    mean = (by["L3-M-T"] + by["L3-M-U"]) / 2

    def owed(value: Uncertain) -> float:
        inputs: dict[str, InputQuantity] = dict(value.inputs)
        return (
            sum(
                float(slope * inputs[name].standard_uncertainty) ** 2
                for name, slope in value.sensitivities.items()
                if name.startswith("own_bending")
            )
            ** 0.5
        )

    assert owed(mean) < 0.12 * owed(by["L3-M-T"])
