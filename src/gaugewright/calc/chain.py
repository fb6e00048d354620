"""The correction chain: an ordered tuple of stages that turns readings into strain.

The chain is plain numbers and applies itself. One set of stage functions gives the value, every
value between (``trail``) and the uncertainty, so that the three can't part company.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import chain_rules
from gaugewright.calc.chain_parts import Influence, Stage
from gaugewright.calc.chain_rows import Shared, Step, columns_of, finite, laid_out
from gaugewright.calc.stage_kinds import SLOTS
from gaugewright.calc.stages import kind_named
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, declare
from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = ["Chain", "Influence", "Stage", "Stopped", "TrailStep"]

# Rows done at once: the few arrays alive in a stage stay in the processor's own memory.
_BLOCK_ROWS = 8_192


class TrailStep(NamedTuple):
    """What went into a stage and what came out."""

    kind: str
    before: FloatArray
    after: FloatArray


class Stopped(NamedTuple):
    """Rows, first to last, that a stage could give no value for, and why."""

    kind: str
    why: str
    first_row: int
    last_row: int


@dataclass(frozen=True, slots=True)
class Chain:
    """Stages in their fixed order, with the inputs that their influences name.

    An influence belongs to its parameter: named in one stage, on or off, it acts in every stage
    that uses this parameter or column.
    A chain is checked when it is made: a wrong order, a missing zero, a correction made twice
    are refused with a sentence. Stages that are off stay in the chain with their reason.
    """

    stages: tuple[Stage, ...]
    inputs: tuple[InputQuantity, ...] = ()
    _ready: tuple[Step, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        faults = chain_rules.faults(self.stages, self.inputs)
        if len(faults) == 1:
            raise faults[0]
        if faults:
            raise InputFaults("correction chain", faults)
        object.__setattr__(self, "_ready", tuple(self._steps()))  # asked for with every block

    @classmethod
    def of(
        cls,
        stages: Sequence[Stage],
        inputs: Sequence[InputQuantity] = (),
        influences: Sequence[Influence] = (),
    ) -> "Chain":
        """A chain whose influences are handed to every stage that uses their parameter.

        Parameters
        ----------
        stages : sequence of Stage
            In order.
        inputs : sequence of InputQuantity
            All that the influences name.
        influences : sequence of Influence
            Each goes to every stage with that parameter or column, on or off.

        Returns
        -------
        Chain
            Checked.

        Raises
        ------
        InputError
            If an influence acts on nothing in the chain.
        """
        built = []
        homeless = {influence.parameter for influence in influences}
        for stage in stages:
            names = kind_named(stage.kind).uncertain_names
            homeless -= set(names)
            mine = tuple(part for part in influences if part.parameter in names)
            built.append(replace(stage, influences=stage.influences + mine))
        if homeless:
            names_found = ", ".join(sorted(homeless))
            raise InputError("influence", names_found, "on a parameter of one of the stages")
        return cls(tuple(built), tuple(inputs))

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns that the chain needs beside the reading."""
        return columns_of(self._ready)

    @property
    def quantity(self) -> str:
        """What comes out: ``strain``, or what its last stage makes of it: force, torque, ..."""
        names = [step.kind.name for step in self._ready]
        if any(name.startswith("calibration to force") for name in names):
            return "force"
        made = {"torque@1": "torque", "shear strain@1": "shear strain"}
        return next((made[name] for name in names if name in made), "strain")

    def stage(self, kind: str) -> Stage:
        """The stage of one kind, on or off.

        Parameters
        ----------
        kind : str
            Name with number.

        Raises
        ------
        InputError
            If the chain has no such stage.
        """
        for stage in self.stages:
            if stage.kind == kind:
                return stage
        raise InputError("kind", kind, "one of " + ", ".join(s.kind for s in self.stages))

    def step_off(self, kind: str, reason: str) -> "Chain":
        """The same chain with one stage switched off.

        Parameters
        ----------
        kind : str
            Name with number.
        reason : str
            Why; it is kept and shown.

        Raises
        ------
        InputError
            If there is no such stage, no reason, or what is left can't stand.
        """
        return self._with(replace(self.stage(kind), on=False, reason=reason))

    def step_on(self, kind: str, reason: str = "") -> "Chain":
        """The same chain with one stage switched on.

        Parameters
        ----------
        kind : str
            Name with number.
        reason : str
            Why; may be empty.

        Raises
        ------
        InputError
            If there is no such stage or it can't be on together with the others.
        """
        return self._with(replace(self.stage(kind), on=True, reason=reason))

    def _with(self, changed: Stage) -> "Chain":
        stages = tuple(changed if s.kind == changed.kind else s for s in self.stages)
        return replace(self, stages=stages)

    def strain(
        self,
        reading: ArrayLike,
        columns: Mapping[str, ArrayLike],
        *,
        shared: Shared | None = None,
    ) -> FloatArray:
        """Value of every reading.

        Element by element: the result does not depend, to the last bit, on how the rows are cut.

        Parameters
        ----------
        reading : array of any shape
            As the instrument gave it, in what the first stage expects [1].
        columns : mapping of name to array
            Each shaped like ``reading``, or one number.
        shared : Shared, optional
            What other chains worked out of the same arrays; changes no bit of the result.

        Returns
        -------
        array shaped like ``reading``
            Strain, or force after a calibration to force; NaN where a stage gives no value [1].

        Raises
        ------
        InputError
            If a column that the chain needs isn't there or has another shape.
        """
        steps = self._ready
        given, beside = laid_out(reading, columns, steps)
        rows = given.reshape(-1)
        flat = {name: c.reshape(-1) if c.ndim else c for name, c in beside.items()}
        result = np.empty(rows.shape)
        with np.errstate(all="ignore"):
            ahead = [_ahead(step, columns, flat, shared) for step in steps]
            for start in range(0, rows.size, _BLOCK_ROWS):
                cut = slice(start, start + _BLOCK_ROWS)
                value = rows[cut]
                part = {name: c[cut] if c.ndim else c for name, c in flat.items()}
                for step, known in zip(steps, ahead, strict=True):
                    if known is None or step.kind.split is None:
                        value = step.kind.value(value, step.values, part)
                    else:
                        value = step.kind.split.onto(value, known[cut] if known.ndim else known)
                missing = ~np.isfinite(value)
                result[cut] = np.where(missing, np.nan, value) if missing.any() else value
        return result.reshape(given.shape)

    def trail(self, reading: ArrayLike, columns: Mapping[str, ArrayLike]) -> tuple[TrailStep, ...]:
        """What every stage that is on received and gave.

        Parameters
        ----------
        reading : array of any shape
            As for ``strain`` [1].
        columns : mapping of name to array
            As for ``strain``.

        Returns
        -------
        tuple of TrailStep
            In order; the last one gave the strain.
        """
        steps = self._ready
        value, beside = laid_out(reading, columns, steps)
        trail = []
        with np.errstate(all="ignore"):
            for step in steps:
                after = finite(step.kind.value(value, step.values, beside), value.shape)
                trail.append(TrailStep(step.kind.name, value, after))
                value = after
        return tuple(trail)

    def stopped(self, reading: ArrayLike, columns: Mapping[str, ArrayLike]) -> tuple[Stopped, ...]:
        """Where and why a reading that is there leads to no value.

        Parameters
        ----------
        reading : array, shape (n,)
            As for ``strain`` [1].
        columns : mapping of name to array
            As for ``strain``.

        Returns
        -------
        tuple of Stopped
            Runs of neighbouring rows, stage by stage.
        """
        spans = []
        for kind, before, after in self.trail(reading, columns):
            lost = np.isfinite(before).reshape(-1) & np.isnan(after).reshape(-1)
            edges = np.flatnonzero(np.diff(lost, prepend=False, append=False))
            why = kind_named(kind).stops or "a number it needs is missing"
            for first, after_last in edges.reshape(-1, 2).tolist():
                spans.append(Stopped(kind, why, first, after_last - 1))
        return tuple(spans)

    def uncertain(
        self,
        reading: ArrayLike | Uncertain,
        columns: Mapping[str, ArrayLike],
        noise: ArrayLike = 0.0,
    ) -> Uncertain:
        """Value of every reading with what it owes to every input.

        First order, by the derivatives of the same stages (JCGM 100:2008, 5.1.2).

        Parameters
        ----------
        reading : array of any shape, or Uncertain
            As for ``strain`` [1].
        columns : mapping of name to array
            As for ``strain``.
        noise : array broadcastable to ``reading``
            Standard deviation of the independent part of the reading, in its unit [1].

        Returns
        -------
        Uncertain
            Its value is what ``strain`` gives, to the last bit.
        """
        start = reading if isinstance(reading, Uncertain) else Uncertain.noisy(reading, noise)
        if start is reading and np.any(np.asarray(noise)):
            raise InputError("noise", noise, "left out where the reading brings its own")
        return self._propagated(start, columns, self._ready)

    def disturbed(
        self,
        reading: ArrayLike,
        columns: Mapping[str, ArrayLike],
        shifts: Mapping[str, ArrayLike],
    ) -> FloatArray:
        """Value with every input off by a given deviation, without linearising.

        The model for ``monte_carlo.monte_carlo``: one reading against many draws.

        Parameters
        ----------
        reading : array of any shape
            As for ``strain`` [1].
        columns : mapping of name to array
            As for ``strain``.
        shifts : mapping of input name to array
            Deviations, broadcastable with ``reading``; an input left out is not disturbed.

        Returns
        -------
        array
            Of the shape that reading and deviations give together [1].
        """
        steps = self._ready
        value, beside = laid_out(reading, columns, steps)
        with np.errstate(all="ignore"):
            for step in steps:
                numbers: dict[str, Any] = {**step.values}
                rows: dict[str, Any] = {**beside}
                for influence in step.influences:
                    if influence.input_name in shifts:
                        held = rows if influence.parameter in rows else numbers
                        shift = np.asarray(shifts[influence.input_name], dtype=np.float64)
                        # Not in place: a column must stay as it was given.
                        moved = held[influence.parameter] + influence.coefficient * shift
                        held[influence.parameter] = moved
                value = step.kind.value(value, numbers, rows)
        return np.where(np.isfinite(value), value, np.nan)

    def zeroed(self, reading: ArrayLike | Uncertain, columns: Mapping[str, ArrayLike]) -> "Chain":
        """The same chain with its zero taken from a reading.

        The zero passes through the stages before the reference, and what it owes to their inputs
        is kept: an error of the instrument's gain, say, is in the zero and in the reading alike.

        Parameters
        ----------
        reading : one number, or Uncertain
            The reading at the zero, in the unit of the others [1].
        columns : mapping of name to array
            One number each, where the stages before the reference need any.

        Returns
        -------
        Chain
            With ``arm_change_zero`` and its influences filled in.
        """
        start = reading if isinstance(reading, Uncertain) else Uncertain.exact(reading)
        zero = self._propagated(start, columns, tuple(self._steps(before="reference")))
        if zero.value.size != 1 or not np.all(np.isfinite(zero.value)):
            raise InputError("reading", start.value, "one number that the bridge can give")
        stages = []
        own = tuple(
            Influence("arm_change_zero", name, part.item())
            for name, part in zero.sensitivities.items()
        )
        for stage in self.stages:
            if kind_named(stage.kind).slot == "reference":
                numbers = dict(stage.parameters) | {"arm_change_zero": zero.value.item()}
                kept = (part for part in stage.influences if part.parameter != "arm_change_zero")
                filled = replace(stage, parameters=tuple(numbers.items()), influences=(*kept, *own))
                stages.append(filled)
            else:
                stages.append(stage)
        inputs = {quantity.name: quantity for quantity in self.inputs}
        for quantity in zero.inputs.values():
            declare(inputs, quantity)
        return Chain(tuple(stages), tuple(inputs.values()))

    def as_plain(self) -> dict[str, Any]:
        """The chain as lists, texts and numbers that JSON can hold without loss.

        Returns
        -------
        dict
            For ``from_plain``.
        """
        return {
            "stages": [stage.as_plain() for stage in self.stages],
            "inputs": [
                {
                    "name": quantity.name,
                    "standard_uncertainty": quantity.standard_uncertainty,
                    "degrees_of_freedom": None
                    if math.isinf(quantity.degrees_of_freedom)
                    else quantity.degrees_of_freedom,
                    "distribution": quantity.distribution,
                    "basis": quantity.basis,
                    "meaning": quantity.meaning,
                }
                for quantity in self.inputs
            ],
        }

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> "Chain":
        """The chain that ``as_plain`` wrote down.

        Parameters
        ----------
        plain : mapping
            As read from JSON.

        Returns
        -------
        Chain
            Equal to the one written.

        Raises
        ------
        InputError
            If something is missing, unknown or not allowed.
        """
        try:
            inputs = []
            for item in plain["inputs"]:
                freedom = item["degrees_of_freedom"]
                inputs.append(
                    InputQuantity(
                        **{**item, "degrees_of_freedom": math.inf if freedom is None else freedom}
                    )
                )
            stages = tuple(Stage.from_plain(item) for item in plain["stages"])
        except (KeyError, TypeError, AttributeError) as problem:
            raise InputError("chain", str(problem), "as written by as_plain") from problem
        return cls(stages, tuple(inputs))

    def _propagated(
        self, start: Uncertain, columns: Mapping[str, ArrayLike], steps: tuple[Step, ...]
    ) -> Uncertain:
        value, beside = laid_out(start.value, columns, steps)
        sensitivities = dict(start.sensitivities)
        inputs = dict(start.inputs)
        by_name = {quantity.name: quantity for quantity in self.inputs}
        spread = start.noise
        with np.errstate(all="ignore"):
            for step in steps:
                slope, partials = step.kind.partials(value, step.values, beside)
                sensitivities = {name: slope * part for name, part in sensitivities.items()}
                spread = np.abs(slope) * spread if np.any(spread) else spread
                for influence in step.influences:
                    name = influence.input_name
                    declare(inputs, by_name[name])
                    part = partials[influence.parameter] * influence.coefficient
                    sensitivities[name] = sensitivities.get(name, np.zeros(())) + part
                value = finite(step.kind.value(value, step.values, beside), value.shape)
        return Uncertain(value, sensitivities, np.asarray(spread), inputs)

    def _steps(self, before: str = "") -> Iterator[Step]:
        # By parameter: what disturbs a number disturbs it in every stage that uses it.
        found: dict[str, dict[str, Influence]] = {}
        for stage in self.stages:
            for influence in stage.influences:
                found.setdefault(influence.parameter, {})[influence.input_name] = influence
        place = SLOTS.index(before) if before else len(SLOTS)
        for stage in self.stages:
            kind = kind_named(stage.kind)
            if stage.on and SLOTS.index(kind.slot) < place:
                influences = tuple(
                    influence
                    for name in kind.uncertain_names
                    for influence in found.get(name, {}).values()
                )
                yield Step(kind, dict(stage.parameters), influences)


def _ahead(
    step: Step,
    given: Mapping[str, ArrayLike],
    flat: Mapping[str, FloatArray],
    shared: Shared | None,
) -> FloatArray | None:
    """What a step works out without the reading, where others may want it too."""
    split = step.kind.split
    if split is None or shared is None:
        return None
    held = tuple(given[name] for name in step.kind.columns)
    return shared.part(step, held, lambda: split.ahead(step.values, flat))
