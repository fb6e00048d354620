"""Files brought in: kept as received, read block by block as a person confirmed."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright import __version__
from gaugewright.errors import FileError, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry, kind_said
from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import Uid
from gaugewright.records.plain import canonical_text
from gaugewright.records.readings import (
    Clock,
    ClockMap,
    MarkCount,
    ReadingProfile,
    Recording,
    RecordingColumn,
    TareValue,
)
from gaugewright.services.reading.clocks import ByStamps, Joint, Stamped, keep_map, map_of
from gaugewright.services.reading.layouts import fields_of
from gaugewright.sources import delimited, files
from gaugewright.sources.lines import split_fields
from gaugewright.store.campaign import CampaignStore, RecordingWriter

__all__ = [
    "Brought",
    "bring_in",
    "clock_for",
    "import_file",
]

Progress = Callable[[int, int, str], None]


def clock_for(
    store: CampaignStore, label: str, layout: delimited.Layout, *, resolution: float
) -> Uid | Clock:
    """Clock of a recorder by its label: the one that is entered, or a new record to be entered.

    Raises
    ------
    InputError
        If the clock is known and shows another zone than the layout says.
    """
    for entry in store.entries(Clock):
        if entry.record.label == label:
            if layout.clock.kind == "stamp" and entry.record.zone != layout.clock.zone:
                raise InputError(
                    "zone",
                    layout.clock.zone,
                    f"{entry.record.zone or 'none'}, which clock {label!r} shows",
                    "state that zone, or name another clock",
                )
            return entry.uid
    return Clock(label, layout.clock.zone, resolution)


@dataclass(frozen=True, slots=True)
class Brought:
    """A recording as it was brought in, and the importer's account of every line."""

    entry: Entry[Recording]
    report: delimited.Report
    clock_map: Entry[ClockMap] | None


def import_file(
    store: CampaignStore,
    path: Path,
    layout: delimited.Layout,
    *,
    label: str,
    instrument: Uid | None,
    clock: Uid,
    profile: Uid | None = None,
    progress: Progress | None = None,
) -> Entry[Recording]:
    """Bring a file in: its bytes as received, every row, every marker, in one publish.

    As ``bring_in``, without joining its clock and without the account.
    """
    if profile is not None:
        _refuse_other_kind(store, profile, ReadingProfile)
    brought = bring_in(
        store,
        path,
        layout,
        label=label,
        instrument=instrument,
        clock=clock,
        profile=profile,
        progress=progress,
    )
    return brought.entry


def bring_in(
    store: CampaignStore,
    path: Path,
    layout: delimited.Layout,
    *,
    label: str,
    instrument: Uid | None,
    clock: Uid | Clock,
    profile: Uid | str | None = None,
    joint: Joint | None = None,
    file_name: str = "",
    progress: Progress | None = None,
) -> Brought:
    """Bring a file in: its bytes as received, every row, every marker, in one publish.

    Everything that can be refused is refused before anything is written.

    Parameters
    ----------
    store : CampaignStore
        Open for writing.
    path : path
        The file; it is only read.
    layout : Layout
        What a person confirmed about it.
    label : str
        What people will call the recording.
    instrument : Uid or None
        What wrote it; None where no instrument is entered.
    clock : Uid or Clock
        Whose time it shows: one that is entered, or one to be entered with it.
    profile : Uid or str, optional
        Under which the layout is kept, or the name of a new one; named after the recording
        when left out.
    joint : ByStamps, ByTrigger or BySignal, optional
        How its clock is joined to the campaign's time; may also be done later.
    file_name : str, optional
        What the file is called where it comes from, when ``path`` has another name.
    progress : callable, optional
        Called with bytes done, bytes in all and words.

    Raises
    ------
    FileError
        If nothing in it could be kept, or it changed while it was read.
    InputError
        If the same bytes are in the campaign already, a label is taken, or the clock can't be
        joined so.
    """
    if instrument is not None:
        _refuse_other_kind(store, instrument, Instrument)
    name = file_name or path.name
    sha256 = _refuse_known(store, path, label, name)
    _refuse_other_profile(store, profile or label, layout)
    columns, pieces = fields_of(layout), _Pieces(joint, label, layout)
    with (
        files.reading(path, layout, progress=_in_words(progress, name)) as reading,
        store.new_recording(columns) as writer,
    ):
        for block in reading:
            _write(writer, block, columns)
            pieces.add(block)
        _refuse_nothing(path, reading.report)
        _refuse_changed(path, sha256, progress, name)
        start = reading.report.start_utc or reading.report.start_text
        stamped = pieces.stamped(writer.uid, instrument, start, _resolution(store, clock))
        joined = None if joint is None else map_of(store, stamped, joint)
        with store.several():
            kept_clock = store.add(clock).uid if isinstance(clock, Clock) else clock
            kept_profile = _kept_profile(store, profile or label, layout)
        record = Recording(
            label=label,
            file_name=name,
            original_sha256=store.keep_original(path, name),
            profile=kept_profile,
            clock=kept_clock,
            instrument=instrument,
            rows=reading.report.rows_kept,
            rows_reported=reading.report.rows_reported,
            columns=columns,
            marks=_counted(reading.report),
            first_stamp=start,
            importer=_importer(layout),
            tare_values=tuple(pieces.tare),
        )
        entry = writer.publish(lambda _: record)
    clock_map = keep_map(store, joined) if joined is not None else None
    return Brought(entry, reading.report, clock_map)


def _tare_values(block: delimited.Block, layout: delimited.Layout) -> list[TareValue]:
    """Values of lines ahead of the record, column by column, as they are written."""
    found: list[TareValue] = []
    for problem in block.problems:
        if problem.what != delimited.TARE:
            continue
        fields = split_fields(problem.text, layout.delimiter, layout.quote) or []
        found += [
            TareValue(problem.line, column.name, text)
            for column, text in zip(layout.columns, fields, strict=False)
            if column.role == "value" and text
        ]
    return found


def _importer(layout: delimited.Layout) -> str:
    return f"{layout.importer}, gaugewright {__version__}"


class _Pieces:
    """What is kept of the rows as they pass: what joining needs, and values ahead of them."""

    def __init__(self, joint: Joint | None, label: str, layout: delimited.Layout) -> None:
        column = "" if joint is None or isinstance(joint, ByStamps) else joint.column
        named = [one.name for one in layout.columns if one.role == "value"]
        if column and column not in named:
            raise InputError(f"column of {label}", column, "one of " + ", ".join(named))
        self._column = column
        self._label = label
        self._elapsed: list[FloatArray] = []
        self._followed: list[FloatArray] = []
        self._layout = layout
        self.tare: list[TareValue] = []

    def add(self, block: delimited.Block) -> None:
        self.tare += _tare_values(block, self._layout)
        if not self._column:
            return
        self._elapsed.append(_floats(block.elapsed_ns) / 1e9)
        self._followed.append(_floats(block.values[self._column]))

    def stamped(self, uid: Uid, instrument: Uid | None, start: str, resolution: float) -> Stamped:
        elapsed = np.concatenate([np.empty(0), *self._elapsed])
        followed = np.concatenate([np.empty(0), *self._followed])
        return Stamped(uid, self._label, instrument, start, resolution, elapsed, followed)


def _floats(series: pl.Series) -> FloatArray:
    return series.cast(pl.Float64).fill_null(float("nan")).to_numpy()


def _resolution(store: CampaignStore, clock: Uid | Clock) -> float:
    record = clock if isinstance(clock, Clock) else store.entry(clock).record
    if not isinstance(record, Clock):
        raise InputError("uid of a clock", clock, "a record of that kind")
    return record.resolution


def _refuse_other_profile(
    store: CampaignStore, profile: Uid | str, layout: delimited.Layout
) -> None:
    """Refuse a name for a new profile that a profile with another layout has."""
    text = canonical_text(layout.as_plain())
    for entry in store.entries(ReadingProfile):
        if profile == entry.record.label and entry.record.layout != text:
            do = "keep it under another name"
            raise InputError("profile", profile, "new, or one that reads the same way", do)


def _kept_profile(store: CampaignStore, profile: Uid | str, layout: delimited.Layout) -> Uid:
    """Profile by its uid or name; a new one when nothing is called so."""
    for entry in store.entries(ReadingProfile):
        if profile in (entry.uid, entry.record.label):
            return entry.uid
    made = ReadingProfile(profile, _importer(layout), canonical_text(layout.as_plain()))
    return store.add(made, reason="confirmed by a person at import").uid


def _refuse_known(store: CampaignStore, path: Path, label: str, name: str) -> str:
    """Hash of a file that isn't in the campaign yet."""
    if not path.is_file():
        raise FileError(path, "isn't there", do="check the path")
    sha256 = _sha256(path)
    for entry in store.entries(Recording):
        if entry.record.original_sha256 == sha256:
            allowed = f"one that isn't in the campaign: {entry.record.label} has the same bytes"
            raise InputError("file", name, allowed)
        if entry.record.label == label:
            raise InputError("label", label, "new: another recording is called so", "state another")
    return sha256


def _refuse_other_kind(store: CampaignStore, uid: Uid, kind: type) -> None:
    if not isinstance(store.entry(uid).record, kind):
        raise InputError(f"{kind_said(kind)} uid", uid, "a record of that kind")


def _refuse_nothing(path: Path, report: delimited.Report) -> None:
    if report.rows_kept:
        return
    why = ", ".join(f"{what}: {count}" for what, count in sorted(report.problems.items()))
    raise FileError(
        path,
        "no row could be kept",
        expected="rows of readings as they were confirmed",
        got=f"{report.lines} lines ({why or 'none of them a row'})",
        do="look at what was understood again and state the layout",
    )


def _write(
    writer: RecordingWriter, block: delimited.Block, columns: Sequence[RecordingColumn]
) -> None:
    fields = {column.name: column.field for column in columns}
    raw = {fields[series.name]: series for frame in (block.times, block.texts) for series in frame}
    if block.rows:
        writer.write(block.elapsed_ns, raw, block.values.rename(fields, strict=False))
    writer.mark_all(block.marks.table())


def _counted(report: delimited.Report) -> tuple[MarkCount, ...]:
    return tuple(
        MarkCount(column, code, count)
        for column, codes in report.marks.items()
        for code, count in sorted(codes.items())
    )


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        problem = f"can't be read ({error.strerror or error})"
        raise FileError(path, problem, do="check the permission") from error


def _refuse_changed(path: Path, sha256: str, progress: Progress | None, name: str) -> None:
    """Refuse a file that isn't what it was; before and after are the last chances to stop."""
    size = path.stat().st_size
    if progress is not None:
        progress(size, size, f"looking whether {name} changed meanwhile")
    if _sha256(path) != sha256:
        raise FileError(path, "changed while it was read", do="import it when it is complete")
    if progress is not None:
        progress(size, size, f"keeping {name} as received")


def _in_words(progress: Progress | None, name: str) -> Callable[[int, int], None] | None:
    if progress is None:
        return None
    return lambda done, total: progress(done, total, f"reading {name} [bytes]")
