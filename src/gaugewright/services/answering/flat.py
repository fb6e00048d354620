"""What does this flat cost: area, centre, stress at the gauge, and bond."""

from collections.abc import Callable, Mapping

from gaugewright.calc import bar
from gaugewright.calc.bar import FlatSection
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.flat_drawing import FlatDrawn, bar_with_flat
from gaugewright.present.units_shown import System
from gaugewright.services.answering.asks import FLAT
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    Number,
    brief,
    given,
    number,
    percent,
    propagated,
)

__all__ = ["answer"]

# Choice of this project, no source: as in the limits a campaign starts with.
AIM, WITH_A_NOTE = 0.02, 0.05


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """What a flat takes from a bar.

    Raises
    ------
    InputError
        If something is missing or can't be.
    Faults
        If several things are.
    """
    told = given(FLAT, typed, system)
    if told.has("flat_width") == told.has("flat_depth"):
        raise InputError(
            "flat_width",
            "given with a depth" if told.has("flat_width") else "not given",
            "given, or the depth instead of it",
            "fill in the one that was measured",
        )
    lost = _from_section(told, lambda section: float(section.lost_share))
    numbers = (percent("Area lost", lost), *_numbers(told), *_bond(told))
    return Answer(
        "flat",
        f"The flat takes {numbers[0].shown.text} of the bar’s area.",
        numbers,
        _cautions(told, numbers),
        told.assumed,
        ("ribs, which stand outside the core", "ends of a short flat, where stress spreads"),
        (
            "segment of a circle, exact, by integration over strips; the same in Roark’s Formulas "
            "for Stress and Strain, Table A.1 (from memory)",
            "stress at the flat: A/A_net held straight; A/A_net + A e (e + s)/I free to bend",
            "bond: covered over bonded surface",
            "limits 2 % and 5 %: choice of this project, no source",
        ),
        _drawing(told),
    )


def _section(told: Given, values: Mapping[str, float]) -> FlatSection:
    diameter = values["diameter"]
    depth = values.get("flat_depth")
    if depth is None:
        depth = float(bar.flat_depth(diameter, values["flat_width"]))
    opposite = depth if told.words["flats"] == "2" else 0.0
    return bar.section_at_flat(diameter, depth, opposite)


def _arguments(told: Given) -> dict[str, Uncertain]:
    return told.only("diameter", "flat_width" if told.has("flat_width") else "flat_depth")


def _from_section(told: Given, read: Callable[[FlatSection], float]) -> Uncertain:
    return propagated(lambda values: read(_section(told, values)), _arguments(told))


def _numbers(told: Given) -> tuple[Number, ...]:
    system = told.system
    if told.has("flat_width"):
        other = propagated(
            lambda v: float(bar.flat_depth(v["diameter"], v["flat_width"])), _arguments(told)
        )
        size = number("Depth of the flat", other, "flat_depth", system)
    else:
        other = propagated(
            lambda v: float(bar.flat_width(v["diameter"], v["flat_depth"])), _arguments(told)
        )
        size = number("Width of the flat", other, "flat_width", system)
    net = _from_section(told, lambda section: float(section.net_area))
    held = _from_section(told, lambda section: float(bar.stress_ratio_restrained(section)) - 1)
    found = [
        size,
        number("Area left, round core", net, "net_area", system),
        percent("Stress at the gauge, bar held straight by concrete", held, sign=True),
    ]
    if told.words["flats"] == "1":
        moved = _from_section(told, lambda section: -float(section.centroid))
        free = _from_section(told, lambda section: float(bar.stress_ratio_free(section)) - 1)
        found.insert(2, number("Centre moves away by", moved, "distance", system))
        found.append(percent("Stress at the gauge, bar free to bend", free, sign=True))
    return tuple(found)


def _bond(told: Given) -> tuple[Number, ...]:
    if not told.has("covered_length") and not told.has("bonded_length"):
        return ()
    names = ["covered_length", "bonded_length"]
    if told.has("covered_width"):
        names += ["covered_width", "diameter"]
        lost = propagated(
            lambda v: float(
                bar.bond_lost(
                    v["covered_length"], v["covered_width"], v["diameter"], v["bonded_length"]
                )
            ),
            told.only(*names),
        )
        return (percent("Bond lost, one side", lost),)
    lost = propagated(
        lambda v: float(bar.bond_lost_wrap(v["covered_length"], v["bonded_length"])),
        told.only(*names),
    )
    return (percent("Bond lost, wrapped all round", lost),)


def _cautions(told: Given, numbers: tuple[Number, ...]) -> tuple[str, ...]:
    lost = numbers[0].value
    said = []
    if lost > WITH_A_NOTE:
        said.append("More than 5 % of the area is gone: measure the area left and write it down")
    elif lost > AIM:
        said.append("More than the 2 % that is aimed at: carry the area left into every force")
    if told.words["flats"] == "1":
        said.append(
            "A pull on the bare bar sees the stress of a bar free to bend, the same gauge in "
            "concrete that of a bar held straight"
        )
    return tuple(said)


def _drawing(told: Given) -> str:
    system = told.system
    values = {name: float(value.value) for name, value in _arguments(told).items()}
    section = _section(told, values)
    diameter = values["diameter"]
    depth = diameter / 2 - float(section.surface)
    width = float(bar.flat_width(diameter, depth))

    def words(quantity: str, value: float) -> str:
        return brief(quantity, value, system)

    is_one = told.words["flats"] == "1"
    moved = -float(section.centroid)
    drawn = FlatDrawn(
        depth / diameter,
        moved / diameter,
        1 if is_one else 2,
        f"core {words('diameter', diameter)}",
        f"flat {words('flat_width', width)}",
        f"{words('flat_depth', depth)} deep",
        f"centre, moved by {words('distance', moved)}" if is_one else "",
    )
    return bar_with_flat(drawn, "Section of the bar at the flat, to scale")
