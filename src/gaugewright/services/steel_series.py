"""Stress, force and the full bar's strain at one gauge: over the test, and at each load step."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.steel_cyclic import CyclicSteel
from gaugewright.calc.steel_equilibrium import bar_strain_along, bar_strain_unloading
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.forces import net_area_of, settled_rows, strain_at_step, stress_at_step
from gaugewright.services.loads import load_at
from gaugewright.services.series import campaign_seconds
from gaugewright.services.steel_laws import law_of
from gaugewright.services.steel_stress import reversal_gate, stress_along_rows
from gaugewright.services.strains import CircuitStrain, Desk
from gaugewright.services.together import quarter_circuits
from gaugewright.services.yields import stress_free_zero

__all__ = ["SteelSeries", "SteelStep", "steel_of_gauge"]


@dataclass(frozen=True, slots=True)
class SteelStep:
    """One load step (SI): means of its settled part.

    ``bar_strain`` is that of the full bar, NaN beyond the law; ``stress`` and ``force`` are NaN
    where the law knows none, and ``note`` says why.
    """

    label: str
    load: float
    strain: Uncertain
    bar_strain: float
    stress: Uncertain
    force: Uncertain
    note: str


@dataclass(frozen=True, slots=True)
class SteelSeries:
    """One gauge over the test at chosen samples (SI), and at its load steps."""

    label: str
    zero: ZeroKind
    time: FloatArray
    load: FloatArray
    strain: Uncertain
    bar_strain: FloatArray
    stress: Uncertain
    force: Uncertain
    yielded: npt.NDArray[np.bool_]
    note: str
    steps: tuple[SteelStep, ...]


def steel_of_gauge(desk: Desk, label: str, *, samples: int = 40) -> SteelSeries:
    """Stress and bar force at a gauge by its metal's law, over the test and at load steps.

    Raises
    ------
    InputError
        If there is no such gauge with a circuit of its own, no readings, or the law or the bar
        lacks a number.
    """
    circuit, gauge = _circuit_of(desk, label)
    zero = stress_free_zero(desk, circuit)
    strain = desk.strain(circuit, zero)
    known = np.flatnonzero(np.isfinite(strain.strain)).astype(np.int64)
    if not known.size:
        raise InputError(f"strain of {label}", "none", "readings with a number")
    spread = np.linspace(0, known.size - 1, min(samples, known.size)).astype(np.int64)
    rows = known[np.unique(spread)]
    held = _held(desk, strain.time[rows])
    found = stress_along_rows(desk, circuit, zero, rows, held=held)
    left = net_area_of(desk, gauge)
    along = _bar_strain(desk, gauge, strain)
    return SteelSeries(
        label,
        zero,
        strain.time[rows],
        load_at(desk, strain.time[rows]),
        strain.uncertain(rows),
        along[rows],
        found.stress,
        found.stress * left,
        found.yielded,
        found.note,
        tuple(_steps(desk, gauge, circuit, zero, along)),
    )


def _circuit_of(desk: Desk, label: str) -> tuple[Entry[BridgeCircuit], Entry[Gauge]]:
    for circuit, gauge in quarter_circuits(desk):
        if gauge.record.label == label:
            return circuit, gauge
    known = ", ".join(gauge.record.label for _, gauge in quarter_circuits(desk)) or "none yet"
    raise InputError("label of a gauge", label, f"one with a circuit of its own: {known}")


def _held(desk: Desk, time: FloatArray) -> npt.NDArray[np.bool_]:
    """Which instants lie in a load step."""
    found = np.zeros(time.size, dtype=np.bool_)
    for step in desk.book.of(LoadStep):
        begins, ends = campaign_seconds(step.record.begins), campaign_seconds(step.record.ends)
        found |= (time >= begins) & (time < ends)
    return found


def _steps(
    desk: Desk,
    gauge: Entry[Gauge],
    circuit: Entry[BridgeCircuit],
    zero: ZeroKind,
    along: FloatArray,
) -> list[SteelStep]:
    made: list[SteelStep] = []
    left = net_area_of(desk, gauge)
    for step in sorted(desk.book.of(LoadStep), key=lambda entry: entry.record.begins):
        mean = strain_at_step(desk, circuit, zero, step)
        if mean is None:
            continue
        stress, note = stress_at_step(desk, circuit, zero, step)
        rows = settled_rows(desk, circuit, zero, step.record)
        made.append(
            SteelStep(
                step.record.label,
                step.record.load,
                mean,
                float(np.mean(along[rows])),
                stress,
                stress * left,
                note,
            )
        )
    return made


def _bar_strain(desk: Desk, gauge: Entry[Gauge], strain: CircuitStrain) -> FloatArray:
    """Strain of the full bar that carries the flat's force, along the whole record."""
    area = desk.book.bar_of(gauge).record.area
    material = desk.book.material_of(gauge)
    if area is None or desk.book.flat_of(gauge) is None:
        return strain.strain
    left = float(net_area_of(desk, gauge).value)
    law = law_of(material)
    numbers = tuple(float(number.value) for number in law.numbers)
    if material.record.law is SteelLaw.CYCLIC:
        # The last number is the misfit of the law, which has no part in a strain.
        steel = CyclicSteel(*numbers[:-1])
        gate = reversal_gate(strain.strain)
        return bar_strain_along(strain.strain, left, area.value, steel, gate=gate)[0]

    def first(e: FloatArray) -> FloatArray:
        return law.first(e, *numbers)

    return bar_strain_unloading(strain.strain, left, area.value, first, elastic_modulus=numbers[0])
