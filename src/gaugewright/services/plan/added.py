"""Writing down what a plan proposed: stations of a question that named none."""

from dataclasses import replace

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.places import proposed_stations, standing_stations
from gaugewright.store.campaign import CampaignStore

__all__ = ["stations_added"]


def stations_added(store: CampaignStore, book: Book, label: str) -> tuple[Entry[Station], ...]:
    """Write the stations proposed for a question, and the question with them, all or none.

    A station that stands at such a place already is used as it is.

    Raises
    ------
    InputError
        If the question names stations already, or none can be proposed.
    """
    question = book.labelled(Question, label)
    if question.record.stations:
        named = ", ".join(book.label(uid) for uid in question.record.stations)
        raise InputError(f"stations of {label}", named, "none yet, for stations to be proposed")
    proposed = proposed_stations(book, question)
    if not proposed.stations:
        raise InputError(f"stations for {label}", None, "some that can be proposed", proposed.words)
    known = standing_stations(book)
    made: list[Entry[Station]] = []
    with store.several():
        for station in proposed.stations:
            there = known.get((station.bar, station.label))
            made.append(there or store.add(station, reason=f"proposed for {label}"))
        uids: tuple[Uid, ...] = tuple(entry.uid for entry in made)
        record = replace(question.record, stations=uids)
        store.revise(question.uid, question.version, record, reason="proposed stations added")
    return tuple(made)
