"""The days at the bench as typed on a command line: fields of the form by name, rows left out."""

from collections.abc import Mapping, Sequence

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.scheduling import BenchDays
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering.bench_days import DAY_BLANKS, SCHEDULE
from gaugewright.store.campaign import CampaignStore

__all__ = ["days_given"]


def days_given(
    store: CampaignStore, given: Mapping[str, str], dropped: Sequence[str] = ()
) -> Entry[BenchDays]:
    """Enter the days, or change what is given of them; fields are those of the form.

    Raises
    ------
    InputError
        If a name isn't a field, or something can't be used.
    InputFaults
        If several things can't.
    """
    book, system = Book.read(store), campaigns.system_of(store)
    known = book.of(BenchDays)
    texts = {"label": "bench days"} if not known else {}
    if known:
        texts = plan_entry.texts_of(SCHEDULE, book, known[-1], system)
    else:
        texts = plan_entry.standing_texts(DAY_BLANKS, texts)
    for name in given:
        if not _is_field(name):
            fields = ", ".join(blank.name for blank in DAY_BLANKS)
            raise InputError("--given", name, f"one of {fields}, or a cell such as hours.1.begins")
    texts = {
        name: text
        for name, text in (texts | dict(given)).items()
        if not any(name.startswith(f"{row}.") for row in dropped)
    }
    if not known:
        (made,) = plan_entry.written(store, SCHEDULE.key, texts)
        return made
    entry = known[-1]
    return plan_entry.changed(store, SCHEDULE.key, entry.record.label, entry.version, texts)


def _is_field(name: str) -> bool:
    rows, _, cell = name.partition(".")
    number, _, column = cell.partition(".")
    for blank in DAY_BLANKS:
        if blank.name == rows:
            columns = {one.name for one in blank.columns}
            return not cell if not columns else number.isdecimal() and column in columns
    return False
