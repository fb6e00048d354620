"""Numbers of a section in words and units, for its table and its page alike."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.services.gauge.look import instant_of
from gaugewright.services.planes.gauges import GaugedSection
from gaugewright.services.planes.look import Compared, SectionLook, row_of_hold
from gaugewright.services.planes.sections import SectionInstant

__all__ = [
    "HOLD_HEADS",
    "apart_text",
    "compared_rows",
    "depths_apart",
    "gauge_rows",
    "hold_rows",
    "instant_rows",
    "load_text",
    "number_text",
    "time_of_day",
]

COVERAGE = 0.95
NONE = "-"
HOLD_HEADS = (
    "hold",
    "load",
    "curvature",
    "neutral axis",
    "moment from strains",
    "applied",
    "applied less strains",
    "flat by chance",
)


def number_text(value: Uncertain | None, quantity: str, system: System) -> str:
    """A number with its expanded uncertainty and unit; a dash where there is none."""
    if value is None or not np.isfinite(value.value):
        return NONE
    doubt = float(value.expanded(COVERAGE))
    known = doubt if np.isfinite(doubt) and doubt > 0 else None
    return quantity_shown(quantity, float(value.value), known, system).text


def depths_apart(section: GaugedSection) -> float:
    """How far the highest and the lowest grid in use stand apart [m]; 0 with fewer than two."""
    depths = [float(gauge.place.depth.value) for gauge in section.used]
    return max(depths) - min(depths) if depths else 0.0


def apart_text(section: GaugedSection, system: System) -> str:
    """The same, in words."""
    return quantity_shown("depth", depths_apart(section), None, system).text


def load_text(load: float, system: System) -> str:
    """A load without its doubt, as a name for a hold."""
    return quantity_shown("force", load, None, system).text


def instant_rows(instant: SectionInstant, system: System, zone: ZoneInfo) -> list[tuple[str, str]]:
    """Everything at one instant: names and words."""
    series, row, plane = instant.series, instant.row, instant.plane
    local = instant_of(float(series.time[row])).astimezone(zone)

    def text(value: Uncertain | None, quantity: str) -> str:
        return number_text(value, quantity, system)

    pressed = series.section.member.is_pressed
    rows = [
        ("time of the hall", f"{local:%H:%M:%S}"),
        ("load", text(series.load[row], "force")),
        ("curvature", text(series.planes.curvature[row], "curvature")),
    ]
    if series.planes.curvature_across is not None:
        across = series.planes.curvature_across[row]
        rows.append(("curvature to the right", text(across, "curvature")))
    rows += [
        ("strain at the upper face", text(series.planes.top_strain[row], "total_strain")),
        ("neutral axis below it", _axis_text(instant, system)),
        ("force of the bars", text(series.steel_force[row], "force")),
        ("force of the concrete", text(series.concrete.force[row], "force")),
        (
            "both together" if pressed else "both together, none applied",
            text(series.force[row], "force"),
        ),
        ("moment from strains", text(series.inside[row], "moment")),
        ("moment from load and statics", text(series.applied[row], "moment")),
        ("applied less strains", text(series.difference[row], "moment")),
    ]
    if series.moment_across is not None:
        rows.append(("moment to the right", text(series.moment_across[row], "moment")))
    if plane is not None and plane.spare:
        rows.append(("so bad a misfit by chance", _chance(plane.probability)))
        rows.append(("gauge that spoils the plane", _outlier_text(instant)))
    return rows


def gauge_rows(
    instant: SectionInstant, system: System
) -> list[tuple[str, str, str, str, str, str]]:
    """Every gauge of the section at one instant; those kept out with their state."""
    series, plane = instant.series, instant.plane
    normalised = (
        {} if plane is None else dict(zip(plane.names, plane.normalised.tolist(), strict=True))
    )
    readings = {reading.gauge.label: reading for reading in series.readings}
    rows = []
    for gauge in series.section.gauges:
        place = gauge.place
        reading = readings.get(gauge.label)
        total = None if reading is None else reading.total[instant.row]
        fitted = None
        if plane is not None:
            across = place.across if plane.curvature_across is not None else None
            fitted = plane.strain_at(place.depth, across)
        share = normalised.get(gauge.label, np.nan)
        rows.append(
            (
                gauge.label if gauge.used else f"{gauge.label} ({gauge.state.value}, kept out)",
                number_text(place.depth, "depth", system),
                number_text(place.across, "across", system),
                number_text(total, "total_strain", system),
                number_text(fitted, "total_strain", system),
                fixed_text(share, 1, sign=True) if np.isfinite(share) else NONE,
            )
        )
    return rows


def hold_rows(look: SectionLook, system: System) -> list[tuple[str, ...]]:
    """Every hold with what the section does there."""
    series = look.series
    rows: list[tuple[str, ...]] = []
    for hold in look.held:
        row = row_of_hold(look, hold)
        rows.append(
            (
                hold.label or load_text(hold.level, system),
                number_text(series.load[row], "force", system),
                number_text(series.planes.curvature[row], "curvature", system),
                _inside(look, row, system),
                number_text(series.inside[row], "moment", system),
                number_text(series.applied[row], "moment", system),
                number_text(series.difference[row], "moment", system),
                _chance(float(series.planes.probability[row])),
            )
        )
    return rows


def compared_rows(
    found: Sequence[Compared], system: System
) -> list[tuple[str, str, str, str, str, str]]:
    """Measured beside predicted, gauge by gauge and hold by hold."""
    return [
        (
            one.gauge.label,
            one.held.label or load_text(one.held.level, system),
            number_text(one.measured, "strain", system),
            number_text(one.predicted, "strain", system),
            number_text(one.difference, "strain", system),
            NONE
            if one.in_uncertainties is None
            else fixed_text(one.in_uncertainties, 1, sign=True),
        )
        for one in found
    ]


def time_of_day(look: SectionLook, text: str, zone: ZoneInfo) -> float:
    """Campaign time of a time of the hall on the day of the test [s].

    Raises
    ------
    InputError
        If it can't be read.
    """
    first = instant_of(float(look.series.time[0])).astimezone(zone)
    for form in ("%H:%M:%S", "%H:%M"):
        try:
            clock = datetime.strptime(text.strip(), form)  # noqa: DTZ007 - the zone comes next
        except ValueError:
            continue
        there = first.replace(
            hour=clock.hour, minute=clock.minute, second=clock.second, microsecond=0
        )
        last = instant_of(float(look.series.time[-1])).astimezone(zone)
        if not first.replace(microsecond=0) <= there <= last:
            within = f"within the test, {first:%H:%M:%S} to {last:%H:%M:%S}"
            raise InputError("time of the hall", text.strip(), within)
        seconds = (there - first).total_seconds()
        return float(look.series.time[0]) + max(seconds, 0.0)
    raise InputError("time", text, "a time of the hall such as 09:31:05")


def _axis_text(instant: SectionInstant, system: System) -> str:
    axis = instant.axis
    if axis is None:
        return NONE
    if not np.isfinite(axis.low) or not np.isfinite(axis.high):
        return "can't be told: the curvature isn't told from none"
    ends = [quantity_shown("depth", end, None, system).text for end in (axis.low, axis.high)]
    return f"{number_text(axis.depth, 'depth', system)}; {ends[0]} to {ends[1]} can't be excluded"


def _inside(look: SectionLook, row: int, system: System) -> str:
    axes = look.series.axes
    if not np.isfinite(axes.low[row]) or not np.isfinite(axes.high[row]):
        return NONE
    return number_text(axes.neutral_axis_depth[row], "depth", system)


def _chance(probability: float) -> str:
    if not np.isfinite(probability):
        return NONE
    if probability < 0.001:
        return "under 0.1 %"
    return f"{fixed_text(100 * probability, 0 if probability >= 0.1 else 1)} %"


def _outlier_text(instant: SectionInstant) -> str:
    outlier = None if instant.plane is None else instant.plane.outlier
    if outlier is None:
        return "none"
    names = " or ".join(outlier.names)
    if np.isfinite(outlier.rest_probability) and outlier.rest_probability < 0.01:
        return f"{names}, but the others don't fit a plane either"
    return names
