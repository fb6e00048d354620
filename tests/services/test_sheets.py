"""Sheets say what their readers ask for, from the records, and the crew's is one page."""

import json
import zipfile
from pathlib import Path

import pypdf
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.results import Result
from gaugewright.records.specimen import Bar, Question
from gaugewright.services.packing.analyst_files import analyst_files
from gaugewright.services.sheets import sheets
from gaugewright.store.campaign import CampaignStore


@pytest.fixture(scope="module")
def store(demo_campaign: Path):
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield store


@pytest.fixture(scope="module")
def texts(store: CampaignStore, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """Text of every page of every sheet."""
    out = tmp_path_factory.mktemp("sheets")
    paths = sheets.sheets(store, out=out)
    return {
        path.stem.removeprefix("sheet-"): [
            page.extract_text() for page in pypdf.PdfReader(path).pages
        ]
        for path in paths
    }


def test_every_receiver_gets_one(texts: dict[str, list[str]]) -> None:
    assert list(texts) == ["crew", "technician", "rig", "analyst", "sponsor"]
    for pages in texts.values():
        assert all("invented data" in page for page in pages)


def test_the_crew_s_is_one_page_with_every_bar_of_the_cage(
    store: CampaignStore, texts: dict[str, list[str]]
) -> None:
    (page,) = texts["crew"]
    bars = {e.record.label for e in store.entries(Bar)}
    assert {"L1", "L2", "L3", "L4", "C1"} <= bars
    for label in ("L1", "L2", "L3", "L4", "C1"):
        assert label in page
    assert "24 gauges" in page
    assert "vibrator" in page
    assert "Nobody stands below" in " ".join(page.split())


def test_the_technician_finds_every_channel(
    store: CampaignStore, texts: dict[str, list[str]]
) -> None:
    text = "\n".join(texts["technician"])
    plugged = {entry.record.channel for entry in store.entries(Connection) if not entry.record.ends}
    assert len(plugged) > 30
    for channel in store.entries(Channel):
        if channel.uid in plugged:
            assert channel.record.label in text
    assert "residual-current" in text


def test_the_rig_is_told_that_strain_is_no_safety_device(texts: dict[str, list[str]]) -> None:
    text = " ".join("\n".join(texts["rig"]).split())
    assert "never replace the rig's own limit switches" in text
    assert "First crack at a gauge" in text
    assert "Largest load agreed" in text


def test_who_asked_gets_every_question_and_every_lost_gauge(
    store: CampaignStore, texts: dict[str, list[str]]
) -> None:
    text = " ".join("\n".join(texts["sponsor"]).split())
    for question in store.entries(Question):
        assert " ".join(question.record.text.split()) in text
    for label in ("L1-M-T", "L2-M-U", "L3-R6-S"):
        assert label in text
    assert "Nobody has signed" in text


def test_the_analyst_finds_every_gauge_result_and_column(
    store: CampaignStore, texts: dict[str, list[str]]
) -> None:
    text = "\n".join(texts["analyst"])
    close = "".join(text.split())  # a label may be broken over two lines of its cell
    for entry in (*store.entries(Gauge), *store.entries(Result)):
        assert "".join(entry.record.label.split()) in close
    assert "expanded_uncertainty" in text
    assert "total strain" in text


def test_an_unknown_receiver_and_a_missing_folder_are_refused(
    store: CampaignStore, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="receiver"):
        sheets.sheets(store, ("nobody",), out=tmp_path)
    with pytest.raises(InputError, match="folder of --out"):
        sheets.sheets(store, out=tmp_path / "none")
    with pytest.raises(InputError, match="reading only"):
        sheets.sheets(store)


def test_the_analyst_s_files_explain_every_column_and_hold_strain_as_netcdf(
    store: CampaignStore, tmp_path: Path
) -> None:
    path = analyst_files(store, tmp_path / "analyst.zip", netcdf=True)
    with zipfile.ZipFile(path) as packed:
        names = packed.namelist()
        told = json.loads(packed.read("analyst/datapackage.json"))
    for resource in told["resources"]:
        assert f"analyst/{resource['path']}" in names
        assert all(field["description"] for field in resource["schema"]["fields"])
    assert any(name.endswith("strain.nc") for name in names)
    assert any(name.endswith("strain.csv") for name in names)
