"""Who may be at work: people of the laboratory and of the campaigns in a folder."""

from pathlib import Path

from gaugewright.errors import StoreError
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.services.campaign import laboratory
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = ["of_campaign", "of_laboratory"]


def of_campaign(folder: Path) -> tuple[Person, ...]:
    """People entered in a campaign; none where it can't be read, as the list of campaigns says."""
    try:
        with CampaignStore.open(folder, working_context(), read_only=True) as store:
            return tuple(entry.record for entry in store.entries(Person))
    except StoreError:
        return ()


def of_laboratory(settings: Settings) -> tuple[Person, ...]:
    """People of the laboratory's own folder.

    Raises
    ------
    FileError
        If the laboratory's folder isn't there.
    Faults
        If something in it can't be used.
    """
    if not settings["laboratory"]:
        return ()
    records = laboratory.laboratory_records(Path(settings["laboratory"]))
    return tuple(record for record in records if isinstance(record, Person))
