"""The demo with oddities put into its raw files: each is found at its gauge, and nowhere else."""

import numpy as np
import pytest

from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.campaign.book import Book
from gaugewright.services.demo import demo
from gaugewright.sources import demo_campaign
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.long

HEAD = 2  # lines of names and units in recorder A's files
STEPPED, SPIKED, DROPPED, NOISY, TURNED = "A03", "A05", "A07", "A09", "A16"
TWINS = ("A13", "A14")
SWAPPED = ("A06", "A15")  # a bar in tension with one in compression
BAD_ANYHOW = {"L1-M-T", "L2-M-U", "L3-R6-S"}  # told by the demo's own truth


def tampered(folder) -> None:
    """Put the oddities in; rows are of the loading before any bar yields."""
    rng = np.random.default_rng(77)
    for path in sorted(folder.glob("*_A.csv")):
        lines = path.read_text(encoding="utf-8").splitlines()
        names = lines[0].split(",")
        rows = [line.split(",") for line in lines[HEAD:]]
        column = {name: names.index(name) for name in names}

        def add(name, first, last, amount, rows=rows, column=column) -> None:
            amounts = np.broadcast_to(amount, last - first)
            for row, extra in zip(rows[first:last], amounts, strict=True):
                row[column[name]] = f"{float(row[column[name]]) + extra:.5f}"

        if path.name == "test_A.csv":
            add(STEPPED, 3000, len(rows), 0.03)
            for place in (2500, 9300):
                add(SPIKED, place, place + 1, -0.04)
            for row in rows[4000:4025]:
                row[column[DROPPED]] = "5.00000"
            add(NOISY, 2000, 3600, 1.5e-3 * rng.normal(size=1600))
        for row in rows:
            value = float(row[column[TURNED]])
            row[column[TURNED]] = f"{-value:.5f}"
            row[column[TWINS[1]]] = row[column[TWINS[0]]]
            one, two = (column[name] for name in SWAPPED)
            row[one], row[two] = row[two], row[one]
        text = "\n".join([*lines[:HEAD], *(",".join(row) for row in rows)]) + "\n"
        path.write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Gauge by column, and findings as (gauge, code, severity)."""
    with pytest.MonkeyPatch.context() as patch:
        write = demo_campaign.write_raw_files

        def write_and_tamper(folder, **options):
            made = write(folder, **options)
            tampered(folder)
            return made

        patch.setattr(demo_campaign, "write_raw_files", write_and_tamper)
        made = demo.run(tmp_path_factory.mktemp("odd") / "campaign")
    with CampaignStore.open(made.campaign, working_context(), read_only=True) as store:
        book = Book.read(store)
        gauge_of = {}
        for connection in book.of(Connection):
            channel = book.entry(connection.record.channel, Channel).record
            for circuit in book.of(BridgeCircuit):
                gauges = book.gauges_of(circuit)
                if circuit.uid == connection.record.subject and len(gauges) == 1:
                    gauge_of[channel.column] = gauges[0].record.label
        told = [
            (book.entry(f.record.subject, Gauge).record.label, f.record.code, f.record.severity)
            for f in book.of(Finding)
        ]
    return gauge_of, told


@pytest.mark.parametrize(
    ("columns", "code"),
    [
        ((STEPPED,), "lone step"),
        ((SPIKED,), "spike"),
        ((DROPPED,), "dropout"),
        ((NOISY,), "noisier"),
        ((TURNED, *SWAPPED), "reversed sign"),
        (TWINS, "shared noise"),
        (SWAPPED, "exchanged"),
    ],
)
def test_each_oddity_is_found_at_its_gauge_and_nowhere_else(found, columns, code) -> None:
    gauge_of, told = found
    assert {gauge for gauge, kind, _ in told if kind == code} == {gauge_of[c] for c in columns}, (
        told
    )


def test_no_sound_gauge_is_called_doubtful(found) -> None:
    gauge_of, told = found
    touched = {gauge_of[c] for c in (STEPPED, DROPPED, TURNED, *TWINS, *SWAPPED)}
    bad = {gauge for gauge, _, severity in told if severity is not Severity.NOTE}
    assert bad <= touched | BAD_ANYHOW, told
