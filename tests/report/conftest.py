"""An invented report, small or large: nothing in it was measured."""

from collections.abc import Callable

import numpy as np
import pytest

from gaugewright.present import captions
from gaugewright.present.drawings import BarDrawn, GaugeDrawn, gauge_map
from gaugewright.present.numbers import Shown, shown
from gaugewright.present.plots import Axis, Curve, Plot, Point, Void, drawn
from gaugewright.report.document import (
    Answer,
    ChainTable,
    Figure,
    FileRow,
    FindingRow,
    GateRow,
    Gates,
    GaugeRow,
    Parameter,
    ProvenanceRow,
    RegisterRow,
    ReportDocument,
    SignatureRow,
    StageRow,
    TitleBlock,
    YieldRow,
)

ZERO = "before test, 20 June 2031, 10:02"
GATES = ("bonded", "wired", "protected", "caged", "before pour", "after pour", "before test")
STANDS = captions.stands_on(ZERO, ["lead loss", "gauge factor", "thermal output"], ["drift"])
HASH = "9f2c61a07be4d35580c1f6e29ab7d3344e0f8a6c5b1d27e9f03a4c8b6d5e7f10"


@pytest.fixture(name="make_document")
def _make_document() -> Callable[..., ReportDocument]:
    return invented_document


def invented_document(gauges: int = 16, **changes: object) -> ReportDocument:
    labels = [f"G{n + 1:02d}" for n in range(gauges)]
    states = ["sound"] * gauges
    states[min(7, gauges - 1)] = "lost"
    states[min(9, gauges - 1)] = "watch"
    states[min(12, gauges - 1)] = "doubtful"
    fields: dict[str, object] = {
        "title": "Report 3: what the bars did",
        "campaign": "Beam T2, tension stiffening in four-point bending",
        "laboratory": "Structures hall of an invented institute",
        "invented": True,
        "prepared": "23 June 2031, 11:02",
        "prepared_epoch": 1_939_978_920,
        "software": "gaugewright 0.1.0",
        "lead": "Bar 2 began to yield at the third crack at 163.90 ± 0.80 kN; 158 kN was "
        "predicted. Between cracks the concrete carried up to a fifth of the force.",
        "answers": _answers(),
        "title_block": TitleBlock(
            "T2, test of 20 June 2031",
            "Report, revision 3",
            "tension positive; mm, kN, MPa, µε",
            ZERO,
            captions.coverage_text(0.95),
            "C3: 5 corrections on, 2 off with reason",
            "hashes agree, 23 June 2031, 11:01",
            "23 June 2031, 11:02, A. Kaya",
        ),
        "gauges": tuple(
            GaugeRow(
                label,
                state,
                f"bar {1 + n % 3}, {1375 + 50 * n} mm",
                "3 o'clock" if n % 2 else "9 o'clock",
                "5 mm grid, three wires",
                Shown("2.09", "0.02"),
                shown(119.8 + 0.05 * (n % 5), 0.31, "Ω"),
                "lot 4471",
                f"unit 1, {n + 1}",
            )
            for n, (label, state) in enumerate(zip(labels, states, strict=True))
        ),
        "gates": Gates(
            GATES,
            tuple(
                GateRow(
                    label,
                    ("pass", "pass", "pass", "pass", "fail" if state == "doubtful" else "pass")
                    + (("fail", "") if state == "lost" else ("pass", "pass")),
                    "joint B made again before the pour" if state == "doubtful" else "",
                )
                for label, state in zip(labels, states, strict=True)
            ),
        ),
        "corrections": _corrections(labels),
        "figures": _figures(labels, states),
        "yields": _yields(),
        "findings": _findings(),
        "register": (
            RegisterRow(
                labels[7 % gauges],
                "lost",
                "23 May 2031, after the pour",
                "insulation 0.4 MΩ at gate after pour; the reading ran away within an hour",
            ),
            RegisterRow(
                labels[12 % gauges],
                "doubtful",
                "20 June 2031, 12:50",
                "noise of 14 µε from 12:50, cause open",
            ),
        ),
        "cautions": (
            "Stress is given only up to the first yield; after it, strain alone.",
            "Between 1 675 and 1 775 mm one wide interval replaces two, because G08 is lost.",
            "Strain is local to the gauge; the mean between cracks is lower.",
        ),
        "files": (
            FileRow("T2 main test.csv", HASH, "1 204 331", "1 204 329", "2"),
            FileRow("T2 load cell.csv", HASH[::-1], "1 204 331", "1 204 331", "0"),
        ),
        "provenance": (
            ProvenanceRow("Software", "gaugewright 0.1.0, numpy 2.3.1, scipy 1.16.0"),
            ProvenanceRow("Chain C3", HASH, exact=True),
            ProvenanceRow("Journal head", HASH[3:] + HASH[:3], exact=True),
            ProvenanceRow("Entries in the journal", "1 208, unbroken"),
        ),
        "signatures": (
            SignatureRow(
                "A. Kaya (invented)",
                "I made these results",
                "23 June 2031, 10:40",
                HASH[5:] + HASH[:5],
                "the results have changed since: 1 of the 14 signed",
            ),
            SignatureRow(
                "Š. Ünal (invented)",
                "I checked the loads at yield by hand",
                "23 June 2031, 10:52",
                HASH[7:] + HASH[:7],
                "holds for the 14 results",
            ),
        ),
    }
    return ReportDocument(**(fields | changes))  # type: ignore[arg-type]


def _answers() -> tuple[Answer, ...]:
    return (
        Answer(
            "At which load does bar 2 begin to yield, within 2 kN?",
            "Bar 2 began to yield at the third crack.",
            "sound",
            shown(163.9, 0.8, "kN"),
            "zero of the load cell, 58\N{NO-BREAK SPACE}% of the variance",
            "a check of the load cell's zero before and after the test",
            "G14, G10 and G07, which agree within their uncertainty",
        ),
        Answer(
            "How large is the bond stress near a crack?",
            "Bond reached its highest value between 25 and 75 mm from the third crack.",
            "watch",
            shown(3.71, 0.24, "MPa"),
            "distance between the two gauges, 71\N{NO-BREAK SPACE}% of the variance",
            "measuring as-built places to 0.2 mm",
        ),
        Answer(
            "Is the curvature at section A–A linear up to yield?",
            "This can't be answered: the gauges on bars 4 and 5 were lost at the pour.",
            "lost",
        ),
    )


def _corrections(labels: list[str]) -> tuple[ChainTable, ...]:
    stages = (
        StageRow("integrity", True, "always: readings outside the range become missing"),
        StageRow(
            "reference",
            True,
            "zero before test, on the connection in use",
            (
                Parameter(
                    "bridge ratio at zero",
                    shown(-0.1234, 0.0021, "mV/V", sign=True),
                    "measured",
                    "zero Z12, 60 s mean",
                ),
            ),
        ),
        StageRow(
            "lead loss",
            True,
            "leads were measured at gate wired; no shunt scaling beside it",
            (
                Parameter("lead resistance", shown(1.34, 0.02, "Ω"), "measured", "gate wired"),
                Parameter("temperature of the leads", shown(21.0, 3.0, "°C"), "assumed"),
            ),
        ),
        StageRow(
            "gauge factor",
            True,
            "from the pack",
            (Parameter("gauge factor", Shown("2.09", "0.02"), "stated", "pack 4471"),),
        ),
        StageRow("transverse", False, "uniaxial strain in a bar: the pack's factor holds"),
        StageRow(
            "thermal output",
            True,
            "air moved by 2.1 K during the test",
            (
                Parameter(
                    "thermal output", shown(4.2, 1.8, "µε", sign=True), "calculated", "pack curve"
                ),
            ),
        ),
        StageRow("drift", False, "zeros before and after agree within their uncertainty"),
    )
    return (
        ChainTable("Chain C3", captions.listed(labels), stages),
        ChainTable("Chain C4", "G17", stages[:4]),
    )


def _figures(labels: list[str], states: list[str]) -> tuple[Figure, ...]:
    bars = tuple(
        BarDrawn(
            f"bar {b + 1}",
            tuple(
                GaugeDrawn(label, 1.375 + 0.05 * n, state, below=n % 2 == 1)
                for n, (label, state) in enumerate(zip(labels, states, strict=True))
                if n % 3 == b
            ),
        )
        for b in range(min(3, len(labels)))
    )
    strain = np.linspace(0, 2676, 3000)
    load = 163.9 * strain / 2676 + 0.4 * np.sin(strain / 9)
    load[1200:1260] = np.nan
    strain = np.concatenate((strain, np.linspace(2676, 3900, 500)))
    load = np.concatenate((load, 164.0 + 0.3 * np.sin(np.linspace(0, 60, 500))))
    curves = (
        Curve("predicted before the test", 1.05 * strain, 0.965 * load, "b"),
        Curve("G14, 5 mm from a crack", strain, load, "a", 12 + 0.02 * strain, "x"),
        Curve("G13, 45 mm from it", 0.9 * strain, load, "c"),
    )
    point = Point(2676, 163.9, "yield begins", 25, 0.8, guides=True, hollow=True)
    loads = Plot(
        Axis("strain in the bar", "µε"), Axis("load", "kN"), "Load against strain", curves, (point,)
    )
    x = 1375 + 50.0 * np.arange(11)
    y = np.array([1195, 1330, 1340, 1195, 1205, 1385, 1300, np.nan, 1262, 1460, 1228.0])
    profile = Plot(
        Axis("x from the datum", "mm"),
        Axis("strain", "µε"),
        "Strain along bar 2 at 90 kN",
        (Curve("", x, y, "a", np.full(11, 9.0)),),
        tuple(
            Point(a, b, f"G{n + 1:02d}", None, 9.0)
            for n, (a, b) in enumerate(zip(x, y, strict=True))
            if np.isfinite(b)
        ),
        (Void(1725, "G08 lost"),),
        ((1450, "crack"), (1640, "crack"), (1820, "crack")),
    )
    return (
        Figure(
            gauge_map(bars, "Gauge map", width=640, where="paper"),
            "Gauge map",
            "Bars drawn to scale along their length, broken at both ends.",
            "Gauges along three bars with their states",
            "Shape tells the state; the table says it in words.",
            "gauges",
        ),
        Figure(
            drawn(loads, 640, 380, "paper"),
            "G14 and G13, the same bar 50 mm apart",
            "The line is every scan; nothing is smoothed.",
            loads.alt,
            STANDS,
        ),
        Figure(
            drawn(profile, 640, 330, "paper"),
            "Strain along bar 2 at 90 kN",
            "Mean of 60 s. The gauge factor is shared, so it drops out of the differences.",
            profile.alt,
            STANDS,
        ),
    )


def _yields() -> tuple[YieldRow, ...]:
    criterion = "leaves the straight line by its own uncertainty"
    return (
        YieldRow(
            "G14",
            "sound",
            criterion,
            shown(163.9, 0.8, "kN"),
            shown(2676, 25, "µε"),
            "zero of the load cell",
        ),
        YieldRow(
            "G10", "watch", criterion, shown(166.2, 12.1, "kN"), shown(2650, 140, "µε"), "noise"
        ),
        YieldRow("G13", "doubtful", criterion, note="below yield to the last load step"),
        YieldRow("G08", "lost", criterion, note="insulation 0.4 MΩ; no value is given"),
    )


def _findings() -> tuple[FindingRow, ...]:
    return (
        FindingRow("G13", "Noise grew at 12:50", "14 µε", "5 µε", "open"),
        FindingRow(
            "G08",
            "Reading runs away",
            "220 µε/h",
            "20 µε/h",
            "excluded from 23 May, A. Kaya: wet at the splice",
        ),
        FindingRow(
            "G10",
            "Jump while the load stood still",
            "31 µε",
            "10 µε",
            "accepted, A. Kaya: crack nearby at 14:02",
        ),
    )
