"""Campaigns as a whole: start one, open one, list those in a folder, copy one."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import cast

from gaugewright.errors import GaugewrightError, InputError, StoreError
from gaugewright.present.units_shown import System
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Context, instant_from_text, working_context
from gaugewright.records.proof import Person
from gaugewright.records.readings import Recording
from gaugewright.records.results import Result
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import laboratory
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Summary",
    "copy",
    "listed",
    "new",
    "opened",
    "refuse_used_folder",
    "summary",
    "system_of",
]

DATABASE = "campaign.sqlite"


@dataclass(frozen=True, slots=True)
class Summary:
    """A campaign in one line; ``problem`` says why one can't be read, and then stands alone."""

    folder: Path
    label: str = ""
    title: str = ""
    zone: str = ""
    units: str = ""
    invented: bool = False
    gauges: int = 0
    recordings: int = 0
    last_entry: datetime | None = None
    state: str = ""
    problem: str = ""


def refuse_used_folder(folder: Path) -> None:
    """Refuse a target that exists and isn't an empty folder.

    Raises
    ------
    InputError
        Naming the folder and the way out.
    """
    if folder.is_dir() and not any(folder.iterdir()):
        return
    if folder.exists():
        allowed = "an empty folder or one that doesn't exist yet"
        raise InputError("folder", str(folder), allowed, "name another one or move this one away")


def new(folder: Path, campaign: Campaign, settings: Settings, *, context: Context) -> CampaignStore:
    """Start a campaign with a full copy of the laboratory's own packs, people and limits.

    Raises
    ------
    InputError
        If the folder is in use.
    StoreError
        If the campaign can't be written there.
    """
    refuse_used_folder(folder)
    defaults = laboratory.campaign_defaults(settings)
    whence = "copied from the laboratory at the beginning"
    if not settings["laboratory"]:
        whence = "copied in at the beginning, as shipped: no laboratory's folder is named"
    return CampaignStore.create(folder, campaign, context, defaults=defaults, defaults_from=whence)


def opened(
    folder: Path, settings: Settings | None = None, *, read_only: bool = False
) -> CampaignStore:
    """Open a campaign for work by the person whom the settings name.

    Raises
    ------
    InputError
        If the folder holds no campaign or the person isn't in it.
    StoreError
        If the campaign can't be used.
    """
    if not (folder / DATABASE).is_file():
        do = "name the folder that holds campaign.sqlite, or start one with: gaugewright new"
        raise InputError("campaign", str(folder), "the folder of a campaign", do)
    store = CampaignStore.open(folder, working_context(), read_only=read_only)
    label = settings["person"] if settings is not None else ""
    if not label:
        return store
    try:
        return store.as_person(store.labelled(Person, label).uid)
    except GaugewrightError:
        store.close()
        raise


def system_of(store: CampaignStore) -> System:
    """Units in which a campaign shows its numbers; its record takes no others."""
    return cast("System", store.campaign.record.units)


def summary(store: CampaignStore) -> Summary:
    """What the list shows of one campaign."""
    record = store.campaign.record
    gauges, recordings, results = (store.count(kind) for kind in (Gauge, Recording, Result))
    return Summary(
        folder=store.folder,
        label=record.label,
        title=record.title,
        zone=record.zone,
        units=record.units,
        invented=record.invented,
        gauges=gauges,
        recordings=recordings,
        last_entry=_last_entry(store),
        state=_state(gauges, recordings, results),
    )


def _state(gauges: int, recordings: int, results: int) -> str:
    """How far the job has come, by what is there."""
    if results:
        return "reduced"
    if recordings:
        return "readings in"
    return "gauges entered" if gauges else "empty"


def _last_entry(store: CampaignStore) -> datetime | None:
    for entry in store.journal(store.head().seq):
        return instant_from_text(str(entry.told()["at"]))
    return None


def listed(folder: Path) -> tuple[Summary, ...]:
    """Campaigns in a folder: itself, when it is one, else those directly below it, by name.

    Raises
    ------
    InputError
        If there is no such folder.
    """
    if not folder.is_dir():
        raise InputError("folder", str(folder), "a folder that exists")
    here = [folder] if (folder / DATABASE).is_file() else sorted(folder.iterdir())
    return tuple(_read(path) for path in here if (path / DATABASE).is_file())


def _read(folder: Path) -> Summary:
    try:
        with CampaignStore.open(folder, working_context(), read_only=True) as store:
            return summary(store)
    except StoreError as error:
        # One damaged or newer campaign must not hide the others.
        return Summary(folder=folder, problem=str(error))


def copy(folder: Path, to: Path) -> Path:
    """Copy a campaign as it stands into another folder, complete and checked by the store.

    Raises
    ------
    InputError
        If there is no campaign.
    StoreError
        If the target exists.
    """
    with opened(folder, read_only=True) as store:
        store.copy_to(to)
    return to
