"""What a report holds beside answers: installation, zeros, survival, instruments, deviations."""

from gaugewright.records import Entry
from gaugewright.records.benching import BenchOverride
from gaugewright.records.gauges import BenchStep
from gaugewright.records.proof import Meter
from gaugewright.records.sensors import Sensor
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.bench.lists import bench_lists
from gaugewright.services.laboratory.survival_lists import survival_lists
from gaugewright.services.plan.lists import plan_lists
from gaugewright.services.showing.listings import Listing, named
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import listing_part
from gaugewright.services.wiring.lists import wiring_lists
from gaugewright.services.zeros.lists import zero_lists

__all__ = ["installation_parts", "instrument_parts"]

# What a sheet has the width for.
_SHIFTS = ("circuit", "from", "to", "warmer", "left", "told")
_INSTRUMENTS = ("recorder", "serial", "gain", "filter’s delay", "certificate")


def installation_parts(page: Page) -> tuple[Part, ...]:
    """How the gauges were put on, what became of their zeros, and how many came through."""
    bench = bench_lists(page.book, page.zone)
    zeros = zero_lists(page)
    survival = survival_lists(page)
    parts = [
        _titled("Installation", named(bench, "sheet"), page, "When, and by whom."),
        _titled("Protection", named(bench, "covers"), page, ""),
        _titled("Supplies", named(bench, "supplies"), page, "Batches; in date or not."),
        _titled("Zeros and segments", named(zeros, "shifts"), page, "", _SHIFTS),
        _titled("Came through", named(survival, "gates"), page, ""),
        _titled("What the lost share", named(survival, "common"), page, ""),
        *_deviations(page, bench),
    ]
    return tuple(part for part in parts if part.table is None or part.table.rows)


def _titled(
    title: str, listing: Listing, page: Page, note: str, columns: tuple[str, ...] = ()
) -> Part:
    part = listing_part(page, listing, columns=columns)
    return Part(title, note or part.note, table=part.table)


def _deviations(page: Page, bench: tuple[Listing, ...]) -> list[Part]:
    """Where the work left the plan: places moved, steps put aside, remarks at the bench."""
    lines = [
        *_moved(page),
        *_put_aside(page, named(bench, "parked")),
        *_overridden(page),
        *_remarks(page),
    ]
    if not lines:
        return []
    return [Part("Deviations", "Where the work left the plan, as recorded.", lines=tuple(lines))]


def _moved(page: Page) -> list[str]:
    """Stations built farther from their plan than the doubt of measuring them."""
    stations = named(plan_lists(page.book, page.system), "stations")
    heads = [column.head for column in stations.columns]
    at = next((n for n, head in enumerate(heads) if head.startswith("moved")), None)
    if at is None:
        return []
    told = []
    for row in stations.rows:
        moved = row[at]
        if isinstance(moved, float) and moved != 0.0:
            number = page.number(abs(moved), None, "m").text
            told.append(f"Station {row[0]} was built {number} from its planned place.")
    return told


def _put_aside(page: Page, listing: Listing) -> list[str]:
    return [f"{row[0]}, {row[1]}: put aside, {row[2]}." for row in listing.rows]


def _overridden(page: Page) -> list[str]:
    """Steps that stand by a named person's word although a limit ran out."""
    told = []
    for entry in page.book.of(BenchOverride):
        step = page.book.found(entry.record.step)
        of = "" if step is None else f"{page.book.label(step.record.gauge)}, {step.record.step}: "
        who = page.book.label(entry.record.person)
        told.append(f"{of}{entry.record.what} stands by the word of {who}: {entry.record.reason}.")
    return told


def _remarks(page: Page) -> list[str]:
    """What people wrote down at the bench, in their own words."""
    return [
        f"{page.book.label(entry.record.gauge)}, {entry.record.step}: {entry.record.note}"
        for entry in page.book.of(BenchStep)
        if entry.record.note.strip()
    ]


def instrument_parts(page: Page) -> tuple[Part, ...]:
    """Recorders, other sensors and meters with their certificates."""
    wiring = wiring_lists(page.book, page.zone, page.system)
    return (
        _titled("Recorders", named(wiring, "recorders"), page, "", _INSTRUMENTS),
        Part("Other sensors", table=_sensors(page)),
        Part("Meters", "Hand meters of the gates.", table=_meters(page)),
    )


def _sensors(page: Page) -> PartTable:
    rows = tuple(_sensor(page, entry) for entry in page.book.of(Sensor))
    heads = ("Sensor", "Reads", "Gain", "Certificate")
    return PartTable(heads, rows, "No other sensor is entered.", wide=(3,))


def _sensor(page: Page, entry: Entry[Sensor]) -> tuple[str, str, str, str]:
    told = entry.record
    gain = page.number(told.gain.value, told.gain.plus_minus or None, "").text.strip()
    return told.label, told.quantity.replace("_", " "), gain, told.certificate or "none told"


def _meters(page: Page) -> PartTable:
    rows = tuple(
        (
            entry.record.label,
            entry.record.unit,
            f"{100 * entry.record.error_share:g} % + {entry.record.error_fixed:g} "
            f"{entry.record.unit}",
            entry.record.certificate or "none told",
        )
        for entry in page.book.of(Meter)
    )
    heads = ("Meter", "Unit", "Limit of error", "Certificate")
    return PartTable(heads, rows, "No meter is entered.", wide=(3,))
