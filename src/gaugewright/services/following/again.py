"""What was being followed when the app ended, so that it is followed again without being asked.

Kept in the campaign's cache: it says where files are on this machine, which is nobody else's
business, and losing it loses no reading.
"""

import json
from collections.abc import Sequence
from pathlib import Path

from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import Uid
from gaugewright.records.readings import ReadingProfile
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.stream import Source
from gaugewright.store.campaign import CampaignStore

__all__ = ["forget", "keep", "kept"]

_NAME = "followed.json"


def keep(store: CampaignStore, sources: Sequence[Source]) -> None:
    """Write down what is followed now."""
    told = [
        {
            "place": str(source.place),
            "profile": source.profile.uid,
            "instrument": None if source.instrument is None else source.instrument.uid,
            "older": None if source.older is None else sorted(source.older),
        }
        for source in sources
    ]
    path = store.folder / "cache" / _NAME
    path.parent.mkdir(exist_ok=True)
    aside = path.with_suffix(".new")
    aside.write_text(json.dumps(told), encoding="utf-8")
    aside.replace(path)


def forget(store: CampaignStore) -> None:
    """A person stopped it: nothing is followed again."""
    (store.folder / "cache" / _NAME).unlink(missing_ok=True)


def kept(store: CampaignStore, book: Book) -> tuple[Source, ...]:
    """What was followed when nobody stopped it; () when nothing was, or it can't be read."""
    try:
        told = json.loads((store.folder / "cache" / _NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ()
    return tuple(
        Source(
            Path(each["place"]),
            book.entry(Uid(each["profile"]), ReadingProfile),
            None if each["instrument"] is None else book.entry(Uid(each["instrument"]), Instrument),
            None if each["older"] is None else frozenset(each["older"]),
        )
        for each in told
    )
