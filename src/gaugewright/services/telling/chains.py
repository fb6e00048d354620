"""The corrections of a report: each chain's stages in order, their values, and what is assumed."""

import json
from dataclasses import dataclass

from gaugewright.calc.chain import Chain as Applied
from gaugewright.calc.chain import Stage
from gaugewright.calc.stages import kind_named
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown, significant_text
from gaugewright.present.units_shown import quantity_shown, unit_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.results import Chain, ParameterSource
from gaugewright.report.document import ChainTable, Parameter, StageRow
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page
from gaugewright.services.telling import zeros as chain_zeros

__all__ = ["chain_table", "chain_tables", "corrected", "told"]

# Parameters of stages that are another name's quantity.
_LIKE = {
    "zero_offset": "strain",
    "leak_strain": "strain",
    "strain_limit": "strain",
    "drift_strain": "strain",
    "initial_strain": "strain",
    "dummy_strain": "strain",
    "card_thermal_expansion": "thermal_expansion",
    "slope_error": "thermal_expansion",
}
# Places of the chain whose stages change a strain, as a reader calls what they do.
_CORRECTIONS = {
    "lead": "lead loss",
    "gauge factor": "gauge factor",
    "large strain": "large strain",
    "alignment": "alignment",
    "transverse": "transverse sensitivity",
    "temperature": "temperature",
    "lead temperature": "lead temperature",
    "drift": "drift",
    "section": "the flat",
    "initial strain": "strain before the zero",
}
# What a parameter is called where its own name says nothing to a reader.
_NAMES = {"law_error": "share of the other large-strain law (0 to 1)"}
_POLYNOMIAL = "c0 ... c4"


@dataclass(frozen=True, slots=True)
class _Value:
    """One parameter of one chain, ready to be compared with the same one of another."""

    name: str
    value: float
    number: Shown
    basis: str
    words: str


def chain_tables(page: Page) -> tuple[ChainTable, ...]:
    """Chains with the same stages in one table; values that differ are given as a range."""
    alike: dict[str, list[tuple[Entry[Chain], Applied]]] = {}
    for entry in page.book.of(Chain):
        applied = Applied.from_plain(json.loads(entry.record.stages))
        alike.setdefault(_shape(applied), []).append((entry, applied))
    largest_first = sorted(alike.values(), key=len, reverse=True)
    return tuple(
        _table(page, f"Chain {number}", members)
        for number, members in enumerate(largest_first, start=1)
    )


def told(chains: int, kinds: int) -> str:
    """How many chains are applied, and of how many kinds, in words.

    Examples
    --------
    >>> told(8, 1), told(8, 3), told(1, 1)
    ('8 chains, all of one kind', '8 chains of 3 kinds', 'one chain')
    """
    if chains == 1:
        return "one chain"
    return (
        f"{chains} chains, all of one kind" if kinds == 1 else f"{chains} chains of {kinds} kinds"
    )


def chain_table(page: Page, entry: Entry[Chain]) -> ChainTable:
    """One chain alone, under its own label."""
    applied = Applied.from_plain(json.loads(entry.record.stages))
    return _table(page, entry.record.label, [(entry, applied)])


def corrected(page: Page, circuits: tuple[Uid, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What was corrected in all of some circuits, and what was left off in any of them.

    Stages that only turn units or carry a doubt are no corrections.
    """
    on: dict[str, None] = {}
    off: dict[str, None] = {}
    for entry in page.book.of(Chain):
        if entry.record.circuit in circuits:
            for stage in Applied.from_plain(json.loads(entry.record.stages)).stages:
                words = _CORRECTIONS.get(kind_named(stage.kind).slot)
                if words:
                    (on if stage.on else off)[words] = None
    return tuple(words for words in on if words not in off), tuple(off)


def _shape(applied: Applied) -> str:
    return "; ".join(f"{stage.kind} {stage.on} {stage.reason}" for stage in applied.stages)


def _plainly(kind: str) -> str:
    return kind.rpartition("@")[0]


def _table(page: Page, label: str, members: list[tuple[Entry[Chain], Applied]]) -> ChainTable:
    first = members[0][1]
    rows = []
    for place, stage in enumerate(first.stages):
        values = [
            _values(page, entry.record, applied, applied.stages[place])
            for entry, applied in members
        ]
        rows.append(
            StageRow(
                _plainly(stage.kind),
                stage.on,
                stage.reason or kind_named(stage.kind).summary,
                tuple(_together(column) for column in zip(*values, strict=True)),
            )
        )
    circuits = dict.fromkeys(page.book.label(entry.record.circuit) for entry, _ in members)
    zero = chain_zeros.zeros_told(page, tuple(entry for entry, _ in members))
    return ChainTable(label, listed(list(circuits), most=40), tuple(rows), zero)


def _values(page: Page, record: Chain, applied: Applied, stage: Stage) -> list[_Value]:
    given = dict(stage.parameters)
    found = []
    for source in record.sources:
        if source.stage != stage.kind:
            continue
        if source.parameter == _POLYNOMIAL:
            found.append(_polynomial(given, source))
        elif source.parameter in given:
            found.append(_value(page, applied, stage, source, given[source.parameter]))
    return found


def _value(
    page: Page, applied: Applied, stage: Stage, source: ParameterSource, value: float
) -> _Value:
    name = source.parameter
    doubt = _expanded(applied, stage, name) or None
    like = _LIKE.get(name, name)
    if like in QUANTITIES:
        number = quantity_shown(like, value, doubt, page.system)
    else:
        number = page.number(value, doubt, _unit(stage, name))
    return _Value(
        _NAMES.get(name, name.removesuffix("_degc").replace("_", " ")),
        value,
        number,
        source.basis,
        source.words,
    )


def _unit(stage: Stage, name: str) -> str:
    units = {p.name: p.unit for p in kind_named(stage.kind).parameters}
    unit = units.get(name, "")
    return "" if unit in ("1", "V/V") else unit


def _expanded(applied: Applied, stage: Stage, name: str) -> float:
    """Expanded uncertainty of one parameter from everything that disturbs it."""
    inputs = {quantity.name: quantity for quantity in applied.inputs}
    total = Uncertain.exact(0.0)
    for influence in stage.influences:
        if influence.parameter == name:
            cause = inputs[influence.input_name]
            total = total + Uncertain.from_input(0.0, cause, influence.coefficient)
    return float(total.expanded(COVERAGE)) if total.inputs else 0.0


def _polynomial(given: dict[str, float], source: ParameterSource) -> _Value:
    unit = unit_shown("strain")
    powers = [given.get(f"c{n}", 0.0) / unit.factor for n in range(5)]
    while powers and powers[-1] == 0:
        powers.pop()
    text = "; ".join(significant_text(power) for power in powers) or "0"
    number = Shown(text, "", f"{unit.text}, by rising powers of °C")
    return _Value("curve", powers[0] if powers else 0.0, number, source.basis, source.words)


def _together(column: tuple[_Value, ...]) -> Parameter:
    """One row for the same parameter of several chains."""
    first = column[0]
    numbers = {value.number for value in column}
    words = "; ".join(dict.fromkeys(value.words for value in column if value.words))
    basis = " and ".join(dict.fromkeys(value.basis for value in column))
    basis = "assumed" if any(value.basis == "assumed" for value in column) else basis
    if len(numbers) == 1:
        return Parameter(first.name, first.number, basis, words)
    low = min(column, key=lambda value: value.value).number
    high = max(column, key=lambda value: value.value).number
    if low.value == high.value:
        return Parameter(first.name, Shown(low.value, "", low.unit), basis, words)
    return Parameter(first.name, Shown(f"{low.value} to {high.value}", "", low.unit), basis, words)
