"""Ways on between the forms of a plan: what else writes the same, what comes first and next."""

from collections.abc import Mapping
from urllib.parse import quote

from gaugewright.records.specimen import Question
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering.kinds import Asking, EntryKind, ManyKind
from gaugewright.services.plan.order import StageFacts, next_stage, way_words
from gaugewright.web import rooms

__all__ = [
    "OTHER_WAYS",
    "before",
    "channel_url",
    "coming_form",
    "entry_url",
    "following",
    "ways",
]

# Other ways in than a form, by the key of what they write: words, address below the campaign's.
OTHER_WAYS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "station": (("From a spreadsheet", "plan/sheet"), ("On a drawing", "plan/place")),
    "channel": (("As files of readings name them", "readings"),),
}


def entry_url(room: rooms.Room, key: str, name: str = "") -> str:
    """Address of a form: of a new record, or of one that is there."""
    return room.url(f"plan/enter/{key}" + (f"/{quote(name, safe='')}" if name else ""))


def ways(room: rooms.Room, kind: EntryKind | ManyKind) -> tuple[tuple[str, str], ...]:
    """Other ways to enter the same."""
    found = [(words, room.url(rest)) for words, rest in OTHER_WAYS.get(_written_by(kind), ())]
    found += [
        (many.title, entry_url(room, many.key))
        for many in plan_entry.MANY.values()
        if many.of == kind.key
    ]
    if isinstance(kind, ManyKind) and kind.of:
        found.append((f"Enter {plan_entry.KINDS[kind.of].one}", entry_url(room, kind.of)))
    return tuple(found)


def _written_by(kind: EntryKind | ManyKind) -> str:
    return kind.key if isinstance(kind, EntryKind) else kind.of


def before(room: rooms.Room, kind: EntryKind | ManyKind) -> tuple[str, str] | None:
    """The form to be filled in first where nothing can be asked yet."""
    if not isinstance(kind, ManyKind) or not kind.before:
        return None
    return f"Enter {plan_entry.KINDS[kind.before].one}", entry_url(room, kind.before)


def following(room: rooms.Room, kind: EntryKind | ManyKind) -> tuple[str, str] | None:
    """What usually comes next; where a kind has nothing of its own, what the plan still lacks."""
    if not kind.after:
        coming = next_stage(room.book)
        if coming is None or kind.key in coming.stage.ways:
            return None
        return coming_form(room, coming)
    usual = plan_entry.MANY.get(kind.after) or plan_entry.KINDS[kind.after]
    found = _first_needed(room, usual)
    words = f"Enter {found.one}" if isinstance(found, EntryKind) else found.title
    return words, entry_url(room, found.key)


def coming_form(room: rooms.Room, coming: StageFacts) -> tuple[str, str]:
    """The form for what is left of a plan: words and address.

    Of a question that names no station that is its own form: there they are picked.
    """
    if coming.stage.key == "question" and coming.left:
        lacking = next(one for one in room.book.of(Question) if not one.record.stations)
        label = lacking.record.label
        return f"Question {label}", entry_url(room, "question", label)
    return way_words(coming.way), entry_url(room, coming.way)


def channel_url(room: rooms.Room, label: str) -> str:
    """Address of a channel's own page."""
    return room.url(f"wiring/{quote(label, safe='')}")


def _first_needed(room: rooms.Room, wanted: EntryKind | ManyKind) -> EntryKind | ManyKind:
    """What must be entered before a form: the records that it can't do without."""
    for blank in wanted.blanks(Asking(room.book, {}, room.units)):
        if blank.is_needed and blank.of is not None and not room.book.of(blank.of):
            needed = plan_entry.kind_of_record(blank.of)
            if needed is not None:
                return _first_needed(room, needed)
    return wanted
