"""Which limits and assumptions does a campaign stand on, and where does each reach a number?"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from gaugewright.present.numbers import Shown, significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records import Entry, kind_said
from gaugewright.records.proof import GateCheck, Limit, Zero
from gaugewright.records.readings import Finding
from gaugewright.records.results import BudgetInput, Chain, Result
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.laboratory import shipped_records
from gaugewright.services.showing.page import Page
from gaugewright.services.tracing.budget import budget_of, source_words

__all__ = ["AssumptionRow", "LimitRow", "assumption_rows", "limit_rows", "summary"]

# Codes of the findings that a limit stands behind; a failed gate tells which by its unit.
_CODES = {
    "over-range scans": ("over-range", "no reading"),
    "frozen scans": ("frozen",),
    "falling away": ("falling away",),
    "local bending share": ("differs from similar gauges",),
    "silent share": ("silent",),
}
GATE_FAILED = "gate failed"
_GATE_LIMITS = ("gauge resistance from nominal", "insulation after pour")
CONTACT = "contact change"


@dataclass(frozen=True, slots=True)
class LimitRow:
    """A limit in force: ``changed`` tells what was shipped in its place, "" where nothing was."""

    label: str
    meaning: str
    number: Shown
    source: str
    unverified: bool
    version: int
    changed: str
    reaches: str

    @property
    def is_used(self) -> bool:
        """Whether it reaches anything in this campaign."""
        return bool(self.reaches)


@dataclass(frozen=True, slots=True)
class AssumptionRow:
    """A value that nobody measured or typed, where it stands, and what it reaches."""

    what: str
    words: str
    reaches: str


def limit_rows(page: Page) -> tuple[LimitRow, ...]:
    """Every limit of the campaign: those that reach a number first, then in their own order."""
    shipped = {limit.label: limit for limit in shipped_records() if isinstance(limit, Limit)}
    rows = [_row(page, entry, shipped.get(entry.record.label)) for entry in page.book.of(Limit)]
    return tuple(sorted(rows, key=lambda row: not row.is_used))


def _row(page: Page, entry: Entry[Limit], shipped: Limit | None) -> LimitRow:
    limit = entry.record
    return LimitRow(
        limit.label,
        limit.meaning,
        _number(page, limit.quantity, limit.value, limit.unit),
        limit.source,
        limit.unverified,
        entry.version,
        _changed(page, limit, shipped),
        "; ".join(_reaches(page, entry)),
    )


def _changed(page: Page, limit: Limit, shipped: Limit | None) -> str:
    if shipped is None:
        return "the laboratory’s own"
    told = []
    if (limit.value, limit.unit) != (shipped.value, shipped.unit):
        number = _number(page, shipped.quantity, shipped.value, shipped.unit)
        told.append(f"shipped with {number.text}")
    if limit.source != shipped.source:
        told.append(f"shipped source: {shipped.source}")
    if limit.unverified != shipped.unverified:
        told.append("shipped as unverified" if shipped.unverified else "shipped as verified")
    return "; ".join(told)


def _number(page: Page, quantity: str, value: float, unit: str) -> Shown:
    """A limit in the unit a person reads it in; shares as per cent."""
    if unit == "1" and quantity.startswith("number_of"):
        return Shown(significant_text(value))
    if unit == "1" and quantity != "strain":
        return Shown(significant_text(100 * value), "", "%")
    if unit == "m" and "roughness" in quantity:
        return Shown(significant_text(value / 1e-6), "", "µm")
    if unit == "1/s":
        return Shown(significant_text(value * 3600 / 1e-6), "", "µε per hour")
    if quantity in QUANTITIES and QUANTITIES[quantity].unit == unit:
        return quantity_shown(quantity, value, None, page.system)
    return page.number(value, None, unit)


def _reaches(page: Page, entry: Entry[Limit]) -> Iterator[str]:
    """Results, gate verdicts, zeros and findings that a limit has a part in."""
    yield from _results(page, lambda line: line.source is not None and line.source.uid == entry.uid)
    if entry.record.label == CONTACT:
        yield from _carried(page)
    checks = [
        check
        for check in page.book.of(GateCheck)
        if any(ref.uid == entry.uid for ref in check.record.limits)
    ]
    if checks:
        yield _count(len(checks), "verdict at a gate", "verdicts at gates")
    findings = [f for f in page.book.of(Finding) if _stands_behind(entry.record.label, f.record)]
    if findings:
        yield _count(len(findings), "finding", "findings")


def _stands_behind(label: str, finding: Finding) -> bool:
    if finding.code == GATE_FAILED:
        return label == _GATE_LIMITS[finding.unit == "ohm"]
    return finding.code in _CODES.get(label, ())


def _carried(page: Page) -> Iterator[str]:
    """Zeros carried over by the allowance for remade contacts, and the results they reach."""
    carried = {
        zero.uid
        for zero in page.book.of(Zero)
        if zero.record.transfer is not None and zero.record.transfer.basis is Basis.ASSUMED
    }
    if carried:
        yield _count(len(carried), "zero carried over", "zeros carried over")
        yield from _results(
            page,
            lambda line: (
                line.input.startswith("transfer@")
                and line.source is not None
                and line.source.uid in carried
            ),
        )


def _results(page: Page, is_it: Callable[[BudgetInput], bool]) -> Iterator[str]:
    """How many results some causes are in, and in which they weigh most."""
    shares: dict[str, float] = {}
    for entry in page.book.of(Result):
        names = {line.input for line in entry.record.budget if is_it(line)}
        if not names:
            continue
        budget = budget_of(entry).budget(coverage=entry.record.coverage)
        lines = [line for line in budget.lines if line.input in names]
        shares[entry.record.label] = sum(budget.share(line) for line in lines)
    if shares:
        most = max(shares, key=lambda label: shares[label])
        yield (
            f"{_count(len(shares), 'result', 'results')}, most in {most}: "
            f"{significant_text(100 * shares[most], 2)} % of its variance"
        )


def _count(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def assumption_rows(page: Page) -> tuple[AssumptionRow, ...]:
    """Every value that stands in a chain or under a result and that nobody measured or typed."""
    found: dict[tuple[str, str], set[str]] = {}
    for chain in page.book.of(Chain):
        circuit = page.book.label(chain.record.circuit)
        for source in chain.record.sources:
            if source.basis == Basis.ASSUMED.value:
                stage = source.stage.rpartition("@")[0]
                what = f"{source.parameter.replace('_', ' ')} ({stage})"
                found.setdefault((what, source.words), set()).add(circuit)
    rows = [
        AssumptionRow(what, words, _count(len(circuits), "circuit’s chain", "circuits’ chains"))
        for (what, words), circuits in found.items()
    ]
    return (*rows, *_under_results(page))


def _under_results(page: Page) -> list[AssumptionRow]:
    """Assumed causes of results' uncertainty, by what they mean and where they came from."""
    causes = {
        (line.meaning, _without_owner(page, line))
        for entry in page.book.of(Result)
        for line in entry.record.budget
        if line.basis == Basis.ASSUMED.value
    }
    return [
        AssumptionRow(
            f"uncertainty: {meaning}",
            words,
            "; ".join(
                _results(
                    page,
                    lambda line, meaning=meaning, words=words: (  # type: ignore[misc]
                        line.basis == Basis.ASSUMED.value
                        and line.meaning == meaning
                        and _without_owner(page, line) == words
                    ),
                )
            ),
        )
        for meaning, words in sorted(causes)
    ]


def _without_owner(page: Page, line: BudgetInput) -> str:
    """The limit behind a cause, or the kind of record: zeros of many gauges are one assumption."""
    entry = page.book.found(line.source.uid) if line.source else None
    if entry is None:
        return "worked out from this campaign’s own readings"
    if isinstance(entry.record, Limit):
        return source_words(page.book, line.source)
    return f"told beside each {kind_said(entry.record)}"


def summary(limits: tuple[LimitRow, ...]) -> str:
    """How many limits there are, how many nobody has confirmed, how many were changed."""
    if not limits:
        return "This campaign holds no limits."
    unverified = sum(row.unverified for row in limits)
    changed = sum(bool(row.changed) for row in limits)
    used = sum(row.is_used for row in limits)
    return (
        f"{_count(len(limits), 'limit', 'limits')}, {used} of them in use here. "
        f"{unverified} unverified: nobody has shown where they come from. "
        f"{changed or 'None'} changed from what was shipped."
    )
