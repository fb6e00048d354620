"""The commands of the gates: gate writes down what was read, gates lists every verdict."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from zoneinfo import ZoneInfo

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, pairs, settings_of
from gaugewright.cli.speech import aside, result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.services.gating.checks import Recorded
    from gaugewright.services.gating.table import Cell
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

GATE = teaching(
    does="""Write down what was read of one gauge at a gate, or take in a gate's filled sheet, all
    rows or none. Each value is held against its limit with what the meter may be off: pass, fail,
    or this meter cannot tell. A probable slip is refused with the value that was probably meant;
    --as-typed takes it as it is, with a flag. Nothing read before is changed.""",
    when="at every gate, with the plug out for pairs and insulation; the channel's reading last.",
    example="gaugewright --set person=AB gate beams-2026 'before pour' --gauge G07 --ab 353.84 "
    "--bc 4.41 --insulation '> 2000' --temperature 17.5",
    after="gaugewright gates beams-2026, which names what to repair first",
)
GATES = teaching(
    does="""List the last verdict of every gauge at every gate, and the gauges to be repaired while
    hands can still reach them, first the one on which most hangs. With --sheet FILE the sheet of
    one gate is written, as .csv or .xlsx, to be filled in anywhere.""",
    when="before the next step of the work buries something.",
    example="gaugewright gates beams-2026 --gate 'before pour' --sheet pour.csv",
    after="gaugewright gate beams-2026 'before pour' --sheet pour.csv",
)
GateName = Annotated[str, typer.Argument(metavar="GATE", help="Such as 'before pour'.")]


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("gate", help=GATE)(gate)
    app.command("gates", help=GATES)(gates)


def gate(
    context: typer.Context,
    folder: CampaignFolder,
    name: GateName,
    gauge: Annotated[str, typer.Option(metavar="LABEL", help="Gauge that was read.")] = "",
    ab: Annotated[str, typer.Option("--ab", help="Between leads A and B.")] = "",
    bc: Annotated[str, typer.Option("--bc", help="Between leads B and C.")] = "",
    ac: Annotated[str, typer.Option("--ac", help="Between leads A and C.")] = "",
    insulation: Annotated[str, typer.Option(help="Leads to bar.")] = "",
    reading: Annotated[str, typer.Option(help="Of the channel, plugged in again.")] = "",
    read: Annotated[
        list[str] | None,
        typer.Option(metavar="PAIR=VALUE", help="Any other pair, such as D-B=353.8; repeatable."),
    ] = None,
    temperature: Annotated[str, typer.Option(metavar="DEGC", help="Of gauge and cable.")] = "",
    sheet: Annotated[Path | None, typer.Option(metavar="FILE", help="Filled sheet.")] = None,
    as_typed: Annotated[bool, typer.Option("--as-typed", help="Odd values are as read.")] = False,
    unplugged: Annotated[
        bool, typer.Option("--unplugged", help="The plug was pulled for it: its zero ends.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Write down readings of one gauge, or of a sheet."""
    from gaugewright.services.campaign import campaigns

    typed = {"A-B": ab, "B-C": bc, "A-C": ac, "insulation": insulation, "reading": reading}
    typed |= pairs("--read", read or ())
    texts = {what: text for what, text in typed.items() if text.strip()}
    if (sheet is None) == (not gauge):
        raise InputError("--gauge or --sheet", "both or none", "one of them")
    how = {"as_typed": as_typed, "unplugged": unplugged}
    with campaigns.opened(folder, settings_of(context)) as store:
        if sheet is not None:
            found = _sheet(store, name, sheet, how)
        else:
            found = ((gauge, _one(store, (name, gauge), texts, temperature, how)),)
        plain = {"campaign": str(folder), "gate": name, "checks": [_plain(*one) for one in found]}
        lines = [line for one in found for line in _lines(*one)]
    result(as_json, plain, lines or ["Nothing new in it."])


def _one(
    store: "CampaignStore",
    place: tuple[str, str],
    texts: dict[str, str],
    temperature: str,
    how: dict[str, bool],
) -> "Recorded":
    from gaugewright.present.typed import number_typed
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.gating import checks as gate_checks
    from gaugewright.services.gating import fields as gate_fields

    book = Book.read(store)
    gauge = gate_fields.gauge_named(book, place[1])
    made = gate_fields.setup(book, gauge, gate_fields.gate_named(place[0]))
    for what in texts:
        made.field(what)  # a pair that the circuit hasn't is refused, not passed over
    units = {}
    for field in made.fields:
        meter = gate_checks.meter_for(book, field, store.context.person)
        if meter is not None:
            units[field.what] = gate_checks.box_unit(book, meter, field)
    degrees = number_typed("temperature", temperature) if temperature.strip() else None
    sent = gate_checks.Sent(texts, {}, store.context.now(), units, degrees, **how)
    key = "command-" + store.context.new_uid()
    return gate_checks.record(store, book, made, sent, key=key)


def _sheet(
    store: "CampaignStore", name: str, path: Path, how: dict[str, bool]
) -> "tuple[tuple[str, Recorded], ...]":
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.gating import fields as gate_fields
    from gaugewright.services.gating import sheet as gate_sheet

    zone = ZoneInfo(store.campaign.record.zone)
    gate_at = gate_fields.gate_named(name)
    taken = gate_sheet.take_in(store, Book.read(store), gate_at, path, zone=zone, **how)
    aside(f"{len(taken.recorded)} taken in, {taken.unchanged} unchanged, {taken.empty} empty")
    return taken.recorded


def _lines(label: str, found: "Recorded") -> list[str]:
    check = found.entry.record
    lines = [f"{label}: {check.verdict.value}. {check.reason}"]
    lines += [f"  look again: {flag}" for flag in check.flags]
    lines += [
        f"  {both.label}: {both.who} read {both.theirs}, you {both.yours}; both are kept"
        for both in found.both
    ]
    return lines


def _plain(label: str, found: "Recorded") -> dict[str, Any]:
    check = found.entry.record
    return {
        "uid": found.entry.uid,
        "gauge": label,
        "verdict": check.verdict.value,
        "reason": check.reason,
        "flags": list(check.flags),
        "not_read": list(found.judgement.missing),
        "readings": [
            {"what": r.what, "value": r.value, "bound": r.censor.value, "typed": r.typed}
            for r in check.readings
        ],
        "both": [
            {"what": b.label, "theirs": b.theirs, "who": b.who, "yours": b.yours}
            for b in found.both
        ],
    }


def gates(
    context: typer.Context,
    folder: CampaignFolder,
    gate_name: Annotated[
        str, typer.Option("--gate", metavar="GATE", help="Only this gate, with its reasons.")
    ] = "",
    sheet: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the gate's sheet: .csv or .xlsx.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List verdicts, or write a sheet."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.gating import fields as gate_fields
    from gaugewright.services.gating import table as gate_table

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        book = Book.read(store)
        chosen = gate_fields.gate_named(gate_name) if gate_name else None
        if sheet is not None:
            _write_sheet(store, book, gate_name, sheet)
        rows = gate_table.rows(book)
        repairs = gate_table.repair_now(book)
    cells = {
        row.gauge.record.label: [c for c in row.cells if chosen in (None, c.gate)] for row in rows
    }
    plain = {
        "campaign": str(folder),
        "gauges": {label: {c.gate.value: _cell(c) for c in of} for label, of in cells.items()},
        "repair": [{"gauge": r.gauge.record.label, "because": r.sentence} for r in repairs],
    }
    lines = _table(cells, with_reasons=chosen is not None)
    if repairs:
        lines += ["", "Repair now, in this order:"]
        lines += [f"  {r.gauge.record.label}: {r.sentence}" for r in repairs]
    result(as_json, plain, lines)


def _cell(cell: "Cell") -> dict[str, Any]:
    record = cell.check.record if cell.check else None
    return {
        "state": cell.state.value,
        "verdict": record.verdict.value if record else None,
        "reason": record.reason if record else None,
        "visits": cell.visits,
    }


def _table(cells: "dict[str, list[Cell]]", *, with_reasons: bool) -> list[str]:
    names = [cell.gate.value for cell in next(iter(cells.values()), [])]
    shown = [(label, *(c.state.value for c in of)) for label, of in cells.items()]
    if with_reasons:
        names += ["why"]
        shown = [
            (*row, of[0].check.record.reason if of and of[0].check else "")
            for row, of in zip(shown, cells.values(), strict=True)
        ]
    return table(("gauge", *names), shown)


def _write_sheet(store: "CampaignStore", book: Any, name: str, path: Path) -> None:
    from gaugewright.services.gating import fields as gate_fields
    from gaugewright.services.gating import sheet as gate_sheet

    if not name:
        raise InputError("--gate", "", "given with --sheet: a sheet is of one gate")
    if path.suffix.lower() not in (".csv", ".xlsx"):
        raise InputError("--sheet", str(path), "a name that ends with .csv or .xlsx")
    if path.exists():
        raise InputError("--sheet", str(path), "a new file", "this one is there already")
    zone = ZoneInfo(store.campaign.record.zone)
    made = gate_sheet.sheet_of(book, gate_fields.gate_named(name), zone)
    if path.suffix.lower() == ".csv":
        path.write_text(gate_sheet.as_csv(made), encoding="utf-8-sig", newline="")
    else:
        path.write_bytes(gate_sheet.as_workbook(made))
    aside(
        f"{path} is written; gauges left out for want of a circuit: "
        f"{', '.join(made.left_out) or 'none'}"
    )
