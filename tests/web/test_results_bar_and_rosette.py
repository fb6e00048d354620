"""A bar along its length and a rosette on their sheets: what stands there is the service's."""

import csv
import io
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Bar
from gaugewright.services.along_bars import profiles as bar_profiles
from gaugewright.services.along_bars.profiles import BarProfile
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading.moments import moment_named
from gaugewright.services.specimen import rosettes
from gaugewright.services.specimen.rosettes import Group
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import links, rows, words

BAR = "/c/demo/results/bars/L3"
ROSETTE = "/c/demo/results/rosettes/P"


@pytest.fixture(scope="module")
def desk(demo_campaign: Path):  # type: ignore[no-untyped-def]
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield Desk(store, Book.read(store))


@pytest.fixture(scope="module")
def profile(desk: Desk) -> BarProfile:
    bar = desk.book.labelled(Bar, "L3")
    at = moment_named(desk, "160 kN")
    return bar_profiles.bar_profile(desk, bar, at, ZeroKind.BEFORE_TEST)


@pytest.fixture(scope="module")
def group(desk: Desk) -> Group:
    (found,) = [one for one in rosettes.groups(desk) if one.name == "P"]
    return found


def part(text: str, key: str) -> str:
    return text.partition(f'id="{key}"')[2].partition("</section>")[0]


def first_number(text: str) -> float:
    plain = text.partition("±")[0].replace("−", "-")
    return float(re.sub(r"[^0-9.\-]", "", plain))


def test_the_bars_numbers_are_the_services_and_a_lost_station_has_none(
    reader: TestClient, profile: BarProfile
) -> None:
    text = reader.get(BAR, params={"at": "160 kN"}).text
    found = [row for row in rows(part(text, "bond")) if "to" in row[0]]
    assert len(found) == len(profile.steps)
    for row, step in zip(found, profile.steps, strict=True):
        doubt = step.stress.expanded().item() / 1e6
        assert first_number(row[1]) == pytest.approx(step.stress.value.item() / 1e6, abs=doubt / 19)
    (lost,) = [row for row in rows(part(text, "stations")) if "lost" in row[1]]
    assert lost[0].startswith("L3-R6-S")
    assert lost[3] == "–"
    assert "lost" in part(text, "shown")


def test_the_way_through_the_test_is_links(reader: TestClient) -> None:
    text = reader.get(BAR, params={"at": "160 kN"}).text
    found = {label: url for url, label in links(text)}
    before = next(url for label, url in found.items() if label.startswith("Before:"))
    assert "130 kN" in words(reader.get(before.replace("&amp;", "&")).text)
    assert reader.get(BAR, params={"at": "tea time"}).status_code == 422
    assert reader.get("/c/demo/results/bars/none").status_code == 404


def test_a_stated_slip_and_concrete_bring_the_law_and_nonsense_stands_with_the_form(
    reader: TestClient,
) -> None:
    asked = {"at": "160 kN", "slip_at": "420", "slip": "0", "slip_doubt": "0.1"}
    text = reader.get(BAR, params={**asked, "f_cm": "38", "rib": "10"}).text
    assert 'id="law"' in text
    bad = reader.get(BAR, params={**asked, "slip_at": "here"})
    assert bad.status_code == 200
    assert "it must be a number" in words(part(bad.text, "state"))
    doubtless = reader.get(BAR, params={"at": "160 kN", "slip_at": "420", "slip": "0"}).text
    assert "± of the slip" in words(part(doubtless, "state"))
    nowhere = reader.get(BAR, params={"at": "160 kN", "slip_at": "420", "slip_doubt": "1"}).text
    assert "Slip there" in words(part(nowhere, "state"))


def test_the_bars_drawn_numbers_can_be_taken(reader: TestClient, profile: BarProfile) -> None:
    got = reader.get(BAR, params={"at": "160 kN", "numbers": "field"}).text
    table = list(csv.reader(io.StringIO(got)))[1:]
    bond = [float(row[2]) for row in table if row[0] == "bond stress in Pa"]
    assert profile.bond is not None
    assert bond == pytest.approx(profile.bond.value.value.tolist())


def test_the_rosettes_numbers_are_the_services(
    reader: TestClient, desk: Desk, group: Group
) -> None:
    text = reader.get(ROSETTE, params={"at": "160 kN"}).text
    assert not group.why_not
    state = rosettes.rosette_state_at(desk, group, moment_named(desk, "160 kN"))
    by_name = {row[0]: row[1] for row in rows(part(text, "numbers")) if len(row) > 2}
    doubt = state.angle.expanded().item()
    angle = math.degrees(state.angle.value.item())
    assert first_number(by_name["axis to ε₁, counter-clockwise"]) == pytest.approx(
        angle, abs=math.degrees(doubt) / 19
    )
    stress = state.first_stress.value.item() / 1e6
    assert first_number(by_name["larger principal stress"]) == pytest.approx(stress, abs=0.2)


def test_a_rosette_with_a_doubtful_arm_has_a_reason_and_no_numbers(
    reader: TestClient, group: Group, monkeypatch: pytest.MonkeyPatch
) -> None:
    doubtful = replace(group, why_not="P-1 is doubtful")
    monkeypatch.setattr(rosettes, "groups", lambda desk: (doubtful,))
    text = reader.get(ROSETTE, params={"at": "160 kN"}).text
    assert "P-1 is doubtful" in words(part(text, "shown"))
    found = re.findall(r'<section[^>]*id="([^"]*)"', text)
    assert "shown" in found
    assert "numbers" not in found


def test_the_results_page_names_both_lists_and_they_open(reader: TestClient) -> None:
    found = [url for url, _ in links(reader.get("/c/demo/results").text)]
    for url, own in (("/c/demo/results/bars", BAR), ("/c/demo/results/rosettes", ROSETTE)):
        assert url in found
        assert own in [each for each, _ in links(reader.get(url).text)]
