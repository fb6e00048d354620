"""Three full plans made in the browser from nothing: the demo's, a column in US units, a brace."""

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from playwright.sync_api import Browser, Page, expect

from gaugewright.records import label_of
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    Connection,
    Instrument,
    Lead,
    Topology,
)
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import working_context
from gaugewright.records.member import Concrete, Member, OutlineShape
from gaugewright.records.plain import to_plain
from gaugewright.records.proof import Meter
from gaugewright.records.sensors import Sensor
from gaugewright.records.specimen import Bar, Material, Question, Specimen, SpecimenKind, Station
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.store.campaign import CampaignStore
from tests.browser.plan_forms import begin, fill, kept
from tests.browser.served import SIZES, Served, barriers, opened, serving

pytestmark = [pytest.mark.full, pytest.mark.long]
PAGES = (
    "plan",
    "plan/place",
    "plan/sheet",
    *(f"plan/enter/{key}" for key in (*plan_entry.KINDS, *plan_entry.MANY)),
)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("campaigns")


@pytest.fixture(scope="module")
def served(home: Path) -> Iterator[Served]:
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept_in = tmp_path_factory.mktemp("browser") / "state.json"
    context = chromium.new_context()
    context.new_page().goto(served.address)
    context.storage_state(path=kept_in)
    context.close()
    return kept_in


def book_of(folder: Path) -> Book:
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        return Book.read(store)


def told(book: Book, plain: Any) -> Any:
    """A record as plain values, with labels where it names others and the digits that are typed."""
    if isinstance(plain, dict):
        return {name: told(book, value) for name, value in plain.items()}
    if isinstance(plain, list):
        return [told(book, value) for value in plain]
    if isinstance(plain, float):
        return f"{plain:.12g}"
    return book.label(plain) if isinstance(plain, str) else plain


def all_told(book: Book, kind: type) -> dict[str, Any]:
    """Every record of a kind by its label."""
    return {label_of(e.record): told(book, to_plain(e.record)) for e in book.of(kind)}


# The demo's own records, in the order in which a person types them.
TYPED = ("specimen", "material", "bar", "concrete", "member")
AFTER = ("instrument", "sensor", "meter", "person")
SAME = (
    *(Specimen, Material, Bar, Concrete, Member, Question, GaugePack, Gauge, Lead),
    *(BridgeCircuit, Instrument, Sensor, Meter),
)


def test_the_demos_plan_is_typed_in_and_is_the_demos(
    served: Served, paired: Path, chromium: Browser, home: Path, demo_campaign: Path
) -> None:
    demo = book_of(demo_campaign)
    with opened(chromium, state=paired) as (page, wrong):
        campaign = begin(page, served.base, "beam", "Beam in four-point bending (invented)", "si")
        for key in TYPED:
            for entry in demo.of(plan_entry.KINDS[key].record):
                typed_from(page, campaign, key, demo, entry)
        paste_stations(page, campaign, demo)
        for entry in demo.of(Question):
            typed_from(page, campaign, "question", demo, entry)
        for entry in demo.of(GaugePack):
            typed_from(page, campaign, "pack", demo, entry)
        put_gauges(page, campaign, demo)
        wire(page, campaign, demo)
        for key in AFTER:
            for entry in demo.of(plan_entry.KINDS[key].record):
                typed_from(page, campaign, key, demo, entry)
        page.goto(f"{campaign}/plan")
        expect(page.locator(".page-lead")).to_contain_text("30 stations are planned")
        expect(page.get_by_role("img", name="Gauges along their bars")).to_be_visible()
    assert wrong == []
    made = book_of(home / "beam")
    for kind in SAME:
        assert all_told(made, kind) == all_told(demo, kind), kind.__name__
    # Its stations are planned the same; nobody has measured them as built.
    theirs, ours = all_told(demo, Station), all_told(made, Station)
    not_built = {"distance_built": None, "angle_built": None}
    assert ours == {label: values | not_built for label, values in theirs.items()}


def typed_from(page: Page, campaign: str, key: str, book: Book, entry: Any) -> None:
    """Type a record of the demo into its form."""
    kind = plan_entry.KINDS[key]
    texts = plan_entry.texts_of(kind, book, entry, "si")
    fill(page, campaign, key, texts)
    kept(page, entry.record.label)


def paste_stations(page: Page, campaign: str, demo: Book) -> None:
    """The list of stations pasted as a spreadsheet has it: a title, and no word on the datum."""
    rows = ["GAUGE LIST", "", "Station\tBar\tDistance (mm)\tAngle (deg)\tDatum"]
    for entry in demo.of(Station):
        record = entry.record
        at, angle = record.distance_planned * 1e3, math.degrees(record.angle_planned)
        rows.append(
            f"{record.label}\t{demo.label(record.bar)}\t{at:.6g}\t{angle:.6g}\t{record.datum}"
        )
    page.goto(f"{campaign}/plan/sheet")
    page.get_by_label("Cells").fill("\n".join(rows))
    page.get_by_role("button", name="Read it").click()
    expect(page.locator(".notice").first).to_contain_text("“GAUGE LIST”: taken as a title")
    page.get_by_role("button", name="Keep 30 stations").click()
    kept(page, "L1-M-T")


ARMS = ("P-1", "P-2", "P-3")


def put_gauges(page: Page, campaign: str, demo: Book) -> None:
    """Gauges pack by pack at many stations at once; the arms of the rosette one by one."""
    long, short = (entry.record.label for entry in demo.of(GaugePack))
    labels = [entry.record.label for entry in demo.of(Gauge)]
    pairs = [label for label in labels if label[0] in "LC" and "-R" not in label]
    row = [label for label in labels if "-R" in label and label[0] == "L"]
    for pack, stations in ((long, pairs), (short, row)):
        fill(page, campaign, "gauges", {"pack": pack, "stations": "; ".join(stations)})
        kept(page, stations[0])
    for label in ARMS:
        typed_from(page, campaign, "gauge", demo, demo.labelled(Gauge, label))
    page.goto(f"{campaign}/plan/enter/gauges")
    expect(page.locator('[name="stations"]')).to_have_value("P-F; P-R; D-0")
    fill(page, campaign, "gauges", {"pack": short})
    kept(page, "P-F")


def wire(page: Page, campaign: str, demo: Book) -> None:
    """Quarter bridges of each recorder at once; the rosette, which a dummy compensates, after."""
    alone = [c.record.label for c in demo.of(BridgeCircuit) if c.record.label[0] != "P"]
    for first, gauges in (
        ("L1-M-T", [label for label in alone if "-R" not in label and label != "D-0"]),
        ("L3-R1-S", [label for label in alone if "-R" in label or label == "D-0"]),
    ):
        lead = demo.labelled(Lead, f"cable {first}")
        texts = plan_entry.texts_of(plan_entry.KINDS["lead"], demo, lead, "si")
        bridge = demo.labelled(BridgeCircuit, first)
        arms = plan_entry.texts_of(plan_entry.KINDS["circuit"], demo, bridge, "si")
        wanted = {name: text for name, text in texts.items() if name not in ("label", "colours")}
        wanted |= {name: text for name, text in arms.items() if name.startswith("completion")}
        fill(page, campaign, "circuits", wanted | {"gauges": "; ".join(gauges)})
        kept(page, f"cable {gauges[0]}")
    for label in (*ARMS, "P-FR"):
        typed_from(page, campaign, "lead", demo, demo.labelled(Lead, f"cable {label}"))
        typed_from(page, campaign, "circuit", demo, demo.labelled(BridgeCircuit, label))


def test_a_circular_column_in_us_units(
    served: Served, paired: Path, chromium: Browser, home: Path, tmp_path: Path
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        campaign = begin(page, served.base, "column", "Circular column (invented)", "us")
        question = {"label": "yield", "text": "At which load does a bar yield?"}
        fill(page, campaign, "question", question | {"quantity": "yield load", "wanted": "2"})
        kept(page, "yield")
        curvature = {"label": "curvature", "text": "How much does it bend?"}
        fill(page, campaign, "question", curvature | {"quantity": "curvature", "load": "150 kip"})
        kept(page, "curvature")
        specimen = {"label": "C4", "kind": "cast member", "length": "120", "width": "16"}
        fill(page, campaign, "specimen", specimen | {"height": "16"})
        kept(page, "C4")
        fill(page, campaign, "material", STEEL_US)
        kept(page, "grade 60")
        labels = "; ".join(f"B{n}" for n in range(1, 9))
        bar = {"label": labels, "specimen": "C4", "material": "grade 60", "size": "#6"}
        fill(page, campaign, "bar", bar | {"length": "118"})
        kept(page, "B1, B2, B3")
        concrete = {"label": "mix", "compressive_strength": "5.1 ± 0.4 (k=2)"}
        fill(page, campaign, "concrete", concrete)
        kept(page, "mix")
        fill(page, campaign, "member", column_member())
        kept(page, "C4")
        steps = {"label": "test", "specimen": "C4"}
        for number, load in enumerate((50, 100, 200, 400), start=1):
            steps |= {f"steps.{number}.label": f"{load} kip", f"steps.{number}.load": str(load)}
        fill(page, campaign, "protocol", steps)
        kept(page, "test")
        place_by_tap(page, campaign)
        send_workbook(page, campaign, tmp_path)
        fill(page, campaign, "pack", PACK)
        kept(page, "350")
        page.goto(f"{campaign}/plan/enter/gauges")
        page.get_by_label("Pack").select_option("350")
        page.get_by_role("button", name="Place the gauges").click()
        kept(page, "B1-M")
        leads = {"wires": "3", "length": "40 ft", "conductor": "AWG 26 ± 3 %"}
        fill(page, campaign, "circuits", leads | {"completion": "350 ± 0.05 %"})
        kept(page, "cable B1-M, B1-M")
        read_by(page, campaign, "Recorder", 4)
        fill(page, campaign, "wired", {"at": "2026-10-13 08:00", "unit": "mV/V"})
        expect(page.locator(".undo")).to_contain_text("Kept")
        page.goto(f"{campaign}/plan")
        expect(page.locator(".page-lead")).to_contain_text("4 stations are planned")
        column_predicted(page, campaign)
    assert wrong == []
    book = book_of(home / "column")
    assert len(book.of(Bar)) == 8
    number_six = book.labelled(Bar, "B1").record
    assert number_six.area is not None
    # #6 by ASTM A615: 0.44 square inches.
    assert number_six.area.value == pytest.approx(0.44 * 0.0254**2)
    assert number_six.area.basis is Basis.STATED
    member = book.labelled(Member, "C4").record
    assert member.outline.shape is OutlineShape.CIRCLE
    assert member.outline.height.value == pytest.approx(16 * 0.0254)
    assert member.axial_share == -1.0
    assert member.load_points == ()
    assert member.eccentricity is not None
    assert member.eccentricity.value == pytest.approx(-4 * 0.0254)
    places = {s.record.label: s.record.distance_planned for s in book.of(Station)}
    assert places["B1-M"] == pytest.approx(60 * 0.0254)
    assert places["B5-M"] == pytest.approx(60 * 0.0254)
    assert places["B1-W"] == pytest.approx(42.5 * 0.0254)
    assert len(book.of(Connection)) == 4
    # 40 ft of AWG 26: 0.0159 inch of copper, 1/58 ohm mm²/m.
    section = math.pi / 4 * (0.4049) ** 2
    lead = book.of(Lead)[0].record
    assert lead.resistance.value == pytest.approx(12.192 / 58 / section, rel=1e-3)


STEEL_US = {
    "label": "grade 60",
    "law": "bilinear",
    "elastic_modulus": "29000 ± 300 (k=2)",
    "poisson_ratio": "0.29 ± 0.01 (limit)",
    "thermal_expansion": "6.5 ± 0.2 (limit)",
    "yield_strength": "68 ± 1.5 (k=2)",
}
PACK = {
    "label": "350",
    "lot": "R2-77 (invented)",
    "gauge_resistance": "350 ± 1.05 (limit)",
    "gauge_factor": "2.08 ± 1 % (k=2)",
    "transverse_sensitivity": "0.4 ± 0.2",
    "grid_length": "3 mm",
    "grid_width": "1.6 mm",
    "strain_limit": "8 %",
    "large_strain_law": "constant gauge factor",
    "has_thermal": "no",
}


def column_predicted(page: Page, campaign: str) -> None:
    """Its bars under the load that presses beside its axis, drawn and in kip."""
    page.goto(f"{campaign}/plan/prediction")
    expect(page.get_by_role("img", name="Load against predicted strain").first).to_be_visible()
    expect(page.get_by_role("img", name="Predicted strain over the section").first).to_be_visible()
    near = page.locator("#prediction tr", has_text="B1-M").first
    far = page.locator("#prediction tr", has_text="B5-M").first
    expect(page.locator("#prediction")).to_contain_text("400 kip", ignore_case=True)
    expect(near).to_contain_text("−")  # pressed
    expect(far).not_to_contain_text("−")  # pulled
    page.get_by_role("link", name="B5", exact=True).click()
    expect(page.get_by_text("Strain of bar B5 against load")).to_be_visible()


def column_member() -> dict[str, str]:
    """Eight #6 bars on a circle of 6 inches in a column of 16 inches, pressed 4 inches aside."""
    texts = {
        "label": "C4",
        "specimen": "C4",
        "concrete": "mix",
        "shape": "circle",
        "height": "16 ± 1/8 (limit)",
        "datum": "foot of the column",
        "held": "on two supports",
        "support_near": "0",
        "support_far": "120",
        "axial_share": "-1",
        "eccentricity": "-4 ± 1/8 (limit)",
    }
    for number in range(1, 9):
        angle = (number - 1) * math.pi / 4
        texts |= {
            f"bars.{number}.bar": f"B{number}",
            f"bars.{number}.depth": f"{8 - 6 * math.cos(angle):.3f}",
            f"bars.{number}.across": f"{6 * math.sin(angle):.3f}",
            f"bars.{number}.begins": "1",
        }
    return texts


def place_by_tap(page: Page, campaign: str) -> None:
    """Two stations by tapping the drawing, the second by the keyboard alone."""
    page.goto(f"{campaign}/plan/place")
    page.get_by_role("link", name="B1 at 60 in").click()
    page.get_by_role("link", name="top, 0°").click()
    page.get_by_label("Label", exact=True).fill("B1-M")
    page.get_by_label("Distance counts from").fill("left end of the bar")
    page.get_by_role("button", name="Keep the station").click()
    kept(page, "B1-M")
    page.get_by_role("link", name="Bar B5", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.locator(".page-lead")).to_contain_text("bar B5")
    page.get_by_role("link", name="B5 at 60 in").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".page-lead")).to_contain_text("Bar B5, 60 in")
    page.get_by_label("Label", exact=True).fill("B5-M")
    page.keyboard.press("Enter")
    kept(page, "B5-M")


def send_workbook(page: Page, campaign: str, folder: Path) -> None:
    """Two more from a workbook: merged title, blank row, inches without a word on them, a face."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["COLUMN C4: GAUGES"])
    sheet.merge_cells("A1:D1")
    sheet.append([])
    sheet.append(["Gage", "Bar", "Distance from left end", "Face"])
    sheet.append(["B1-W", "B1", 42.5, "top"])
    sheet.append(["B5-W", "5", 42.5, "bottom"])
    book.save(folder / "column.xlsx")
    page.goto(f"{campaign}/plan/sheet")
    page.set_input_files("#file", folder / "column.xlsx")
    page.get_by_role("button", name="Read it").click()
    page.get_by_label("In which unit").select_option("in")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("Bar “5” isn’t entered").select_option("B5")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Keep 2 stations").click()
    kept(page, "B1-W, B5-W")


def read_by(page: Page, campaign: str, label: str, channels: int) -> None:
    """An instrument and its channels."""
    instrument = {"label": label, "serial": "7", "gain": "1 ± 0.001 (k=2)", "dwell": "0"}
    fill(page, campaign, "instrument", instrument | {"filter_delay": "0.004 ± 0.002 (limit)"})
    kept(page, label)
    counted = {"instrument": label, "first": "A01", "number": "1", "count": str(channels)}
    fill(page, campaign, "channels", counted)
    kept(page, "A01")


# Twelve grids on a tube: pairs on opposite sides, along and across.
GRIDS = (
    ("N-1", "0", "0"),
    ("S-1", "180", "0"),
    ("N-2", "0", "0"),
    ("S-2", "180", "0"),
    ("A-1", "90", "0"),
    ("A-2", "90", "90"),
    ("W-1", "270", "0"),
    ("W-2", "270", "90"),
    ("E-1", "90", "0"),
    ("E-2", "90", "90"),
    ("H-1", "0", "0"),
    ("H-2", "180", "0"),
)
BRIDGES: tuple[tuple[str, Topology, tuple[str, ...]], ...] = (
    ("bending half", Topology.HALF_BENDING, ("H-1", "H-2")),
    ("force half", Topology.HALF_POISSON, ("A-1", "A-2")),
    ("bending full", Topology.FULL_BENDING, ("N-1", "S-1", "N-2", "S-2")),
    ("force full", Topology.FULL_POISSON, ("W-1", "W-2", "E-1", "E-2")),
)


def test_a_tubular_brace_of_bare_metal_with_half_and_full_bridges(
    served: Served, paired: Path, chromium: Browser, home: Path
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        campaign = begin(page, served.base, "brace", "Tubular brace (invented)", "si")
        for label, quantity, text in (
            ("force", "force", "What force is in the brace?"),
            ("moment", "moment", "What moment bends it at its middle?"),
        ):
            asked = {"label": label, "quantity": quantity, "text": text, "load": "250"}
            fill(page, campaign, "question", asked)
            kept(page, label)
        specimen = {"label": "brace", "kind": "bare metal", "length": "2400"}
        fill(page, campaign, "specimen", specimen)
        kept(page, "brace")
        metal = {"label": "S355", "law": "elastic", "elastic_modulus": "208 ± 4 (limit)"}
        metal |= {"poisson_ratio": "0.29 ± 0.01 (limit)", "yield_strength": "355"}
        fill(page, campaign, "material", metal | {"thermal_expansion": "11.8 ± 0.4 (limit)"})
        kept(page, "S355")
        tube = {"label": "T1", "specimen": "brace", "material": "S355", "length": "2400"}
        tube |= {"diameter": "114.3 ± 0.5 (limit)", "wall_thickness": "60"}
        fill(page, campaign, "bar", tube)
        wall = page.locator(".field.is-wrong")
        expect(wall).to_contain_text("below half the diameter")
        page.locator('.plan-form [name="wall_thickness"]').fill("6.3 ± 0.2 (limit)")
        page.locator(".plan-form button.is-next").click()
        kept(page, "T1")
        fill(page, campaign, "loading", LOADING)
        kept(page, "pin off centre")
        rows = {"datum": "lower end of the brace"}
        for number, (label, angle, _) in enumerate(GRIDS, start=1):
            rows |= {f"rows.{number}.label": label, f"rows.{number}.bar": "T1"}
            rows |= {f"rows.{number}.distance": "1200", f"rows.{number}.angle": angle}
        fill(page, campaign, "stations", rows)
        kept(page, "N-1")
        fill(page, campaign, "pack", PACK)
        for label, _, direction in GRIDS:
            gauge = {"label": label, "pack": "350", "station": label}
            fill(page, campaign, "gauge", gauge | {"angle_to_axis": direction})
            kept(page, label)
        for label, topology, gauges in BRIDGES:
            lead = {"label": f"cable {label}", "wires": "4", "length": "25"}
            fill(page, campaign, "lead", lead | {"conductor": "0.25 mm² ± 2 %"})
            kept(page, f"cable {label}")
            page.goto(f"{campaign}/plan/enter/circuit")
            numbers = (1, 2) if len(gauges) == 2 else (1, 2, 3, 4)
            arms = {f"gauge_{n}": gauge for n, gauge in zip(numbers, gauges, strict=True)}
            circuit = {"label": label, "topology": topology.value, "lead": f"cable {label}"}
            fill(page, campaign, "circuit", circuit | arms)
            kept(page, label)
        read_by(page, campaign, "Recorder", 4)
        fill(page, campaign, "wired", {"at": "2026-10-13 08:00", "unit": "mV/V", "excitation": "5"})
        expect(page.locator(".undo")).to_contain_text("Kept")
        as_built(page, campaign)
        bridges_predicted(page, campaign)
        page.goto(f"{campaign}/plan/place?bar=T1")
        expect(page.locator(".page-lead")).to_contain_text("bar T1")
    assert [told for told in wrong if "422" not in told] == []
    book = book_of(home / "brace")
    assert book.labelled(Specimen, "brace").record.kind is SpecimenKind.BARE_METAL
    for label, topology, gauges in BRIDGES:
        circuit_made = book.labelled(BridgeCircuit, label)
        assert circuit_made.record.topology is topology
        assert tuple(g.record.label for g in book.gauges_of(circuit_made)) == gauges
        signs = [arm.sign for arm in circuit_made.record.arms]
        assert signs == [1, -1, 1, -1][: len(signs)]
    assert len(book.of(Channel)) == len(book.of(Connection)) == 4
    moved = book.labelled(Station, "N-1")
    assert moved.version == 2
    assert moved.record.distance_built is not None
    assert moved.record.distance_built.value == pytest.approx(1.203)
    assert moved.record.distance_planned == pytest.approx(1.2)


# A pull 6 mm off the axis towards the top, and a fiftieth of it across in the middle.
LOADING = {
    "label": "pin off centre",
    "bar": "T1",
    "axial_share": "1",
    "eccentricity": "6 ± 1 (limit)",
    "eccentric_towards": "0",
    "across.1.distance": "1200",
    "across.1.share": "0.02",
    "across.1.towards": "180",
    "held": "on two supports",
    "support_near": "0",
    "support_far": "2400",
}


def bridges_predicted(page: Page, campaign: str) -> None:
    """What each bridge puts out, by the signs of its arms, and how well its moment is told."""
    page.goto(f"{campaign}/plan/prediction")
    listed = page.locator("#outputs")
    for label, _, _ in BRIDGES:
        expect(listed).to_contain_text(label)
    expect(listed).to_contain_text("+N-1, −S-1, +N-2, −S-2")
    expect(page.get_by_role("img", name="Predicted strain round the bar").first).to_be_visible()
    page.goto(f"{campaign}/plan/questions")
    expect(page.locator("#resolution tr", has_text="moment").first).to_contain_text("kN·m")


def as_built(page: Page, campaign: str) -> None:
    """A station measured as built; somebody else's change meanwhile is shown beside it."""
    built = {"distance_built": "1203 ± 1 (limit)", "distance_built_source": "steel tape"}
    fill(page, campaign, "station", built, "N-1")
    kept(page, "N-1")
    page.goto(f"{campaign}/plan")
    row = page.locator("#stations tr", has_text="N-1").first
    expect(row).to_contain_text("203.0 ± 1.0")


@pytest.mark.parametrize("size", SIZES)
def test_every_page_of_a_full_plan_fits_and_keeps_nobody_out(
    served: Served, paired: Path, chromium: Browser, home: Path, size: str
) -> None:
    """On the brace's plan; made here where the test that makes it ran in another process."""
    if not (home / "brace").is_dir():
        test_a_tubular_brace_of_bare_metal_with_half_and_full_bridges(
            served, paired, chromium, home
        )
    with opened(chromium, size=size, state=paired) as (page, wrong):
        for rest in (*PAGES, "plan/enter/circuit/bending%20full", "plan/enter/station/N-1"):
            page.goto(f"{served.base}/c/brace/{rest}")
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, rest
            assert barriers(page) == [], rest
    assert wrong == []
