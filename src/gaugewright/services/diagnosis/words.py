"""What a fault would amount to, in words: where along the cable, and how many ohms."""

import re

from gaugewright.calc.diagnosis import Estimate
from gaugewright.calc.diagnosis_harness import HARNESSES
from gaugewright.calc.diagnosis_templates import node_shown, wire_shown
from gaugewright.present.units_shown import quantity_shown

__all__ = ["estimate_words"]

_NAMES = {
    "joint_a": "in lead A",
    "joint_b": "in lead B",
    "joint_c": "in lead C",
    "joint_grid": "between tab 2 and grid",
    "short_ab": "from A to B",
    "short_ac": "from A to C",
    "short_bc": "from B to C",
    "across": "across the grid",
    "leak_tab_1": "from tab 1 to the bar",
    "leak_tab_2": "from tab 2 to the bar",
    "leak_a": "from lead A to the bar",
    "leak_b": "from lead B to the bar",
    "leak_c": "from lead C to the bar",
    "shield_bar": "from shield to bar",
    "shield_a": "from lead A to the shield",
    "meter_offset": "in the probes",
}
_FACTORS = {
    "grid_factor": "the grid over its card",
    "lead_factor": "the wires over their record",
    "completion_factor": "the fixed arm over what is set",
    "reading_factor": "the reading over the truth",
    "meter_factor": "the meter over the truth",
}
_NODES = {
    node.lower(): node_shown(node) for harness in HARNESSES.values() for node in harness.nodes
}
# A place known no better than anywhere along the cable (its even spread is 0.29) isn't told.
_ANYWHERE = 0.2
_LARGE = 1e5  # ohm, from which on a path is told as insulation is


def estimate_words(one: Estimate, length: float) -> str:
    """One element in words, or nothing where the readings don't tell it.

    ``length`` is that of the cable, in m, by its record.
    """
    doubt = 2 * one.standard_uncertainty
    if one.element == "at":
        if one.standard_uncertainty > _ANYWHERE:
            return ""
        share = f"{100 * one.value:.0f} ± {100 * doubt:.0f} % of the cable's length from the plug"
        return f"{share}, {one.value * length:.1f} ± {doubt * length:.1f} m (k=2)"
    if one.element in _FACTORS:
        return f"{_FACTORS[one.element]} {one.value:.4f} ± {doubt:.4f} (k=2)"
    where = _where(one.element)
    if grid := re.fullmatch(r"grid_(\d)", one.element):
        return f"grid {grid[1]} over its card {one.value:.4f} ± {doubt:.4f} (k=2)"
    if not where or doubt > 4 * one.value:
        return ""
    quantity = "insulation_resistance" if one.value > _LARGE else "resistance"
    if doubt > one.value:
        about = quantity_shown(quantity, float(f"{one.value:.1g}")).text
        return f"about {about} {where}, known to its size only"
    return f"{quantity_shown(quantity, one.value, doubt).text} {where} (k=2)"


def _where(element: str) -> str:
    """Where an element of any harness lies, in words; nothing where nobody has to know."""
    if element in _NAMES:
        return _NAMES[element]
    kind, _, rest = element.partition("_")
    wires = [wire_shown(part.upper()) for part in rest.split("_")]
    if rest.startswith("grid_"):
        return f"in series with grid {rest.removeprefix('grid_')}"
    if kind == "across":
        return f"across grid {rest}"
    if kind == "short":
        return "from " + " to ".join(wires)
    if kind == "leak" and rest.startswith("at_"):
        return f"from {_NODES[rest.removeprefix('at_')]} to the bar"
    return {"joint": f"in lead {wires[0]}", "leak": f"from lead {wires[0]} to the bar"}.get(
        kind, ""
    )
