"""Yield loads as a person reads them, and a job done in a process of its own."""

from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.cli.outcomes import yield_lines, yields_plain
from gaugewright.records.identity import working_context
from gaugewright.records.stated import State
from gaugewright.services.reducing.reduction import YieldRow
from gaugewright.services.work import jobs
from gaugewright.store.campaign import CampaignStore

SEEN = YieldRow("G1", "S1", State.SOUND, 163_900.0, 800.0, 0.95, "gauge factor", "before test", "")
UNSEEN = YieldRow("G2", "S2", State.SOUND, None, None, 0.95, "", "before test", "not reached")


def test_a_load_is_rounded_by_its_uncertainty_and_a_missing_one_says_why() -> None:
    lines = [line.replace("\N{NO-BREAK SPACE}", " ") for line in yield_lines([SEEN, UNSEEN], "si")]
    assert "load at yield (95 %)" in lines[0]
    assert "163.90 ± 0.80 kN" in lines[2]
    assert "gauge factor" in lines[2]
    assert lines[3].split() == ["G2", "sound", "not", "reached"]


def test_a_campaign_in_us_units_shows_kips() -> None:
    # 163.9 kN / 4.4482216 kN a kip = 36.846 kip; 0.8 kN = 0.18 kip.
    [line] = yield_lines([SEEN], "us")[2:]
    assert "36.85 ± 0.18 kip" in line.replace("\N{NO-BREAK SPACE}", " ")


def test_machines_get_newtons_and_nothing_rounded() -> None:
    seen, unseen = yields_plain([SEEN, UNSEEN])
    assert (seen["load_n"], seen["expanded_uncertainty_n"]) == (163_900.0, 800.0)
    assert (unseen["load_n"], unseen["note"]) == (None, "not reached")


def test_no_yield_at_all_is_said() -> None:
    assert "No yield loads" in yield_lines([], "si")[0]


def test_a_job_that_can_not_be_done_ends_with_its_sentence(
    campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with CampaignStore.open(campaign, working_context()) as store:
        uid = jobs.begun(store, "reduce", {})
    assert main(["job", uid, "--campaign", str(campaign)]) == 2
    assert "failed: " in capsys.readouterr().err
    with CampaignStore.open(campaign, working_context()) as store:
        done = jobs.job(store, uid)
    assert done.state is jobs.JobState.FAILED
    assert done.message.strip()


def test_a_job_of_an_unknown_kind_is_refused_by_name(
    campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with CampaignStore.open(campaign, working_context()) as store:
        uid = jobs.begun(store, "dance", {})
    assert main(["job", uid, "--campaign", str(campaign)]) == 2
    assert "'dance'" in capsys.readouterr().err


def test_a_report_of_no_gauge_is_refused_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "empty"
    assert main(["new", str(folder), "--title", "Nothing yet"]) == 0
    out = tmp_path / "empty.pdf"
    assert main(["report", str(folder), "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert "gauges" in said
    assert "place gauges first" in said
    assert not out.exists()
    assert not (folder / "handover/report-1.pdf").exists()
