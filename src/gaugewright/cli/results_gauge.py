"""Commands that print what gauges show under load: results events, results gauge."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from gaugewright.calc.uncertainty import Uncertain
    from gaugewright.present.units_shown import System
    from gaugewright.services.gauge.look import Companion, GaugeLook
    from gaugewright.services.loading.events import Event

    # For every hold, and why there is none at all.
    Predicted = tuple[tuple[Uncertain | None, ...], str]

__all__ = ["add_to"]

EVENTS = teaching(
    does="""List first cracking and first yield at every gauge and opposite pair, by every
    criterion, each with its load, the uncertainty of that load, what it was seen by and what else
    looks like it; then the first and the last gauge. Nothing is written.""",
    when="after reduce.",
    example="gaugewright results events beams-2026",
    after="gaugewright results gauge beams-2026 LABEL, for one of them hold by hold",
)
GAUGE = teaching(
    does="""Show one gauge, or the mean of an opposite pair, under load: strain, the strain that was
    predicted, stress and state of the steel in every hold that the load cell shows and whether it
    had settled; events; slope of unloading; strain that stayed; loops and their energy. Nothing is
    written.""",
    when="after reduce.",
    example='gaugewright results gauge beams-2026 "G07 with G08"',
    after="gaugewright serve beams-2026, whose Results draw the same numbers",
)
UNSEEN = "-"


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("events", help=EVENTS)(events)
    app.command("gauge", help=GAUGE)(gauge)


def events(context: typer.Context, folder: CampaignFolder, as_json: AsJson = False) -> None:
    """List events at every gauge."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.gauge import look as gauge_look
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        found = gauge_look.every_event(desk)
        plain = {
            "campaign": str(folder),
            "gauges": [_companion_plain(one) for one in found],
            "specimen": [_specimen_plain(one) for one in gauge_look.of_specimen(found)],
        }
        lines = _events_lines(found, page.system, page.zone)
    result(as_json, plain, lines)


def gauge(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str,
        typer.Argument(
            metavar="LABEL",
            help="Label of a gauge, or of a pair as ONE with OTHER.",
            show_default=False,
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Show one gauge under load."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.gauge import look as gauge_look
    from gaugewright.services.gauge import predicted as gauge_predicted
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        look = gauge_look.look_at(desk, label)
        predicted = gauge_predicted.predicted_at_holds(look)
        plain = {"campaign": str(folder), **_look_plain(look, predicted)}
        lines = _look_lines(look, predicted, page.system, page.zone)
    result(as_json, plain, lines)


def _events_lines(found: "Sequence[Companion]", system: "System", zone: "ZoneInfo") -> list[str]:
    from gaugewright.services.gauge import look as gauge_look

    if not found:
        return ["No gauge is reduced: gaugewright reduce CAMPAIGN comes first."]
    rows = [
        (one.label, one.state.value, *_event_cells(event, system, zone), event.note)
        for one in found
        for event in one.events
    ]
    lines = table(("gauge", "state", "event", "by", "load", "strain", "at", "note"), rows)
    told = [
        (
            f"{one.kind} by {one.name}",
            f"{one.first.label} at {_text(one.first_load, 'force', system)}",
            f"{one.last.label} at {_text(one.last_load, 'force', system)}",
            str(one.gauges),
        )
        for one in gauge_look.of_specimen(tuple(found))
    ]
    if told:
        heads = ("event", "first gauge", "last gauge", "gauges that showed it")
        lines += ["", "Usable gauges together (a gauge that never showed it isn't counted):"]
        lines += table(heads, told)
    return [*lines, "", *_criteria([event for one in found for event in one.events])]


def _criteria(events: "Sequence[Event]") -> list[str]:
    """Each criterion once, in words."""
    named = {
        f"{event.kind} by {event.name}": event.criterion for event in events if event.criterion
    }
    return [f"{name}: {words}" for name, words in named.items()]


def _event_cells(
    event: "Event", system: "System", zone: "ZoneInfo"
) -> tuple[str, str, str, str, str]:
    return (
        event.kind,
        event.name,
        _text(event.load, "force", system),
        _text(event.strain, "strain", system),
        _clock(event.time, zone),
    )


def _look_lines(
    look: "GaugeLook", predicted: "Predicted", system: "System", zone: "ZoneInfo"
) -> list[str]:
    record = look.record
    lines = [
        f"{record.label} at {record.station}: {look.state.value}; strain since zero "
        f"{record.zero.value}, {record.material.record.label}",
        "",
        *_hold_lines(look, predicted, system, zone),
        "",
        *table(
            ("event", "by", "load", "strain", "at", "evidence", "note"),
            [
                (*_event_cells(event, system, zone), event.evidence, event.note)
                for event in look.events
            ],
        ),
        "",
        *_criteria(look.events),
    ]
    for heads, rows in _path_tables(look, system, zone):
        if rows:
            lines += ["", *table(heads, rows)]
    return lines


def _hold_lines(
    look: "GaugeLook", predicted: "Predicted", system: "System", zone: "ZoneInfo"
) -> list[str]:
    from gaugewright.services.loading.holds import SETTLED_WHEN

    if not look.holds:
        return ["The load cell shows no hold of 10 s or more (in long tests, of a thousandth)."]
    rows = [
        (
            hold.held.label or UNSEEN,
            _clock(hold.held.begins, zone),
            f"{hold.held.ends - hold.held.begins:.0f} s",
            _text(hold.load, "force", system),
            _text(hold.strain, "strain", system),
            _text(expected, "strain", system),
            _text(hold.stress, "stress", system),
            hold.steel or UNSEEN,
            "" if hold.settled is None else "yes" if hold.settled else "no",
            hold.note,
        )
        for hold, expected in zip(look.holds, predicted[0], strict=True)
    ]
    heads = (
        *("hold", "from", "held", "load", "strain", "predicted"),
        *("stress", "steel", "settled", "note"),
    )
    why = [f"Nothing predicted: {predicted[1]}."] if predicted[1] else []
    return [*table(heads, rows), SETTLED_WHEN, *why]


def _path_tables(
    look: "GaugeLook", system: "System", zone: "ZoneInfo"
) -> "list[tuple[tuple[str, ...], Sequence[Sequence[str]]]]":
    clock = look.record.time
    falls = [
        (
            _clock(float(clock[row.first]), zone),
            _text(row.peak, "force", system),
            _text(row.low, "force", system),
            _text(row.slope, "strain_per_load", system),
            _text(row.modulus, "elastic_modulus", system),
            _text(row.ratio, "slope_ratio", system),
            row.note,
        )
        for row in look.unloadings
    ]
    stayed = [
        (
            _clock(row.after.held.begins, zone),
            _text(row.strain, "strain", system),
            row.note,
        )
        for row in look.residuals
    ]
    loops = [
        (
            _clock(float(clock[row.first]), zone),
            _text(row.peak, "force", system),
            _text(row.low, "force", system),
            _text(row.area, "work_per_length", system),
            _text(row.energy, "work_per_volume", system),
            "yes" if row.closed else "no",
        )
        for row in look.loops
    ]
    return [
        (("unloading from", "load", "to", "slope", "E", "over first loading", "note"), falls),
        (("unloaded since", "strain that stayed", "note"), stayed),
        (("loop from", "load", "to", "work per length", "per volume", "closed"), loops),
    ]


def _text(value: "Uncertain | None", quantity: str, system: "System") -> str:
    from gaugewright.services.gauge import look as gauge_look

    shown = gauge_look.number(value, quantity, system)
    return UNSEEN if shown is None else shown.text


def _clock(seconds: float | None, zone: "ZoneInfo") -> str:
    from gaugewright.services.gauge import look as gauge_look

    if seconds is None:
        return UNSEEN
    return f"{gauge_look.instant_of(seconds).astimezone(zone):%Y-%m-%d %H:%M:%S}"


def _plain(value: "Uncertain | None") -> dict[str, float] | None:
    from gaugewright.services.campaign.coverage import COVERAGE

    if value is None:
        return None
    return {
        "value": value.value.item(),
        "expanded_uncertainty": float(value.expanded(COVERAGE)),
        "coverage": COVERAGE,
    }


def _event_plain(event: "Event") -> dict[str, Any]:
    return {
        "event": event.kind,
        "criterion": event.name,
        "criterion_in_words": event.criterion,
        "load_n": _plain(event.load),
        "strain": _plain(event.strain),
        "at": _iso(event.time),
        "row": event.row,
        "evidence": event.evidence,
        "note": event.note,
    }


def _iso(seconds: float | None) -> str | None:
    from gaugewright.services.gauge import look as gauge_look

    return None if seconds is None else gauge_look.instant_of(seconds).isoformat()


def _companion_plain(one: "Companion") -> dict[str, Any]:
    return {
        "gauge": one.label,
        "station": one.station,
        "state": one.state.value,
        "zero": one.zero,
        "events": [_event_plain(event) for event in one.events],
    }


def _specimen_plain(one: Any) -> dict[str, Any]:
    return {
        "event": one.kind,
        "criterion": one.name,
        "first_gauge": one.first.label,
        "first_load_n": _plain(one.first_load),
        "last_gauge": one.last.label,
        "last_load_n": _plain(one.last_load),
        "gauges": one.gauges,
    }


def _look_plain(look: "GaugeLook", predicted: "Predicted") -> dict[str, Any]:
    record = look.record
    return {
        "gauge": record.label,
        "station": record.station,
        "state": look.state.value,
        "zero": record.zero.value,
        "holds": [
            {
                "label": hold.held.label,
                "begins": _iso(hold.held.begins),
                "ends": _iso(hold.held.ends),
                "load_n": _plain(hold.load),
                "strain": _plain(hold.strain),
                "predicted_strain": _plain(expected),
                "stress_pa": _plain(hold.stress),
                "steel": hold.steel,
                "strain_rate_per_s": None if hold.drift is None else hold.drift.rate,
                "strain_rate_error_per_s": None if hold.drift is None else hold.drift.rate_error,
                "settled": hold.settled,
                "note": hold.note,
            }
            for hold, expected in zip(look.holds, predicted[0], strict=True)
        ],
        "nothing_predicted": predicted[1] or None,
        "events": [_event_plain(event) for event in look.events],
        **_paths_plain(look),
    }


def _paths_plain(look: "GaugeLook") -> dict[str, Any]:
    time = look.record.time
    return {
        "unloadings": [
            {
                "begins": _iso(float(time[row.first])),
                "ends": _iso(float(time[row.last])),
                "peak_n": _plain(row.peak),
                "low_n": _plain(row.low),
                "strain_per_newton": _plain(row.slope),
                "modulus_pa": _plain(row.modulus),
                "over_first_loading": _plain(row.ratio),
                "note": row.note,
            }
            for row in look.unloadings
        ],
        "residuals": [
            {
                "since": _iso(row.after.held.begins),
                "highest_load_n": row.highest,
                "strain": _plain(row.strain),
                "note": row.note,
            }
            for row in look.residuals
        ],
        "loops": [
            {
                "begins": _iso(float(time[row.first])),
                "ends": _iso(float(time[row.last])),
                "peak_n": _plain(row.peak),
                "low_n": _plain(row.low),
                "work_per_length_j_per_m": _plain(row.area),
                "work_per_volume_j_per_m3": _plain(row.energy),
                "gap": row.gap,
                "closed": row.closed,
            }
            for row in look.loops
        ],
    }
