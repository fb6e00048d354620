"""Of what an archive is, whose it is, and what others may do with it."""

from dataclasses import dataclass
from datetime import UTC, datetime

from gaugewright.records.proof import Person
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.journal import JournalHead

__all__ = ["About", "about_campaign"]


@dataclass(frozen=True, slots=True)
class About:
    """What an archive is of, whose it is, and what others may do with it.

    ``licence`` is a name or an address; ``people`` are names and roles.
    """

    label: str
    title: str
    purpose: str
    invented: bool
    licence: str
    people: tuple[tuple[str, str], ...]
    made: datetime
    head: JournalHead


def about_campaign(store: CampaignStore, licence: str) -> About:
    """What a campaign's records say of it at this moment, with a licence in words."""
    campaign = store.campaign.record
    return About(
        campaign.label,
        campaign.title,
        campaign.purpose,
        campaign.invented,
        licence,
        tuple((e.record.name, e.record.role) for e in store.entries(Person)),
        store.context.now().astimezone(UTC),
        store.head(),
    )
