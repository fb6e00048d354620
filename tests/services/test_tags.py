"""Tags of leads: codes told apart, sizes that fit or are refused, sheets read by another hand."""

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

import gaugewright
from gaugewright import settings
from gaugewright.errors import FileError, InputError
from gaugewright.present.tag_drawing import tag_svg
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.packs import assumed_packs
from gaugewright.services.supplying import labels as plan_labels
from gaugewright.services.supplying.tag_codes import (
    campaign_mark,
    code_matrix,
    coded,
    tag_code,
    tag_meaning,
)
from gaugewright.services.supplying.tag_layout import TagWords, flag_tag, rules_of, wrap_tag
from gaugewright.store.campaign import CampaignStore
from tests.services import planned_campaigns as made

RULES = rules_of(None)
UID = "01JXYZ0000000000000Q7QK2MD"
DIAMETER = 0.004


def words(label: str, campaign: str = "beams-2026") -> TagWords:
    return TagWords(label, "1 m from the gauge", tag_code(UID, label), campaign)


@pytest.fixture(scope="module")
def brace(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tags") / "brace"
    made.brace(folder)
    with CampaignStore.open(folder, working_context()) as store:
        pack = store.add(any_pack()).uid
        for station in Book.read(store).of(made.Station):
            store.add(Gauge(station.record.label, pack, station.uid))
        yield store, Book.read(store)


def any_pack():
    return assumed_packs()[0]


def test_a_code_holds_campaign_label_and_check_character_and_no_address():
    code = tag_code(UID, "L3-R1-S")
    assert re.fullmatch(r"7QK2MD L3R1S [0-9A-Z]", code)
    assert campaign_mark(UID) == "7QK2MD"
    assert coded("g 07") == "G07"
    for label in ("Prüfstab", "---"):
        with pytest.raises(InputError, match="label of a tag"):
            coded(label)


def test_a_code_is_read_by_another_hand_on_a_clean_and_on_a_dirty_tag():
    code = tag_code(UID, "L3-R1-S")
    rows = code_matrix(code, RULES.correction)
    side = len(rows) + 2 * RULES.quiet
    image = Image.new("L", (side, side), 255)
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            image.putpixel((x + RULES.quiet, y + RULES.quiet), 0 if dark else 255)
    large = image.resize((8 * side, 8 * side), Image.Resampling.NEAREST)
    assert [found.text for found in zxingcpp.read_barcodes(large)] == [code]
    # A splash of four by four squares: error correction of a quarter bears it.
    large.paste(255, (8 * 17, 8 * 17, 8 * 21, 8 * 21))
    assert [found.text for found in zxingcpp.read_barcodes(large)] == [code]


def test_a_flag_is_sized_by_its_lead_and_nothing_stands_over_its_edge():
    for label in ("G07", "L3-R1-S"):
        tag = flag_tag(RULES, RULES.flags[0], words(label), DIAMETER)
        assert tag.width == pytest.approx(2 * 35 + 3.14159 * 4, abs=1e-3)
        assert tag.height == pytest.approx(14)
        for text in tag.texts:
            left = text.x < 35
            assert text.x + text.width <= (35 if left else tag.width) - 0.99
            assert 0 <= text.y - 0.66 * text.size < text.y <= tag.height - 0.99
        names = [text for text in tag.texts if text.words == label]
        assert len(names) == 2
        assert min(0.66 * text.size for text in names) >= 2.5
        for code in tag.codes:
            assert code.module >= 0.35
            # Four free squares above and below.
            assert code.y >= 4 * code.module - 1e-9
            assert code.y + (len(code.rows) + 4) * code.module <= tag.height + 1e-9


def test_a_label_too_long_is_refused_with_the_next_size_that_holds_it():
    long = "BEAM2-LAYER3-BAR12-UPPER"
    with pytest.raises(
        InputError, match=r"mm high, at least 1.2 mm can be read; take flag"
    ) as told:
        flag_tag(RULES, RULES.flags[0], words(long), DIAMETER)
    larger = next(size for size in RULES.flags if size.label in told.value.do)
    assert flag_tag(RULES, larger, words(long), DIAMETER).texts
    with pytest.raises(InputError, match="shorten the label"):
        flag_tag(RULES, RULES.flags[0], words("A" * 70), DIAMETER)
    with pytest.raises(InputError, match=r"squares needs 1\d\.\d mm of height"):
        flag_tag(RULES, replace(RULES.flags[2], height=0.009), words("G07"), DIAMETER)


def test_a_wrap_can_be_read_from_every_side_and_its_clear_tail_goes_round_once_more():
    around = 3.14159265 * 4.5
    tag = wrap_tag(RULES, RULES.wraps[1], words("G07"), 0.0045)
    assert tag.height == pytest.approx(2 * around + 3, abs=1e-6)
    lines = sorted(text.y for text in tag.texts if text.words == "G07")
    assert len(lines) >= 3
    assert max(lines) < around
    # Whoever looks sees a third of the way round: one whole line stands in it.
    gaps = [b - a for a, b in zip(lines, [*lines[1:], lines[0] + around], strict=True)]
    assert max(gaps) <= around / 3 + 1e-6
    assert tag.codes == ()


def test_a_lead_too_thin_or_too_thick_for_a_wrap_gets_what_would_do():
    with pytest.raises(InputError, match=r"3.6 mm or more for a wrap.*take a flag"):
        wrap_tag(RULES, RULES.wraps[1], words("G07"), 0.002)
    with pytest.raises(InputError, match="take wrap 50"):
        wrap_tag(RULES, RULES.wraps[1], words("G07"), 0.020)
    with pytest.raises(InputError, match="take wrap 38"):
        wrap_tag(RULES, RULES.wraps[0], words("L3-R1-S"), 0.006)


def test_every_lead_gets_three_tags_and_what_was_assumed_is_told(brace):
    found = plan_labels.tags_of(*brace, None, {})
    assert [(tag.name, tag.place) for tag in found.tags][:3] == [
        ("T0", "gauge end"),
        ("T0", "1 m from the gauge"),
        ("T0", "plug end"),
    ]
    assert len(found.printed) == 12
    assert found.words == ("leads of 4 mm outside: assumed, limit “planned lead outer diameter”",)
    assert plan_labels.tags_of(*brace, None, {"diameter": "6"}).words == ()
    inch = plan_labels.tags_of(*brace, None, {"diameter": "0.25 in"}).printed[0]
    assert inch.drawing.width == pytest.approx(2 * 35 + 3.14159 * 6.35, abs=1e-3)
    svg = tag_svg(found.printed[0].drawing)
    assert 'width="82.5664mm"' in svg
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"form": "star"}, "form"),
        ({"size": "tiny"}, "size"),
        ({"diameter": "0"}, "diameter"),
        ({"paper": "papyrus"}, "paper"),
        ({"paper": "roll"}, "width of the roll"),
        ({"paper": "roll", "roll": "2"}, "from 10 to 1000"),
        ({"lead": "nobody"}, "lead"),
    ],
)
def test_what_can_not_be_is_refused_by_name(brace, typed, told):
    with pytest.raises(InputError, match=told):
        plan_labels.tags_of(*brace, None, typed)


def test_sheets_hold_their_tags_and_a_roll_has_a_page_a_row(brace):
    for paper, width, height in (("a4", 210, 297), ("letter", 215.9, 279.4)):
        tags = plan_labels.tags_of(*brace, None, {"paper": paper, "form": "both", "diameter": "5"})
        for wide, tall, placed in plan_labels.sheets_of(tags):
            assert (wide, tall) == pytest.approx((width, height))
            boxes = [(p.x, p.y, p.x + p.drawing.width, p.y + p.drawing.height) for p in placed]
            assert all(b[0] >= 8 and b[1] >= 8 for b in boxes)
            assert all(b[2] <= width - 8 + 1e-9 and b[3] <= height - 8 + 1e-9 for b in boxes)
            for n, one in enumerate(boxes):
                for other in boxes[n + 1 :]:
                    apart = one[2] <= other[0] or other[2] <= one[0]
                    assert apart or one[3] <= other[1] or other[3] <= one[1]
    roll = plan_labels.tags_of(*brace, None, {"paper": "roll", "roll": "90"})
    pages = plan_labels.sheets_of(roll)
    assert [(wide, tall) for wide, tall, _ in pages] == [(90, pytest.approx(16))] * 12
    narrow = plan_labels.tags_of(*brace, None, {"paper": "roll", "roll": "60"})
    with pytest.raises(InputError, match="85 × 16 mm or larger"):
        plan_labels.sheets_of(narrow)


def test_sheets_as_printed_are_read_by_another_hand(brace, tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm isn't installed")
    store, book = brace
    tags = plan_labels.tags_of(store, book, None, {})
    (sheet,) = plan_labels.written(store, tags, tmp_path / "tags.pdf")
    run = ["pdftoppm", "-r", "150", "-gray", str(sheet), str(tmp_path / "sheet")]
    subprocess.run(run, check=True, timeout=60, stderr=subprocess.DEVNULL)
    (page,) = sorted(tmp_path.glob("sheet*.pgm"))
    found = [one.text for one in zxingcpp.read_barcodes(Image.open(page))]
    assert len(found) == 2 * 12
    assert set(found) == {tag_code(store.campaign.uid, f"T{n}") for n in range(4)}
    folder = tmp_path / "each"
    folder.mkdir()
    assert len(plan_labels.written(store, tags, folder)) == 12
    with pytest.raises(InputError, match="--out"):
        plan_labels.written(store, tags, tmp_path / "nowhere")


def test_a_code_typed_is_told_from_one_mistyped_and_from_another_campaigns(brace):
    store, book = brace
    uid = store.campaign.uid
    code = tag_code(uid, "T2")
    assert tag_meaning(book, uid, code).label == "T2"
    assert tag_meaning(book, uid, f"  {code.lower()} ").label == "T2"
    assert tag_meaning(book, uid, code.replace(" ", "")).label == "T2"
    mark, name, check = code.split()
    wrong = "A" if check != "A" else "B"
    mistyped = tag_meaning(book, uid, f"{mark} {name} {wrong}")
    assert mistyped.label == ""
    assert "T2" in mistyped.near
    assert f"would end in {check}, not {wrong}" in mistyped.words
    other = tag_meaning(book, uid, tag_code(UID, "T2"))
    assert "another campaign: its mark is 7QK2MD" in other.words
    gone = tag_meaning(book, uid, tag_code(uid, "T9"))
    assert "nothing here is called T9" in gone.words
    assert tag_meaning(book, uid, "T2") is None
    assert tag_meaning(book, uid, "G07 zero") is None


def test_labels_that_read_the_same_or_can_not_be_coded_get_no_tag_and_say_why(tmp_path):
    made.brace(tmp_path / "brace")
    with CampaignStore.open(tmp_path / "brace", working_context()) as store:
        pack = store.add(any_pack()).uid
        stations = Book.read(store).of(made.Station)
        for label, station in zip(("A-1", "A1", "Ä2", "B1"), stations, strict=True):
            store.add(Gauge(label, pack, station.uid))
        found = plan_labels.tags_of(store, Book.read(store), None, {})
    refused = {tag.name: tag.refused for tag in found.tags if tag.drawing is None}
    assert refused["A1"] == "A1 and A-1 read the same without their signs: rename one"
    assert "without Ä" in refused["Ä2"]
    assert {tag.name for tag in found.printed} == {"A-1", "B1"}


def test_a_laboratorys_own_sizes_take_the_place_of_the_shipped(tmp_path):
    lab = settings.load(
        {"laboratory": str(tmp_path)}, environment={}, user_folder=tmp_path / "none"
    )
    shipped = Path(gaugewright.__file__).parent / "defaults" / "tags.toml"
    text = shipped.read_text(encoding="utf-8")
    (tmp_path / "tags.toml").write_text(text.replace("35.0e-3", "40.0e-3"), encoding="utf-8")
    assert rules_of(lab).flags[0].width == pytest.approx(0.040)
    (tmp_path / "tags.toml").write_text(text.replace("quiet = 4", "quiet = 1"), encoding="utf-8")
    with pytest.raises(FileError, match="4 or more"):
        rules_of(lab)


def test_a_plan_without_stations_says_what_comes_first(tmp_path):
    made.column(tmp_path / "column")
    with (
        CampaignStore.open(tmp_path / "column", working_context(), read_only=True) as store,
        pytest.raises(InputError, match=r"leads is 0; .* place stations first"),
    ):
        plan_labels.tags_of(store, Book.read(store), None, {})
