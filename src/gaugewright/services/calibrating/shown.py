"""A calibration as command line and page show it: the number, its terms, its rows, its budget."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError, InputFaults
from gaugewright.present.axes import Axis
from gaugewright.present.numbers import Shown, fixed_text, significant_text
from gaugewright.present.plots import Curve, Ink, Plot, drawn
from gaugewright.present.typed import number_typed
from gaugewright.present.units_shown import System, in_shown, quantity_shown, unit_shown
from gaugewright.quantities import FloatArray, parse_unit
from gaugewright.records import Entry
from gaugewright.records.proof import Calibration
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.calibrating.calibrated_chains import slope_of
from gaugewright.services.calibrating.calibrations import Told, WorkedOut, bending_of, worked_out
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.events import instant_typed

__all__ = ["CalibrationShown", "Cause", "PointRow", "StepRow", "shown_calibration", "told_from"]

MEANINGS = {one.value: one for one in (Meaning.TWO_SIGMA, Meaning.ONE_SIGMA, Meaning.LIMIT)}
_PERCENT = 100.0


@dataclass(frozen=True, slots=True)
class PointRow:
    """One row as read: run, rising or falling, force, reading, force by the curve, residual."""

    run: int
    way: str
    force: str
    reading: str
    fitted: str
    residual: str


@dataclass(frozen=True, slots=True)
class StepRow:
    """Terms of ISO 376 at one load, in per cent; "" where there is none."""

    force: str
    repeatability: str
    reproducibility: str
    reversibility: str
    interpolation: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of the doubt about newtons per reading, and its share of the variance."""

    meaning: str
    basis: str
    share: str


@dataclass(frozen=True, slots=True)
class CalibrationShown:
    """Everything a person is shown of one calibration; ``si`` holds the same in N and V/V."""

    circuit: str
    measured: str
    per_reading: Shown
    main_cause: str
    facts: tuple[tuple[str, str], ...]
    force_unit: str
    reading_unit: str
    steps: tuple[StepRow, ...]
    points: tuple[PointRow, ...]
    budget: tuple[Cause, ...]
    curve: tuple[str, str]
    residuals: tuple[str, str]
    si: Mapping[str, float | str | None]


def told_from(texts: Mapping[str, str], zone: str) -> Told:
    """What a person typed beside the table, every fault at once.

    Raises
    ------
    InputError
        If one text can't be used.
    Faults
        If several can't.
    """
    faults: list[InputError] = []

    def number(name: str, words: str) -> float:
        try:
            return number_typed(words, texts.get(name, "").strip().removesuffix("%").strip())
        except InputError as fault:
            faults.append(fault)
            return 1.0

    share = number("load_error", "error of the load, in %")
    temperature = number("temperature", "temperature, in °C")
    meaning = MEANINGS.get(texts.get("means", "") or "k=2")
    if meaning is None:
        faults.append(InputError("means", texts["means"], "one of " + ", ".join(MEANINGS)))
    degree = {"": 1, "line": 1, "cubic": 3}.get(texts.get("curve", ""))
    if degree is None:
        faults.append(InputError("curve", texts["curve"], "line or cubic"))
    measured = _instant(texts.get("measured", ""), zone, faults)
    until = _day(texts.get("valid_until", ""), faults)
    if share < 0:
        faults.append(InputError("error of the load, in %", share, "0 or more"))
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults("calibration", faults)
    return Told(
        measured,
        Stated(0.0, share / _PERCENT, meaning or Meaning.TWO_SIGMA, source="certificate"),
        texts.get("certificate", "").strip(),
        Stated(temperature),
        degree or 1,
        until,
        texts.get("note", "").strip(),
    )


def _instant(text: str, zone: str, faults: list[InputError]) -> datetime:
    now = datetime.now(UTC)
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        faults.append(InputError("measured", text, "a day and time like 2026-03-04T10:30"))
        return now
    if found.tzinfo is not None:
        return found.astimezone(UTC)
    try:
        # Refuses an hour that the clock skipped or showed twice: which one was it?
        return instant_typed(f"{found:%Y-%m-%d %H:%M:%S}", ZoneInfo(zone), now)
    except InputError as fault:
        faults.append(fault)
        return now


def _day(text: str, faults: list[InputError]) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        faults.append(InputError("valid until", text, "a day like 2027-03-04, or nothing"))
        return None


def shown_calibration(
    book: Book, entry: Entry[Calibration], system: System, zone: str
) -> CalibrationShown:
    """One calibration worked out and put into the reader's units.

    Raises
    ------
    InputError
        If the record can't be worked out.
    """
    worked = worked_out(book, entry)
    slope = slope_of(book, worked)
    setting = worked.wired.setting.record.unit
    unit = parse_unit(setting)
    factor = 1.0 if unit is None else unit.factor
    # Newtons for one unit as the channel writes it; its share of doubt is that of the slope.
    scale = worked.per_ratio / worked.found.force_per_reading * factor
    per = slope * scale
    budget = per.budget(None, coverage=COVERAGE)
    main = budget.lines[0]
    number = quantity_shown("force", float(per.value), float(per.expanded(COVERAGE)), system)
    force_unit = unit_shown("force", system).text
    local = entry.record.measured.astimezone(ZoneInfo(zone))
    return CalibrationShown(
        worked.circuit.record.label,
        f"{local:%Y-%m-%d %H:%M}",
        Shown(number.value, number.plus_minus, f"{number.unit} per {setting}"),
        f"{main.meaning} ({main.basis})",
        _facts(book, worked, system),
        force_unit,
        setting,
        _steps(worked, system),
        _points(worked, system, factor),
        tuple(
            Cause(line.meaning, line.basis, _percent(budget.share(line), 1))
            for line in budget.lines
            if budget.share(line) > 0
        ),
        _curve(worked, system, factor, setting),
        _residuals(worked, system),
        _si(worked, per, factor, setting, main.meaning),
    )


def _force(value: float, system: System) -> str:
    return fixed_text(in_shown(value, "force", system), 2)


def _percent(share: float, places: int = 3) -> str:
    return "" if not np.isfinite(share) else fixed_text(_PERCENT * share, places) + " %"


def _facts(book: Book, worked: WorkedOut, system: System) -> tuple[tuple[str, str], ...]:
    record, found, terms = worked.entry.record, worked.found, worked.terms
    unit = unit_shown("force", system).text
    low, high = (_force(end or 0.0, system) for end in (record.lowest, record.highest))
    facts = [
        ("Against", record.certificate or "no certificate named"),
        ("Runs", f"{len(record.series)}, of {len(record.series[0].force)} rows"),
        ("Rows left out", f"{record.left_out} without a number"),
        ("Curve", "straight line" if record.degree == 1 else "cubic"),
        ("Range", f"{low} to {high} {unit}"),
        ("Hysteresis", f"{_force(found.hysteresis, system)} {unit} at most"),
        ("Return of the zero", f"{_percent(terms.zero_return)} of the largest reading"),
        ("Scatter, lower limit factor", f"{_force(terms.lower_limit_factor, system)} {unit}"),
        ("Lowest load, class A", f"{_force(terms.lowest_load_a, system)} {unit}"),
        ("Lowest load, class AA", f"{_force(terms.lowest_load_aa, system)} {unit}"),
        ("Temperature", f"{significant_text(found.temperature_degc)} °C"),
        ("Bending in the machine", _bending(book, worked)),
        ("Holds for", _holding(worked)),
    ]
    if record.degree != 1:
        away = f"{_force(found.nonlinearity, system)} {unit} at most"
        facts.insert(5, ("From the straight line", away))
    if record.note:
        facts.append(("Note", record.note))
    return tuple(facts)


def _bending(book: Book, worked: WorkedOut) -> str:
    bending = bending_of(book, worked)
    if bending is None:
        single = len(worked.wired.gauges) == 1
        return (
            "not seen: no gauge read beside it; a limit stands in" if single else "wired out of it"
        )
    whole = "" if bending.share.whole else ", in the plane of the gauges"
    gauges = " and ".join(bending.gauges)
    return f"{_percent(bending.at_largest)} at the largest load{whole}, by {gauges}"


def _holding(worked: WorkedOut) -> str:
    record = worked.entry.record
    words = "the connection it was made on"
    if record.carried_to:
        words += f" and {len(record.carried_to)} later ({record.carried_why})"
    return words if record.valid_until is None else f"{words}, until {record.valid_until}"


def _steps(worked: WorkedOut, system: System) -> tuple[StepRow, ...]:
    terms = worked.terms
    back = dict(zip(terms.falling.tolist(), terms.reversibility.tolist(), strict=True))
    columns = (terms.steps, terms.repeatability, terms.reproducibility, terms.interpolation)
    return tuple(
        StepRow(
            _force(force, system),
            _percent(first),
            _percent(every),
            _percent(back.get(force, float("nan"))),
            _percent(curve),
        )
        for force, first, every, curve in zip(*(c.tolist() for c in columns), strict=True)
        if force  # shares of nothing
    )


def _points(worked: WorkedOut, system: System, factor: float) -> tuple[PointRow, ...]:
    rows = []
    for number, (run, kept) in enumerate(
        zip(worked.runs, worked.entry.record.series, strict=True), start=1
    ):
        fitted = worked.found.fit.fitted(run.relative)
        for place, (force, reading) in enumerate(zip(kept.force, kept.reading, strict=True)):
            rows.append(
                PointRow(
                    number,
                    "rising" if place <= run.turn else "falling",
                    _force(force, system),
                    fixed_text(reading / factor, _places(worked, factor)),
                    _force(float(fitted[place]), system),
                    fixed_text(
                        in_shown(force - float(fitted[place]), "force", system), 3, sign=True
                    ),
                )
            )
    return tuple(rows)


def _places(worked: WorkedOut, factor: float) -> int:
    """Decimals of the readings that still move the force by less than their scatter."""
    slope = abs(worked.per_ratio * factor)
    return max(0, 1 - math.floor(math.log10(worked.terms.lower_limit_factor / slope)))


def _since_zero(worked: WorkedOut, factor: float) -> list[FloatArray]:
    """Readings since the zero of each run, in the unit the channel writes."""
    return [
        (np.array(kept.reading) - kept.reading[0]) / factor for kept in worked.entry.record.series
    ]


def _curve(worked: WorkedOut, system: System, factor: float, setting: str) -> tuple[str, str]:
    force_unit = unit_shown("force", system)
    across = _since_zero(worked, factor)
    low = float(min(part.min() for part in across))
    high = float(max(part.max() for part in across))
    at = np.linspace(*worked.found.fit.span, 101)
    line = Curve(
        "the curve",
        np.linspace(low, high, 101),
        worked.found.fit.fitted(at) / force_unit.factor,
        "b",
    )
    rising = np.concatenate([a[: r.turn + 1] for a, r in zip(across, worked.runs, strict=True)])
    load = np.concatenate([r.force[: r.turn + 1] for r in worked.runs]) / force_unit.factor
    dots = tuple(
        Curve("", np.array([x]), np.array([y]), "a") for x, y in zip(rising, load, strict=True)
    )
    label = worked.circuit.record.label
    plot = Plot(
        Axis("reading since the zero", setting),
        Axis("force", force_unit.text),
        f"Force over the reading of {label}: rows while the load rose, and the curve fitted.",
        (line, *dots),
    )
    return drawn(plot, 720, 400), drawn(plot, 360, 340)


def _residuals(worked: WorkedOut, system: System) -> tuple[str, str]:
    unit = unit_shown("force", system)
    curves = []
    inks: tuple[Ink, ...] = ("a", "b", "c", "d")
    for number, run in enumerate(worked.runs[:4]):
        left = (run.force - worked.found.fit.fitted(run.relative)) / unit.factor
        words = f"run {number + 1}"
        curves.append(Curve(words, run.force / unit.factor, left, inks[number], dots=True))
    label = worked.circuit.record.label
    plot = Plot(
        Axis("force", unit.text),
        Axis("force less curve", unit.text),
        f"What is left of each row of {label} above the curve, run by run: up and down again.",
        tuple(curves),
    )
    return drawn(plot, 720, 320), drawn(plot, 360, 320)


def _si(
    worked: WorkedOut, per: Uncertain, factor: float, setting: str, main: str
) -> dict[str, float | str | None]:
    record, terms = worked.entry.record, worked.terms
    return {
        "circuit": worked.circuit.record.label,
        "measured": record.measured.isoformat(),
        "certificate": record.certificate,
        "force_per_reading_n": float(per.value),
        "expanded_uncertainty_n": float(per.expanded(COVERAGE)),
        "coverage": COVERAGE,
        "reading_unit": setting,
        "main_cause": main,
        "force_per_arm_change_n": worked.found.force_per_reading,
        "lowest_force_n": record.lowest,
        "highest_force_n": record.highest,
        "hysteresis_n": worked.found.hysteresis,
        "nonlinearity_n": worked.found.nonlinearity,
        "zero_return": terms.zero_return,
        "lower_limit_factor_n": terms.lower_limit_factor,
        "lowest_load_class_a_n": terms.lowest_load_a,
        "temperature_degc": worked.found.temperature_degc,
        "left_out": float(record.left_out),
    }
