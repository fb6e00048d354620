"""Files handed in through a door that has no paths: kept aside, looked into, brought in.

Each waits in the campaign's cache under a name of our own until a person confirms how it is read;
what its own name was is only told. Nothing of it is in the campaign before that.
"""

import hashlib
import json
import shutil
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

from gaugewright.errors import FileError, InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid, instant_from_text, instant_text, uid_from_text
from gaugewright.records.readings import ReadingProfile, Recording
from gaugewright.services.reading import layouts, readings
from gaugewright.services.reading.clocks import BySignal, ByStamps, ByTrigger, Joint
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import Job, Progress
from gaugewright.sources import delimited
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "JOB",
    "Arrival",
    "Plan",
    "arrival",
    "arrivals",
    "bring_in_job",
    "bytes_of",
    "discard",
    "job_of",
    "keep_typed",
    "looked_into",
    "named",
    "named_as_it_came",
    "recognised",
    "submit",
    "taken_in",
    "typed_before",
]

JOB = "import"
NAME_LENGTH = 200
_CHUNK = 1 << 20
_BYTES, _TOLD, _TYPED = "bytes", "told.json", "typed.json"


@dataclass(frozen=True, slots=True)
class Arrival:
    """A file that waits: its own name, size, hash, and when it came."""

    uid: Uid
    name: str
    size_bytes: int
    sha256: str
    received: datetime


@dataclass(frozen=True, slots=True)
class Plan:
    """What a person confirmed: how the file is read and what belongs to its recording.

    ``clock`` is the label of the recorder's clock, ``profile`` the name the layout is kept under.
    """

    layout: delimited.Layout
    label: str
    instrument: Uid | None
    clock: str
    profile: str
    joint: Joint | None = None


def named(name: str) -> str:
    """Name of a file as it came, if it is nothing but a name.

    Raises
    ------
    InputError
        If it is empty, too long, or holds a path or unseen characters.
    """
    tidy = unicodedata.normalize("NFC", name).strip()
    is_path = "/" in tidy or "\\" in tidy or tidy in (".", "..")
    if not tidy or len(tidy) > NAME_LENGTH or is_path or not tidy.isprintable():
        allowed = f"a plain name of 1 to {NAME_LENGTH} characters, without a path"
        raise InputError("file name", name, allowed, "rename the file")
    return tidy


def taken_in(store: CampaignStore, name: str, source: BinaryIO, *, limit_bytes: int) -> Arrival:
    """Keep a file aside, whole or not at all.

    Raises
    ------
    InputError
        If its name can't be one, it is empty or too large, or its bytes are in the campaign.
    """
    tidy = named(name)
    place = _room(store)
    uid = store.context.new_uid()
    aside = place / f".{uid}"
    aside.mkdir(parents=True)
    try:
        size, sha256 = _copied(source, aside / _BYTES, tidy, limit_bytes)
        for entry in store.entries(Recording):
            if entry.record.original_sha256 == sha256:
                allowed = f"one that isn't in the campaign: {entry.record.label} has the same bytes"
                raise InputError("file", tidy, allowed)
        made = Arrival(uid, tidy, size, sha256, store.context.now())
        told = asdict(made) | {"received": instant_text(made.received)}
        (aside / _TOLD).write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
        aside.rename(place / uid)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return made


def arrivals(store: CampaignStore) -> tuple[Arrival, ...]:
    """Files that wait, the newest first."""
    found = [_read(place) for place in sorted(_room(store).glob("[0-9A-Z]*")) if place.is_dir()]
    return tuple(reversed(found))


def arrival(store: CampaignStore, uid: Uid) -> Arrival:
    """One file that waits.

    Raises
    ------
    InputError
        If it isn't there: brought in, discarded, or never there.
    """
    place = _room(store) / uid_from_text(uid)
    if not (place / _TOLD).is_file():
        raise InputError("file", uid, "one that waits to be brought in", "hand it in again")
    return _read(place)


def looked_into(store: CampaignStore, one: Arrival, **structure: Any) -> delimited.Understanding:
    """What a waiting file looks like, whatever its name says it is.

    Raises
    ------
    FileError
        If it isn't a file of delimited text; it names the file as it came.
    InputError
        If a stated part of the structure can't be used.
    """
    with named_as_it_came(one):
        return layouts.understood(bytes_of(store, one), **structure)


def recognised(
    store: CampaignStore, seen: delimited.Understanding
) -> tuple[Entry[ReadingProfile], ...]:
    """Profiles a person named that read a file like this: same columns, marks and first row.

    A profile that is called as its recording only says how that one was read; nobody kept it for
    other files.
    """
    found = []
    unnamed = {(entry.record.profile, entry.record.label) for entry in store.entries(Recording)}
    marks_asked = any(question.field == "decimal" for question in seen.questions)
    for entry in store.entries(ReadingProfile):
        if (entry.uid, entry.record.label) in unnamed:
            continue
        try:
            layout = layouts.layout_of(entry, seen)
        except InputError:
            continue  # for files with other columns
        same = [
            (layout.delimiter, seen.delimiter),
            (layout.first_data_row, seen.first_data_row),
        ]
        if not marks_asked:  # what the file leaves open, the profile answers
            same += [(layout.decimal, seen.decimal), (layout.thousands, seen.thousands)]
        if all(kept == now for kept, now in same):
            found.append(entry)
    return tuple(found)


def submit(store: CampaignStore, one: Arrival, plan: Plan, *, resolution: float) -> Uid:
    """Begin to bring a file in, as a piece of work of its own; one that has begun goes on."""
    begun = job_of(store, one)
    if begun is not None and not begun.state.is_over:
        return begun.uid
    joint = plan.joint
    parameters = {
        "arrival": one.uid,
        "name": one.name,
        "layout": plan.layout.as_plain(),
        "label": plan.label,
        "instrument": plan.instrument,
        "clock": plan.clock,
        "resolution": resolution,
        "profile": plan.profile,
        "stamps": asdict(joint) if isinstance(joint, ByStamps) else None,
        "trigger": asdict(joint) if isinstance(joint, ByTrigger) else None,
        "signal": asdict(joint) if isinstance(joint, BySignal) else None,
    }
    return jobs.submit(store, JOB, parameters)


def job_of(store: CampaignStore, one: Arrival) -> Job | None:
    """The last piece of work that was to bring a file in, if any."""
    for job in jobs.jobs(store):
        if job.kind == JOB and job.parameters.get("arrival") == one.uid:
            return job
    return None


def bring_in_job(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    """Bring a waiting file in; it waits no longer once it is in the campaign.

    Raises
    ------
    GaugewrightError
        As ``readings.bring_in``; nothing is half-written then and the file still waits.
    """
    one = arrival(store, Uid(parameters["arrival"]))
    layout = delimited.Layout.from_plain(parameters["layout"])
    joint: Joint | None = None
    if parameters["stamps"] is not None:
        joint = ByStamps(**parameters["stamps"])
    elif parameters["trigger"] is not None:
        joint = ByTrigger(**parameters["trigger"])
    elif parameters["signal"] is not None:
        joint = BySignal(**parameters["signal"])
    clock = readings.clock_for(
        store, parameters["clock"], layout, resolution=parameters["resolution"]
    )
    with named_as_it_came(one):
        brought = readings.bring_in(
            store,
            bytes_of(store, one),
            layout,
            label=parameters["label"],
            instrument=parameters["instrument"],
            clock=clock,
            profile=parameters["profile"] or None,
            joint=joint,
            file_name=one.name,
            progress=progress,
        )
    discard(store, one)
    record = brought.entry.record
    told = [f"{record.rows} rows kept, {record.rows_reported} reported"]
    return "; ".join([*told, *brought.report.findings()])


def keep_typed(store: CampaignStore, one: Arrival, typed: Mapping[str, str]) -> None:
    """Keep what a person typed about a waiting file, so that it needn't be typed again."""
    place = _room(store) / one.uid
    if place.is_dir():
        (place / _TYPED).write_text(json.dumps(dict(typed), ensure_ascii=False), encoding="utf-8")


def typed_before(store: CampaignStore, one: Arrival) -> dict[str, str]:
    """What was typed about a waiting file the last time, by field."""
    place = _room(store) / one.uid / _TYPED
    if not place.is_file():
        return {}
    kept = json.loads(place.read_text(encoding="utf-8"))
    return {str(name): str(text) for name, text in kept.items()}


def discard(store: CampaignStore, one: Arrival) -> None:
    """Let a waiting file go."""
    shutil.rmtree(_room(store) / one.uid, ignore_errors=True)


def _room(store: CampaignStore) -> Path:
    return store.folder / "cache" / "arrivals"


def bytes_of(store: CampaignStore, one: Arrival) -> Path:
    """Where the bytes of a waiting file are."""
    return _room(store) / one.uid / _BYTES


def _read(place: Path) -> Arrival:
    told = json.loads((place / _TOLD).read_text(encoding="utf-8"))
    return Arrival(**(told | {"received": instant_from_text(told["received"])}))


def _copied(source: BinaryIO, target: Path, name: str, limit_bytes: int) -> tuple[int, str]:
    """Size and hash of a file while it is copied."""
    size, sha256 = 0, hashlib.sha256()
    with target.open("wb") as file:
        while chunk := source.read(_CHUNK):
            size += len(chunk)
            if size > limit_bytes:
                allowed = f"at most {limit_bytes} bytes"
                do = "raise the setting upload_limit_mb, or import it at the command line"
                raise InputError(f"size of {name}", f"more than {limit_bytes} bytes", allowed, do)
            sha256.update(chunk)
            file.write(chunk)
    if not size:
        raise InputError(f"size of {name}", "0 bytes", "a file with readings")
    return size, sha256.hexdigest()


@contextmanager
def named_as_it_came(one: Arrival) -> Iterator[None]:
    """Let errors name the file as the person knows it."""
    try:
        yield
    except FileError as error:
        raise FileError(
            one.name,
            error.problem,
            line=error.line,
            column=error.column,
            expected=error.expected,
            got=error.got,
            do=error.do,
        ) from error
