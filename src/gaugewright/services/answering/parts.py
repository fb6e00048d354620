"""What a typed value means to a worked answer, how doubt goes through it, what an answer says."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc.evaluation import stated_distribution, stated_standard_uncertainty
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError, InputFaults
from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown, shown, significant_text
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import System, in_shown, quantity_shown, unit_shown
from gaugewright.quantities import QUANTITIES, FloatArray
from gaugewright.services.answering.asks import Ask, Tool

__all__ = [
    "Answer",
    "Cause",
    "Given",
    "Number",
    "Row",
    "agrees",
    "brief",
    "given",
    "number",
    "number_in",
    "percent",
    "propagated",
    "step_judged",
]

_MEANINGS = {"k=1": "k=1", "k=2": "k=2", "k=3": "k=3", "limit": "limit"}
_DOUBT = re.compile(r"^(?P<value>.*?)(?:±|\+/-|\+-)(?P<doubt>.*)$", re.DOTALL)
_MEANING = re.compile(r"\s*\(?\s*(?P<meaning>k\s*=\s*[123]|limit)\s*\)?\s*$")


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of a number's doubt: part of its variance, and ± left if it were halved."""

    meaning: str
    basis: str
    share: float
    half: str


@dataclass(frozen=True, slots=True)
class Number:
    """One number of an answer; ``value`` and ``plus_minus`` (95 %) are in the coherent ``unit``.

    ``causes`` are what its doubt is made of, the largest first.
    """

    label: str
    value: float
    plus_minus: float | None
    unit: str
    shown: Shown
    cause: str = ""
    causes: tuple[Cause, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table that some answers have beside their numbers."""

    name: str
    cells: tuple[str, ...]
    is_here: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """A question answered: in a sentence, in numbers, with what it stands on and a drawing.

    ``assumed`` names every value that nobody typed, ``left_out`` what isn't in the answer,
    ``sources`` the formula and where it stands. ``drawing`` is SVG of our own.
    """

    tool: str
    sentence: str
    numbers: tuple[Number, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]
    left_out: tuple[str, ...]
    sources: tuple[str, ...]
    drawing: str
    heads: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()


@dataclass(slots=True)
class Given:
    """Everything that was typed for one tool, read once, with what was assumed."""

    tool: Tool
    system: System
    values: dict[str, Uncertain]
    words: dict[str, str]
    assumptions: dict[str, str]

    def __getitem__(self, name: str) -> Uncertain:
        if name not in self.values:
            raise self.missing(name)
        return self.values[name]

    def has(self, name: str) -> bool:
        """Whether a value was typed or assumed."""
        return name in self.values

    def missing(self, name: str, do: str = "") -> InputError:
        """The error that says that a value must be given."""
        return InputError(name, "", "given", do or f"fill in: {self.ask(name).label}")

    def ask(self, name: str) -> Ask:
        """What was asked under a name."""
        return next(ask for ask in self.tool.asks if ask.name == name)

    def at(self, name: str) -> float:
        """Best value alone."""
        return float(self[name].value)

    def only(self, *names: str) -> dict[str, Uncertain]:
        """Some of the values, for ``propagated``."""
        return {name: self[name] for name in names}

    def drop_assumed(self, *names: str) -> None:
        """Take out of the list of assumptions what plays no part in this answer."""
        for name in names:
            self.assumptions.pop(name, None)

    def assume(self, name: str, words: str) -> None:
        """Say what is taken where nothing was typed under a name."""
        self.assumptions[name] = f"{self.ask(name).label}: {words}"

    @property
    def assumed(self) -> tuple[str, ...]:
        """Every value that nobody typed, in words."""
        return tuple(self.assumptions.values())


def given(
    tool: Tool,
    typed: Mapping[str, str],
    system: System,
    quantities: Mapping[str, str] | None = None,
    *,
    raw: tuple[str, ...] = (),
) -> Given:
    """Read what was typed; every fault is named together.

    ``quantities`` overrides what a bare number of an ask is; ``raw`` asks are kept as words.

    Raises
    ------
    InputError
        If one value is missing or can't be read.
    Faults
        If several are.
    """
    found = Given(tool, system, {}, {}, {})
    wrong: list[InputError] = []
    known = {ask.name for ask in tool.asks}
    strange = [name for name in typed if name not in known]
    if strange:
        raise InputError(
            "name", listed(strange), "one of " + ", ".join(sorted(known)), "leave it out"
        )
    for ask in tool.asks:
        try:
            _read(found, ask, typed.get(ask.name, ""), (quantities or {}).get(ask.name), raw)
        except InputError as error:
            wrong.append(error)
    if len(wrong) == 1:
        raise wrong[0]
    if wrong:
        raise InputFaults(f"what was typed for {tool.name}", wrong)
    return found


def _read(found: Given, ask: Ask, typed: str, quantity: str | None, raw: tuple[str, ...]) -> None:
    text = typed.strip()
    if not text and ask.is_needed:
        raise found.missing(ask.name)
    is_assumed = not text
    text = text or ask.assumed
    if not text:
        return
    if ask.options:
        allowed = [option.value for option in ask.options]
        if text not in allowed:
            raise InputError(ask.name, text, "one of " + ", ".join(allowed))
        found.words[ask.name] = text
    elif ask.name in raw:
        found.words[ask.name] = text
    else:
        found.values[ask.name] = _uncertain(found, ask, text, quantity, is_assumed)
    if is_assumed:
        found.assume(ask.name, _assumed_words(ask, text, quantity))


def _assumed_words(ask: Ask, text: str, quantity: str | None) -> str:
    if ask.options:
        return next(option.words for option in ask.options if option.value == text)
    name = quantity or ask.quantity
    unit = unit_shown(name, "si").text if name else ask.unit
    return f"{text} {unit}".strip()


def _uncertain(
    found: Given, ask: Ask, text: str, quantity: str | None, is_assumed: bool
) -> Uncertain:
    """Value with its doubt; a doubt without a meaning is a limit, the widest of them."""
    # What is assumed is written in SI units whatever the reader's are.
    system: System = "si" if is_assumed else found.system
    name = quantity or ask.quantity
    parted = _DOUBT.match(text)
    if parted is None:
        return Uncertain.exact(_number(ask, text, name, system))
    if not ask.takes_doubt:
        raise InputError(ask.name, text, "one number without a doubt")
    value = _number(ask, parted["value"].strip(), name, system)
    doubt_text = parted["doubt"].strip()
    told = _MEANING.search(doubt_text)
    meaning = re.sub(r"\s", "", told["meaning"]) if told else "unknown"
    if told:
        doubt_text = doubt_text[: told.start()].strip()
    if doubt_text.endswith("%") and name != "transverse_sensitivity":
        doubt = abs(value) * number_typed(ask.name, doubt_text[:-1].strip()) / 100
    else:
        doubt = _width(ask, parted["value"], doubt_text, name, system)
    if not 0 <= doubt < math.inf:
        raise InputError(ask.name, text, "a number and a doubt of 0 or more")
    cause = InputQuantity(
        ask.name,
        stated_standard_uncertainty(doubt, meaning),
        distribution=stated_distribution(meaning),
        basis="assumed" if is_assumed else "stated",
        meaning=_in_a_sentence(ask.label),
    )
    return Uncertain.from_input(value, cause)


def _in_a_sentence(label: str) -> str:
    return label if label.startswith("Poisson") else label[:1].lower() + label[1:]


def _number(ask: Ask, text: str, quantity: str, system: System) -> float:
    if not quantity:
        return number_typed(ask.name, text)
    return quantity_typed(ask.name, text, quantity, system)


def _width(ask: Ask, value: str, doubt: str, quantity: str, system: System) -> float:
    """Doubt in the coherent unit: in its own unit, in that of the value, or as shown."""
    if not quantity:
        return number_typed(ask.name, doubt)
    unit = re.sub(r"^[\s\d.,+\-eE−]*", "", value).strip()
    has_unit = bool(re.search(r"[^\W\d_]|°|%", re.sub(r"[eE][+-]?\d+", "", doubt)))
    text = doubt if has_unit or not unit else f"{doubt} {unit}"
    # A difference has no offset: °F become K by their factor alone.
    zero = quantity_typed(ask.name, f"0 {unit}" if unit and not has_unit else "0", quantity, system)
    return quantity_typed(ask.name, text, quantity, system) - zero


def propagated(
    function: Callable[[Mapping[str, float]], float | FloatArray],
    arguments: Mapping[str, Uncertain],
) -> Uncertain:
    """What a function makes of uncertain arguments, each with one cause at most.

    Sensitivities are found numerically, by half the difference at plus and minus one standard
    uncertainty (JCGM 100:2008, 5.1.3, note 2), so that every closed form stays as exact as it is.
    """
    best = {name: float(argument.value) for name, argument in arguments.items()}
    value = np.asarray(function(best), dtype=np.float64)
    slopes: dict[str, FloatArray] = {}
    inputs: dict[str, InputQuantity] = {}
    for name, argument in arguments.items():
        for cause, slope in argument.sensitivities.items():
            quantity = argument.inputs[cause]
            spread = float(abs(slope)) * quantity.standard_uncertainty
            if spread == 0:
                continue
            up = np.asarray(function({**best, name: best[name] + spread}), dtype=np.float64)
            down = np.asarray(function({**best, name: best[name] - spread}), dtype=np.float64)
            part = (up - down) / (2 * spread) * float(slope)
            slopes[cause] = slopes.get(cause, np.zeros(value.shape)) + part
            inputs[cause] = quantity
    return Uncertain(value, slopes, inputs=inputs)


def agrees(told: Given, step: Uncertain) -> bool:
    """Whether the step that was ``found`` lies within the doubt of one that is expected."""
    return abs(told.at("found") - float(step.value)) <= max(float(step.expanded()), 1e-12)


def step_judged(told: Given, step: Uncertain) -> str:
    """Found against expected; what is between is what gain, gauge factor or a leak must explain."""
    off = told.at("found") / float(step.value) - 1
    size = f"{'+' if off >= 0 else '−'}{abs(100 * off):.2f} %"
    within = "within" if agrees(told, step) else "more than"
    return f"The step found is {size} off, {within} the doubt of this step"


def number(
    label: str, value: Uncertain, quantity: str, system: System, *, sign: bool = False
) -> Number:
    """A number of an answer with its expanded uncertainty (95 %) and main cause."""
    best, doubt, cause = _told(value)
    text = quantity_shown(quantity, best, doubt, system, sign=sign)

    def half(left: float) -> str:
        number = quantity_shown(quantity, best, left, system)
        return f"± {number.plus_minus} {number.unit}".strip()

    return Number(label, best, doubt, QUANTITIES[quantity].unit, text, cause, _ranked(value, half))


def percent(label: str, value: Uncertain, *, sign: bool = False) -> Number:
    """A share of an answer, shown in per cent."""
    return number_in(label, value, "1", (0.01, "%"), sign=sign)


def number_in(
    label: str, value: Uncertain, unit: str, as_shown: tuple[float, str], *, sign: bool = False
) -> Number:
    """A number of an answer in a unit of its own: factor to the coherent one, and its text."""
    best, doubt, cause = _told(value)
    factor, text = as_shown
    # 0.03 / 0.01 is 3.0000000000000004 in binary: the last bit must not decide a rounding.
    scaled = float(f"{best / factor:.15g}")
    said = shown(scaled, None if doubt is None else doubt / factor, text, sign=sign)

    def half(left: float) -> str:
        number = shown(scaled, left / factor, text)
        return f"± {number.plus_minus} {number.unit}".strip()

    return Number(label, best, doubt, unit, said, cause, _ranked(value, half))


def _ranked(value: Uncertain, half: Callable[[float], str]) -> tuple[Cause, ...]:
    """Causes of a value's doubt, the largest first, with what halving each would leave."""
    budget = value.budget()
    found = []
    for line in budget.lines:
        if not line.contribution:
            continue
        cause = value.inputs[line.input]
        better = replace(cause, standard_uncertainty=cause.standard_uncertainty / 2)
        left = replace(value, inputs={**value.inputs, line.input: better}).expanded().item()
        found.append(Cause(line.meaning, line.basis, budget.share(line), half(left)))
    return tuple(found)


def brief(quantity: str, value: float, system: System, digits: int = 3) -> str:
    """A number beside a part of a drawing or inside a sentence, and its unit."""
    unit = unit_shown(quantity, system).text
    text = significant_text(in_shown(value, quantity, system), digits)
    return f"{text}\N{NO-BREAK SPACE}{unit}"


def _told(value: Uncertain) -> tuple[float, float | None, str]:
    best = float(value.value)
    if not math.isfinite(best):
        raise InputError("answer", best, "a finite number", "look at what was typed again")
    budget = value.budget()
    if not budget.expanded > 0 or budget.dominant is None:
        return best, None, ""
    line = budget.dominant
    cause = f"mostly {line.meaning}"
    if line.basis == "assumed":
        cause += ", which is assumed"
    half = budget.with_half(line) / budget.standard_uncertainty * budget.expanded
    if half < 0.9 * budget.expanded:
        cause += f"; half of that would leave {100 * half / budget.expanded:.0f} % of the doubt"
    return best, budget.expanded, cause
