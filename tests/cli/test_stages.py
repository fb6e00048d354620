"""Turning a stage on or off from the command line: kept with its reason, or refused by a rule."""

import json
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import chain_for


@pytest.fixture
def beams(demo_campaign: Path, tmp_path: Path) -> str:
    """A copy of the demo."""
    shutil.copytree(demo_campaign, tmp_path / "beams")
    return str(tmp_path / "beams")


def test_a_decision_is_in_the_chain_with_its_reason_number_and_unit(
    beams: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--reason", "weight of the slab", "--number", "initial_strain = -80 µm/m ± 10 µm/m"]
    assert main(["stage", beams, "L1-M-T", "initial strain", "--on", *words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["numbers"] == {"initial_strain": -80e-6}
    with campaigns.opened(Path(beams), read_only=True) as store:
        book = Book.read(store)
        circuit = book.labelled(BridgeCircuit, "L1-M-T")
        built = chain_for(book, book.connections_of(circuit.uid)[-1])
    stage = built.chain.stage("initial strain@1")
    assert (stage.on, stage.reason) == (True, "weight of the slab")
    cause = next(one for one in built.chain.inputs if one.name.startswith("initial_strain@"))
    assert cause.standard_uncertainty == pytest.approx(10e-6 / 3**0.5)
    assert main(["stage", beams, "L1-M-T"]) == 0
    assert "weight of the slab" in capsys.readouterr().out


def test_what_breaks_a_rule_is_refused_and_nothing_is_kept(
    beams: str, capsys: pytest.CaptureFixture[str]
) -> None:
    slope = ["--number", "calibration_slope=0.5", "--number", "calibration_offset=0"]
    wanted = ["stage", beams, "L1-M-T", "calibration", "--on", "--reason", "loaded", *slope]
    assert main(wanted) == 2
    told = capsys.readouterr().err
    assert "3 things to mend" in told
    assert "off with 'calibration@1', which contains it" in told
    assert main(["stage", beams, "L1-M-T", "dummy", "--off"]) == 2
    assert "why this stage is on or off" in capsys.readouterr().err
    assert main(["stage", beams, "L1-M-T", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["decided"] == []
