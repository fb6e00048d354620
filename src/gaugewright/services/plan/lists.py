"""What was planned, and how far it was built so: questions, members, bars, stations."""

from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records import kind_said, label_of
from gaugewright.records.gauges import Gauge
from gaugewright.records.member import Member
from gaugewright.records.specimen import Bar, Question, Specimen, Station
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.exact import taken_as_exact
from gaugewright.services.campaign.questions import question_line
from gaugewright.services.showing.listings import Cell, Column, Listing

__all__ = ["plan_lists"]


def plan_lists(book: Book, system: System) -> tuple[Listing, ...]:
    """Every list of the plan, in the order in which it is made; ``system`` for numbers in words."""
    return (
        _questions(book, system),
        _specimens(book),
        _members(book),
        _bars(book),
        _stations(book),
        *_exact(book),
    )


def _questions(book: Book, system: System) -> Listing:
    rows = []
    for entry in book.of(Question):
        line, record = question_line(book, entry), entry.record
        rows.append(
            (
                record.label,
                record.text,
                record.quantity,
                _wanted(record, system),
                record.load,
                line.standing,
                line.sentence,
                ", ".join(book.label(uid) for uid in record.stations),
            )
        )
    return Listing(
        "questions",
        "Questions",
        (
            Column("question"),
            Column("in words"),
            Column("asks for"),
            Column("wanted to"),
            Column("at", "force"),
            Column("standing"),
            Column("gauges"),
            Column("stations"),
        ),
        tuple(rows),
        "Questions will stand here: what must be known, and how well.",
        "Standing is worked out from the gauges that can be used today.",
    )


def _exact(book: Book) -> tuple[Listing, ...]:
    """Numbers without ±, where there are any."""
    rows = tuple(
        (kind_said(one.entry.record), label_of(one.entry.record), ", ".join(one.numbers))
        for one in taken_as_exact(book)
    )
    if not rows:
        return ()
    return (
        Listing(
            "exact",
            "Taken as exact",
            (Column("what"), Column("which"), Column("numbers without ±")),
            rows,
            "",
            "Nobody said how well these are known, so budgets leave them out and come out too "
            "small. Give each its ± in its form.",
        ),
    )


def _wanted(record: Question, system: System) -> str:
    """The expanded uncertainty asked for; "bond stress" is shown like any stress."""
    if record.wanted is None:
        return ""
    last = record.quantity.split()[-1]
    like = "force" if last == "load" else last
    if like in QUANTITIES:
        return f"± {quantity_shown(like, record.wanted, None, system).text}"
    return f"± {significant_text(record.wanted)}, in its unit inside"


def _specimens(book: Book) -> Listing:
    rows = tuple(
        (
            entry.record.label,
            entry.record.kind.value,
            entry.record.length,
            entry.record.width,
            entry.record.height,
            sum(bar.record.specimen == entry.uid for bar in book.of(Bar)),
            entry.record.description,
        )
        for entry in book.of(Specimen)
    )
    return Listing(
        "specimens",
        "Specimens",
        (
            Column("specimen"),
            Column("kind"),
            Column("length", "distance"),
            Column("width", "distance"),
            Column("height", "distance"),
            Column("bars"),
            Column("description"),
        ),
        rows,
        "Specimens will stand here: what is tested.",
    )


def _members(book: Book) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for entry in book.of(Member):
        record = entry.record
        for place in record.bars:
            rows.append(
                (
                    record.label,
                    f"{record.outline.shape.value}, concrete {book.label(record.concrete)}",
                    book.label(place.bar),
                    place.depth,
                    place.across,
                    place.begins,
                    record.datum,
                )
            )
    return Listing(
        "members",
        "Bars in their members",
        (
            Column("member"),
            Column("outline"),
            Column("bar"),
            Column("depth", "distance"),
            Column("across", "distance"),
            Column("begins at", "distance"),
            Column("counted from"),
        ),
        tuple(rows),
        "Where bars lie in their section will stand here once a member is described.",
    )


def _bars(book: Book) -> Listing:
    on: dict[str, int] = {}
    for gauge in book.of(Gauge):
        bar = book.bar_of(gauge)
        on[bar.uid] = on.get(bar.uid, 0) + 1
    rows = tuple(
        (
            entry.record.label,
            book.label(entry.record.specimen),
            book.label(entry.record.material),
            entry.record.size,
            entry.record.diameter,
            entry.record.area,
            entry.record.length,
            on.get(entry.uid, 0),
        )
        for entry in book.of(Bar)
    )
    return Listing(
        "bars",
        "Bars",
        (
            Column("bar"),
            Column("specimen"),
            Column("material"),
            Column("size"),
            Column("diameter", "diameter"),
            Column("area", "area"),
            Column("length", "distance"),
            Column("gauges"),
        ),
        rows,
        "Bars and other pieces of metal will stand here.",
    )


def _stations(book: Book) -> Listing:
    on: dict[str, list[str]] = {}
    for gauge in book.of(Gauge):
        on.setdefault(gauge.record.station, []).append(gauge.record.label)
    rows = tuple(
        (
            entry.record.label,
            book.label(entry.record.bar),
            entry.record.datum,
            entry.record.distance_planned,
            entry.record.distance_built,
            _moved(entry.record.distance_planned, entry.record.distance_built),
            entry.record.angle_planned,
            entry.record.angle_built,
            ", ".join(on.get(entry.uid, ())) or "none yet",
        )
        for entry in book.of(Station)
    )
    return Listing(
        "stations",
        "Stations",
        (
            Column("station"),
            Column("bar"),
            Column("counted from"),
            Column("distance planned", "distance"),
            Column("distance built", "distance"),
            Column("built less planned", "distance"),
            Column("angle planned", "angle"),
            Column("angle built", "angle"),
            Column("gauges"),
        ),
        rows,
        "Stations will stand here: each a place on a bar, planned and as built.",
        "An empty place among those built: not measured.",
    )


def _moved(planned: float, built: Stated | None) -> float | None:
    return None if built is None else built.value - planned
