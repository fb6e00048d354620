"""Tables of what gauges show under load, as the results pages print them."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import unit_shown
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.gauge.look import Companion, GaugeLook, number
from gaugewright.services.loading.events import Event
from gaugewright.services.showing.page import Page

__all__ = ["Cell", "NumberTable", "Row", "criteria", "of_every_gauge", "of_gauge", "together"]


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: words, or a number with its ± in the column's unit."""

    words: str = ""
    number: Shown | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its name, where that leads, its cells, and a remark below the name."""

    name: str
    url: str
    cells: tuple[Cell, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class NumberTable:
    """A table; ``heads`` are name, unit and whether a column holds numbers.

    ``key`` is its place on the page, ``empty`` what is said when it has no rows.
    """

    key: str
    title: str
    first: str
    heads: tuple[tuple[str, str, bool], ...]
    rows: tuple[Row, ...]
    empty: str
    about: str = ""


def criteria(events: Sequence[Event]) -> tuple[tuple[str, str], ...]:
    """Each criterion once: its name and its words."""
    return tuple({f"{e.kind} by {e.name}": e.criterion for e in events if e.criterion}.items())


def of_gauge(
    page: Page,
    look: GaugeLook,
    predicted: Sequence[Uncertain | None],
    url_at: Callable[[float], str],
) -> tuple[NumberTable, ...]:
    """Holds, events, falls, what stayed, loops."""
    return (
        _holds(page, look, predicted, url_at),
        _events(page, look, url_at),
        _falls(page, look, url_at),
        _stayed(page, look, url_at),
        _loops(page, look, url_at),
    )


def _holds(
    page: Page,
    look: GaugeLook,
    predicted: Sequence[Uncertain | None],
    url_at: Callable[[float], str],
) -> NumberTable:
    rows = [
        Row(
            hold.held.label or _clock(page, hold.held.begins),
            url_at(hold.held.ends),
            (
                Cell(
                    f"{_clock(page, hold.held.begins)}, {hold.held.ends - hold.held.begins:.0f} s"
                ),
                _cell(page, hold.load, "force"),
                _cell(page, hold.strain, "strain"),
                _cell(page, expected, "strain"),
                _cell(page, hold.stress, "stress"),
                Cell(hold.steel),
                Cell("" if hold.settled is None else "settled" if hold.settled else "still moving"),
            ),
            hold.note,
        )
        for hold, expected in zip(look.holds, predicted, strict=True)
    ]
    heads = (
        ("From, held", "", False),
        ("Load", _unit(page, "force"), True),
        ("Strain", _unit(page, "strain"), True),
        ("Predicted", _unit(page, "strain"), True),
        ("Stress", _unit(page, "stress"), True),
        ("Steel", "", False),
        ("Hold", "", False),
    )
    return NumberTable(
        "holds",
        "Hold by hold",
        "Load step",
        heads,
        tuple(rows),
        "The load cell shows no hold: the load never stood still for 10 s, or a thousandth of the "
        "time that was recorded.",
        "Holds are found in the load; the name is that of the load step noted there.",
    )


def _events(page: Page, look: GaugeLook, url_at: Callable[[float], str]) -> NumberTable:
    return NumberTable(
        "events",
        "Cracking and yield",
        "Event",
        _event_heads(page),
        tuple(
            Row(
                f"{event.kind} by {event.name}",
                "" if event.time is None else url_at(event.time),
                _event_cells(page, event),
                event.note,
            )
            for event in look.events
        ),
        "Nothing to look for: this metal has no yield and no load was recorded.",
        "Every criterion by itself; they need not agree. Below each: what else could look like it.",
    )


def _event_heads(page: Page) -> tuple[tuple[str, str, bool], ...]:
    return (
        ("Load", _unit(page, "force"), True),
        ("Strain", _unit(page, "strain"), True),
        ("At", "", False),
        ("Seen by", "", False),
    )


def _event_cells(page: Page, event: Event) -> tuple[Cell, ...]:
    return (
        _cell(page, event.load, "force"),
        _cell(page, event.strain, "strain"),
        Cell("" if event.time is None else _clock(page, event.time)),
        Cell(event.evidence),
    )


def _falls(page: Page, look: GaugeLook, url_at: Callable[[float], str]) -> NumberTable:
    time = look.record.time
    rows = tuple(
        Row(
            _clock(page, float(time[row.first])),
            url_at(float(time[row.first])),
            (
                _cell(page, row.peak, "force"),
                _cell(page, row.low, "force"),
                _cell(page, row.slope, "strain_per_load"),
                _cell(page, row.modulus, "elastic_modulus"),
                _cell(page, row.ratio, "slope_ratio"),
            ),
            row.note,
        )
        for row in look.unloadings
    )
    heads = (
        ("From", _unit(page, "force"), True),
        ("To", _unit(page, "force"), True),
        ("Slope", _unit(page, "strain_per_load"), True),
        ("E", _unit(page, "elastic_modulus"), True),
        ("Over first loading", "", True),
    )
    return NumberTable(
        "falls",
        "Unloading",
        "Begun",
        heads,
        rows,
        "The load never fell by more than a twentieth of its largest value.",
        "Strain per load between a fifth and four fifths of the fall. E only where all the load "
        "is in this bar; else beside the slope of its own first loading.",
    )


def _stayed(page: Page, look: GaugeLook, url_at: Callable[[float], str]) -> NumberTable:
    rows = tuple(
        Row(
            _clock(page, row.after.held.begins),
            url_at(row.after.held.ends),
            (
                _cell(page, Uncertain.exact(row.highest), "force"),
                _cell(page, row.strain, "strain"),
            ),
            row.note,
        )
        for row in look.residuals
    )
    heads = (
        ("Highest load before", _unit(page, "force"), True),
        ("Strain that stayed", _unit(page, "strain"), True),
    )
    return NumberTable(
        "stayed",
        "What stayed",
        "Unloaded since",
        heads,
        rows,
        "The load never came back to nothing and was held there.",
        "Strain in a hold at no load, less that in the hold at no load before it.",
    )


def _loops(page: Page, look: GaugeLook, url_at: Callable[[float], str]) -> NumberTable:
    time = look.record.time
    rows = tuple(
        Row(
            f"loop {place}",
            url_at(float(time[row.turn])),
            (
                Cell(_clock(page, float(time[row.first]))),
                _cell(page, row.peak, "force"),
                _cell(page, row.low, "force"),
                _cell(page, row.area, "work_per_length"),
                _cell(page, row.energy, "work_per_volume"),
                Cell("yes" if row.closed else "no"),
            ),
        )
        for place, row in enumerate(look.loops, 1)
    )
    heads = (
        ("Begun", "", False),
        ("From", _unit(page, "force"), True),
        ("To", _unit(page, "force"), True),
        ("Work per length", _unit(page, "work_per_length"), True),
        ("Per volume", _unit(page, "work_per_volume"), True),
        ("Back at its load", "", False),
    )
    return NumberTable(
        "loops",
        "Loops",
        "Loop",
        heads,
        rows,
        "No loop: the load was never taken back and up again.",
        "Area of load against strain. Per volume only where all the load is in this bar.",
    )


def together(page: Page, found: tuple[Companion, ...]) -> NumberTable | None:
    """First and last of the usable gauges; None where no gauge showed anything."""
    rows = tuple(
        Row(
            f"{one.kind} by {one.name}",
            "",
            (
                Cell(one.first.label),
                _cell(page, one.first_load, "force"),
                Cell(one.last.label),
                _cell(page, one.last_load, "force"),
                Cell(str(one.gauges)),
            ),
        )
        for one in gauge_look.of_specimen(found)
    )
    if not rows:
        return None
    unit = _unit(page, "force")
    heads = (
        ("First gauge", "", False),
        ("Load", unit, True),
        ("Last gauge", "", False),
        ("Load", unit, True),
        ("Gauges that showed it", "", False),
    )
    return NumberTable("together", "All usable gauges together", "Event", heads, rows, "")


def of_every_gauge(
    page: Page, found: tuple[Companion, ...], url_of: Callable[[str], str]
) -> Iterator[NumberTable]:
    """One table a criterion: every gauge and pair that showed it, the first to show it first."""
    names = dict.fromkeys((event.kind, event.name) for one in found for event in one.events)
    for kind, name in names:
        seen = [
            (event, one)
            for one in found
            for event in one.events
            if (event.kind, event.name) == (kind, name) and event.load is not None
        ]
        notes = {event.note for event, _ in seen}
        # What is said of all of them is said once.
        shared = notes.pop() if len(notes) == 1 else ""
        seen.sort(key=lambda pair: pair[0].load.value.item() if pair[0].load else 0.0)
        yield NumberTable(
            f"{kind}-{name}",
            f"{kind.capitalize()} by {name}",
            "Gauge",
            (("State", "", False), *_event_heads(page)),
            tuple(
                Row(
                    one.label,
                    url_of(one.label),
                    (Cell(one.state.value), *_event_cells(page, event)),
                    "" if shared else event.note,
                )
                for event, one in seen
            ),
            "No gauge showed it.",
            shared,
        )


def _cell(page: Page, value: Uncertain | None, quantity: str) -> Cell:
    return Cell(number=number(value, quantity, page.system))


def _unit(page: Page, quantity: str) -> str:
    return unit_shown(quantity, page.system).text


def _clock(page: Page, seconds: float) -> str:
    return f"{gauge_look.instant_of(seconds).astimezone(page.zone):%H:%M:%S}"
