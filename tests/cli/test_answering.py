"""The commands that answer one question: as lines, as JSON, and when what is typed can't be."""

import json

import pytest

from gaugewright.cli import main
from gaugewright.services.answering.asks import TOOLS


@pytest.mark.parametrize("tool", TOOLS)
def test_every_question_explains_itself_and_answers_its_own_example(
    tool: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["answer", tool, "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for word in (TOOLS[tool].question, "When:", "Example:", "Next:"):
        assert word in told
    assert main(["answer", tool, *TOOLS[tool].example]) == 0
    told = capsys.readouterr().out
    for word in ("Assumed:", "Not in it:", "From:"):
        assert word in told


def test_machines_get_si_values_and_nothing_rounded(capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "--reading",
        "2,5",
        "--gauge-factor",
        "2",
        "--installation",
        "0",
        "--misalignment",
        "0",
    ]
    words += ["--transverse-sensitivity", "0", "--json"]
    assert main(["answer", "reading", *words]) == 0
    told = json.loads(capsys.readouterr().out)
    # 4r/(1 - 2r)/k by hand: 0.01/0.995/2.
    assert told["numbers"][0]["value"] == pytest.approx(0.01 / 0.995 / 2, rel=1e-12)
    assert told["numbers"][0]["unit"] == "1"
    assert told["numbers"][0]["expanded_uncertainty"] is None
    assert told["typed"]["reading"] == "2,5"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["reading", "--reading", "1"], "gauge_factor"),
        (["reading", "--reading", "much", "--gauge-factor", "2"], "a number such as"),
        (["flat", "--diameter", "16"], "flat_width"),
        (["flat", "--diameter", "16", "--flat-width", "20"], "flat_width"),
        (["excitation", "--gauge-resistance", "120 m"], "a number in Ω"),
        (["shunt", "--position", "under the table"], "one of T1-T2"),
        (["leads", "--pair-ab", "1", "--pair-ac", "100", "--pair-bc", "1"], "possible together"),
        (["weather"], "--help"),
    ],
)
def test_what_cant_be_answered_is_told_by_name(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["answer", *words]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert "Traceback" not in told
