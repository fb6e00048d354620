"""What a correction chain may not be: every rule that refuses one, each with its sentence."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from gaugewright.calc.chain_parts import Stage
from gaugewright.calc.stage_kinds import SLOTS, StageKind
from gaugewright.calc.stages import kind_named
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import InputError

__all__ = ["CONTAINED_IN_CALIBRATION", "faults"]

# What may be on only once, in the words of the person who has to choose.
_ONE_OF = {
    "reading": "one way of reading",
    "bridge": "one bridge",
    "reference": "one zero",
    "lead": "lead loss or shunt scaling, never both: they make good the same loss",
    "gauge factor": "gauge factor or calibration, never both: a calibration replaces it",
    "large strain": "one large-strain law",
    "temperature": "thermal output or dummy, never both: they take off the same strain",
    "drift": "one drift correction",
}
# A calibration of the gauged bar against load contains all of these already.
CONTAINED_IN_CALIBRATION = ("lead", "alignment", "transverse", "lead temperature", "section")
# How a mismatch of the arms enters depends on which of them are active.
_ZERO = "reference zero"
_ZERO_OF = (
    ("bending", "reference zero, difference"),
    ("torsion", "reference zero, difference"),
    ("Poisson", "reference zero, Poisson pair"),
)
# Take temperature off a force.
_ON_FORCE = "calibrated bar"
# These give the change of the arm themselves.
_WITHOUT_BRIDGE = ("reading in strain, linearising instrument", "reading in resistance")


def faults(stages: Sequence[Stage], inputs: Sequence[InputQuantity]) -> list[InputError]:
    """Everything wrong with a chain, in the order a person would mend it.

    Parameters
    ----------
    stages : sequence of Stage
        On and off.
    inputs : sequence of InputQuantity
        That their influences name.

    Returns
    -------
    list of InputError
        Empty when the chain can be used.
    """
    found: list[InputError] = []
    known: list[tuple[Stage, StageKind]] = []
    for stage in stages:
        try:
            known.append((stage, kind_named(stage.kind)))
        except InputError as fault:
            found.append(fault)
    names = [quantity.name for quantity in inputs]
    found += [
        InputError("inputs", name, "named once each")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    for stage, kind in known:
        found += _parameter_faults(stage, kind)
        found += _influence_faults(stage, kind, names)
    if found:
        return found
    active = [(stage, kind) for stage, kind in known if stage.on]
    found += _order_faults(known)
    found += _choice_faults(active)
    found += _need_faults([kind for _, kind in active])
    found += _shared_faults(active)
    found += _contradictions(known)
    return found


def _parameter_faults(stage: Stage, kind: StageKind) -> Iterator[InputError]:
    given = dict(stage.parameters)
    wanted = {parameter.name: parameter for parameter in kind.parameters}
    clean = True
    for name in sorted(wanted.keys() - given.keys()):
        clean = False
        unit = wanted[name].unit
        yield InputError(f"{kind.name}: {name}", None, f"given [{unit}]: {wanted[name].meaning}")
    for name in sorted(given.keys() - wanted.keys()):
        clean = False
        yield InputError(f"{kind.name}: {name}", given[name], "left out: no such parameter")
    for name in sorted(given.keys() & wanted.keys()):
        try:
            wanted[name].check(kind.name, given[name])
        except InputError as fault:
            clean = False
            yield fault
    if clean:
        try:
            kind.check(given)
        except InputError as fault:
            yield fault


def _influence_faults(stage: Stage, kind: StageKind, names: Sequence[str]) -> Iterator[InputError]:
    seen: set[tuple[str, str]] = set()
    for influence in stage.influences:
        where = f"{kind.name}: influence on {influence.parameter}"
        if influence.parameter not in kind.uncertain_names:
            allowed = "on one of " + ", ".join(kind.uncertain_names or ("nothing here",))
            yield InputError(where, influence.input_name, allowed)
        if influence.input_name not in names:
            yield InputError(where, influence.input_name, "one of the chain's inputs", "add it")
        pair = (influence.parameter, influence.input_name)
        if pair in seen:
            yield InputError(where, influence.input_name, "given once")
        seen.add(pair)


def _order_faults(known: Sequence[tuple[Stage, StageKind]]) -> Iterator[InputError]:
    names = [kind.name for _, kind in known]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield InputError("stage", name, "in the chain once", "take the second one out")
    for (_, before), (_, after) in pairwise(known):
        if SLOTS.index(after.slot) < SLOTS.index(before.slot):
            yield InputError(
                "stage", after.name, f"before {before.name!r}", "the order is " + ", ".join(SLOTS)
            )


def _choice_faults(active: Sequence[tuple[Stage, StageKind]]) -> Iterator[InputError]:
    kinds = [kind for _, kind in active]
    for slot in SLOTS:
        rivals = [kind.name for kind in kinds if kind.slot == slot]
        if len(set(rivals)) > 1:
            yield InputError(
                "stages", " and ".join(rivals), _ONE_OF.get(slot, "one of them"), "switch one off"
            )
    calibrated = [kind for kind in kinds if kind.name.startswith("calibration")]
    if calibrated:
        for kind in kinds:
            if kind.slot in CONTAINED_IN_CALIBRATION:
                yield InputError(
                    "stage",
                    kind.name,
                    f"off with {calibrated[0].name!r}, which contains it",
                    "switch one of the two off",
                )
    to_force = any(kind.name.startswith("calibration to force") for kind in kinds)
    for kind in kinds:
        if _ON_FORCE in kind.name and not to_force:
            yield InputError("stage", kind.name, "after a calibration to force")
    if to_force:
        place = SLOTS.index("gauge factor")
        for kind in kinds:
            after = SLOTS.index(kind.slot) > place and kind.slot != "installation"
            if after and _ON_FORCE not in kind.name:
                yield InputError(
                    "stage", kind.name, "off after a calibration to force: it works on strain"
                )
    bridge = [kind for kind in kinds if kind.slot == "bridge"]
    if bridge and any(kind.name.startswith(_WITHOUT_BRIDGE) for kind in kinds):
        yield InputError(
            "stage", bridge[0].name, "off: the reading is the change of the arm already"
        )
    wanted = next((zero for word, zero in _ZERO_OF if bridge and word in bridge[0].name), _ZERO)
    for kind in kinds:
        if kind.slot == "reference" and kind.name.partition("@")[0] != wanted:
            with_what = f"the zero of {bridge[0].name!r}" if bridge else "the zero of a single arm"
            yield InputError("stage", kind.name, f"{wanted!r}, {with_what}")


def _need_faults(kinds: Sequence[StageKind]) -> Iterator[InputError]:
    slots = {kind.slot for kind in kinds}
    bridgeless = any(kind.name.startswith(_WITHOUT_BRIDGE) for kind in kinds)
    calibrated = any(kind.name.startswith("calibration") for kind in kinds)
    last = max((SLOTS.index(slot) for slot in slots), default=-1)

    def needed_by(slot: str) -> str:
        place = SLOTS.index(slot)
        return next((k.name for k in kinds if SLOTS.index(k.slot) > place), "")

    steps = {
        "reading": "after a stage that says what the reading is",
        "bridge": "after the bridge",
        "reference": "after a declared zero",
        "gauge factor": "after a gauge factor or a calibration",
    }
    for slot, sentence in steps.items():
        unneeded = slot == "bridge" and bridgeless
        if slot not in slots and last > SLOTS.index(slot) and not unneeded:
            yield InputError("stage", needed_by(slot), sentence, f"add the {slot} stage")
    if "gauge factor" in slots and not calibrated and "large strain" not in slots:
        yield InputError(
            "large strain",
            None,
            "declared with every gauge factor",
            "add 'large strain, not declared@1' with its limit, or the law of the pack",
        )
    supply = next((k.name for k in kinds if k.name.startswith("lead loss, supply")), None)
    bridge = next((k.name for k in kinds if k.slot == "bridge"), "")
    if supply and bridge and not bridge.startswith("full bridge"):
        yield InputError(
            "stage", supply, "off beside a bridge that isn't full", "its leads lie in its arms"
        )
    if "lead temperature" in slots and "lead" not in slots:
        yield InputError(
            "stage", "lead temperature, two wires@1", "after lead loss or shunt scaling"
        )


def _shared_faults(active: Sequence[tuple[Stage, StageKind]]) -> Iterator[InputError]:
    """One name, one number: the same parameter may not differ between two stages."""
    values: dict[str, tuple[float, str]] = {}
    for stage, kind in active:
        for name, value in stage.parameters:
            first, where = values.setdefault(name, (value, kind.name))
            if first != value and not (math.isnan(first) and math.isnan(value)):
                yield InputError(f"{kind.name}: {name}", value, f"{first}, as in {where!r}")


def _contradictions(known: Sequence[tuple[Stage, StageKind]]) -> Iterator[InputError]:
    """An influence belongs to its parameter: two stages may name it, but not differently."""
    found: dict[tuple[str, str], tuple[float, str]] = {}
    for stage, kind in known:
        for part in stage.influences:
            pair = (part.parameter, part.input_name)
            first, where = found.setdefault(pair, (part.coefficient, kind.name))
            if first != part.coefficient:
                yield InputError(
                    f"{kind.name}: coefficient of {part.input_name!r} on {part.parameter}",
                    part.coefficient,
                    f"{first}, as in {where!r}",
                )
