"""Commands of the bench: a step, what runs and comes next, supplies, methods and limits."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.records.proof import Method

__all__ = ["add_to"]

STEP = teaching(
    does="""Write down a step of the bench for one gauge or a batch: who, when, with which
    supplies, in what air, what was measured, or that it is put aside and why. By a method it is
    held to its limits: steel lost, clocks, dew point, dates; what is probably a slip is asked
    back. Local rules and safety data sheets come first.""",
    when="at the bench, step by step.",
    example="""gaugewright bench-step beams-2026 L1-M-T L1-M-U --step bond --person bonder
    --supply adhesive --temperature "21 °C" --humidity 48""",
    after="gaugewright bench-now beams-2026",
)
NOW = teaching(
    does="""Clocks that run at the bench, what each gauge waits for, and what is to be done
    again. Nothing is changed.""",
    when="in the morning, and whenever a clock may have run out.",
    example="gaugewright bench-now beams-2026",
    after="gaugewright bench-step beams-2026 GAUGE --method METHOD --step STEP",
)
SUPPLY = teaching(
    does="""Enter a supply: batch, date, and the times of its own data sheet, which go before the
    campaign's limits. A known label makes a new version.""",
    when="when a pack is opened, before it is used.",
    example="""gaugewright bench-supply beams-2026 glue-2 --what adhesive --batch A-77
    --expires 2027-01-31 --sheet "its sheet of 2025" --pot-life "20 min" --cure "20 °C: 24 h"
    """,
    after="gaugewright bench-step beams-2026 GAUGE --step bond --supply glue-2",
)
METHOD = teaching(
    does="""Methods of the bench and their steps; with a label that one, with --toml as the text
    that a laboratory edits, with --read a changed text as its next version.""",
    when="before the first gauge, and when the laboratory works in another way.",
    example='gaugewright bench-method beams-2026 "strand" --toml',
    after='gaugewright bench-method beams-2026 --read strand.toml --reason "own trials"',
)
LIMIT = teaching(
    does="""Give a limit of the campaign another value or source, or say that it is confirmed:
    its next version. What was held to it before keeps the version it was held to.""",
    when="when the laboratory has a number of its own, or a sheet gives one.",
    example="""gaugewright bench-limit beams-2026 "cleaned to bonded" --value "20 min"
    --reason "damp hall" --source "house rule 7" --confirmed""",
    after="gaugewright limits beams-2026",
)
OVERRIDE = teaching(
    does="""Let a step stand although a limit ran out: a named person with a reason, kept as a
    record. STEP is the uid that bench-step told.""",
    when="when doing it again would do more harm than letting it be.",
    example="""gaugewright bench-override beams-2026 01ARZ3NDEKTSV4RRFFQ69G5FAV
    "cleaned to bonded" --because "kept dry under film" --person engineer""",
    after="gaugewright bench-now beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("bench-step", help=STEP)(bench_step)
    app.command("bench-now", help=NOW)(bench_now)
    app.command("bench-supply", help=SUPPLY)(bench_supply)
    app.command("bench-method", help=METHOD)(bench_method)
    app.command("bench-limit", help=LIMIT)(bench_limit)
    app.command("bench-override", help=OVERRIDE)(bench_override)


def bench_step(
    context: typer.Context,
    folder: CampaignFolder,
    gauges: Annotated[
        list[str], typer.Argument(metavar="GAUGE", help="One or more.", show_default=False)
    ],
    step: Annotated[str, typer.Option(help="Its name. Must be given.")] = "",
    person: Annotated[str, typer.Option(help="Label of whoever did it. Must be given.")] = "",
    method: Annotated[str, typer.Option(help="Label of the method it is done by.")] = "",
    value: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[GAUGE:]FIELD=VALUE",
            help='What was read: "flat width=5.2", or "L1-M-T:flat width=5.2"; may be repeated.',
        ),
    ] = None,
    log: Annotated[
        Path | None, typer.Option(help="File with the temperature log of a cure.")
    ] = None,
    begun: Annotated[str, typer.Option(metavar="TIME", help="Of the hall; now if empty.")] = "",
    ended: Annotated[
        str, typer.Option(metavar="TIME", help='"now", or empty while it goes on.')
    ] = "",
    finish: Annotated[bool, typer.Option(help="It is the end of the step that goes on.")] = False,
    supply: Annotated[list[str] | None, typer.Option(help="Label; may be repeated.")] = None,
    temperature: Annotated[str, typer.Option(help='Of the air: "21 °C".')] = "",
    humidity: Annotated[str, typer.Option(help="Of the air, in per cent.")] = "",
    parked: Annotated[str, typer.Option(metavar="REASON", help="Why it is put aside.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    initials: Annotated[str, typer.Option(help="The person's own when empty.")] = "",
    as_typed: Annotated[bool, typer.Option(help="It is as typed, odd or not.")] = False,
    override: Annotated[
        str, typer.Option(metavar="PERSON", help="Who lets it stand though a limit ran out.")
    ] = "",
    because: Annotated[str, typer.Option(metavar="REASON", help="Why, with --override.")] = "",
    as_json: AsJson = False,
) -> None:
    """Write down a step of the bench."""
    from gaugewright.services.bench import written as bench
    from gaugewright.services.bench.judged import LOG
    from gaugewright.services.bench.step_words import step_words
    from gaugewright.services.bench.typed import key_of
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    typed = {
        "gauges": ";".join(gauges),
        "step": step,
        "person": person,
        "method": method,
        "begun": begun,
        "ended": ended,
        "supplies": ";".join(supply or ()),
        "temperature": temperature,
        "humidity": humidity,
        "parked": parked,
        "note": note,
        "initials": initials,
        "override_person": override,
        "override_reason": because,
        "finish": "1" if finish else "",
        "as_typed": "1" if as_typed else "",
        **_values(value or []),
    }
    if log is not None:
        typed[key_of(LOG)] = _text(log)
    with campaigns.opened(folder, settings_of(context)) as store:
        kept = bench.noted(store, typed)
        told = step_words(Book.read(store), kept)
    plain = {
        "campaign": str(folder),
        "steps": [one.uid for one in kept],
        "ran_out": [[one.what for one in entry.record.ran_out] for entry in kept],
        "told": list(told),
    }
    uids = [f"{entry.uid}: to be named in bench-override" for entry in kept if entry.record.ran_out]
    result(as_json, plain, [*told, *uids])


def _values(given: list[str]) -> dict[str, str]:
    from gaugewright.errors import InputError
    from gaugewright.services.bench.typed import key_of

    typed = {}
    for one in given:
        field, sign, text = one.partition("=")
        if not sign:
            raise InputError("value", one, "FIELD=VALUE or GAUGE:FIELD=VALUE")
        gauge, colon, name = field.partition(":")
        key = key_of(name.strip(), gauge.strip()) if colon else key_of(field.strip())
        typed[key] = text.strip()
    return typed


def _text(path: Path) -> str:
    from gaugewright.errors import FileError

    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(path, f"can't be read ({error})") from error


def bench_now(context: typer.Context, folder: CampaignFolder, as_json: AsJson = False) -> None:
    """List running clocks and what comes next."""
    from gaugewright.records.gauges import Gauge
    from gaugewright.records.identity import instant_text
    from gaugewright.services.bench.clocks import running
    from gaugewright.services.bench.coming import gauges_gone, standing
    from gaugewright.services.bench.methods import method_of
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        book, now = Book.read(store), store.context.now()
        clocks = running(book, now)
        gone = gauges_gone(book)
        at_bench = [gauge for gauge in book.of(Gauge) if gauge.uid not in gone]
        here = [standing(book, g, method_of(book, g)).next_place for g in at_bench]
        labels = [gauge.record.label for gauge in at_bench]
    rows = [(c.name, c.words(now), ", ".join(c.gauges), c.source) for c in clocks]
    nexts = [
        (label, one.step.name, one.place.value, one.why)
        for label, one in zip(labels, here, strict=True)
        if one is not None
    ]
    plain = {
        "campaign": str(folder),
        "clocks": [
            {
                "name": c.name,
                "kind": c.kind.value,
                "gauges": list(c.gauges),
                "until": instant_text(c.until),
                "source": c.source,
            }
            for c in clocks
        ],
        "next": [dict(zip(("gauge", "step", "place", "why"), row, strict=True)) for row in nexts],
    }
    lines = table(("clock", "now", "gauges", "source"), rows) if rows else ["No clock runs."]
    lines += ["", *table(("gauge", "next", "how far", "why"), nexts)] if nexts else []
    result(as_json, plain, lines)


def bench_supply(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="LABEL", help="Name of the supply.", show_default=False)
    ],
    what: Annotated[str, typer.Option(help="In general words. Must be given.")] = "",
    batch: Annotated[str, typer.Option(help="As on the pack.")] = "",
    expires: Annotated[str, typer.Option(metavar="DATE", help="As 2027-01-31.")] = "",
    sheet: Annotated[str, typer.Option(help="Which data sheet gives the times.")] = "",
    pot_life: Annotated[str, typer.Option(help='"20 min".')] = "",
    pressing: Annotated[str, typer.Option(help='"2 min".')] = "",
    next_layer: Annotated[str, typer.Option(help='"20 min".')] = "",
    cure: Annotated[str, typer.Option(help='Rows: "20 °C: 24 h; 40 °C: 3 h".')] = "",
    highest: Annotated[str, typer.Option(help='Warmest it allows: "60 °C".')] = "",
    as_json: AsJson = False,
) -> None:
    """Enter a supply."""
    from gaugewright.services.bench.supplies import sheet_words, supply_kept
    from gaugewright.services.campaign import campaigns

    typed = {
        "label": label,
        "what": what,
        "batch": batch,
        "expires": expires,
        "source": sheet,
        "pot_life": pot_life,
        "pressing": pressing,
        "next_layer": next_layer,
        "cure": cure,
        "highest": highest,
    }
    with campaigns.opened(folder, settings_of(context)) as store:
        entry = supply_kept(store, typed)
    words = sheet_words(entry.record)
    told = [f"{entry.record.what}, batch {entry.record.batch}: version {entry.version}."]
    plain = {"campaign": str(folder), "uid": entry.uid, "version": entry.version, "sheet": words}
    result(as_json, plain, [*told, *([words] if words else [])])


def bench_method(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="METHOD", help="Name of the method.", show_default=False)
    ] = "",
    toml: Annotated[bool, typer.Option("--toml", help="As the text that is edited.")] = False,
    read: Annotated[Path | None, typer.Option(help="Changed text: the next version.")] = None,
    reason: Annotated[str, typer.Option(help="Why it is changed; with --read.")] = "",
    as_json: AsJson = False,
) -> None:
    """Show methods, or take a changed one in."""
    from gaugewright.services.bench.method_text import method_toml, methods_typed
    from gaugewright.services.bench.methods import complete_methods, method_named, revised_method
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    with campaigns.opened(folder, settings_of(context), read_only=read is None) as store:
        if read is not None:
            made = methods_typed(_text(read), name=read.name)
            with store.several():
                kept = [revised_method(store, m, from_version=None, reason=reason) for m in made]
            versions = [[e.record.label, e.version] for e in kept]
            plain = {"campaign": str(folder), "methods": versions}
            result(as_json, plain, [f"{e.record.label}: version {e.version}." for e in kept])
            return
        book = Book.read(store)
        methods = (method_named(book, label),) if label else complete_methods(book)
    if toml and not as_json:
        result(False, {}, "\n".join(method_toml(one) for one in methods).splitlines())
        return
    told = {"campaign": str(folder), "methods": [_plain(one) for one in methods]}
    result(as_json, told, [line for one in methods for line in _lines(one)])


def _plain(method: "Method") -> dict[str, Any]:
    from gaugewright.records.plain import to_plain

    plain: dict[str, Any] = to_plain(method)
    return plain


def _lines(method: "Method") -> list[str]:
    unsure = "unverified" if method.unverified else "confirmed"
    lines = [f"{method.label} ({method.source}, {unsure})", method.text, ""]
    for step in method.steps:
        lines += [f"  {step.name}", *(f"    {line}" for line in step.text.splitlines())]
        if step.fields:
            lines.append("    record: " + "; ".join(field.name for field in step.fields))
        if step.limits:
            lines.append("    limits: " + "; ".join(step.limits))
        lines += [f"    hazard: {one}" for one in step.hazards]
        lines += [f"    mind: {one}" for one in step.cautions]
    return [*lines, ""]


def bench_limit(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="LIMIT", help="Name of the limit.", show_default=False)
    ],
    value: Annotated[str, typer.Option(help="With its unit; as it is when empty.")] = "",
    source: Annotated[str, typer.Option(help="Where it comes from.")] = "",
    confirmed: Annotated[bool, typer.Option(help="Somebody has confirmed it.")] = False,
    reason: Annotated[str, typer.Option(help="Why it is changed. Must be given.")] = "",
    as_json: AsJson = False,
) -> None:
    """Change a limit: its next version."""
    from dataclasses import replace

    from gaugewright.services.bench.limit_words import limit_text, limit_value_typed
    from gaugewright.services.bench.methods import revised_limit
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.campaign.laboratory import limit_or_shipped

    with campaigns.opened(folder, settings_of(context)) as store:
        limit = limit_or_shipped(Book.read(store), label)
        system = campaigns.system_of(store)
        number = limit_value_typed(limit, value, system) if value else limit.value
        new = replace(limit, value=number, source=source or limit.source, unverified=not confirmed)
        entry = revised_limit(store, new, from_version=None, reason=reason)
    unsure = "unverified" if entry.record.unverified else "confirmed"
    words = f"{label}: {limit_text(entry.record, system)}, {unsure}, version {entry.version}."
    plain = {"campaign": str(folder), "uid": entry.uid, "version": entry.version, "told": words}
    result(as_json, plain, [words])


def bench_override(
    context: typer.Context,
    folder: CampaignFolder,
    step: Annotated[
        str, typer.Argument(metavar="STEP", help="Step whose limit ran out.", show_default=False)
    ],
    limit: Annotated[
        str, typer.Argument(metavar="LIMIT", help="Limit that ran out.", show_default=False)
    ],
    person: Annotated[str, typer.Option(help="Label of who answers for it.")] = "",
    because: Annotated[str, typer.Option(metavar="REASON", help="Why it stands.")] = "",
    as_json: AsJson = False,
) -> None:
    """Let a step stand by a named person's word."""
    from gaugewright.records.gauges import BenchStep
    from gaugewright.records.identity import uid_from_text
    from gaugewright.services.bench import written as bench
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    with campaigns.opened(folder, settings_of(context)) as store:
        entry = Book.read(store).entry(uid_from_text(step), BenchStep)
        kept = bench.overridden(store, entry, limit, person, because)
    words = f"{limit} of {entry.record.step}: stands by the word of {person}."
    result(as_json, {"campaign": str(folder), "uid": kept.uid, "told": words}, [words])
