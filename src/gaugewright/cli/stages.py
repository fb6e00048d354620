"""The command that turns a stage of a circuit's corrections on or off: stage."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.records import Entry
    from gaugewright.records.corrections import StageSwitch
    from gaugewright.records.electrical import BridgeCircuit
    from gaugewright.services.campaign.book import Book

__all__ = ["add_to"]

STAGE = teaching(
    does="""Turn one stage of a circuit's corrections on or off, with the reason. The chain is
    built with it before anything is kept: one that can't be, such as lead loss beside shunt
    scaling, is refused with the rule it breaks. Without a stage, list those there are and what
    was decided. A new decision about the same stage is a new version; the earlier one stays.""",
    when="when the records around a circuit don't say by themselves what must be corrected.",
    example="""gaugewright stage beams-2026 L1-M-T "thermal output" --off
    --reason "indoors, one hour, 0.3 K by the point beside it\"""",
    after="gaugewright reduce beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("stage", help=STAGE)(stage)


def stage(
    context: typer.Context,
    folder: CampaignFolder,
    circuit: Annotated[
        str, typer.Argument(metavar="CIRCUIT", help="Label of the circuit.", show_default=False)
    ],
    name: Annotated[
        str, typer.Argument(metavar="STAGE", help="Name of the stage.", show_default=False)
    ] = "",
    on: Annotated[
        bool | None, typer.Option("--on/--off", help="Which it is to be. Must be given.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why, in words. Must be given.")] = "",
    number: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=VALUE",
            help='A number only this stage needs: "initial_strain = -80 µm/m ± 10 µm/m".',
        ),
    ] = None,
    beside: Annotated[
        str, typer.Option(help="Temperature point or unloaded circuit read beside it.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Turn a stage of the corrections on or off."""
    from gaugewright.records.electrical import BridgeCircuit
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.deciding import stage_decisions

    said = {True: "on", False: "off", None: ""}[on]
    with campaigns.opened(folder, settings_of(context), read_only=not name) as store:
        book = Book.read(store)
        found = book.labelled(BridgeCircuit, circuit)
        if not name:
            result(as_json, _listed(book, found), _lines(book, found))
            return
        texts = {"stage": name, "set": said, "reason": reason, "beside": beside}
        kept = stage_decisions.decide(
            store, found, stage_decisions.wish_from(book, texts, number or ())
        )
    word = kept.record.stage.rpartition("@")[0]
    lines = [f"{word} is {said} for {circuit}: {kept.record.reason}"]
    lines += ["", f"Next: gaugewright reduce {folder}"]
    result(as_json, {"campaign": str(folder)} | _plain(circuit, kept), lines)


def _plain(circuit: str, kept: "Entry[StageSwitch]") -> dict[str, Any]:
    record = kept.record
    return {
        "circuit": circuit,
        "stage": record.stage,
        "on": record.on,
        "reason": record.reason,
        "numbers": {one.name: one.stated.value for one in record.numbers},
        "version": kept.version,
        "uid": kept.uid,
    }


def _listed(book: "Book", circuit: "Entry[BridgeCircuit]") -> dict[str, Any]:
    from gaugewright.services.deciding import stage_decisions

    label = circuit.record.label
    decided = stage_decisions.decisions_of(book, circuit.uid)
    return {
        "circuit": label,
        "stages": dict(stage_decisions.stage_words()),
        "decided": [_plain(label, one) for one in decided],
    }


def _lines(book: "Book", circuit: "Entry[BridgeCircuit]") -> list[str]:
    from gaugewright.services.deciding import stage_decisions

    decided = {
        one.record.stage: ("on" if one.record.on else "off", one.record.reason)
        for one in stage_decisions.decisions_of(book, circuit.uid)
    }
    rows = [
        (name.rpartition("@")[0], *decided.get(name, ("", "")), summary)
        for name, summary in stage_decisions.stage_words().items()
    ]
    heads = ("stage", "decided", "because", "what it does")
    return [f"Stages that can be decided for {circuit.record.label}:", "", *table(heads, rows)]
