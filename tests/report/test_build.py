import io
import json
from dataclasses import replace

import pypdf
import pytest

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.report import build, glyphs
from gaugewright.report.document import Answer, Figure, Gates, ReportDocument, as_plain

FACES = {
    "SourceSans3-Regular",
    "SourceSans3-Semibold",
    "SourceSans3-It",
    "STIXTwoText-Regular",
    "STIXTwoText-Italic",
}


def text_of(path) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages)


def faces_of(path) -> set[str]:
    found: set[str] = set()
    seen: set[int] = set()

    def walk(item: object) -> None:
        item = item.get_object() if hasattr(item, "get_object") else item
        if id(item) in seen:
            return
        seen.add(id(item))
        if isinstance(item, dict):
            if item.get("/Type") == "/Font" and "/BaseFont" in item:
                found.add(str(item["/BaseFont"]).lstrip("/").split("+")[-1])
            for value in item.values():
                walk(value)
        elif isinstance(item, list):
            for value in item:
                walk(value)

    for page in pypdf.PdfReader(path).pages:
        walk(page["/Resources"])
    return {name.removesuffix("-Identity-H") for name in found}


@pytest.fixture(name="report")
def _report(make_document, tmp_path):
    return build.pdf(make_document(), tmp_path / "report.pdf")


def test_only_the_shipped_faces_are_in_the_file(report):
    faces = faces_of(report)
    assert faces <= FACES
    assert {"SourceSans3-Regular", "STIXTwoText-Italic"} <= faces


def test_it_says_of_itself_that_it_is_an_archival_tagged_file(report):
    reader = pypdf.PdfReader(report)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 a PDF boolean
    packet = root["/Metadata"].get_data().decode("utf-8")
    assert "<pdfaid:part>2</pdfaid:part>" in packet
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in packet
    assert reader.metadata.title == "Report 3: what the bars did"


def test_the_same_document_gives_the_same_bytes(make_document, tmp_path):
    first = build.pdf(make_document(), tmp_path / "a.pdf").read_bytes()
    second = build.pdf(make_document(), tmp_path / "b.pdf").read_bytes()
    assert first == second


def test_question_and_answer_come_first_with_their_doubt(report):
    first = " ".join(pypdf.PdfReader(report).pages[0].extract_text().split())
    for words in (
        "At which load does bar 2 begin to yield, within 2 kN?",
        "Bar 2 began to yield at the third crack.",
        "163.90",
        "0.80",
        "zero of the load cell",
        "no number is given",
    ):
        assert words in first.replace("\xa0", " ")
    assert first.index("Questions") < first.index("Gauges")


def test_every_part_of_the_document_is_printed(report, make_document):
    printed = text_of(report).replace("\u200b", "").replace("\xa0", " ")
    document = make_document()
    for words in (
        *(gauge.label for gauge in document.gauges),
        *(row.reason for row in document.register),
        *(stage.reason for chain in document.corrections for stage in chain.stages),
        *(finding.decision for finding in document.findings),
        *(figure.stands_on for figure in document.figures),
        *document.cautions,
    ):
        assert words in printed or words.replace(" ", "") in printed.replace(" ", ""), words


def test_signatures_are_printed_with_name_words_time_head_and_whether_they_hold(
    report, make_document
):
    bare = "".join(text_of(report).replace("\u200b", "").split())
    provenance = bare[bare.index("Provenance") :]
    for row in make_document().signatures:
        for words in (row.name, row.statement, row.signed, row.head, row.stands):
            assert "".join(words.split()) in provenance, words


def test_hashes_are_printed_whole(report, make_document):
    bare = "".join(text_of(report).replace("\u200b", "").split())
    for file in make_document().files:
        assert file.sha256 in bare
    assert make_document().provenance[2].value in bare


def test_an_assumed_value_is_called_assumed_beside_its_number(report):
    printed = text_of(report).replace("\xa0", " ")
    assert "temperature of the leads 21.0 ± 3.0 °C assumed" in printed


def test_the_title_block_closes_the_last_sheet_and_only_it(report, make_document):
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(report).pages]
    check = make_document().title_block.data_check
    assert check in pages[-1]
    assert not any(check in page for page in pages[:-1])
    assert f"sheet {len(pages)} of {len(pages)}" in pages[-1]


def test_zero_sign_and_coverage_stand_on_every_sheet(report, make_document):
    block = make_document().title_block
    for page in pypdf.PdfReader(report).pages:
        printed = "".join(page.extract_text().split())
        for words in (block.zero, block.sign_and_units, block.coverage):
            assert "".join(words.split()) in printed


def test_invented_data_is_said_to_be_invented_on_every_sheet(report):
    for page in pypdf.PdfReader(report).pages:
        assert "invented data" in page.extract_text()


def test_real_data_is_not_called_invented(make_document, tmp_path):
    path = build.pdf(make_document(invented=False), tmp_path / "report.pdf")
    assert "nvented data" not in text_of(path)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_hundred_and_fifty_gauges_repeat_their_headings(make_document, tmp_path, paper):
    path = build.pdf(make_document(150), tmp_path / "report.pdf", paper=paper)
    pages = ["".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages]
    with_gauges = [page for page in pages if "lot4471" in page]
    assert len(with_gauges) >= 3
    assert all("Gaugefactor" in page and "Channel" in page for page in with_gauges)
    assert all(f"G{n:02d}" in " ".join(pages) for n in range(1, 151))


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_is_as_asked(make_document, tmp_path, paper, size):
    path = build.pdf(make_document(), tmp_path / "report.pdf", paper=paper)
    box = pypdf.PdfReader(path).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_an_empty_campaign_says_what_is_missing(make_document, tmp_path):
    empty = replace(
        make_document(),
        **dict.fromkeys(
            [
                "answers",
                "gauges",
                "corrections",
                "figures",
                "yields",
                "findings",
                "register",
                "cautions",
                "files",
                "provenance",
                "signatures",
            ],
            (),
        ),
        gates=Gates(),
    )
    printed = text_of(build.pdf(empty, tmp_path / "report.pdf"))
    for words in (
        "No question was written down",
        "No gauge is recorded",
        "No gate was measured",
        "No chain of corrections was declared",
        "no reading was reduced yet",
        "No file was brought in",
        "Nobody has signed these results",
    ):
        assert words in printed


@pytest.mark.parametrize(
    "typed",
    [
        '#read("report.json")',
        '#import "sheet.typ": *',
        "*bold* _slanted_ $ x^2 $ `raw` @label <label> = Heading",
        "\\u{0041} // comment /* */ ~ -- ---",
    ],
)
def test_what_a_person_types_is_printed_letter_by_letter(make_document, tmp_path, typed):
    document = make_document()
    asked = replace(document.answers[0], question=typed)
    document = replace(document, campaign=typed, answers=(asked,))
    printed = text_of(build.pdf(document, tmp_path / "report.pdf"))
    assert "".join(typed.split()) in "".join(printed.split())


def test_a_character_without_a_glyph_is_shown_as_a_square_and_named(make_document, tmp_path):
    document = make_document(laboratory="鋼 lab", campaign="T2 \U0001f527")
    path = build.pdf(document, tmp_path / "report.pdf")
    printed = text_of(path)
    assert "□ lab" in printed
    assert "Characters without a glyph shown as □" in printed
    assert "U+92FC" in printed
    assert "U+1F527 WRENCH" in printed
    assert faces_of(path) <= FACES


def test_characters_of_the_tool_itself_all_have_glyphs():
    text = "µμεκσνΩΩ−±×·°²³⁻¹⁰₀₁→←≤≥≠≈–—’“”…\u202f\xa0\u2009□§√ΔŁłŠšČčŘřĞğİıŐőŰűÆæØøÅåßñçéü"
    assert glyphs.printable(text)[1] == frozenset()


def test_accents_typed_apart_are_found_as_one_letter():
    assert glyphs.printable("S\u030ca\u0301rka") == ("Šárka", frozenset())


def test_a_drawing_of_the_reader_s_own_text_keeps_its_glyph_check(make_document, tmp_path):
    figure = replace(
        make_document().figures[0],
        svg='<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 20">'
        '<text x="2" y="14" font-family="\'Source Sans 3\'">鋼 bar</text></svg>',
    )
    path = build.pdf(make_document(figures=(figure,)), tmp_path / "report.pdf")
    assert "U+92FC" in text_of(path)


def test_a_drawing_that_is_no_drawing_leaves_the_old_report_alone(make_document, tmp_path):
    path = build.pdf(make_document(), tmp_path / "report.pdf")
    before = path.read_bytes()
    broken = replace(make_document().figures[0], svg="<svg")
    with pytest.raises(GaugewrightError, match="the report can't be set"):
        build.pdf(make_document(figures=(broken,)), path)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["report.pdf"]


def test_a_folder_that_is_missing_is_named(make_document, tmp_path):
    with pytest.raises(InputError, match="make it first"):
        build.pdf(make_document(), tmp_path / "nowhere" / "report.pdf")


def test_an_unknown_paper_is_refused(make_document, tmp_path):
    with pytest.raises(InputError, match="paper is 'a5'"):
        build.pdf(make_document(), tmp_path / "report.pdf", paper="a5")


def test_the_document_is_plain_json_and_back(make_document):
    plain = as_plain(make_document())
    assert json.load(io.StringIO(json.dumps(plain))) == plain


def test_an_unpresented_number_can_not_get_into_a_document():
    answer = Answer("q", "a", "sound", number=None, main_cause=0.5)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="part of a document"):
        as_plain(answer)


def test_parts_that_contradict_themselves_are_refused(make_document):
    with pytest.raises(InputError, match="state is 'good'"):
        Answer("q", "a", "good")
    with pytest.raises(InputError, match="a sentence"):
        Answer("q", " ", "sound")
    with pytest.raises(InputError, match="SVG"):
        Figure("png", "t", "c", "a", "z")
    with pytest.raises(InputError, match="title"):
        make_document(title=" ")
    with pytest.raises(InputError, match="a name and a statement"):
        replace(make_document().signatures[0], name=" ")
    row = replace(make_document().gates.rows[0], gauge="G1", verdicts=("pass",))
    with pytest.raises(InputError, match="verdicts of G1"):
        replace(make_document().gates, rows=(row,))
    with pytest.raises(InputError, match="yield of G14"):
        replace(make_document().yields[0], load=None)
    assert isinstance(make_document(), ReportDocument)
