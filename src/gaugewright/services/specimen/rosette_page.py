"""A rosette at a moment and over the test, drawn and as rows of numbers."""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import rosette
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import Shown
from gaugewright.present.plots import Axis, Curve, Ink, Plot
from gaugewright.present.rosette_drawing import (
    ArmDrawn,
    AxesDrawn,
    CircleDrawn,
    mohr_circle,
    rosette_drawing,
)
from gaugewright.present.units_shown import in_shown, quantity_shown, series_shown, unit_shown
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.loading.moments import Moment
from gaugewright.services.showing.page import Page
from gaugewright.services.specimen.rosettes import RosetteSeries, RosetteState

__all__ = ["Drawn", "NumberRow", "angle_words", "drawings_of", "number_rows", "series_plots"]


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One number of a rosette: what, its value and doubt [SI], how it is shown, main cause."""

    key: str
    name: str
    value: float
    plus_minus: float
    unit: str
    shown: Shown
    cause: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """Both drawings of a rosette at a moment."""

    rosette: str
    circle: str


def number_rows(page: Page, state: RosetteState) -> tuple[NumberRow, ...]:
    """Everything a rosette gives at a moment; the axis only where it is determined."""
    first, second = state.principal.first, state.principal.second
    rows = [
        ("strain_x", "strain along the axis", state.surface.strain_x, "strain", "1"),
        ("strain_y", "strain across the axis", state.surface.strain_y, "strain", "1"),
    ]
    if not state.group.is_tee:
        rows += [
            ("shear_strain", "shear strain γ", state.surface.shear_strain, "strain", "1"),
            ("first", "larger principal strain ε₁", first, "strain", "1"),
            ("second", "smaller principal strain ε₂", second, "strain", "1"),
            ("radius", "radius of Mohr’s circle, γmax/2", state.principal.radius, "strain", "1"),
        ]
    rows += [
        ("first_stress", "larger principal stress", state.first_stress, "stress", "Pa"),
        ("second_stress", "smaller principal stress", state.second_stress, "stress", "Pa"),
    ]
    if state.is_determined:
        rows.append(("angle", "axis to ε₁, counter-clockwise", state.angle, "angle", "rad"))
    made = []
    for key, name, value, like, unit in rows:
        doubt = float(value.expanded(COVERAGE))
        lines = value.budget(coverage=COVERAGE).lines
        number = float(value.value)
        made.append(
            NumberRow(
                key,
                name,
                number,
                doubt,
                unit,
                quantity_shown(like, number, doubt or None, page.system),
                f"{lines[0].meaning} ({lines[0].basis})" if lines else "",
            )
        )
    return tuple(made)


def angle_words(state: RosetteState) -> str:
    """What is known of the direction, in one sentence."""
    if state.group.is_tee:
        return "Two arms tell no direction: the principal axes are taken along them."
    if not state.is_determined:
        chance = 100 * float(state.principal.significance)
        return (
            "The direction isn’t determined: a surface strained alike in all directions would "
            f"show a circle this large in {chance:.0f} of 100 cases."
        )
    ends = [math.degrees(end) for end in (state.lower, state.upper)]
    angle = math.degrees(float(state.angle.value))
    return (
        f"The axis of the larger principal strain lies {angle:.1f}° from the rosette’s axis, "
        f"counter-clockwise; with 95 % it is {ends[0]:.1f}° back to {ends[1]:.1f}° on from there."
    ).replace(" -", " \N{MINUS SIGN}")


def drawings_of(page: Page, state: RosetteState) -> Drawn:
    """The rosette with its axes, and Mohr's circle with the arms on it."""
    unit = unit_shown("strain", page.system).text
    x, y, shear = (
        float(part.value)
        for part in (state.surface.strain_x, state.surface.strain_y, state.surface.shear_strain)
    )
    angles = state.group.angles
    along = rosette.direct_strain(x, y, shear, angles)
    turned = rosette.shear_strain(x, y, shear, angles) / 2
    labels = [gauge.record.label for _, gauge in state.group.arms]
    known = state.is_determined
    angle = float(state.angle.value)
    arms = tuple(ArmDrawn(name, turn) for name, turn in zip(labels, angles.tolist(), strict=True))
    axes = AxesDrawn(angle, state.lower, state.upper) if known else None
    below = (
        f"ε₁ at {math.degrees(angle):.1f}°; grey: 95 % of where it may lie"
        if known
        else "no axis is drawn: its direction isn’t determined"
    ).replace("-", "\N{MINUS SIGN}")
    if state.group.is_tee:
        below = "axes taken along the arms, not measured"
    points = tuple(
        (name, in_shown(e, "strain", page.system), in_shown(g, "strain", page.system))
        for name, e, g in zip(labels, along.tolist(), turned.tolist(), strict=True)
    )
    circle = CircleDrawn(
        in_shown((x + y) / 2, "strain", page.system),
        in_shown(float(state.principal.radius.value), "strain", page.system),
        in_shown(float(state.principal.radius.expanded(COVERAGE)), "strain", page.system),
        angle if known else None,
        points,
        unit,
    )
    name = state.group.name
    return Drawn(
        rosette_drawing(arms, axes, ("axis", below), f"Arms of rosette {name}; {below}"),
        mohr_circle(circle, f"Mohr’s circle of strain of rosette {name} at {state.moment.label}"),
    )


def series_plots(page: Page, series: RosetteSeries, at: Moment) -> tuple[Plot, ...]:
    """Principal strains and the direction over time; gaps where there is no direction."""
    strain = unit_shown("strain", page.system).text
    minutes = (series.time - series.time[0]) / 60
    here = ((((at.first + at.last) / 2) - float(series.time[0])) / 60, "shown above")
    time = Axis("time since the first scan with a load", "min")
    lines: tuple[tuple[str, Uncertain, Ink], ...] = (
        ("ε₁", series.principal.first, "a"),
        ("ε₂", series.principal.second, "b"),
    )
    curves = tuple(
        Curve(
            name,
            minutes,
            series_shown(value.value, "strain", page.system),
            ink,
            series_shown(value.expanded(COVERAGE), "strain", page.system),
        )
        for name, value, ink in lines
    )
    plots = [Plot(time, Axis("strain", strain), "Principal strains", curves, verticals=(here,))]
    told = series.principal.is_determined
    if told.any():
        degrees = np.where(told, np.degrees(series.principal.angle.value), np.nan)
        half = np.degrees(np.maximum(series.principal.lower, series.principal.upper))
        band = np.where(told, half, np.nan)
        curve = Curve("axis of ε₁", minutes, degrees, "a", band)
        plots.append(
            Plot(
                time, Axis("direction from the axis", "°"), "Direction", (curve,), verticals=(here,)
            )
        )
    return tuple(plots)
