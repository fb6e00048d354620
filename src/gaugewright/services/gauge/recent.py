"""The gauge somebody looks at just now, worked out once while the records stay as they are."""

import threading
from dataclasses import dataclass, field

from gaugewright.services.campaign.book import Book
from gaugewright.services.gauge.look import Companion, GaugeLook, every_event, look_at
from gaugewright.services.gauge.plots import Samples, samples_of
from gaugewright.services.gauge.predicted import with_prediction
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["events_kept", "look_kept"]

# A longer record is worked out anew each time: kept, it would fill a small machine's memory.
_MOST_ROWS = 2_000_000

Kept = tuple[GaugeLook, Samples]


@dataclass(slots=True)
class _Recent:
    """The last gauge that was looked at; a page asks for it again at once, for its numbers."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    kept: dict[str, Kept] = field(default_factory=dict)


def look_kept(store: CampaignStore, book: Book, label: str) -> Kept:
    """Look at a gauge or pair and its samples, from a moment ago or worked out now.

    Raises
    ------
    InputError
        As ``gauge_look.look_at``.
    """
    recent = book.once("gauge under load", lambda book: _Recent())
    with recent.lock:
        found = recent.kept.get(label)
        if found is None:
            look = look_at(Desk(store, book), label)
            found = (look, with_prediction(look.record, samples_of(look)))
            recent.kept = {label: found} if look.record.time.size <= _MOST_ROWS else {}
    return found


def events_kept(store: CampaignStore, book: Book) -> tuple[Companion, ...]:
    """Events of every gauge and pair, worked out at the first asking."""
    return book.once("events of every gauge", lambda book: every_event(Desk(store, book)))
