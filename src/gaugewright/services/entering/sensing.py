"""Forms for sensors beside gauges: what they measure, what they write, whose temperature."""

from collections.abc import Sequence
from typing import Any

from gaugewright.calc.rated_output import value_per_reading
from gaugewright.records.gauges import Gauge
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Basis, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    label_blank,
    plain_build,
    plain_spread,
)

__all__ = ["POINT", "SENSOR", "indicated", "inverted"]

_MEASURED = ("force", "distance", "temperature_degc", "angle", "stress")
_OWN = "own"
_READS = (
    (_OWN, "what it measures, such as kN: the recorder turns it into that"),
    ("bridge_ratio", "mV/V: its plate says how much at full scale"),
    ("voltage", "volts: its plate says how many at full scale"),
)
_EXAMPLES = {"bridge_ratio": "2 ± 0.002 (limit)", "voltage": "10 ± 0.01 (limit)"}
_HINT = (
    "1.002 where it shows 0.2 % too much; by its certificate, such as {}. Not at hand: 1 ± what "
    "its class allows (limit), stated; change it when the paper is there."
)


def indicated(example: str) -> Blank:
    """The one question for how far an indication is from what is true."""
    return Blank(
        "gain",
        "Reading over truth",
        Kind.STATED,
        hint=_HINT.format(example),
        is_needed=True,
        basis=Basis.MEASURED,
    )


def inverted(stated: Stated, value: float = 1.0) -> Stated:
    """A stated relation the other way round, with the doubt that it then has."""
    found = value_per_reading(value, stated.value, stated.plus_minus)
    return Stated(
        _tidy(found.value),
        None if found.plus_minus is None else _tidy(found.plus_minus),
        stated.meaning,
        stated.basis,
        stated.source,
        stated.degrees_of_freedom,
    )


def _tidy(value: float) -> float:
    # 1 / (1 / x) misses x by its last bits: what was typed is to stand in the form again.
    return float(f"{value:.12g}")


def _sensor_blanks(asking: Asking) -> Sequence[Blank]:
    quantity, reads = asking.text("quantity", "force"), asking.text("reads", _OWN)
    choices = [(one, one.replace("_degc", "")) for one in _MEASURED]
    if quantity not in _MEASURED:
        choices.append((quantity, quantity))
    return (
        label_blank("Such as: load cell"),
        Blank(
            "quantity",
            "It measures",
            Kind.CHOICE,
            choices=tuple(choices),
            is_needed=True,
            decides=True,
            standing="force",
        ),
        Blank(
            "reads",
            "Its channel writes",
            Kind.CHOICE,
            choices=_READS,
            is_needed=True,
            decides=True,
            standing=_OWN,
        ),
        Blank(
            "sign",
            "Its positive way",
            Kind.CHOICE,
            choices=(("1", "is the campaign’s"), ("-1", "is against it")),
            is_needed=True,
            standing="1",
        ),
        *(_rated(quantity, reads) if reads in _EXAMPLES else (indicated("1 ± 0.005 (k=2)"),)),
        *_zero(quantity),
    )


def _rated(quantity: str, reads: str) -> tuple[Blank, ...]:
    """The two numbers of a plate: "2 mV/V at 200 kN"."""
    return (
        Blank("full_scale", "Full scale", Kind.NUMBER, quantity, is_needed=True),
        Blank(
            "output",
            "It writes at full scale",
            Kind.STATED,
            reads,
            hint=f"By its certificate: {_EXAMPLES[reads]}; by its plate, with what its class "
            "allows.",
            is_needed=True,
        ),
    )


def _zero(quantity: str) -> tuple[Blank, ...]:
    return (
        Blank(
            "offset",
            "To be added at zero",
            Kind.STATED,
            quantity,
            hint="What is true where it shows 0, by its certificate, such as 0 ± 0.1 (k=2). Not at "
            "hand: 0 ± what its class allows (limit).",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank("lag", "It lags by", Kind.NUMBER, "time", is_needed=True, standing="0"),
        Blank("certificate", "Certificate"),
    )


_SENSOR = plain_build(Sensor)


def _sensor(values: dict[str, Any], before: Any, reader: Reader) -> Sensor:
    """A sensor's relation from its plate or its indication; as it was where neither is changed."""
    rest = dict(values) | {"sign": int(values["sign"])}
    reads, output = rest.pop("reads"), rest.pop("output", None)
    rest["reads"] = "" if reads == _OWN else reads
    rest.setdefault("full_scale", None)
    typed = output if rest["reads"] else rest["gain"]
    scale = rest["full_scale"] or 1.0
    kept = before is not None and _is_as_before(before, rest["reads"], rest["full_scale"], typed)
    rest["gain"] = before.gain if kept else inverted(typed, scale)
    made: Sensor = _SENSOR(rest, before, reader)
    return made


def _is_as_before(before: Sensor, reads: str, full_scale: float | None, typed: Stated) -> bool:
    is_same = (before.reads, before.full_scale) == (reads, full_scale)
    return is_same and inverted(before.gain, full_scale or 1.0) == typed


def _sensor_spread(record: Sensor, book: Book) -> dict[str, Any]:
    typed = inverted(record.gain, record.full_scale or 1.0)
    return plain_spread(record, book) | {
        "sign": str(record.sign),
        "reads": record.reads or _OWN,
        "gain": typed,
        "output": typed,
    }


SENSOR = EntryKind(
    "sensor",
    "a sensor",
    "Other sensors",
    "Load cells, displacement transducers: without a load there is no yield load. Which channel "
    "each is on is asked under Sensors on channels.",
    Sensor,
    _sensor_blanks,
    _sensor,
    _sensor_spread,
    after="sensed",
)


def _point_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: T1"),
        Blank("where", "Where it is", is_needed=True),
        Blank("gauges", "Stands for these gauges", Kind.PICKS, of=Gauge),
        Blank(
            "doubt",
            "Doubt",
            Kind.STATED,
            "temperature_difference",
            hint="Of the thermometer and of its distance from them, such as 0 ± 0.5 (limit)",
            is_needed=True,
        ),
        Blank(
            "temperature_degc",
            "It showed all the time",
            Kind.NUMBER,
            "temperature_degc",
            hint="Where it is read by eye, such as 21.0; how far it wandered belongs to the doubt. "
            "Empty where a channel records it.",
        ),
    )


POINT = EntryKind(
    "point",
    "a temperature point",
    "Temperature points",
    "A thermometer, and the gauges whose temperature it tells.",
    TemperaturePoint,
    _point_blanks,
    plain_build(TemperaturePoint),
    after="sensed",
)
