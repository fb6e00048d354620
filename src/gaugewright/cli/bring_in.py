"""The command that brings a file in: shows what was understood, imports once it is confirmed."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli import understanding
from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.services.reading.clocks import Joint as Joined
    from gaugewright.services.reading.readings import Brought
    from gaugewright.sources.delimited import Layout, Question, Understanding
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

IMPORT = teaching(
    does="""Bring a file of readings in: text of any kind, a workbook, Parquet, Arrow, HDF5
    or MAT. First it shows what was understood: encoding,
    delimiter, decimal mark, names, units, each column's role, the clock, and words that stand
    instead of readings, with the evidence; and it asks what the file can't tell. Nothing is
    imported until no question is open and you say --yes; --yes with an open question imports
    nothing and ends with status 2, showing alone ends with 0. The bytes are kept as received; a row
    that can't be read is reported, never guessed at.""",
    when="after each recording; several recorders of one test are imported one after the other.",
    example="""gaugewright import beams-2026 pull1.csv --zone Europe/Rome --recorder R1
    --stamps-within 0.5 --yes""",
    after="""join recorders that share a trigger with --join-to, take zeros, then: gaugewright
    reduce""",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("import", help=IMPORT)(bring_in)


@dataclass(frozen=True, slots=True)
class Joint:
    """How the recording's clock is joined to the campaign's time, if at all."""

    stamps_within: float | None
    why: str
    reference: str
    trigger: str
    their_trigger: str
    level: float | None
    their_level: float | None
    signal: str
    their_signal: str
    apart: float | None

    def __post_init__(self) -> None:
        if self.stamps_within is not None and self.reference:
            allowed = "one of --stamps-within and --join-to"
            raise InputError("clock", "joined in two ways", allowed, "leave one out")
        if not self.reference and (self.trigger or self.signal):
            raise InputError(
                "--join-to",
                "",
                "given with --trigger or --signal",
                "name the recording that saw the same, or leave them out",
            )
        by_trigger = bool(self.trigger) and self.level is not None
        by_signal = bool(self.signal) and self.apart is not None
        if self.reference and by_trigger == by_signal:
            raise InputError(
                "--join-to",
                self.reference,
                "given with --trigger and --level, or with --signal and --apart",
                "name the column that saw the trigger and the level half way up, or the column "
                "that followed the same thing and how many seconds the clocks may be apart",
            )


def bring_in(
    context: typer.Context,
    folder: CampaignFolder,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The recorder's file.", show_default=False)
    ],
    yes: Annotated[bool, typer.Option("--yes", help="What was shown is right: import it.")] = False,
    label: Annotated[
        str, typer.Option(help="Name of the recording; the file's when left out.")
    ] = "",
    instrument: Annotated[
        str, typer.Option("--recorder", help="Label of the recorder that wrote it, as entered.")
    ] = "",
    recorder_clock: Annotated[
        str,
        typer.Option(
            metavar="LABEL",
            help="Name of the clock that stamped it; 'clock of RECORDER' when left out.",
        ),
    ] = "",
    profile: Annotated[
        str,
        typer.Option(
            metavar="NAME",
            help="Read it as a profile kept earlier says; numbers it doesn't know are asked about.",
        ),
    ] = "",
    save_profile: Annotated[
        str, typer.Option(metavar="NAME", help="Keep what was confirmed for files like this.")
    ] = "",
    unit: Annotated[
        list[str] | None,
        typer.Option(metavar="COLUMN=UNIT", help="Unit of a column, such as Load=kN, or none."),
    ] = None,
    sign: Annotated[
        list[str] | None,
        typer.Option(
            metavar="COLUMN=MEANING", help="What a positive number means: tension, compression."
        ),
    ] = None,
    role: Annotated[
        list[str] | None,
        typer.Option(metavar="COLUMN=ROLE", help="A column's role: time, value, text or empty."),
    ] = None,
    marker: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT=CODE",
            help="What stands instead of a reading, such as -9999=declared or OFF=missing; none.",
        ),
    ] = None,
    clock: Annotated[
        str,
        typer.Option(
            metavar="COLUMN", help="Column (or two, as 1+2) that tells the time; rate; none."
        ),
    ] = "",
    stamp_pattern: Annotated[
        str,
        typer.Option(metavar="PATTERN", help="How stamps are written: dd.mm.yyyy hh:mm:ss.fff"),
    ] = "",
    day_first: Annotated[
        bool | None,
        typer.Option("--day-first/--month-first", help="Order in stamps such as 03/04/2026."),
    ] = None,
    zone: Annotated[
        str, typer.Option(help="Zone of the stamps: Europe/Rome, UTC, +02:00, or none.")
    ] = "",
    epoch: Annotated[
        str, typer.Option(help="Date, or date and time, at which the file's time began; none.")
    ] = "",
    rate: Annotated[
        float | None, typer.Option(metavar="HZ", help="Rows a second, with --clock rate.")
    ] = None,
    time_unit: Annotated[
        str, typer.Option(metavar="UNIT", help="Unit of a time in numbers: s, ms, min, h, d.")
    ] = "",
    century: Annotated[
        int | None, typer.Option(metavar="YEAR", help="Added to years of two digits: 1900, 2000.")
    ] = None,
    months: Annotated[
        str, typer.Option(metavar="JAN,FEB,...", help="Twelve names of months, as in the file.")
    ] = "",
    encoding: Annotated[str, typer.Option(help="Text encoding, such as cp1252.")] = "",
    delimiter: Annotated[
        str, typer.Option(metavar="MARK", help="Between columns: ; , | tab or blanks.")
    ] = "",
    decimal: Annotated[str, typer.Option(metavar="MARK", help="Decimal mark: . or ,")] = "",
    thousands: Annotated[
        str | None, typer.Option(metavar="MARK", help="Between groups of three digits; '' if none.")
    ] = None,
    comment: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Comment lines begin so; '' if none.")
    ] = None,
    first_row: Annotated[
        int | None, typer.Option(metavar="LINE", help="First line of readings, from 1.")
    ] = None,
    names_row: Annotated[
        list[int] | None, typer.Option(metavar="LINE", help="Line of column names; repeatable.")
    ] = None,
    units_row: Annotated[
        int | None, typer.Option(metavar="LINE", help="Line of units; 0 if none.")
    ] = None,
    tare_line: Annotated[
        list[int] | None,
        typer.Option(
            metavar="LINE",
            help="Line of tare values ahead of the record, kept and not applied; repeatable; "
            "0 if none is.",
        ),
    ] = None,
    importer: Annotated[
        str, typer.Option(metavar="KIND", help="What reads the file, such as workbook.")
    ] = "",
    sheet: Annotated[
        str,
        typer.Option("--table", metavar="NAME", help="Sheet or table, where the file has several."),
    ] = "",
    stamps_within: Annotated[
        float | None,
        typer.Option(
            metavar="SECONDS",
            help="Trust the recorder's stamps to so many seconds: its time is the campaign's.",
        ),
    ] = None,
    stamps_why: Annotated[
        str, typer.Option(metavar="WORDS", help="Why the stamps are trusted.")
    ] = "as stated at import",
    join_to: Annotated[
        str,
        typer.Option(metavar="LABEL", help="Join the clock to this recording's."),
    ] = "",
    trigger: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of FILE that saw the trigger.")
    ] = "",
    their_trigger: Annotated[
        str,
        typer.Option(metavar="COLUMN", help="Column of the other; same name when left out."),
    ] = "",
    level: Annotated[
        float | None, typer.Option(help="Level half way up the trigger, in the file's unit.")
    ] = None,
    their_level: Annotated[
        float | None, typer.Option(help="The same in the other recording, when it differs.")
    ] = None,
    signal: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of FILE that both recorders followed.")
    ] = "",
    their_signal: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of the other; same name when left out.")
    ] = "",
    apart: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="How far the two clocks may be apart."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Bring a file of readings in."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.reading import layouts

    edges = (trigger, their_trigger or trigger, level, their_level)
    joint = Joint(stamps_within, stamps_why, join_to, *edges, signal, their_signal or signal, apart)
    structure: dict[str, Any] = {
        "encoding": encoding or None,
        "delimiter": understanding.delimiter_named(delimiter) or None,
        "decimal": decimal or None,
        "thousands": thousands,
        "comment": comment,
        "first_data_row": first_row,
        "names_rows": tuple(names_row) if names_row is not None else None,
        "units_row": units_row,
        "tare_lines": None if tare_line is None else tuple(n for n in tare_line if n),
        "importer": importer or None,
        "table": sheet or None,
    }
    plain: dict[str, Any] = {
        "pattern": stamp_pattern,
        "zone": zone,
        "epoch": epoch,
        "rate_hz": rate,
    }
    plain |= {"time_unit": time_unit, "century": century}
    plain["months"] = tuple(months.split(",")) if months else ()
    plain["numeric_markers"] = "none" if marker == ["none"] else ""
    with campaigns.opened(folder, settings_of(context), read_only=not yes) as store:
        seen = layouts.understood(file, **structure)
        by_column = {"unit": unit or (), "sign": sign or (), "role": role or ()}
        answers = understanding.answers(
            seen, by_column=by_column, clock=clock, day_first=day_first, plain=plain
        )
        if join_to:  # a recording of which nobody knows when it began has the other one's time
            answers.setdefault("epoch", "none")
        proposal = _proposal(store, seen, answers, understanding.markers(marker or ()), profile)
        names = Names(label or file.stem, instrument, recorder_clock, profile, save_profile)
        _show_or_keep(store, proposal, names, joint, yes=yes, as_json=as_json)


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was understood and answered; ``layout`` is there once no question is open."""

    seen: "Understanding"
    layout: "Layout | None"
    asked: "tuple[Question, ...]"


@dataclass(frozen=True, slots=True)
class Names:
    """What a person calls the recording and what belongs to it."""

    label: str
    instrument: str
    clock: str
    profile: str
    save_profile: str


def _proposal(
    store: "CampaignStore",
    seen: "Understanding",
    answers: dict[str, Any],
    markers: dict[str, str],
    profile: str,
) -> Proposal:
    from gaugewright.records.readings import ReadingProfile
    from gaugewright.services.reading import beginnings, layouts

    if profile:
        given = [field for field in answers if field not in ("numeric_markers", "epoch")]
        if given:
            allowed = "left out with --profile, which has every answer but --marker and --epoch"
            raise InputError("answers", ", ".join(given), allowed, "or leave --profile out")
        entry = store.labelled(ReadingProfile, profile)
        stored = layouts.layout_of(entry, seen)
        begin = beginnings.begun(layouts.kept_layout(entry), stored, seen)
        _, asked = layouts.undeclared(stored, seen, answers, markers)
        asked = beginnings.open_about(begin, answers) + asked
        if begin and not asked:
            stored = beginnings.completed(stored, seen, answers["epoch"])
        completed = layouts.completed(stored, answers, markers) if not asked else None
        return Proposal(seen, completed, asked)
    begin = beginnings.questions(seen, answers)
    asked = beginnings.open_about(begin, answers)
    known = {question.field for question in begin}
    left = layouts.open_questions(seen, answers, markers)
    asked += tuple(question for question in left if question.field not in known)
    layout = layouts.confirmed(seen, answers, markers) if not asked else None
    return Proposal(seen, layout, asked)


def _show_or_keep(
    store: "CampaignStore",
    proposal: Proposal,
    names: Names,
    joint: Joint,
    *,
    yes: bool,
    as_json: bool,
) -> None:
    seen, layout, asked = proposal.seen, proposal.layout, proposal.asked
    if yes and layout is not None:
        _keep(store, seen, layout, names, joint, as_json=as_json)
        return
    told = understanding.lines(seen, layout)
    if asked:
        told += ["", "Open questions:", *understanding.questions(asked)]
    else:
        told += ["", "No question is open. When this is right, give the same command with --yes."]
    plain = {"imported": False, **understanding.plain(seen, layout, asked)}
    result(as_json, plain, told)
    if yes:
        fields = ", ".join(question.field for question in asked)
        raise InputError(
            f"answers about {seen.path.name}",
            f"missing for {fields}",
            "complete",
            "answer the questions above; nothing was imported",
        )


def _keep(
    store: "CampaignStore",
    seen: "Understanding",
    layout: "Layout",
    names: Names,
    joint: Joint,
    *,
    as_json: bool,
) -> None:
    from gaugewright.records.electrical import Instrument
    from gaugewright.records.readings import ReadingProfile
    from gaugewright.services.reading import layouts, readings

    instrument = store.labelled(Instrument, names.instrument).uid if names.instrument else None
    stamped_by = names.clock or f"clock of {names.instrument or names.label}"
    resolution = layouts.resolution_of(seen, layout)
    clock = readings.clock_for(store, stamped_by, layout, resolution=resolution)
    profile: str | None = names.save_profile or None
    if profile == names.label:
        allowed = "other than the recording's name, which is only that recording's"
        raise InputError("--save-profile", profile, allowed)
    if names.profile:
        kept = store.labelled(ReadingProfile, names.profile)
        if layout == layouts.layout_of(kept, seen):  # with more markers it is another one
            profile = kept.uid
    with Progress() as progress:
        brought = readings.bring_in(
            store,
            seen.path,
            layout,
            label=names.label,
            instrument=instrument,
            clock=clock,
            profile=profile,
            joint=_joint(store, joint),
            progress=progress,
        )
    _say_kept(brought, as_json=as_json)


def _joint(store: "CampaignStore", joint: Joint) -> "Joined | None":
    from gaugewright.records.readings import Recording
    from gaugewright.services.reading.clocks import BySignal, ByStamps, ByTrigger

    if joint.stamps_within is not None:
        return ByStamps(joint.stamps_within, joint.why)
    if not joint.reference:
        return None
    reference = store.labelled(Recording, joint.reference).uid
    if joint.signal and joint.apart is not None:
        return BySignal(reference, joint.their_signal, joint.signal, joint.apart)
    if joint.level is None:
        return None  # refused when the options were read
    theirs = joint.level if joint.their_level is None else joint.their_level
    return ByTrigger(reference, joint.their_trigger, joint.trigger, theirs, joint.level)


def _say_kept(brought: "Brought", *, as_json: bool) -> None:
    record, report = brought.entry.record, brought.report
    clock_map = brought.clock_map.record if brought.clock_map is not None else None
    findings = report.findings()
    lines = [
        f"{record.label}: {record.rows} rows kept of {report.lines} lines, "
        f"{record.rows_reported} reported",
        f"  first row at {record.first_stamp or 'a time nobody knows'}",
        *(f"  {m.count} cells of {m.column} without a reading: {m.code}" for m in record.marks),
        *(f"  {finding}" for finding in findings),
    ]
    if clock_map is None:
        lines += ["  its clock isn't joined to the campaign's time yet"]
    else:
        lines += [f"  clock joined {clock_map.method}"]
    plain = {
        "imported": True,
        "recording": brought.entry.uid,
        "label": record.label,
        "original_sha256": record.original_sha256,
        "rows": record.rows,
        "lines": report.lines,
        "rows_reported": record.rows_reported,
        "marks": [{"column": m.column, "code": m.code, "count": m.count} for m in record.marks],
        "findings": list(findings),
        "first_stamp": record.first_stamp,
        "clock": None
        if clock_map is None
        else {
            "offset_s": clock_map.offset.value,
            "plus_minus_s": clock_map.offset.plus_minus,
            "meaning": clock_map.offset.meaning.value,
            "rate": clock_map.rate,
            "method": clock_map.method,
        },
    }
    result(as_json, plain, [*lines, "Next: take zeros, then: gaugewright reduce"])
