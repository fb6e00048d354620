"""The commands plan and pack: parts, other numbers, JSON, lot cards, refusals in one line."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.identity import working_context
from gaugewright.services.plan.packs import assumed_packs
from gaugewright.store.campaign import CampaignStore
from tests.services import planned_campaigns as made


@pytest.fixture(scope="module")
def brace(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("plan") / "brace"
    made.brace(folder)
    return str(folder)


def test_questions_are_printed_and_json_has_their_numbers(
    brace: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", brace, "questions"]) == 0
    told = capsys.readouterr().out
    assert "What the plan can answer (resolution)" in told
    assert "What would gain (gains)" in told
    assert main(["plan", brace, "questions", "--json"]) == 0
    answers = {a["question"]: a for a in json.loads(capsys.readouterr().out)["answers"]}
    assert answers["axial"]["predicted"] == pytest.approx(made.FORCE)
    assert answers["axial"]["chance"] == pytest.approx(0.95 * 0.98 * 0.95**4)
    assert answers["too much"]["expanded_uncertainty"] is None


@pytest.mark.parametrize(
    "part", ["prediction", "selection", "electrical", "packs", "supplies", "labels"]
)
def test_each_part_is_printed(brace: str, part: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", brace, part]) == 0
    assert capsys.readouterr().out


def test_one_list_of_a_part_becomes_csv(
    brace: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "gains.csv"
    assert main(["plan", brace, "questions", "--list", "gains", "--csv", str(file)]) == 0
    capsys.readouterr()
    assert file.read_text(encoding="utf-8").startswith("question,proposal,")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nonsense"], "part of the plan is 'nonsense'"),
        (["selection", "--with", "days=soon"], "days is 'soon'"),
        (["selection", "--with", "colour=red"], "what to plan with is 'colour'"),
        (["questions", "--with", "pack=none such"], "pack is 'none such'"),
    ],
)
def test_what_cannot_be_planned_is_one_line(
    brace: str, words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", brace, *words]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1


def test_a_pack_is_kept_counted_and_listed(
    tmp_path: Path, brace: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lab, source = tmp_path / "lab", tmp_path / "source"
    lab.mkdir()
    made.brace(source)
    (card, _) = assumed_packs()
    with CampaignStore.open(source, working_context()) as store:
        store.add(card)
    chosen = ["--set", f"laboratory={lab}"]
    pack = card.label
    assert main([*chosen, "pack", pack, "--from", str(source), "--left", "40"]) == 0
    assert "40 gauges on hand, written once" in capsys.readouterr().out
    assert main([*chosen, "pack", pack, "--change", "backing_width=0.0044", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["left"] == 40
    assert main([*chosen, "plan", brace, "packs"]) == 0
    assert "4.4" in capsys.readouterr().out
    assert main(["pack", pack, "--left", "3"]) == 2
    assert "laboratory" in capsys.readouterr().err


def test_supplies_and_tags_become_files(
    brace: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = str(tmp_path / "supplies.xlsx")
    assert main(["plan", brace, "supplies", "--with", "plug=6", "--out", book, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["file"] == book
    assert told["cable"]["rows"][0][-2] == pytest.approx(8.5)
    sheet = str(tmp_path / "tags.pdf")
    given = ["--with", "form=both", "--with", "diameter=5"]
    assert main(["plan", brace, "labels", *given, "--out", sheet, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["files"] == [sheet]
    assert main(["plan", brace, "labels", "--with", "lead=T0", "--out", str(tmp_path)]) == 0
    assert len(list(tmp_path.glob("flag-T0-*.svg"))) == 3
    capsys.readouterr()
    assert main(["plan", brace, "labels", "--with", "lead=T9"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main(["plan", brace, "supplies", "--out", str(tmp_path / "s.doc")]) == 2
    assert "ends with .xlsx or .pdf" in capsys.readouterr().err


def test_the_shelf_is_kept_and_shown(
    brace: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lab = ["--set", f"laboratory={tmp_path}"]
    given = ["--left", "400", "--batch", "B7", "--expires", "2027-03-31"]
    assert main([*lab, "stock", "degreasing solvent", *given]) == 0
    assert "degreasing solvent | 400.0 | ml | B7 | 2027-03-31" in capsys.readouterr().out
    assert main([*lab, "stock"]) == 0
    assert "B7" in capsys.readouterr().out
    assert main([*lab, "stock", "gold", "--left", "1"]) == 2
    assert "supply is 'gold'" in capsys.readouterr().err
    assert main([*lab, "plan", brace, "supplies", "--list", "supplies"]) == 0
    row = next(
        line for line in capsys.readouterr().out.splitlines() if line.startswith("degreasing")
    )
    assert row.split()[2:7] == ["75", "ml", "0", "400", "0"]
