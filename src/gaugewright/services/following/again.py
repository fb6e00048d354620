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
    """What was followed when nobody stopped it; () when nothing was, or it can't be read.

    Raises
    ------
    InputError
        If the campaign has its profile or instrument no more.
    """
    try:
        told = json.loads((store.folder / "cache" / _NAME).read_text(encoding="utf-8"))
        named = [(e["place"], e["profile"], e["instrument"], e["older"]) for e in told]
    except (OSError, ValueError, KeyError, TypeError):
        return ()
    return tuple(
        Source(
            Path(place),
            book.entry(Uid(profile), ReadingProfile),
            None if instrument is None else book.entry(Uid(instrument), Instrument),
            None if older is None else frozenset(older),
        )
        for place, profile, instrument, older in named
    )
