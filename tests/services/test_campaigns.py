"""Campaigns as a whole: begun, found again, opened by a person, copied."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from gaugewright.errors import GaugewrightError, InputError, StoreError
from gaugewright.records.identity import seeded_context
from gaugewright.records.proof import Limit, Person
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.settings import Settings, load

BEAM = Campaign("beam", "A beam", "Europe/Rome")


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return load(environment={}, user_folder=tmp_path / "no settings")


def begun(folder: Path, settings: Settings) -> None:
    context = seeded_context(datetime(2026, 3, 1, 12, tzinfo=UTC))
    campaigns.new(folder, BEAM, settings, context=context).close()


def test_a_new_campaign_has_its_own_copy_of_the_limits(tmp_path: Path, settings: Settings) -> None:
    begun(tmp_path / "beam", settings)
    with campaigns.opened(tmp_path / "beam", settings) as store:
        assert store.campaign.record == BEAM
        assert len(store.entries(Limit)) > 10


def test_the_list_shows_what_is_there_and_when_it_was_written(
    tmp_path: Path, settings: Settings
) -> None:
    for name in ("b", "a"):
        begun(tmp_path / name, settings)
    (tmp_path / "notes").mkdir()
    found = campaigns.listed(tmp_path)
    assert [one.folder.name for one in found] == ["a", "b"]
    assert (found[0].title, found[0].gauges, found[0].state) == ("A beam", 0, "empty")
    assert found[0].last_entry is not None
    assert found[0].last_entry.date() == date(2026, 3, 1)
    assert campaigns.listed(tmp_path / "a") == found[:1]


def test_a_damaged_campaign_is_listed_with_its_problem_and_hides_no_other(
    tmp_path: Path, settings: Settings
) -> None:
    begun(tmp_path / "sound", settings)
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "campaign.sqlite").write_text("not a database")
    broken, sound = campaigns.listed(tmp_path)
    assert broken.problem
    assert sound.label == "beam"


def test_a_person_at_work_is_named_in_what_is_written(tmp_path: Path, settings: Settings) -> None:
    begun(tmp_path / "beam", settings)
    with campaigns.opened(tmp_path / "beam", settings) as store:
        ines = store.add(Person("ines", "Ines Example")).uid
    named = load({"person": "ines"}, environment={}, user_folder=tmp_path / "no settings")
    with campaigns.opened(tmp_path / "beam", named) as store:
        assert store.add(Person("tom", "Tom Sample")).person == ines


def test_a_person_who_is_not_in_the_campaign_is_refused(tmp_path: Path, settings: Settings) -> None:
    begun(tmp_path / "beam", settings)
    named = load({"person": "nobody"}, environment={}, user_folder=tmp_path / "no settings")
    with pytest.raises(InputError, match="nobody"):
        campaigns.opened(tmp_path / "beam", named)


def test_a_folder_that_is_in_use_is_refused_and_left_alone(
    tmp_path: Path, settings: Settings
) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="an empty folder"):
        begun(tmp_path, settings)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("what", ["nowhere", "empty"])
def test_a_folder_without_a_campaign_is_refused(
    what: str, tmp_path: Path, settings: Settings
) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match=r"holds campaign\.sqlite"):
        campaigns.opened(tmp_path / what, settings)


def test_a_copy_made_while_the_campaign_is_open_has_its_newest_record(
    tmp_path: Path, settings: Settings
) -> None:
    begun(tmp_path / "beam", settings)
    with campaigns.opened(tmp_path / "beam", settings) as store:
        store.add(Person("ines", "Ines Example"))
        campaigns.copy(tmp_path / "beam", tmp_path / "copy")
        head = store.head()
    with campaigns.opened(tmp_path / "copy", settings) as copied:
        assert copied.head() == head
        assert copied.problems() == ()


def test_a_copy_never_lands_on_something(tmp_path: Path, settings: Settings) -> None:
    begun(tmp_path / "beam", settings)
    begun(tmp_path / "other", settings)
    with pytest.raises(StoreError, match="exists"):
        campaigns.copy(tmp_path / "beam", tmp_path / "other")


def test_an_unreadable_laboratory_begins_no_campaign(tmp_path: Path) -> None:
    laboratory = tmp_path / "laboratory"
    laboratory.mkdir()
    (laboratory / "limits.toml").write_text("[[limit]]\nlabel = 7\n")
    settings = load({"laboratory": str(laboratory)}, environment={}, user_folder=tmp_path / "none")
    with pytest.raises(GaugewrightError, match=r"limits\.toml"):
        begun(tmp_path / "beam", settings)
    assert not (tmp_path / "beam").exists()
