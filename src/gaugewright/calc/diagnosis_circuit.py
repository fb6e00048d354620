"""What a meter and a bridge would read of a three-lead gauge with a fault in it: one small circuit.

Lead A is alone on tab 1, B and C are together on tab 2. Every fault is an element put into the
same circuit, so two faults at once need nothing more than two elements.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.star_mesh import Mesh
from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = [
    "ELEMENTS",
    "LOGARITHMIC",
    "MEASURABLE",
    "OPEN",
    "QUARTER",
    "Setup",
    "beside",
    "ohms_between",
    "predicted",
]

OPEN = 1e12  # ohm, as the circuits of this package write it
QUARTER = "quarter 3"  # the harness of this module; others are in diagnosis_harness
_TOUCH = 1e-6
_INPUT = 1e9

# What can be put into the circuit, with what each is when nothing is wrong [ohm or 1].
ELEMENTS: dict[str, float] = {
    "grid_factor": 1.0,
    "lead_factor": 1.0,
    "joint_a": 0.0,
    "joint_b": 0.0,
    "joint_c": 0.0,
    "joint_grid": 0.0,
    "far_a": 0.0,
    "short_ab": np.inf,
    "short_ac": np.inf,
    "short_bc": np.inf,
    "across": np.inf,
    "leak_tab_1": np.inf,
    "leak_tab_2": np.inf,
    "leak_a": np.inf,
    "leak_b": np.inf,
    "leak_c": np.inf,
    "shield_a": np.inf,
    "shield_bar": np.inf,
    "neighbour_leak": np.inf,
    "neighbour_a": np.inf,
    "at": 0.5,
    "insulation": np.inf,
    "shield_insulation": np.inf,
    "electrolytic": 1.0,
    "completion_factor": 1.0,
    "reading_factor": 1.0,
    "reading_offset": 0.0,
    "port_offset": 0.0,
    "meter_factor": 1.0,
    "meter_offset": 0.0,
}
# What can be read, and its unit; those of LOGARITHMIC are compared by their logarithm.
MEASURABLE: dict[str, str] = {
    "A-B": "ohm",
    "A-C": "ohm",
    "B-C": "ohm",
    "insulation": "ohm",
    "insulation, polarity reversed": "ohm",
    "insulation to shield": "ohm",
    "shield to bar": "ohm",
    "A to bar": "ohm",
    "B to bar": "ohm",
    "bridge": "V/V",
    "shunt step": "V/V",
    "tab 1 to tab 2": "ohm",
    "A to tab 1": "ohm",
    "B to tab 2": "ohm",
    "A to B of a neighbour": "ohm",
    "capacitance of A over B": "1",
    "known resistor on the meter": "ohm",
    "known resistor on the port": "V/V",
}
LOGARITHMIC = frozenset(
    {"insulation", "insulation, polarity reversed", "insulation to shield", "shield to bar"}
)
_CROSSED = {"short_ab": ("XA", "XB"), "short_ac": ("XA", "XC"), "short_bc": ("XB", "XC")}
_PARALLEL = {
    "across": ("T1", "T2"),
    **_CROSSED,
    "leak_tab_1": ("T1", "BAR"),
    "leak_tab_2": ("T2", "BAR"),
    "leak_a": ("XA", "BAR"),
    "leak_b": ("XB", "BAR"),
    "leak_c": ("XC", "BAR"),
    "shield_a": ("XA", "SH"),
    "shield_bar": ("SH", "BAR"),
}
_INSTRUMENT = (
    ("EP", "B"),  # completion
    ("EP", "M"),
    ("M", "A"),
    ("C", "M"),  # input of the amplifier
)
_NEIGHBOUR = (("A", "O"), ("EP", "O"), ("O", "BAR"))  # another grid, its completion, its leak


@dataclass(frozen=True, slots=True)
class Setup:
    """What records say of a gauge and its circuit.

    Attributes
    ----------
    gauge_resistance, lead_resistance, completion_resistance : float
        Grid, one wire, and the fixed arm beside the gauge [ohm].
    shunt_resistance : float or None
        Calibration resistor across instrument terminals A and C [ohm].
    known_resistance : float
        Resistor that meter and port can be tried with [ohm].
    harness : str
        How it is wired: a quarter bridge with three wires, or one of ``HARNESSES``.
    """

    gauge_resistance: float
    lead_resistance: float
    completion_resistance: float
    shunt_resistance: float | None = None
    known_resistance: float = 120.0
    harness: str = QUARTER

    def __post_init__(self) -> None:
        found = [
            InputError(name, value, "a positive number")
            for name in ("gauge_resistance", "lead_resistance", "completion_resistance")
            for value in (getattr(self, name),)
            if not 0 < value < np.inf
        ]
        shunt = self.shunt_resistance
        if shunt is not None and not 0 < shunt < np.inf:
            found.append(InputError("shunt_resistance", shunt, "a positive number, or left out"))
        if len(found) == 1:
            raise found[0]
        if found:
            raise InputFaults("gauge to be diagnosed", found)


def predicted(
    setup: Setup, elements: Mapping[str, FloatArray], pins: str = "ABC"
) -> dict[str, FloatArray]:
    """Everything of ``MEASURABLE`` for any number of sets of elements, without meter errors.

    Parameters
    ----------
    setup : Setup
        Of the sound gauge.
    elements : mapping of name to array, shape (n,)
        Those of ``ELEMENTS`` that aren't as in a sound gauge; at least one.
    pins : str
        Pins of the plug that leads A, B and C arrive at.

    Returns
    -------
    dict of name to array, shape (n,)
        Infinite where nothing joins two points; NaN where no shunt is stated.

    Raises
    ------
    InputError
        If an element isn't known or pins aren't A, B and C in some order.
    """
    unknown = sorted(set(elements) - set(ELEMENTS))
    if unknown or not elements:
        raise InputError("elements", ", ".join(unknown) or "none", "among " + ", ".join(ELEMENTS))
    if sorted(pins) != ["A", "B", "C"]:
        raise InputError("pins", pins, "A, B and C in some order")
    size = max(np.size(values) for values in elements.values())
    of = {
        name: np.broadcast_to(np.asarray(elements.get(name, sound), dtype=np.float64), (size,))
        for name, sound in ELEMENTS.items()
    }
    wires = _Wires(setup, of, pins, frozenset(elements))
    mesh = wires.mesh()
    found = {**_by_ohmmeter(wires, mesh), **_to_bar(wires, mesh), **_by_bridge(wires, mesh)}
    return {name: found[name] for name in MEASURABLE}


@dataclass(frozen=True, slots=True)
class _Wires:
    setup: Setup
    of: Mapping[str, FloatArray]
    pins: str
    given: frozenset[str]

    def mesh(self) -> Mesh:
        """Leads, grid and what is wrong, from the pins of the plug on."""
        of, at = self.of, self.of["at"]
        lead = self.setup.lead_resistance * of["lead_factor"]
        grid = self.setup.gauge_resistance * of["grid_factor"]
        near = [np.clip(lead * at, _TOUCH, None) for _ in range(3)]
        far = [
            np.clip(lead * (1 - at) + of[name], _TOUCH, OPEN)
            for name in ("joint_a", "joint_b", "joint_c")
        ]
        places = [
            *((pin, f"X{x}") for x, pin in zip("ABC", self.pins, strict=True)),
            *(("XA", "T1"), ("XB", "T2"), ("XC", "T2"), ("T1", "G2"), ("G2", "T2")),
        ]
        ohms = [*near, *far, np.clip(grid, _TOUCH, OPEN)]
        ohms.append(np.clip(of["joint_grid"], _TOUCH, OPEN))
        for name, ends in _PARALLEL.items():
            if name in self.given:
                places.append(ends)
                ohms.append(np.clip(of[name], _TOUCH, OPEN))
        parts = ((*ends, ohm) for ends, ohm in zip(places, ohms, strict=True))
        return Mesh(parts).left(_ENDS)


_ENDS = ("A", "B", "C", "T1", "T2", "BAR", "SH")


def ohms_between(mesh: Mesh, first: str, second: str, shape: tuple[int, ...]) -> FloatArray:
    """What an ohmmeter reads between two nodes: infinite where nothing conducts.

    Parameters
    ----------
    mesh : Mesh
        Of the whole circuit.
    first, second : str
        Nodes.
    shape : tuple of int
        Of the answer where the nodes aren't joined at all.

    Returns
    -------
    resistance : array
        Of ``shape``, or that of the mesh's resistances [ohm].
    """
    found = mesh.between(first, second)
    if found is None:
        return np.full(shape, np.inf)
    return np.where(found > OPEN / 100, np.inf, found)


def _by_ohmmeter(wires: _Wires, mesh: Mesh) -> dict[str, FloatArray]:
    of = wires.of
    shape = of["at"].shape
    a, b = wires.pins[0], wires.pins[1]
    sound = wires.setup.gauge_resistance + 2 * wires.setup.lead_resistance
    true = {
        "A-B": ohms_between(mesh, "A", "B", shape),
        "A-C": ohms_between(mesh, "A", "C", shape),
        "B-C": ohms_between(mesh, "B", "C", shape),
        "A to bar": ohms_between(mesh, "A", "BAR", shape),
        "B to bar": ohms_between(mesh, "B", "BAR", shape),
        "tab 1 to tab 2": ohms_between(mesh, "T1", "T2", shape),
        "A to tab 1": ohms_between(mesh, a, "T1", shape),
        "B to tab 2": ohms_between(mesh, b, "T2", shape),
        "A to B of a neighbour": of["neighbour_a"] * sound,
        "known resistor on the meter": np.full(shape, wires.setup.known_resistance),
    }
    return {name: of["meter_factor"] * ohm + of["meter_offset"] for name, ohm in true.items()}


def _to_bar(wires: _Wires, mesh: Mesh) -> dict[str, FloatArray]:
    of = wires.of
    shape = of["at"].shape
    tied = mesh.joined({"B": "A", "C": "A"})
    insulation = beside(ohms_between(tied, "A", "BAR", shape), of["insulation"])
    # An open wire shortens what is charged to the place of the break.
    broken = np.where(of["joint_a"] > OPEN / 10, of["at"], 1.0)
    return {
        "insulation": insulation,
        "insulation, polarity reversed": insulation * of["electrolytic"],
        "insulation to shield": beside(ohms_between(tied, "A", "SH", shape), of["insulation"]),
        "shield to bar": beside(ohms_between(mesh, "SH", "BAR", shape), of["shield_insulation"]),
        "capacitance of A over B": broken,
    }


def beside(resistance: FloatArray, insulation_resistance: FloatArray) -> FloatArray:
    """A path and the insulation beside it, in parallel: infinite only where both are.

    Parameters
    ----------
    resistance : array
        Of the path; infinite where it is open [ohm].
    insulation_resistance : array of the same shape
        Beside it [ohm].

    Returns
    -------
    resistance : array of the same shape
        Never above either [ohm].
    """
    conducted = np.asarray(1 / resistance + 1 / insulation_resistance)
    return np.divide(1.0, conducted, out=np.full_like(conducted, np.inf), where=conducted > 0)


def _by_bridge(wires: _Wires, mesh: Mesh) -> dict[str, FloatArray]:
    of, setup = wires.of, wires.setup
    plain = _ratio(wires, mesh, None)
    shunted = _ratio(wires, mesh, setup.shunt_resistance) if setup.shunt_resistance else None
    step = np.full(plain.shape, np.nan) if shunted is None else shunted - plain
    completion = setup.completion_resistance * of["completion_factor"]
    known = setup.known_resistance / (setup.known_resistance + completion) - 0.5
    return {
        "bridge": of["reading_factor"] * plain + of["reading_offset"] + of["port_offset"],
        "shunt step": of["reading_factor"] * step,
        "known resistor on the port": of["reading_factor"] * known + of["port_offset"],
    }


def _ratio(wires: _Wires, mesh: Mesh, shunt: float | None) -> FloatArray:
    """Output of the bridge over its supply, tension positive: lead A at the minus corner."""
    setup = wires.setup
    completion = setup.completion_resistance * wires.of["completion_factor"]
    fixed = np.full(completion.shape, 1.0)
    arms = setup.completion_resistance * fixed
    values = (completion, arms, arms, _INPUT * fixed)
    parts = [(*ends, ohm) for ends, ohm in zip(_INSTRUMENT, values, strict=True)]
    if "neighbour_leak" in wires.given:
        leak = np.clip(wires.of["neighbour_leak"], _TOUCH, OPEN)
        others = (setup.gauge_resistance * fixed, arms, leak)
        parts += [(*ends, ohm) for ends, ohm in zip(_NEIGHBOUR, others, strict=True)]
    if shunt is not None:
        parts.append(("A", "C", shunt * fixed))
    whole = mesh.with_parts(parts).left(("EP", "A", "C", "M"))
    return whole.divided("C", "EP", "A") - whole.divided("M", "EP", "A")
