"""What a campaign is called and how it is shown, changed later; what its readings rest on, not."""

from dataclasses import replace

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Campaign
from gaugewright.store.campaign import CampaignStore

__all__ = ["changed", "zone_is_fixed"]


def zone_is_fixed(store: CampaignStore) -> bool:
    """Whether readings were brought in: their stamps were read as times of this zone."""
    return bool(store.entries(Recording))


def changed(
    store: CampaignStore,
    *,
    title: str | None = None,
    units: str | None = None,
    zone: str | None = None,
    purpose: str | None = None,
) -> Entry[Campaign]:
    """Write a new version of the campaign's own record; what is None stays.

    Units are those shown: every number is kept in SI, so they may change at any time.

    Raises
    ------
    InputError
        If nothing would change, a value can't be used, or the zone is to change though readings
        were brought in by it.
    """
    now = store.campaign
    record = replace(
        now.record,
        title=now.record.title if title is None else title.strip(),
        units=now.record.units if units is None else units,
        zone=now.record.zone if zone is None else zone.strip(),
        purpose=now.record.purpose if purpose is None else purpose.strip(),
    )
    if record.zone != now.record.zone and zone_is_fixed(store):
        raise InputError(
            "zone",
            record.zone,
            f"{now.record.zone} as long as readings are in: their stamps were read by it",
            "begin a campaign in the right zone and bring the files in again",
        )
    told = [
        f"{name} {getattr(record, name) or 'empty'}"
        for name in ("title", "units", "zone", "purpose")
        if getattr(record, name) != getattr(now.record, name)
    ]
    if not told:
        raise InputError("change", "none", "something other than what is there")
    return store.revise(now.uid, now.version, record, reason="changed: " + "; ".join(told))
