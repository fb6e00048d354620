"""What a person typed at the bench: numbers with their unit, and whether one is a slip."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from gaugewright.errors import GaugewrightError, InputError, InputFaults
from gaugewright.present.numbers import significant_text
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.benching import BenchReading, MethodField
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Censor
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating.typed import censored, has_unit

__all__ = [
    "BenchSlip",
    "BoxFault",
    "Question",
    "is_odd",
    "key_of",
    "meant",
    "number_text",
    "one_fault",
    "readings_typed",
]

# What a wrong unit or a lost point makes of a number, the likeliest first.
_SLIPS = (10.0, 0.1, 1000.0, 0.001, 25.4, 1 / 25.4, 100.0, 0.01)
_COLDEST_DEGC = -273.15
_SIGNED = ("misalignment", "strain", "angle")
# Where a meter comes to its end: "> 20 GΩ" and "open" are honest answers there.
_CENSORED = ("resistance", "insulation_resistance")
_MAY_BE_ZERO = ("flat_depth", "flat_width")


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked back: the key of its box, the sentence, what was probably meant ("").

    ``typed`` is the part of the box that it is about.
    """

    key: str
    sentence: str
    probable: str
    typed: str = ""


class BenchSlip(InputError):
    """Something that is probably a slip, or shouldn't be used: kept only when confirmed."""

    def __init__(self, questions: Sequence[Question]) -> None:
        self.questions = tuple(questions)
        self.name, self.value = questions[0].key, questions[0].probable
        self.allowed = "likely, or confirmed as typed"
        self.do = "correct it, or confirm that it is as typed"
        if all(question.key == "unread" for question in self.questions):
            self.do = "read it, or confirm that it stays open"
        told = "; ".join(question.sentence for question in questions)
        GaugewrightError.__init__(self, f"{told}; {self.do}")


class BoxFault(InputError):
    """What was typed into one box and can't be used; ``key`` is the name of the box."""

    def __init__(self, key: str, name: str, error: InputError) -> None:
        self.key = key
        super().__init__(name, error.value, error.allowed, error.do)


def one_fault(faults: Sequence[InputError]) -> InputError:
    """Faults found in one pass as one error, each sentence once."""
    apart = tuple({str(fault): fault for fault in faults}.values())
    return apart[0] if len(apart) == 1 else InputFaults("step at the bench", apart)


def meant(typed: Mapping[str, str], slip: BenchSlip) -> dict[str, str]:
    """What was typed, with what was probably meant in the place of every slip."""
    mended = dict(typed)
    for one in slip.questions:
        if one.probable:
            text = mended.get(one.key, "")
            mended[one.key] = (
                text.replace(one.typed, one.probable, 1) if one.typed else one.probable
            )
    return mended


def key_of(field: str, gauge: str = "") -> str:
    """Name under which a form sends a field; with a gauge where each has its own."""
    return f"value:{field}:{gauge}" if gauge else f"value:{field}"


def readings_typed(
    book: Book,
    gauge: Entry[Gauge],
    fields: Sequence[MethodField],
    typed: Mapping[str, str],
    system: System,
) -> tuple[tuple[BenchReading, ...], tuple[Question, ...]]:
    """Readings of one gauge, and what is to be asked about them.

    A gauge's own box goes before the one for all of the batch. A reading beyond its meter, as
    "> 20 GΩ" or "open", is kept as typed, without a value.

    Raises
    ------
    InputError
        If numbers can't be read, or can't be at all: every box that is wrong is named.
    """
    readings: list[BenchReading] = []
    questions: list[Question] = []
    faults: list[InputError] = []
    for field in fields:
        own = key_of(field.name, gauge.record.label)
        is_own = bool(typed.get(own, "").strip())
        key = own if is_own else key_of(field.name)
        text = typed.get(key, "").strip()
        try:
            read, asked = _field_typed(book, gauge, field, (key, text), system)
        except InputError as error:
            name = f"{field.name} of {gauge.record.label}" if is_own else field.name
            faults.append(BoxFault(key, name, error))
            continue
        readings += read
        questions += asked
    if faults:
        raise one_fault(faults)
    return tuple(readings), tuple(questions)


def _field_typed(
    book: Book, gauge: Entry[Gauge], field: MethodField, box: tuple[str, str], system: System
) -> tuple[list[BenchReading], list[Question]]:
    """Readings of one box, by its key and text, and what is to be asked about them."""
    key, text = box
    if not text:
        return [], []
    if not field.quantity:
        return [BenchReading(field.name, text)], []
    readings: list[BenchReading] = []
    questions: list[Question] = []
    usual = _usual(book, gauge, field)
    for part in _parts(text):
        if field.quantity in _CENSORED and censored(part)[0] is not Censor.EXACT:
            readings.append(_bound(field, part, system))
            continue
        value = quantity_typed(field.name, part, field.quantity, system)
        _refuse_impossible(field, part, value, usual, system)
        readings.append(BenchReading(field.name, part, field.quantity, value))
        asked = _questioned(key, field, part, value, usual=usual, system=system)
        questions += [asked] if asked else []
    return readings, questions


def _bound(field: MethodField, part: str, system: System) -> BenchReading:
    """A reading beyond its meter: no value, and the text with the unit of its box."""
    rest = censored(part)[1]
    if rest:
        quantity_typed(field.name, rest, field.quantity, system)  # refuses what is no number
    unit = unit_shown(field.quantity, system).text
    text = part if not rest or has_unit(rest) else f"{part} {unit}"
    return BenchReading(field.name, text, field.quantity)


def _parts(text: str) -> Iterator[str]:
    return (part.strip() for part in text.split(";") if part.strip())


@dataclass(frozen=True, slots=True)
class _Usual:
    """Where a number is likely: a span, and the value expected where the campaign has one."""

    lowest: float
    highest: float
    expected: float | None = None


def _usual(book: Book, gauge: Entry[Gauge], field: MethodField) -> _Usual:
    """Span of a field, narrowed by what the campaign knows of the gauge and its bar."""
    low = -math.inf if field.lowest is None else field.lowest
    high = math.inf if field.highest is None else field.highest
    diameter = book.bar_of(gauge).record.diameter
    if field.quantity == "diameter" and diameter is not None and diameter.value <= high:
        # Ribs and a dressed core: less than a third of the diameter goes, and nothing is added.
        return _Usual(max(low, 0.7 * diameter.value), 1.1 * diameter.value, diameter.value)
    if field.quantity == "flat_width":
        grid = book.pack_of(gauge).record.grid_width  # a flat is no narrower than its gauge
        most = high if diameter is None else min(high, 0.8 * diameter.value)
        return _Usual(max(low, grid), most)
    if field.quantity == "flat_depth" and diameter is not None:
        return _Usual(low, min(high, 0.2 * diameter.value))
    if field.name == "grid resistance":
        nominal = book.pack_of(gauge).record.gauge_resistance.value
        return _Usual(0.8 * nominal, 1.2 * nominal, nominal)
    return _Usual(low, high)


def _questioned(
    key: str, field: MethodField, text: str, value: float, *, usual: _Usual, system: System
) -> Question | None:
    """Whether a number outside its span becomes a likely one in another unit or point.

    An odd number without a likely one is no question: it is kept with a flag.
    """
    if usual.lowest <= value <= usual.highest:
        return None
    probable = _probable(field, value, usual)
    if probable is None:
        return None
    meant = number_text(field.quantity, probable, system)
    return Question(key, f"{field.name} {text}: did you mean {meant}?", meant, text)


def _probable(field: MethodField, value: float, usual: _Usual) -> float | None:
    if field.quantity == "temperature_degc":
        tries = [(value - 32) / 1.8, value / 10]
    else:
        tries = [value * factor for factor in _SLIPS]
    likely = [one for one in tries if usual.lowest <= one <= usual.highest]
    expected = usual.expected
    if expected is not None and likely:
        return min(likely, key=lambda one: abs(math.log(one / expected)))
    return likely[0] if likely else None


def is_odd(field: MethodField, book: Book, gauge: Entry[Gauge], value: float) -> bool:
    """Whether a number lies outside where it is likely for this gauge."""
    usual = _usual(book, gauge, field)
    return not usual.lowest <= value <= usual.highest


def _refuse_impossible(
    field: MethodField, text: str, value: float, usual: _Usual, system: System
) -> None:
    if field.quantity in _SIGNED:
        return
    lowest = _COLDEST_DEGC if field.quantity == "temperature_degc" else 0.0
    if value > lowest or (value == lowest and field.quantity in _MAY_BE_ZERO):
        return
    probable = _probable(field, abs(value), usual)
    if probable is None and usual.lowest <= abs(value) <= usual.highest:
        probable = abs(value)
    meant = "" if probable is None else number_text(field.quantity, probable, system)
    do = f"did you mean {meant}?" if meant else "measure again"
    above = number_text(field.quantity, lowest, system)
    raise InputError(field.name, text, f"above {above}", do)


def number_text(quantity: str, value: float, system: System) -> str:
    """A number with its unit as it may be typed again."""
    unit = unit_shown(quantity, system).text
    return f"{significant_text(in_shown(value, quantity, system))} {unit}".strip()
