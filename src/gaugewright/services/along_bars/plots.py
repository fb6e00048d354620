"""A bar at a moment drawn along its length: strain, force, bond stress, slip, local law."""

import math

import numpy as np

from gaugewright.calc import bond
from gaugewright.calc.bond import BondLaw
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.plots import Axis, Curve, Plot, Point, Void
from gaugewright.present.units_shown import in_shown, series_shown, unit_shown
from gaugewright.services.along_bars.profiles import Along, BarProfile
from gaugewright.services.along_bars.slip import LawPoint, PredictedAt
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page

__all__ = ["bond_plot", "force_plot", "law_plot", "slip_plot", "strain_plot"]


def strain_plot(page: Page, profile: BarProfile, predicted: tuple[PredictedAt, ...]) -> Plot | None:
    """Strain at the stations, and what was predicted there; None where no station has one."""
    points = _points(page, profile, "strain")
    if not points:
        return None
    curves = []
    by_label = {one.label: one for one in predicted}
    places, cracked, uncracked = [], [], []
    for station in profile.stations:
        one = by_label.get(station.label)
        if one is not None and one.cracked is not None and one.uncracked is not None:
            places.append(in_shown(float(station.distance.value), "distance", page.system))
            cracked.append(in_shown(one.cracked.value.item(), "strain", page.system))
            uncracked.append(in_shown(one.uncracked.value.item(), "strain", page.system))
    if len(places) > 1:
        x = np.asarray(places)
        curves = [
            Curve("predicted at a crack", x, np.asarray(cracked), "b"),
            Curve("predicted uncracked", x, np.asarray(uncracked), "c"),
        ]
    return Plot(
        _along(page),
        Axis("mechanical strain", unit_shown("strain", page.system).text),
        f"Strain along bar {profile.bar.record.label}",
        tuple(curves),
        points,
        _voids(page, profile, "strain"),
    )


def force_plot(page: Page, profile: BarProfile) -> Plot | None:
    """Bar force at the stations, and the field between them with its band."""
    points = _points(page, profile, "force")
    if not points:
        return None
    curves = (_band(page, profile.force, "force"),) if profile.force else ()
    return Plot(
        _along(page),
        Axis("bar force", unit_shown("force", page.system).text),
        f"Force along bar {profile.bar.record.label}",
        curves,
        points,
        _voids(page, profile, "force"),
    )


def bond_plot(page: Page, profile: BarProfile) -> Plot | None:
    """Bond stress: means between neighbours as steps, and the whole field's with its band."""
    if not profile.steps:
        return None
    points = []
    xs, ys = [], []
    for step in profile.steps:
        ends = [in_shown(at, "distance", page.system) for at in (step.first, step.last)]
        value = in_shown(step.stress.value.item(), "bond_stress", page.system)
        doubt = in_shown(step.stress.expanded(COVERAGE).item(), "bond_stress", page.system)
        xs += [*ends, math.nan]
        ys += [value, value, math.nan]
        points.append(Point((ends[0] + ends[1]) / 2, value, y_plus_minus=doubt))
    curves = [Curve("mean between stations", np.asarray(xs), np.asarray(ys), "b")]
    if profile.bond is not None:
        curves.insert(0, _band(page, profile.bond, "bond_stress", "from the whole row"))
    return Plot(
        _along(page),
        Axis("bond stress", unit_shown("bond_stress", page.system).text),
        f"Bond stress along bar {profile.bar.record.label}",
        tuple(curves),
        tuple(points),
        _voids(page, profile, "force"),
    )


def slip_plot(page: Page, profile: BarProfile, slip: Along) -> Plot:
    """Slip along the bar with its band."""
    return Plot(
        _along(page),
        Axis("slip", unit_shown("slip", page.system).text),
        f"Slip along bar {profile.bar.record.label}",
        (_band(page, slip, "slip"),),
        (),
        _voids(page, profile, "total"),
    )


def law_plot(page: Page, points: tuple[LawPoint, ...], law: BondLaw) -> Plot:
    """Measured bond stress against slip, and the local law."""
    reach = max((abs(one.slip) + one.slip_plus_minus for one in points), default=0.0)
    reach = max(1.3 * reach, law.first_slip / 10)
    signs = [math.copysign(1.0, one.slip) for one in points]
    low = -reach if min(signs, default=1.0) < 0 else 0.0
    high = reach if max(signs, default=1.0) > 0 else 0.0
    slip = np.linspace(low, high, 301)
    curve = Curve(
        "fib Model Code 2010",
        series_shown(slip, "slip", page.system),
        series_shown(bond.local_bond_stress(slip, law), "bond_stress", page.system),
        "b",
    )
    measured = tuple(
        Point(
            in_shown(one.slip, "slip", page.system),
            in_shown(one.measured, "bond_stress", page.system),
            x_plus_minus=in_shown(one.slip_plus_minus, "slip", page.system),
            y_plus_minus=in_shown(one.measured_plus_minus, "bond_stress", page.system),
        )
        for one in points
    )
    return Plot(
        Axis("slip", unit_shown("slip", page.system).text),
        Axis("bond stress", unit_shown("bond_stress", page.system).text),
        "Bond stress against slip, beside a local law",
        (curve,),
        measured,
    )


def _along(page: Page) -> Axis:
    return Axis("x from the datum", unit_shown("distance", page.system).text)


def _band(page: Page, along: Along, quantity: str, label: str = "") -> Curve:
    return Curve(
        label,
        series_shown(along.places, "distance", page.system),
        series_shown(along.value.value, quantity, page.system),
        "a",
        series_shown(along.value.expanded(COVERAGE), quantity, page.system),
    )


def _points(page: Page, profile: BarProfile, what: str) -> tuple[Point, ...]:
    """Stations with whiskers for value and place."""
    found = []
    for station in profile.stations:
        value: Uncertain | None = getattr(station, what)
        if value is None:
            continue
        found.append(
            Point(
                in_shown(float(station.distance.value), "distance", page.system),
                in_shown(float(value.value), what, page.system),
                x_plus_minus=in_shown(
                    float(station.distance.expanded(COVERAGE)), "distance", page.system
                )
                or None,
                y_plus_minus=in_shown(float(value.expanded(COVERAGE)), what, page.system),
            )
        )
    return tuple(found)


def _voids(page: Page, profile: BarProfile, what: str) -> tuple[Void, ...]:
    return tuple(
        Void(
            in_shown(float(station.distance.value), "distance", page.system),
            f"{station.gauges[0].record.label} {station.state.value}"
            if station.strain is None
            else station.gauges[0].record.label,
        )
        for station in profile.stations
        if getattr(station, what) is None
    )
