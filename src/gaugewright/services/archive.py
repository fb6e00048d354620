"""The archive of a campaign: everything others need to use its numbers, and to prove them."""

import re
import shutil
import tempfile
import unicodedata
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from gaugewright import __version__
from gaugewright.errors import InputError
from gaugewright.records import KINDS, Entry
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import instant_text
from gaugewright.records.plain import canonical_text, to_plain
from gaugewright.records.proof import Person, ZeroKind
from gaugewright.records.readings import ClockMap, Event, Recording
from gaugewright.records.results import Chain
from gaugewright.services import archive_words, handover
from gaugewright.services.archive_table import write_csv, write_parquet
from gaugewright.services.archive_tables import key_tables
from gaugewright.services.archive_words import About
from gaugewright.services.book import Book
from gaugewright.services.strain_files import write_strains
from gaugewright.services.strains import Desk
from gaugewright.store import bag, packed
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import ELAPSED
from gaugewright.store.safely import file_hash

__all__ = ["KIND", "Progress", "make", "original_name", "strains_of_archive"]

Progress = Callable[[int, int, str], None]
KIND = "archive made"
_MOST_CSV_VALUES = 20_000_000  # about 300 MB of text; Parquet has them all


def make(
    store: CampaignStore,
    *,
    out: Path | None = None,
    licence: str,
    report: bool = True,
    progress: Progress | None = None,
) -> Path:
    """Make the archive of a campaign as it stands and return where it is.

    A report is built first, so that the archive has one of the very records it holds. It is one
    zip file where ``out`` ends in ``.zip``, a folder otherwise.

    Parameters
    ----------
    store : CampaignStore
        Open for writing: that an archive was made is an entry of the journal.
    out : path, optional
        Where it goes; the campaign's own folder of handed-over things when left out.
    licence : str
        What others may do with it: a name such as CC-BY-4.0, or an address.
    report : bool
        Whether a report is built first.
    progress : callable, optional
        Called with what is done, how much there is, and words.

    Raises
    ------
    InputError
        If no licence is named, ``out`` exists, or its folder doesn't.
    GaugewrightError
        If something the records tell of is missing on disk.
    """
    licence = " ".join(licence.split())
    if not licence or not licence.isprintable():
        do = "name one such as CC-BY-4.0, or say: not to be passed on"
        raise InputError("licence", licence, "what others may do with the archive", do)
    _refuse_problems(store)
    target = _target(store, out)
    tell = progress or (lambda done, total, what: None)
    tell(0, 6, "building the report")
    if report:
        handover.refuse_without_gauges(Book.read(store))
        handover.report(store)
    head = store.head()
    with tempfile.TemporaryDirectory(prefix=".archive-", dir=target.parent) as scratch:
        folder = Path(scratch) / target.stem if target.suffix == ".zip" else Path(scratch) / "bag"
        payload = folder / bag.PAYLOAD
        payload.mkdir(parents=True)
        about = _about(store, licence)
        _fill(store, payload, about, tell)
        tell(5, 6, "sealing")
        told = {
            "Source-Organization": about.label,
            "External-Description": about.title,
            "Bag-Software-Agent": f"gaugewright {__version__}",
            "Journal-Head": f"{head.seq} {head.sha256}",
        }
        bag.seal(folder, told, day=about.made.date())
        if target.suffix == ".zip":
            packed.pack(folder, target)
        else:
            folder.rename(target)
    digest = f", SHA-256 {file_hash(target)}" if target.is_file() else ""
    words = f"{target.name}{digest}, journal head {head.seq} {head.sha256}"
    store.add(Event(store.context.now(), KIND, words), reason="archive made")
    tell(6, 6, "archive written")
    return target


def original_name(sha256: str, file_name: str) -> str:
    """Name under which a file as received stands in an archive: its own, made harmless.

    Examples
    --------
    >>> original_name("ab" * 32, "Test 3/Größe.csv")
    'abababababababab-Test_3_Grosse.csv'
    """
    text = unicodedata.normalize("NFKD", file_name.replace("ß", "ss"))
    plain = text.encode("ascii", "ignore").decode("ascii")
    tidy = re.sub(r"[^A-Za-z0-9._-]+", "_", plain).strip("._-")
    stem, dot, suffix = tidy.rpartition(".")
    short = f"{stem[:80]}{dot}{suffix[:12]}" if dot else tidy[:80]
    return f"{sha256[:16]}-{short or 'file'}"


def _refuse_problems(store: CampaignStore) -> None:
    problems = store.problems()
    if problems:
        first = problems[0]
        raise InputError(
            "campaign",
            f"{len(problems)} things on disk differ from what was written",
            "whole before it is archived",
            f"see gaugewright selfcheck; the first: {first}",
        )


def _target(store: CampaignStore, out: Path | None) -> Path:
    if out is None:
        folder = store.folder / "handover"
        folder.mkdir(exist_ok=True)
        number = 1
        while (folder / f"archive-{number}.zip").exists():
            number += 1
        return folder / f"archive-{number}.zip"
    if not out.absolute().parent.is_dir():
        raise InputError(
            "folder of --out", str(out.parent), "a folder that exists", "make it first"
        )
    if out.exists():
        do = "name another one: archives are never written over"
        raise InputError("out", str(out), "a file or folder that doesn't exist", do)
    return out.absolute()


def _about(store: CampaignStore, licence: str) -> About:
    campaign = store.campaign.record
    people = tuple((e.record.name, e.record.role) for e in store.entries(Person))
    return About(
        campaign.label,
        campaign.title,
        campaign.purpose,
        campaign.invented,
        licence,
        people,
        store.context.now().astimezone(UTC),
        store.head(),
    )


def _fill(store: CampaignStore, payload: Path, about: About, tell: Progress) -> None:
    book = Book.read(store)
    tell(1, 6, "records and files as received")
    _write_records(store, book, payload / "records")
    notes = _write_originals(store, payload / "originals")
    _copy_readings(store, book, payload / "readings")
    _copy_handover(store, payload / "handover")
    tell(2, 6, "tables")
    tables = key_tables(book)
    (payload / "tables").mkdir()
    for table in tables:
        write_csv(table, payload / "tables" / f"{table.name}.csv")
        write_parquet(table, payload / "tables" / f"{table.name}.parquet")
    tell(3, 6, "strain")
    notes += list(_write_strain(store, book, payload / "strain", tell))
    tell(4, 6, "what it says of itself")
    hashes = {
        f"tables/{table.name}.csv": _size_and_hash(payload / "tables" / f"{table.name}.csv")
        for table in tables
    }
    package = archive_words.data_package(about, tables, hashes)
    archive_words.write_json(payload / "datapackage.json", package)
    (payload / "CITATION.cff").write_text(archive_words.citation(about), encoding="utf-8")
    text = archive_words.read_me(about, notes)
    (payload / "README.md").write_text(text, encoding="utf-8", newline="\n")
    files = [path for path in payload.rglob("*") if path.is_file()]
    crate = archive_words.crate(about, payload, files)
    archive_words.write_json(payload / "ro-crate-metadata.json", crate)


def _size_and_hash(path: Path) -> tuple[int, str]:
    return path.stat().st_size, file_hash(path)


def _write_records(store: CampaignStore, book: Book, folder: Path) -> None:
    folder.mkdir()
    with (folder / "journal.jsonl").open("w", encoding="utf-8", newline="\n") as file:
        for entry in store.journal():
            file.write(entry.text + "\n")
    head = store.head()
    archive_words.write_json(folder / "head.json", {"seq": head.seq, "sha256": head.sha256})
    for name, kind in KINDS.items():
        entries = [_plain(entry) for entry in _of(book, kind)]
        if entries:
            path = folder / f"{name.replace(' ', '-')}.json"
            archive_words.write_json(path, entries)


def _of(book: Book, kind: type[object]) -> tuple[Entry[object], ...]:
    return book.of(kind)


def _plain(entry: Entry[object]) -> dict[str, object]:
    return {
        "uid": entry.uid,
        "version": entry.version,
        "at": instant_text(entry.at),
        "person": entry.person,
        "reason": entry.reason,
        "record": to_plain(entry.record),
    }


def _write_originals(store: CampaignStore, folder: Path) -> list[str]:
    """Files as received, under names that tell which is which; and a list of them."""
    folder.mkdir()
    listed = []
    for entry in store.journal():
        told = entry.told()
        if told["action"] != "keep":
            continue
        sha256, name = told["original"]["sha256"], told["original"]["file_name"]
        path = folder / original_name(sha256, name)
        if not path.exists():
            path.write_bytes(store.original_bytes(sha256))
            listed.append({"sha256": sha256, "file_name": name, "path": path.name})
    archive_words.write_json(folder / "list.json", listed)
    photos = len(store.entries(Attachment))
    return [f"{photos} photos and papers are among the originals."] if photos else []


def _copy_readings(store: CampaignStore, book: Book, folder: Path) -> None:
    folder.mkdir()
    for entry in book.of(Recording):
        source = store.folder / "readings" / entry.uid
        shutil.copytree(source, folder / entry.uid)


def _copy_handover(store: CampaignStore, folder: Path) -> None:
    """Reports and sheets; archives made before aren't put into this one."""
    folder.mkdir()
    for path in sorted((store.folder / "handover").glob("*")):
        if path.is_file() and not path.name.startswith("archive-") and path.suffix != ".partial":
            shutil.copyfile(path, folder / path.name)


def _write_strain(store: CampaignStore, book: Book, folder: Path, tell: Progress) -> Iterator[str]:
    """Strain of every recording; what was left out, in words."""
    folder.mkdir()
    desk = Desk(store, book)
    for entry in book.of(Recording):
        tell(3, 6, f"strain of {entry.record.label}")
        key = strains_of_archive(desk, entry)
        source = None if key is None else store.derived(key)
        if source is None:
            yield f"Recording {entry.record.label} has no strain: it was read for a zero only."
            continue
        place = folder / entry.uid
        place.mkdir()
        is_short = _copy_strain(store, book, entry, source, place)
        if not is_short:
            label = entry.record.label
            yield f"Strain of {label} is in Parquet only: as text it would be too long."


def strains_of_archive(desk: Desk, recording: Entry[Recording]) -> str | None:
    """Key of the strain of a recording that an archive holds: since the zero before the test."""
    chained = frozenset(chain.record.connection for chain in desk.book.of(Chain))
    return write_strains(desk, recording, ZeroKind.BEFORE_TEST, connections=chained)


def _copy_strain(
    store: CampaignStore, book: Book, recording: Entry[Recording], source: Path, place: Path
) -> bool:
    """Strain beside its time, part by part; whether it is there as text too."""
    readings = store.readings(recording.uid)
    clock = book.clock_map_of(recording).record
    start = clock.epoch + timedelta(seconds=clock.offset.value)
    first = 0
    parts = sorted(source.glob("*.parquet"))
    columns = len(pl.read_parquet_schema(parts[0])) if parts else 0
    is_short = readings.rows * columns <= _MOST_CSV_VALUES
    with (place / "strain.csv").open("wb") as text:
        for number, part in enumerate(parts):
            strain = pl.read_parquet(part)
            elapsed = readings.window(first, first + strain.height - 1, [ELAPSED])
            time = _utc(start, clock, elapsed[ELAPSED])
            frame = pl.concat([elapsed, pl.DataFrame({"time_utc": time}), strain], how="horizontal")
            frame.write_parquet(place / part.name, compression="zstd", metadata=_told(recording))
            if is_short:
                written = frame.write_csv(
                    include_header=number == 0,
                    datetime_format="%Y-%m-%dT%H:%M:%S%.6fZ",
                    line_terminator="\r\n",
                )
                text.write(written.encode())
            first += strain.height
    if not is_short:
        (place / "strain.csv").unlink()
    return is_short


def _utc(start: datetime, clock: ClockMap, elapsed: pl.Series) -> pl.Series:
    """Campaign time of rows, to the microsecond."""
    nanoseconds = (elapsed.cast(pl.Float64) * (1 + clock.rate)).round().cast(pl.Int64)
    begins = pl.Series([start]).cast(pl.Datetime("ns", "UTC")).dt.timestamp("ns")[0]
    stamps: pl.Series = (nanoseconds + begins) // 1000
    return stamps.cast(pl.Datetime("us", "UTC"))


def _told(recording: Entry[Recording]) -> dict[str, str]:
    told = {
        "recording": recording.uid,
        "label": recording.record.label,
        "elapsed_ns": "nanoseconds of the recorder's own clock since its first row",
        "time_utc": "time of the campaign, clocks joined",
        "strain": "mechanical strain since the zero before the test, tension positive [1]",
        "columns": "strain_ and the label of the circuit; the last part is the unit: 1",
    }
    return {"gaugewright": canonical_text(told)}
