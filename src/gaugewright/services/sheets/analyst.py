"""For who works with the numbers: where exactly, since which zero, and what each column means."""

from gaugewright.present.units_shown import quantity_shown
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Zero
from gaugewright.records.readings import Recording
from gaugewright.records.results import Result
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.archiving.tables import key_tables
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import Said

__all__ = ["said"]

_RULES = (
    "All numbers in the files are SI: strain as a ratio, stress in Pa, force in N, length in m.",
    "Tension is positive. An empty cell is a reading that is bad, left out, or before its zero.",
    "strain_… is mechanical strain: what causes stress. Free thermal strain is out of it. "
    "Comparison with concrete and plane sections take total strain.",
    "A gauge shows the strain under its grid, at its place; between cracks and near ribs the "
    "strain of a bar changes within centimetres.",
    "Uncertainties are expanded, with the coverage told beside them. Differences of gauges of "
    "one lot are better known than each of them: budgets.csv says which causes they share.",
    "Numbers as received are in the recordings' own units and untouched; columns.csv tells them.",
)


def said(page: Page) -> Said:
    """What stands on the analyst's sheet."""
    lead = (
        f"{len(page.book.of(Gauge))} gauges, {len(page.book.of(Result))} results. The files "
        "beside this sheet hold every number; this sheet says where exactly, and since when."
    )
    tables = key_tables(page.book)
    return Said(
        lead,
        (
            Part("Rules of the numbers", lines=_RULES),
            Part("Positions", "As built, with the doubt as measured.", table=_positions(page)),
            Part("Zeros", "Strain counts from the zero before the test.", table=_zeros(page)),
            Part("Results", f"Expanded for {100 * COVERAGE:g} %.", table=_results(page)),
            Part(
                "Files of tables",
                "Each as CSV and as Parquet.",
                table=PartTable(
                    ("File", "Rows", "What is in it"),
                    tuple((t.name, str(len(t.rows)), t.title) for t in tables),
                    wide=(2,),
                    right=(1,),
                ),
            ),
            *(
                Part(
                    f"Columns of {table.name}",
                    table=PartTable(
                        ("Column", "Unit", "Meaning"),
                        tuple((c.name, c.unit or "–", c.meaning) for c in table.columns),
                        wide=(2,),
                    ),
                )
                for table in tables
            ),
            Part("Recordings", table=_recordings(page)),
        ),
    )


def _positions(page: Page) -> PartTable:
    rows = []
    for gauge in page.book.of(Gauge):
        station = page.book.station_of(gauge).record
        planned = quantity_shown("positions", station.distance_planned, None, page.system).text
        built = station.distance_built
        angle = station.angle_built.value if station.angle_built else station.angle_planned
        rows.append(
            (
                gauge.record.label,
                page.state(gauge).value,
                page.book.label(station.bar),
                planned,
                "not measured" if built is None else page.stated("positions", built).text,
                page.number(angle, None, "rad").text,
                station.datum,
            )
        )
    heads = ("Gauge", "State", "Bar", "Planned", "Built", "Clock angle", "Counted from")
    return PartTable(heads, tuple(rows), "No gauge.", wide=(6,), right=(3, 4, 5))


def _zeros(page: Page) -> PartTable:
    rows = []
    for entry in page.book.of(Zero):
        connection = page.book.entry(entry.record.connection, Connection).record
        circuit = page.book.found(connection.subject)
        if circuit is None or not isinstance(circuit.record, BridgeCircuit):
            continue
        ratio = page.stated("bridge_ratio", entry.record.bridge_ratio).text
        temperature = page.stated("temperature_degc", entry.record.temperature).text
        moment = page.moment(entry.record.measured)
        rows.append((circuit.record.label, entry.record.kind.value, ratio, temperature, moment))
    heads = ("Circuit", "Zero", "Bridge ratio", "Temperature", "Read")
    return PartTable(heads, tuple(rows), "No zero was taken.", wide=(4,), right=(2, 3))


def _results(page: Page) -> PartTable:
    rows = []
    for entry in page.book.of(Result):
        shown = page.result(entry.record)
        value = entry.record.note if shown is None else shown.text
        rows.append((entry.record.label, value, entry.record.criterion, entry.record.zero or "–"))
    heads = ("Result", "Value", "By", "Zero")
    return PartTable(heads, tuple(rows), "Nothing was reduced yet.", wide=(2,))


def _recordings(page: Page) -> PartTable:
    rows = [
        (
            e.record.label,
            e.record.file_name,
            f"{e.record.rows}",
            f"{e.record.rows_reported}",
        )
        for e in page.book.of(Recording)
    ]
    heads = ("Recording", "File", "Rows", "Not kept")
    return PartTable(heads, tuple(rows), "No recording.", wide=(1,), right=(2, 3))
