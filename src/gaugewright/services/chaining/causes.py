"""Named causes of uncertainty, made from what records state and what nobody stated."""

import math
from dataclasses import dataclass, field

from gaugewright.calc.chain import Influence
from gaugewright.calc.evaluation import stated_distribution, stated_standard_uncertainty
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.records import Entry
from gaugewright.records.identity import Ref
from gaugewright.records.proof import Limit
from gaugewright.records.results import ParameterSource
from gaugewright.records.stated import Basis, Stated

__all__ = ["Causes", "input_of_limit", "input_of_stated", "uncertain_of_stated"]


def input_of_stated(name: str, stated: Stated, meaning: str) -> InputQuantity | None:
    """Input quantity behind a stated value; None when nothing was said about its doubt."""
    if stated.plus_minus is None:
        return None
    return InputQuantity(
        name,
        stated_standard_uncertainty(stated.plus_minus, stated.meaning.value),
        math.inf if stated.degrees_of_freedom is None else stated.degrees_of_freedom,
        stated_distribution(stated.meaning.value),
        stated.basis.value,
        meaning,
    )


def input_of_limit(name: str, limit: Entry[Limit], meaning: str) -> InputQuantity:
    """Input quantity whose standard uncertainty is a limit of the campaign: assumed until shown.

    What the laboratory worked out from its own measurements is measured, with their degrees of
    freedom, and its meaning says from how many.
    """
    own = limit.record
    if own.counted is not None:
        freedom = math.inf if own.degrees_of_freedom is None else own.degrees_of_freedom
        told = f"{meaning}, laboratory's own, {own.counted} {own.counted_what}"
        return InputQuantity(name, own.value, freedom, basis="measured", meaning=told)
    basis = "assumed" if own.unverified else "stated"
    return InputQuantity(name, own.value, basis=basis, meaning=meaning)


def uncertain_of_stated(name: str, stated: Stated, meaning: str) -> Uncertain:
    """Stated value with its doubt, as calculations take it; exact when no doubt was stated."""
    quantity = input_of_stated(name, stated, meaning)
    if quantity is None:
        return Uncertain.exact(stated.value)
    return Uncertain.from_input(stated.value, quantity)


@dataclass(slots=True)
class Causes:
    """What is gathered while a chain is built: inputs by name, and where parameters came from."""

    inputs: dict[str, InputQuantity] = field(default_factory=dict)
    sources: list[ParameterSource] = field(default_factory=list)

    def add(self, parameter: str, quantity: InputQuantity, coefficient: float = 1.0) -> Influence:
        """Influence of an input on a parameter; the input is kept under its name."""
        self.inputs[quantity.name] = quantity
        return Influence(parameter, quantity.name, coefficient)

    def stated(
        self, parameter: str, name: str, stated: Stated, meaning: str, coefficient: float = 1.0
    ) -> tuple[Influence, ...]:
        """Influence of a stated value's doubt; none when no doubt was stated."""
        quantity = input_of_stated(name, stated, meaning)
        return () if quantity is None else (self.add(parameter, quantity, coefficient),)

    def came_from(
        self, stage: str, parameter: str, source: Ref | None, basis: Basis, words: str
    ) -> None:
        """Keep where a parameter of a stage came from."""
        self.sources.append(ParameterSource(stage, parameter, source, basis.value, words))
