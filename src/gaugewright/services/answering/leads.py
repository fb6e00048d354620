"""What do these three resistances say: wires and grid, and what they can never tell apart."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc import pair_readings
from gaugewright.calc.pair_readings import Beyond, PairSolution
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.present.captions import listed
from gaugewright.present.circuit_drawing import Quarter, wires_of_gauge
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import System
from gaugewright.services.answering.asks import LEADS
from gaugewright.services.answering.parts import Answer, Given, Number, brief, given, number

__all__ = ["answer", "pair_typed"]

PAIRS = {"pair_ab": "A-B", "pair_ac": "A-C", "pair_bc": "B-C"}
_OPEN_FROM = 1e3  # [ohm] a word without a number can only mean more than any gauge has


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """Wires and grid behind three readings.

    Raises
    ------
    InputError
        If something is missing, can't be, or the readings contradict each other.
    Faults
        If several things are.
    """
    told = given(LEADS, typed, system, raw=tuple(PAIRS))
    readings = {pair: _reading(told, name) for name, pair in PAIRS.items()}
    alone = _alone(readings)
    found = _Found(
        told,
        readings,
        alone,
        pair_readings.solved_pairs("three leads", _as_called(readings, alone)),
    )
    numbers = _numbers(found)
    if found.grid is None:
        told.drop_assumed("lead_spread", "gauge_factor")
    return Answer(
        "leads",
        _sentence(found, numbers),
        numbers,
        _cautions(found),
        told.assumed,
        (f"never told apart: {found.renamed(found.solution.never_apart)}",),
        (
            "each reading is a sum: A–B = R + r_A + r_B, A–C = R + r_A + r_C, B–C = r_B + r_C; "
            "solved exactly",
            "digit: rectangular, ± half a digit, each reading its own; scale and zero of the "
            "meter shared by all three (JCGM 100:2008, 4.3.7)",
        ),
        _drawing(found),
    )


@dataclass(frozen=True, slots=True)
class _Found:
    """Readings and their solution; ``alone`` is the lead that is alone on its tab."""

    told: Given
    readings: Mapping[str, Uncertain | Beyond]
    alone: str
    solution: PairSolution

    @property
    def is_swapped(self) -> bool:
        """Whether another lead than A is alone, so that wires or labels are exchanged."""
        return self.alone != "A"

    @property
    def grid(self) -> Uncertain | None:
        """Grid with the lone lead taken like the others; None where readings are missing."""
        if not {"lead_b", "lead_c"} <= self.solution.parts.keys():
            return None
        spread = self.told.at("lead_spread")
        alike = pair_readings.lead_alike(self.solution, spread, "lone lead alike")
        return pair_readings.gauge_resistance(self.solution, alike)

    def name(self, part: str) -> str:
        """What a part of the solution is called on the leads' own labels."""
        roles = {"lead_a": self.alone}
        roles |= dict(zip(("lead_b", "lead_c"), _others(self.alone), strict=True))
        return f"lead {roles[part]}" if part in roles else "grid"

    def renamed(self, words: str) -> str:
        """Words about lead A as words about the lone lead."""
        return words.replace("lead A", f"lead {self.alone}")


def _others(alone: str) -> tuple[str, str]:
    first, second = (letter for letter in "ABC" if letter != alone)
    return first, second


def _alone(readings: Mapping[str, Uncertain | Beyond]) -> str:
    """The lead that isn't in the small pair: the two leads of one tab are always the small one."""
    values = {p: float(r.value) for p, r in readings.items() if isinstance(r, Uncertain)}
    if len(values) < 3:
        return "A"
    order = sorted(values, key=lambda pair: values[pair])
    is_clear = values[order[0]] < 0.5 * values[order[1]]
    return next(letter for letter in "ABC" if letter not in order[0]) if is_clear else "A"


def _as_called(
    readings: Mapping[str, Uncertain | Beyond], alone: str
) -> dict[str, Uncertain | Beyond]:
    """Readings under the names they would have if the lone lead were called A."""
    first, second = _others(alone)
    roles = {alone: "A", first: "B", second: "C"}
    return {
        "-".join(sorted(roles[letter] for letter in pair.split("-"))): reading
        for pair, reading in readings.items()
    }


def pair_typed(name: str, text: str, system: System = "si") -> float | Beyond:
    """Reading as typed: a number, or what the meter could only call larger than something.

    Raises
    ------
    InputError
        If it is neither.
    """
    word = text.strip()
    if word.casefold() in ("open", "ol", "o.l", "o.l."):
        return Beyond(_OPEN_FROM)
    if word.startswith(">"):
        return Beyond(quantity_typed(name, word[1:].strip(), "resistance", system))
    return quantity_typed(name, word, "resistance", system)


def _reading(told: Given, name: str) -> Uncertain | Beyond:
    pair = PAIRS[name]
    value = pair_typed(name, told.words[name], told.system)
    if isinstance(value, Beyond):
        return value
    half = told.at("digit") / 2
    parts = (
        InputQuantity(f"digit {pair}", half / math.sqrt(3), meaning=f"the last digit of {pair}"),
        InputQuantity("gain", told.at("gain") / 100 / math.sqrt(3), meaning="the meter’s scale"),
        InputQuantity("offset", told.at("offset") / math.sqrt(3), meaning="the meter’s zero"),
    )
    return Uncertain(
        Uncertain.exact(value).value,
        {
            part.name: Uncertain.exact(slope).value
            for part, slope in zip(parts, (1.0, value, 1.0), strict=True)
        },
        inputs={part.name: part for part in parts},
    )


def _numbers(found: _Found) -> tuple[Number, ...]:
    system, solution = found.told.system, found.solution
    numbers = []
    if found.grid is not None:
        first, second = _others(found.alone)
        label = f"Grid, lead {found.alone} taken like {first} and {second}"
        numbers.append(number(label, found.grid, "gauge_resistance", system))
    for names, total in solution.sums.items():
        label = " + ".join(found.name(name) for name in names)
        numbers.append(number(label[:1].upper() + label[1:], total, "resistance", system))
    for name in ("lead_b", "lead_c"):
        if name in solution.parts:
            label = found.name(name)
            label = label[:1].upper() + label[1:]
            numbers.append(number(label, solution.parts[name], "lead_resistance", system))
    if {"lead_b", "lead_c"} <= solution.parts.keys():
        first, second = _others(found.alone)
        apart = solution.parts["lead_b"] - solution.parts["lead_c"]
        numbers.append(
            number(f"{first} less {second}", apart, "lead_resistance", system, sign=True)
        )
    return tuple(numbers)


def _sentence(found: _Found, numbers: tuple[Number, ...]) -> str:
    beyond = [pair for pair, reading in found.readings.items() if isinstance(reading, Beyond)]
    if beyond:
        return _open_words(beyond)
    if _are_alike(found):
        return "All three are alike: the grid is bridged, or the leads are crushed together."
    first, second = _others(found.alone)
    said = (
        f"The grid has {numbers[0].shown.text} if lead {found.alone} is like {first} and {second}, "
        "which nothing here shows."
    )
    if found.is_swapped:
        return (
            f"Leads {first} and {second} are the two of one tab, so wires or labels are "
            f"exchanged. {said}"
        )
    return said


def _are_alike(found: _Found) -> bool:
    values = [float(r.value) for r in found.readings.values() if isinstance(r, Uncertain)]
    return len(values) == 3 and max(values) < 2 * min(values)


def _open_words(beyond: list[str]) -> str:
    """Which part is open: the lead that every open pair has in common."""
    common = set("ABC").intersection(*(set(pair.split("-")) for pair in beyond))
    if len(beyond) == 3:
        return "All three are open: two wires or more are broken, or the plug is out."
    if beyond == ["A-B", "A-C"]:
        return "Lead A or the grid is open; from this end nothing tells which."
    if len(beyond) == 2:
        return f"Lead {common.pop()} is open: the pair without it still reads."
    return f"Only {beyond[0]} is open, which no single break explains: read all three again."


def _cautions(found: _Found) -> tuple[str, ...]:
    told, said = found.told, []
    if found.grid is not None and not _are_alike(found):
        strain = told.at("digit") / (told.at("gauge_factor") * float(found.grid.value))
        shown = brief("strain", strain, told.system)
        said.append(f"One digit of this meter is {shown} here: good for faults, not for strain")
    if any(told.words[name].strip().startswith(">") for name in PAIRS):
        said += _bounds(found)
    said.append("Short the probes first; whatever they read then belongs to every reading")
    return tuple(said)


def _bounds(found: _Found) -> list[str]:
    """What a reading beyond the meter still says of a part."""
    said = []
    for name, (low, high) in found.solution.bounds.items():
        if name not in found.solution.parts and math.isinf(high) and low > 0:
            least = brief("resistance", low, found.told.system)
            label = found.name(name)
            said.append(f"{label[:1].upper()}{label[1:]} has {least} or more")
    return said


def _drawing(found: _Found) -> str:
    told = found.told

    def words(letter: str) -> str:
        for name in ("lead_b", "lead_c"):
            part = found.solution.parts.get(name)
            if part is not None and found.name(name).endswith(letter):
                return brief("lead_resistance", float(part.value), told.system)
        return ""

    grid = found.grid
    is_usual = not found.is_swapped and grid is not None
    parts = Quarter(
        gauge=brief("gauge_resistance", float(grid.value), told.system)
        if is_usual and grid is not None
        else "",
        lead_a="with the grid" if is_usual else "",
        lead_b=words("B") if is_usual else "",
        lead_c=words("C") if is_usual else "",
    )
    read = [_read_words(told.words[name]) for name in PAIRS]
    said = listed([f"{pair} {words}" for pair, words in zip(PAIRS.values(), read, strict=True)])
    return wires_of_gauge(parts, read, f"Gauge with three leads, unplugged: {said}")


def _read_words(text: str) -> str:
    bare = text.strip()
    return bare if any(letter.isalpha() or letter == "Ω" for letter in bare) else f"{bare} Ω"
