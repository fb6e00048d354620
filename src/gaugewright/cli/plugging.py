"""Commands that write down plugs: connect, disconnect, shunt-step, wire-colours."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.wiring.plugs import Plugged
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

CONNECT = teaching(
    does="""Write down that a circuit, sensor or temperature point was put on a channel, from when,
    by which plug, and how the channel is set; what isn't given of the setting stays as it was.
    Refused while the channel or the circuit isn't free. Says which zeros the plug ended, and
    with --carry which hold on, with the doubt of two contacts remade.""",
    when="at the moment of plugging, also when a plug was pulled and put back.",
    example="""gaugewright connect beams-2026 A05 L3-M-T --at "2026-10-13 08:24" --plug "seal 12"
    --carry "put back at once, specimen untouched\"""",
    after="gaugewright zeros beams-2026",
)
DISCONNECT = teaching(
    does="""Write down that what is on a channel was unplugged, and when. The connection gets a new
    version with its end; readings after it belong to nobody.""",
    when="at the moment of unplugging, also to measure a gauge by hand.",
    example='gaugewright disconnect beams-2026 A05 --at "2026-10-13 08:22"',
    after="gaugewright connect beams-2026 A05 L3-M-T",
)
STEP = teaching(
    does="""Keep by how much a channel's number changed when the calibration resistor was put in,
    and say what that means: as expected at its place, another place, or which factor it is off
    by.""",
    when="before and after a test, channel by channel.",
    example="""gaugewright shunt-step beams-2026 A05 --resistor "174.65 kohm ± 0.1 %"
    --step "-0.495 mV/V" --position T1-T2""",
    after="gaugewright wiring beams-2026",
)
COLOURS = teaching(
    does="""Keep the colours of a lead's wires as the laboratory has them, one a wire in the order
    of its terminals: A, B, C of a quarter bridge. None is ever assumed.""",
    when="once for each kind of cable.",
    example="gaugewright wire-colours beams-2026 L3-M-T brown grey violet",
    after="gaugewright wiring beams-2026 --list circuits",
)

ChannelLabel = Annotated[
    str, typer.Argument(metavar="CHANNEL", help="Label of the channel.", show_default=False)
]
At = Annotated[
    str,
    typer.Option(
        "--at", metavar="TIME", help="Time of the hall; now when left out.", show_default=False
    ),
]


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("connect", help=CONNECT)(connect)
    app.command("disconnect", help=DISCONNECT)(disconnect)
    app.command("shunt-step", help=STEP)(shunt_step)
    app.command("wire-colours", help=COLOURS)(wire_colours)


def connect(
    context: typer.Context,
    folder: CampaignFolder,
    channel: ChannelLabel,
    subject: Annotated[
        str,
        typer.Argument(
            metavar="WHAT", help="Circuit, sensor or temperature point.", show_default=False
        ),
    ],
    at: At = "",
    until: Annotated[
        str, typer.Option(metavar="TIME", help="When it was unplugged, if it was.")
    ] = "",
    plug: Annotated[str, typer.Option(help="Plug or seal, as it is marked.")] = "",
    carry: Annotated[
        str, typer.Option(metavar="REASON", help="Why earlier zeros hold on; they end without it.")
    ] = "",
    writes: Annotated[str, typer.Option(help="What the channel writes, as wiring shows it.")] = "",
    unit: Annotated[str, typer.Option(help="Unit it writes in, such as mV/V.")] = "",
    excitation: Annotated[str, typer.Option(help='Excitation: "2.5 V".')] = "",
    completion: Annotated[str, typer.Option(help='Completion: "350 ohm ± 0.05 %".')] = "",
    set_gauge_factor: Annotated[str, typer.Option(help="Gauge factor set.")] = "",
    as_json: AsJson = False,
) -> None:
    """Write down that something was put on a channel."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.wiring import typed as wiring_typed

    typed = {
        "subject": subject,
        "at": at,
        "until": until,
        "plug": plug,
        "carry": carry,
        "writes": writes,
        "unit": unit,
        "excitation": excitation,
        "completion_resistance": completion,
        "set_gauge_factor": set_gauge_factor,
    }
    with campaigns.opened(folder, settings_of(context)) as store:
        _told(store, folder, wiring_typed.connected(store, channel, typed), as_json)


def disconnect(
    context: typer.Context,
    folder: CampaignFolder,
    channel: ChannelLabel,
    at: At = "",
    as_json: AsJson = False,
) -> None:
    """Write down that what is on a channel was unplugged."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.wiring import typed as wiring_typed

    with campaigns.opened(folder, settings_of(context)) as store:
        _told(store, folder, wiring_typed.disconnected(store, channel, {"at": at}), as_json)


def _told(store: "CampaignStore", folder: Path, plugged: "Plugged", as_json: bool) -> None:
    from gaugewright.records.identity import instant_text
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.wiring import typed as wiring_typed

    book, record = Book.read(store), plugged.connection.record
    system = campaigns.system_of(store)
    plain = {
        "campaign": str(folder),
        "channel": book.label(record.channel),
        "subject": book.label(record.subject),
        "begins": instant_text(record.begins),
        "ends": instant_text(record.ends) if record.ends else None,
        "plug": record.plug,
        "zeros_ended": [one.record.kind.value for one in plugged.ended],
        "zeros_carried": [one.record.kind.value for one in plugged.carried],
        "uid": plugged.connection.uid,
        "version": plugged.connection.version,
    }
    result(as_json, plain, wiring_typed.plugged_words(book, plugged, system))


def shunt_step(
    context: typer.Context,
    folder: CampaignFolder,
    channel: ChannelLabel,
    resistor: Annotated[str, typer.Option(help='"174.65 kohm ± 0.1 %". Must be given.')] = "",
    step: Annotated[
        str,
        typer.Option(help='With it less without it: "-0.495 mV/V ± 0.001". Must be given.'),
    ] = "",
    position: Annotated[
        str,
        typer.Option(
            help="T1-T2, A-C …, as its channel’s page names the places; empty if unknown."
        ),
    ] = "",
    at: At = "",
    as_json: AsJson = False,
) -> None:
    """Keep a step of the calibration resistor."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.wiring import shunt_verdict
    from gaugewright.services.wiring import typed as wiring_typed

    typed = {"shunt_resistance": resistor, "step": step, "position": position, "at": at}
    with campaigns.opened(folder, settings_of(context)) as store:
        kept = wiring_typed.stepped(store, channel, typed)
        told = shunt_verdict.verdict(Book.read(store), kept)
    plain = {
        "campaign": str(folder),
        "channel": channel,
        "position": kept.record.position,
        "step": kept.record.step.value,
        "verdict": told,
        "uid": kept.uid,
    }
    result(as_json, plain, [told])


def wire_colours(
    context: typer.Context,
    folder: CampaignFolder,
    circuit: Annotated[
        str, typer.Argument(metavar="CIRCUIT", help="Label of the circuit.", show_default=False)
    ],
    colours: Annotated[
        list[str], typer.Argument(metavar="COLOUR", help="One a wire.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """Keep the colours of a lead's wires."""
    from gaugewright.records.electrical import BridgeCircuit, Lead
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.wiring import plugs as wiring

    with campaigns.opened(folder, settings_of(context)) as store:
        book = Book.read(store)
        lead = book.entry(book.labelled(BridgeCircuit, circuit).record.lead, Lead)
        kept = wiring.colour(store, lead, colours, reason=f"colours of the lead of {circuit}")
    plain = {"campaign": str(folder), "lead": kept.record.label, "colours": kept.record.colours}
    lines = [f"{kept.record.label}: {', '.join(kept.record.colours)}"]
    result(as_json, plain, lines)
