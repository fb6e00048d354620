"""Stress, force and the full bar's strain at one gauge: over the test, and at each load step."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.by_difference import by_difference
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
from gaugewright.services.bars.forces import (
    net_area_of,
    settled_rows,
    strain_at_step,
    stress_at_step,
)
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.yields import stress_free_zero
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.services.steel.steel_stress import (
    history_of,
    past_yield,
    reversal_gate,
    stress_along_rows,
)
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.services.under_load.loads import load_at

__all__ = ["SteelSeries", "SteelStep", "steel_of_gauge"]


@dataclass(frozen=True, slots=True)
class SteelStep:
    """One load step (SI): means of its settled part.

    ``bar_strain`` is that of the full bar; it, ``stress`` and ``force`` are NaN where the law
    knows none, and ``note`` says why.
    """

    label: str
    load: float
    strain: Uncertain
    bar_strain: Uncertain
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
    replay = _replay(desk, gauge)
    along = strain.strain if replay is None else _replayed(desk, gauge, strain, replay)
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
        tuple(_steps(desk, gauge, circuit, zero)),
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
) -> list[SteelStep]:
    made: list[SteelStep] = []
    strain = desk.strain(circuit, zero)
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
                _bar_strain_at(desk, gauge, strain, rows),
                stress,
                stress * left,
                note,
            )
        )
    return made


# The full bar's strain along a record of its flat's, from both areas and the law's numbers.
Replay = Callable[..., FloatArray]


def _replay(desk: Desk, gauge: Entry[Gauge]) -> Replay | None:
    """How the bar's strain follows from the flat's; None where the section isn't weakened."""
    if desk.book.bar_of(gauge).record.area is None or desk.book.flat_of(gauge) is None:
        return None
    material = desk.book.material_of(gauge)
    law = law_of(material)

    def to_and_fro(
        e: FloatArray, left: float, whole: float, *numbers: float, gate: float
    ) -> FloatArray:
        # The last number is the misfit of the law, which has no part in a strain.
        steel = CyclicSteel(*numbers[:-1])
        return bar_strain_along(e, float(left), float(whole), steel, gate=gate)[0]

    def unloading(
        e: FloatArray, left: float, whole: float, *numbers: float, gate: float
    ) -> FloatArray:
        def first(strain: FloatArray) -> FloatArray:
            return law.first(strain, *numbers)

        return bar_strain_unloading(
            e, float(left), float(whole), first, elastic_modulus=float(numbers[0])
        )

    return to_and_fro if material.record.law is SteelLaw.CYCLIC else unloading


def _arguments(desk: Desk, gauge: Entry[Gauge]) -> list[Uncertain]:
    """Area left, area of the bar and the law's numbers, as a replay takes them."""
    entry = desk.book.bar_of(gauge)
    area = entry.record.area
    if area is None:
        raise InputError(f"area of {entry.record.label}", None, "recorded", "weigh a piece")
    whole = uncertain_of_stated(f"area@{entry.uid}", area, "area of the bar")
    return [net_area_of(desk, gauge), whole, *law_of(desk.book.material_of(gauge)).numbers]


def _replayed(desk: Desk, gauge: Entry[Gauge], strain: CircuitStrain, replay: Replay) -> FloatArray:
    numbers = [float(number.value) for number in _arguments(desk, gauge)]
    return replay(strain.strain, *numbers, gate=reversal_gate(strain.strain))


def _bar_strain_at(
    desk: Desk, gauge: Entry[Gauge], strain: CircuitStrain, rows: npt.NDArray[np.int64]
) -> Uncertain:
    """Mean strain of the full bar at some rows, with every cause moved through the replay."""
    mean = strain.uncertain(rows).mean()
    replay = _replay(desk, gauge)
    if replay is None:
        return mean
    arguments = _arguments(desk, gauge)
    if not past_yield(desk, desk.book.material_of(gauge), strain.strain[: int(rows[-1]) + 1]):
        return mean * (arguments[0] / arguments[1])
    history, places, gate = history_of(strain, rows)
    record = strain.uncertain(history)
    quiet = Uncertain(record.value, record.sensitivities, inputs=record.inputs)

    def averaged(e: FloatArray, *numbers: FloatArray) -> FloatArray:
        return np.asarray(np.mean(replay(e, *numbers, gate=gate)[places]))

    found = by_difference(averaged, [quiet, *arguments], noise_slopes=[0.0] * (1 + len(arguments)))
    return found + Uncertain.noisy(0.0, mean.noise)
