"""The chain of a calibrated bar or bridge: its own newtons per reading instead of card and area."""

import math
from dataclasses import replace
from datetime import datetime

from gaugewright.calc.calibration import BarCalibration
from gaugewright.calc.chain import Chain, Influence, Stage
from gaugewright.calc.chain_rules import CONTAINED_IN_CALIBRATION
from gaugewright.calc.stages import kind_named
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Connection
from gaugewright.records.proof import Calibration, ZeroKind
from gaugewright.records.stated import Basis
from gaugewright.services.calibrating.calibrations import WorkedOut, bending_of, worked_out
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.campaign.limit_labels import LOCAL_BENDING, MODULUS_SLOPE
from gaugewright.services.chaining import allowances, electrical
from gaugewright.services.chaining.causes import Causes, input_of_limit
from gaugewright.services.chaining.chains import COMPENSATED, BuiltChain, thermal_output
from gaugewright.services.chaining.stage_switches import switches_for
from gaugewright.services.chaining.subject import (
    Subject,
    gauge_factor_influences,
    subject_of,
    temperature_influence,
)

__all__ = ["calibration_for", "force_chain_for", "is_calibrated", "slope_of"]

_POWERS = ("calibration_slope", "calibration_square", "calibration_cube")
_CONTAINED = (*CONTAINED_IN_CALIBRATION, "gauge factor", "installation", "large strain")


def is_calibrated(book: Book, connection: Entry[Connection]) -> bool:
    """Whether a calibration holds for a connection, whatever else speaks against its use."""
    return any(_holds(entry, connection) for entry in _of_circuit(book, connection))


def calibration_for(book: Book, connection: Entry[Connection]) -> Entry[Calibration]:
    """Latest calibration to force that holds for a connection.

    Raises
    ------
    InputError
        If there is none, or it was made on another connection and not carried over to this one.
    """
    found = _of_circuit(book, connection)
    label = book.label(connection.record.subject)
    if not found:
        do = "load the bar against a known force and enter it: gaugewright calibrate"
        raise InputError(f"calibration of {label}", None, "made before its force is asked", do)
    holding = [entry for entry in found if _holds(entry, connection)]
    if not holding:
        raise InputError(
            f"calibration of {label}",
            f"made on another connection, on {_day(book, found[-1].record.measured)}",
            "made on, or carried over to, the connection from "
            f"{_day(book, connection.record.begins)}",
            "carry it over with a reason where lead and bridge are the same, or calibrate again",
        )
    return holding[-1]


def _day(book: Book, instant: datetime) -> str:
    return f"{instant.astimezone(book.zone):%Y-%m-%d}"


def _of_circuit(book: Book, connection: Entry[Connection]) -> list[Entry[Calibration]]:
    found = [
        entry
        for entry in book.of(Calibration)
        if entry.record.of == connection.record.subject and entry.record.series
    ]
    return sorted(found, key=lambda entry: entry.record.measured)


def _holds(entry: Entry[Calibration], connection: Entry[Connection]) -> bool:
    return connection.uid in (entry.record.connection, *entry.record.carried_to)


def force_chain_for(
    book: Book, connection: Entry[Connection], *, zero_kind: ZeroKind = ZeroKind.BEFORE_TEST
) -> BuiltChain:
    """Chain from the channel's reading to force [N], by the calibration that holds for it.

    Gauge factor, area, lead loss, alignment, transverse sensitivity, installation and flat are in
    the calibration and nowhere else. Temperature is taken off by the card's curve or the dummy.

    Raises
    ------
    InputError
        If no calibration holds, it is out of date, or a stage it contains was turned on besides.
    """
    entry = calibration_for(book, connection)
    subject = subject_of(book, connection, zero_kind)
    _refuse_old(book, entry, subject)
    _refuse_twice(book, subject)
    worked = worked_out(book, entry)
    causes = Causes()
    curve = _curve(book, subject, worked, causes)
    stages = (
        electrical.in_range(subject, causes),
        electrical.reading(subject, causes),
        electrical.bridge(subject, causes),
        electrical.reference(subject, causes),
        curve,
        _temperature(book, subject, worked, causes),
    )
    chain = Chain(tuple(stage for stage in stages if stage), tuple(causes.inputs.values()))
    zeroed = chain.zeroed(electrical.zero_reading(subject), {})
    return BuiltChain(zeroed, subject, tuple(causes.sources))


def _refuse_old(book: Book, entry: Entry[Calibration], subject: Subject) -> None:
    until = entry.record.valid_until
    used = subject.zero.record.measured.astimezone(book.zone).date()
    if until is not None and used > until:
        raise InputError(
            f"calibration of {book.label(entry.record.of)}",
            f"valid until {until}",
            f"valid on {used}, when the zero of the test was taken",
            "calibrate again, or correct its date",
        )


def _refuse_twice(book: Book, subject: Subject) -> None:
    for switch in switches_for(book, subject.circuit.uid):
        if switch.record.on and kind_named(switch.record.stage).slot in _CONTAINED:
            raise InputError(
                f"stage switch {switch.record.label}",
                f"{switch.record.stage} on",
                "off with a calibration to force, which contains it",
                "take back the switch, or leave the calibration to other connections",
            )


def _curve(book: Book, subject: Subject, worked: WorkedOut, causes: Causes) -> Stage:
    """Stage of the calibration with everything doubtful about it here and now."""
    found = worked.found
    for quantity in found.inputs:
        causes.inputs[quantity.name] = quantity
    stage = found.stage()
    influences = [
        *stage.influences,
        *_of_instrument(worked, causes),
        *_of_bending(book, worked, causes),
        *_of_other_temperature(book, subject, worked, causes),
        *_at_zero(book, subject, found, causes),
    ]
    words = f"calibration of {_day(book, worked.entry.record.measured)}"
    if worked.entry.record.certificate:
        words += f" against {worked.entry.record.certificate}"
    for name, _ in stage.parameters:
        causes.came_from(stage.kind, name, worked.entry.ref, Basis.MEASURED, words)
    # A reading within the scatter of an end is at that end: a zero is seldom read as nothing.
    margin = abs(found.lower_limit_factor / found.force_per_reading)
    ends = {"calibration_low": found.fit.span[0] - margin}
    ends["calibration_high"] = found.fit.span[1] + margin
    numbers = dict(stage.parameters) | ends
    return replace(stage, parameters=tuple(numbers.items()), influences=tuple(influences))


def _coefficients(found: BarCalibration) -> list[tuple[str, int, float]]:
    values = found.fit.coefficients.tolist()[1:]
    return [
        (name, power, value)
        for power, (name, value) in enumerate(zip(_POWERS, values, strict=False), start=1)
    ]


def _of_instrument(worked: WorkedOut, causes: Causes) -> list[Influence]:
    """Gain and Poisson's ratio that stood behind the calibration's own readings.

    The coefficient of x^n goes with gain^n and (1 + ν)^n; with the same instrument and metal at
    the test the two effects of one name take each other away.
    """
    influences: list[Influence] = []
    wired = worked.wired
    gain, metal = wired.instrument.record.gain, wired.material
    for name, power, value in _coefficients(worked.found):
        influences += causes.stated(
            name,
            f"gain@{wired.instrument.uid}",
            gain,
            "gain of the recorder",
            power * value / gain.value,
        )
        if wired.circuit.record.topology in electrical.POISSON:
            poisson = metal.record.poisson_ratio
            influences += causes.stated(
                name,
                f"poisson@{metal.uid}",
                poisson,
                "Poisson's ratio",
                power * value / (1 + poisson.value),
            )
    return influences


def _of_bending(book: Book, worked: WorkedOut, causes: Causes) -> list[Influence]:
    """Bending in the machine: whose it was, machine's or bar's, isn't known.

    Opposite gauges share one cause with opposite signs, so that it leaves the mean of the two. A
    gauge that was read alone may stand anywhere: the campaign's limit stands in.
    """
    found, record = worked.found, worked.entry.record
    if len(worked.wired.gauges) != 1:
        return []
    bending = bending_of(book, worked)
    if bending is None:
        limit = book.limit(LOCAL_BENDING)
        cause = input_of_limit(
            f"calibration_bending@{worked.circuit.uid}", limit, "bending while it was calibrated"
        )
        share = 1.0
    else:
        at = f"{worked.wired.bar.uid} {record.measured:%Y%m%dT%H%M%S}"
        cause = InputQuantity(
            f"calibration_bending@{at}",
            1 / math.sqrt(3),
            distribution="rectangular",
            basis="measured",
            meaning="bending while it was calibrated",
        )
        share = bending.own
    return [
        causes.add(name, cause, power * value * share)
        for name, power, value in _coefficients(found)
    ]


def _of_other_temperature(
    book: Book, subject: Subject, worked: WorkedOut, causes: Causes
) -> list[Influence]:
    """Modulus and gauge factor at another temperature than the calibration's.

    Warmer metal is softer, so that one reading is less force: every coefficient goes with the
    modulus. The gauge factor goes by the card's slope and moves x^n by its n-th power.
    """
    apart = subject.zero.record.temperature.value - worked.found.temperature_degc
    influences = _of_modulus(book, worked, causes, apart)
    slope = subject.pack.record.gauge_factor_slope
    if slope is None:
        return influences
    cause = InputQuantity(
        f"calibration_temperature@{worked.entry.uid}",
        abs(slope.value * apart) / math.sqrt(3),
        distribution="rectangular",
        basis="calculated",
        meaning="gauge factor at another temperature than the calibration's",
    )
    return influences + [
        causes.add(name, cause, power * value) for name, power, value in _coefficients(worked.found)
    ]


def _of_modulus(book: Book, worked: WorkedOut, causes: Causes, apart: float) -> list[Influence]:
    """Modulus of the bar between the stated temperatures of calibration and test."""
    limit = limit_or_shipped(book, MODULUS_SLOPE)
    cause = InputQuantity(
        f"calibration_modulus@{worked.entry.uid}",
        abs(limit.value * apart) / math.sqrt(3),
        distribution="rectangular",
        basis="assumed" if limit.unverified else "stated",
        meaning="modulus at another temperature than the calibration's",
    )
    return [causes.add(name, cause, value) for name, _, value in _coefficients(worked.found)]


def _at_zero(
    book: Book, subject: Subject, found: BarCalibration, causes: Causes
) -> list[Influence]:
    """Drift, unequally warm wires and leak, as force: strain times k times newtons per x."""
    per_strain = found.force_per_reading * subject.pack.record.gauge_factor.value
    stages = (
        allowances.zero_stability(book, subject, causes),
        allowances.insulation(book, subject, causes),
    )
    return [
        Influence("calibration_offset", part.input_name, part.coefficient * per_strain)
        for stage in stages
        if stage is not None
        for part in stage.influences
    ]


def _temperature(book: Book, subject: Subject, worked: WorkedOut, causes: Causes) -> Stage | None:
    """Temperature taken off as force; none where the bridge is compensated by itself."""
    if subject.circuit.record.topology in COMPENSATED:
        return None
    slope = ("calibration_slope", worked.found.force_per_reading)
    factor = ("gauge_factor", subject.pack.record.gauge_factor.value)
    if subject.circuit.record.dummy is not None:
        influences = (
            *allowances.dummy(subject, causes),
            *gauge_factor_influences(subject, causes),
        )
        return Stage("dummy, calibrated bar@1", True, "", (slope, factor), influences)
    kind = "thermal output, calibrated bar@1"
    known = len(causes.sources)
    plain = thermal_output(book, subject, causes)
    causes.sources[known:] = [replace(one, stage=kind) for one in causes.sources[known:]]
    names = {part.parameter for part in plain.influences}
    more = () if "temperature_degc" in names else temperature_influence(subject, causes)
    influences = (*plain.influences, *more, *gauge_factor_influences(subject, causes))
    return Stage(kind, True, "", (*plain.parameters, slope), influences)


def slope_of(book: Book, worked: WorkedOut) -> Uncertain:
    """Newtons per relative change of the arm, at no load, with all that is doubtful about it [N].

    For use with the instrument that calibrated; another one adds the doubt of both gains.
    """
    causes = Causes()
    for quantity in worked.found.inputs:
        causes.inputs[quantity.name] = quantity
    influences = (*worked.found.influences, *_of_bending(book, worked, causes))
    total = Uncertain.exact(worked.found.force_per_reading)
    for part in influences:
        if part.parameter == "calibration_slope":
            cause = causes.inputs[part.input_name]
            total = total + Uncertain.from_input(0.0, cause, part.coefficient)
    return total
