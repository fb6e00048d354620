"""Diagnosis from a campaign's gate checks: the demo's faults are found, the sound left alone."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.errors import Faults, FileError, InputError
from gaugewright.records.proof import Gate
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.diagnosis import diagnosing
from gaugewright.services.diagnosis.faults_known import fault_book

pytestmark = pytest.mark.full

FAULTS = fault_book()


@pytest.fixture(scope="module")
def book(demo_campaign: Path) -> Book:
    with campaigns.opened(demo_campaign, read_only=True) as store:
        return Book.read(store)


def test_a_cable_crushed_in_the_pour_is_found_and_located(book: Book) -> None:
    # The demo's truth: A to B 0.04 ohm and B to C 0.9 ohm at 0.82 of the cable from the plug.
    look = diagnosing.diagnose(book, "L3-R6-S", FAULTS)
    first = look.diagnosis.first.causes[0]
    assert "crush" in first.cause.label
    place = next(one for one in first.estimates if one.element == "at")
    assert abs(place.value - 0.82) < 2 * place.standard_uncertainty
    assert look.diagnosis.repair


def test_water_that_found_its_way_in_is_found_as_a_leak_of_its_size(book: Book) -> None:
    # The demo's truth: 70 and 110 Mohm from the tabs to the bar, 42.8 Mohm together.
    look = diagnosing.diagnose(book, "L3-R2-S", FAULTS)
    first = look.diagnosis.first.causes[0]
    assert first.cause.label.startswith(("leak", "wet"))
    size = next(one for one in first.estimates if one.element.startswith("leak"))
    assert size.value == pytest.approx(42.8e6, abs=2 * size.standard_uncertainty)


def test_a_gauge_that_was_never_hurt_is_healthy_at_every_gate(book: Book) -> None:
    for gate in (Gate.WIRED, Gate.PROTECTED, Gate.BEFORE_POUR, Gate.AFTER_POUR):
        look = diagnosing.diagnose(book, "L2-M-T", FAULTS, gate=gate)
        assert look.diagnosis.first.causes[0].cause.label == "healthy", gate
        assert not look.diagnosis.repair


def test_gates_passed_before_are_evidence_in_order_of_time(book: Book) -> None:
    look = diagnosing.diagnose(book, "L2-M-T", FAULTS, gate=Gate.PROTECTED)
    assert look.earlier == (Gate.WIRED,)
    assert look.diagnosis.known.gates_used == 1


def test_wires_are_reckoned_at_the_temperature_of_the_gate(book: Book) -> None:
    cold, warm = (
        diagnosing.diagnose(book, "L2-M-T", FAULTS, gate=gate).setup
        for gate in (Gate.BEFORE_POUR, Gate.AFTER_POUR)
    )
    # 17.5 and 24.3 °C: copper rises by 0.393 % of its value at 20 °C for each kelvin.
    ratio = (1 + 0.00393 * 4.3) / (1 - 0.00393 * 2.5)
    assert warm.lead_resistance / cold.lead_resistance == pytest.approx(ratio, rel=1e-3)


def test_a_further_reading_takes_the_place_of_the_gate_s_own(book: Book) -> None:
    typed = diagnosing.taken_typed(FAULTS, "insulation=> 2000 MΩ")
    look = diagnosing.diagnose(book, "L3-R2-S", FAULTS, further=[typed])
    assert look.diagnosis.first.causes[0].cause.label == "healthy"


@pytest.mark.parametrize("text", ["insulation", "colour=3", "A-B=3 kN", "A-B=x"])
def test_a_reading_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        diagnosing.taken_typed(FAULTS, text)


def test_the_catalogue_is_found_by_words_of_a_symptom() -> None:
    causes, signs = diagnosing.catalogue(FAULTS, "hum mains")
    assert causes[0].label == "shield or earth"
    assert "hum at mains frequency" in {sign.name for sign in signs}
    assert all(cause.source and cause.label in FAULTS.unverified for cause in causes)
    with pytest.raises(InputError, match="symptom"):
        diagnosing.catalogue(FAULTS, "purple smoke")


def test_a_laboratory_s_own_cause_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    (tmp_path / "faults.toml").write_text(
        '[[cause]]\nlabel = "lead B open"\nfamily = "electrical"\nprior = 0.2\n'
        'ranges = [{ element = "joint_b", low = 1e12, high = 1e12 }]\n'
        'source = "repairs of 2026"\nunverified = false\n',
        encoding="utf-8",
    )
    own = fault_book(tmp_path)
    found = [cause for cause in own.causes if cause.label == "lead B open"]
    assert [cause.prior for cause in found] == [0.2]
    assert len(own.causes) == len(FAULTS.causes)
    assert "lead B open" not in own.unverified


def test_everything_wrong_in_a_laboratory_s_file_is_told_at_once(tmp_path: Path) -> None:
    file = tmp_path / "faults.toml"
    file.write_text(
        '[[cause]]\nlabel = "x"\nfamily = "y"\nprior = 0\nsource = "z"\n'
        '[[sign]]\nname = "s"\nby_chance = 2\nminutes = 1\n',
        encoding="utf-8",
    )
    with pytest.raises(Faults) as told:
        fault_book(tmp_path)
    assert len(told.value.faults) == 2
    file.write_text("[[fault]]\n", encoding="utf-8")
    with pytest.raises(FileError, match="unknown table"):
        fault_book(tmp_path)


def test_every_shipped_cause_says_what_is_seen_and_what_to_do() -> None:
    for cause in FAULTS.causes:
        assert cause.symptom, cause.label
        assert cause.check, cause.label
        assert cause.remedy, cause.label
        assert set(cause.signs) <= {sign.name for sign in FAULTS.signs}, cause.label


def test_commands_print_evidence_ranking_and_what_to_read_next(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["diagnose", str(demo_campaign), "L3-R6-S"]) == 0
    told = capsys.readouterr().out
    for words in ("Evidence", "standard uncertainties", "crush", "Next", "priors of faults.toml"):
        assert words in told
    assert main(["diagnose", str(demo_campaign), "L3-R6-S", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["settled"]
    assert plain["groups"][0]["share"] > 0.9
    healthy = next(one for one in plain["causes"] if one["cause"] == "healthy")
    assert healthy["excluded"]


def test_healthy_is_never_given_a_percentage(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["diagnose", str(demo_campaign), "L2-M-T", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["groups"][0] == {"causes": ["healthy"], "share": None}


def test_the_catalogue_and_a_symptom_need_no_campaign(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["faults", "drift", "--json"]) == 0
    labels = [one["label"] for one in json.loads(capsys.readouterr().out)["faults"]]
    assert "recorder drifts" in labels
    assert main(["diagnose", "--symptom", "hum"]) == 0
    assert "shield or earth" in capsys.readouterr().out
    assert main(["diagnose"]) == 2
    assert "--symptom" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [["NOPE"], ["L2-M-T", "--gate", "moon"], ["L2-M-T", "--seen", "purple smoke"]],
)
def test_what_the_person_got_wrong_ends_with_2(demo_campaign: Path, words: list[str]) -> None:
    assert main(["diagnose", str(demo_campaign), *words]) == 2
