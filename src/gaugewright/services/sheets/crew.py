"""One page for those who lift, place and vibrate: what is in there, and what must not happen."""

from dataclasses import replace

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.handover.figures import map_of_bars
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import Said, people_lines

__all__ = ["said"]

# Common practice, no source: what loses gauges between the bench and the hardened concrete.
_DO = (
    "Lift only by the marked points. Nothing hangs on a cable or is tied to one.",
    "Keep the vibrator two hands away from tape-wrapped places and cables; don't touch them.",
    "Pour beside wrapped places, never onto them. Don't step on, bend or shift a wrapped bar.",
    "Keep tags and cable ends dry and outside the form. When stripping, find the cables first.",
)
_CAUTION = (
    "Fresh concrete burns skin and eyes: gloves, boots, glasses. Nobody stands below a lifted "
    "cage. Local rules and the person in charge of the site come first."
)
_MOST_BARS = 5


def said(page: Page) -> Said:
    """What the crew reads, standing."""
    bars = _cast(page)
    known = {bar.uid for bar in bars}
    gauges = [g for g in page.book.of(Gauge) if page.book.station_of(g).record.bar in known]
    lead = (
        f"{len(gauges)} gauges are glued to bars in this cage. A lost one can't be replaced after "
        "the pour. If anything is torn, crushed or cut: stop, and tell us at once."
    )
    people = people_lines(page)
    return Said(
        lead,
        (
            Part("Please", lines=_DO),
            _where(page, bars),
            Part(
                "Safety",
                words=_CAUTION,
                blanks=(f"Call {people[0] if people else ''}, telephone",),
                is_caution=True,
            ),
        ),
        is_large=True,
    )


def _where(page: Page, bars: list[Entry[Bar]]) -> Part:
    """A drawing of the gauged bars; a table of them where there are too many to be drawn."""
    drawing = map_of_bars(page, bars) if len(_rows(page)) <= _MOST_BARS else None
    if drawing is None:
        return Part("Where they are", table=_bars(page))
    return Part("Where they are", figure=replace(drawing, caption="Keep clear of every mark."))


def _cast(page: Page) -> list[Entry[Bar]]:
    """Bars of what will be cast; every bar where nothing is called a cast member."""
    bars = page.book.of(Bar)
    kinds = {bar.uid: page.book.entry(bar.record.specimen, Specimen).record.kind for bar in bars}
    cast = [bar for bar in bars if kinds[bar.uid] is SpecimenKind.CAST_MEMBER]
    return cast or list(bars)


def _rows(page: Page) -> list[tuple[str, str, str]]:
    """How many gauges are on each bar, and between which distances."""
    rows = []
    for bar in _cast(page):
        places = []
        datum = ""
        for gauge in page.book.of(Gauge):
            station = page.book.station_of(gauge).record
            if station.bar == bar.uid:
                built = station.distance_built
                places.append(built.value if built else station.distance_planned)
                datum = station.datum
        if places:
            low, high = (page.number(end, None, "m").text for end in (min(places), max(places)))
            where = f"at {low}" if low == high else f"{low} to {high}"
            rows.append((bar.record.label, str(len(places)), f"{where} from the {datum}"))
    return rows


def _bars(page: Page) -> PartTable:
    rows = _rows(page)
    shown = rows[:_MOST_BARS]
    if len(rows) > _MOST_BARS:
        left = rows[_MOST_BARS:]
        shown.append(
            (f"{len(left)} more bars", str(sum(int(row[1]) for row in left)), "see their tags")
        )
    return PartTable(("Bar", "Gauges", "Where"), tuple(shown), "", wide=(2,), right=(1,))
