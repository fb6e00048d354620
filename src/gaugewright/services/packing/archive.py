"""The archive of a campaign: everything others need to use its numbers, and to prove them."""

import re
import shutil
import tempfile
import unicodedata
from collections.abc import Callable, Iterable
from pathlib import Path

from gaugewright import __version__
from gaugewright.errors import InputError
from gaugewright.records import KINDS, Entry
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import instant_text
from gaugewright.records.plain import to_plain
from gaugewright.records.readings import Event, Recording
from gaugewright.services.archiving import words as archive_words
from gaugewright.services.archiving.about import About, about_campaign
from gaugewright.services.archiving.strain import write_strain
from gaugewright.services.archiving.table import Table, write_csv, write_parquet
from gaugewright.services.archiving.tables import key_tables
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import report as handover
from gaugewright.store import bag, packed
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.safely import file_hash

__all__ = ["KIND", "Progress", "make", "original_name", "plain_licence", "write_tables"]

Progress = Callable[[int, int, str], None]
KIND = "archive made"
LONGEST_LICENCE = 200


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
    licence = plain_licence(licence)
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
        about = about_campaign(store, licence)
        _fill(store, payload, about, tell)
        tell(5, 6, "sealing")
        told = {
            "Source-Organization": about.label,
            "External-Description": about.title,
            "Bag-Software-Agent": f"gaugewright {__version__}",
            "Journal-Head": f"{head.seq} {head.sha256}",
        }
        bag.seal(folder, told, day=about.made.date())
        if target.exists():  # another one was made meanwhile
            target = _target(store, out)
        if target.suffix == ".zip":
            packed.pack(folder, target)
        else:
            folder.rename(target)
    digest = f", SHA-256 {file_hash(target)}" if target.is_file() else ""
    words = f"{target.name}{digest}, journal head {head.seq} {head.sha256}"
    store.add(Event(store.context.now(), KIND, words), reason="archive made")
    tell(6, 6, "archive written")
    return target


def plain_licence(typed: str) -> str:
    """Licence on one line, as it is written into the archive.

    Raises
    ------
    InputError
        If nothing is said, or it can't be printed.
    """
    words = " ".join(typed.split())
    if not words or not words.isprintable() or len(words) > LONGEST_LICENCE:
        do = "name one such as CC-BY-4.0, or say: not to be passed on"
        raise InputError("licence", words, "what others may do with the archive", do)
    return words


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


def _fill(store: CampaignStore, payload: Path, about: About, tell: Progress) -> None:
    book = Book.read(store)
    tell(1, 6, "records and files as received")
    _write_records(store, book, payload / "records")
    notes = _write_originals(store, payload / "originals")
    _copy_readings(store, payload / "readings")
    _copy_handover(store, payload / "handover")
    tell(2, 6, "tables")
    tables = key_tables(book)
    hashes = write_tables(tables, payload)
    tell(3, 6, "strain")
    notes += list(write_strain(store, book, payload / "strain", tell))
    tell(4, 6, "what it says of itself")
    package = archive_words.data_package(about, tables, hashes)
    archive_words.write_json(payload / "datapackage.json", package)
    (payload / "CITATION.cff").write_text(archive_words.citation(about), encoding="utf-8")
    text = archive_words.read_me(about, notes)
    (payload / "README.md").write_text(text, encoding="utf-8", newline="\n")
    files = [path for path in payload.rglob("*") if path.is_file()]
    crate = archive_words.crate(about, payload, files)
    archive_words.write_json(payload / "ro-crate-metadata.json", crate)


def write_tables(tables: Iterable[Table], folder: Path) -> dict[str, tuple[int, str]]:
    """Write tables below ``tables/`` in both forms; size [bytes] and SHA-256 of each as CSV."""
    (folder / "tables").mkdir()
    hashes = {}
    for table in tables:
        path = folder / "tables" / f"{table.name}.csv"
        write_csv(table, path)
        write_parquet(table, path.with_suffix(".parquet"))
        hashes[path.relative_to(folder).as_posix()] = path.stat().st_size, file_hash(path)
    return hashes


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


def _copy_readings(store: CampaignStore, folder: Path) -> None:
    """Parts of every recording, those withdrawn too: the journal goes on telling of them."""
    folder.mkdir()
    for entry in store.written_after(0):
        if isinstance(entry.record, Recording):
            shutil.copytree(store.folder / "readings" / entry.uid, folder / entry.uid)


def _copy_handover(store: CampaignStore, folder: Path) -> None:
    """Reports and sheets; archives made before aren't put into this one."""
    folder.mkdir()
    for path in sorted((store.folder / "handover").glob("*")):
        if path.is_file() and not path.name.startswith("archive-") and path.suffix != ".partial":
            shutil.copyfile(path, folder / path.name)
