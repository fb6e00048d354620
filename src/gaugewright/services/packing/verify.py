"""Proving an archive: its files whole, its journal unbroken, its numbers found again from raw."""

import json
import math
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from gaugewright import __version__
from gaugewright.errors import FileError, GaugewrightError, InputError
from gaugewright.records import KINDS, Entry
from gaugewright.records.identity import Context, working_context
from gaugewright.records.plain import from_plain
from gaugewright.records.proof import Signature
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain, Result
from gaugewright.services.archiving import reread as archive_reread
from gaugewright.services.archiving.strain import as_text, strains_of_archive
from gaugewright.services.archiving.table import write_csv, write_parquet
from gaugewright.services.archiving.tables import key_tables
from gaugewright.services.campaign.book import Book
from gaugewright.services.packing.archive import original_name
from gaugewright.services.reducing import reduction
from gaugewright.services.strain.strains import Desk
from gaugewright.store import bag, journal, packed
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.restore import restored

__all__ = ["Check", "Proof", "opened", "reopened", "verify"]

Progress = Callable[[int, int, str], None]
SAME, CLOSE, DIFFERS = "bit-identical", "within 1e-12", "differs"
_CLOSE = 1e-12
_FLOAT32_STEP = 2.0**-23
_HEAD = re.compile(r"(?P<seq>[0-9]+) (?P<sha256>[0-9a-f]{64})")
_PRINTED = re.compile(rb"journal head (?P<seq>[0-9]+) (?P<sha256>[0-9a-f]{64})")


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at: what, how it stands, and each fault in words.

    ``outcome`` says how well numbers agree where numbers were compared.
    """

    what: str
    faults: tuple[str, ...]
    told: str
    outcome: str = ""

    @property
    def holds(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults


@dataclass(frozen=True, slots=True)
class Proof:
    """What proving an archive gave."""

    checks: tuple[Check, ...]
    head: str
    made_by: str

    @property
    def holds(self) -> bool:
        """Whether every check holds."""
        return all(check.holds for check in self.checks)

    @property
    def outcome(self) -> str:
        """How the numbers agree, the worst of all that were compared; "" when none were."""
        order = [SAME, CLOSE, DIFFERS]
        found = [check.outcome for check in self.checks if check.outcome]
        return max(found, key=order.index, default="")


def verify(
    path: Path, *, head: str = "", quick: bool = False, progress: Progress | None = None
) -> Proof:
    """Hold an archive to its checksums, its journal to the printed head, its numbers to raw.

    Nothing is written but in a folder of its own that is gone afterwards.

    Parameters
    ----------
    path : path
        A folder or zip file that ``make`` wrote.
    head : str, optional
        Head of the journal as somebody reads it from paper; its first 8 characters or more.
    quick : bool
        Leave out reading the originals again and reducing them again.
    progress : callable, optional
        Called with what is done, how much there is, and words.

    Raises
    ------
    FileError
        If it isn't an archive that can be opened.
    InputError
        If ``head`` isn't one.
    """
    tell = progress or (lambda done, total, what: None)
    wanted = _typed_head(head)
    with opened(path) as folder:
        tell(0, 5, "checksums")
        faults = tuple(f"{where} {what}" for where, what in bag.faults(folder))
        told = bag.info(folder)
        size, _, count = told.get("Payload-Oxum", "").partition(".")
        checks = [Check("files", faults, f"{count or 'no'} files, {size or 'no'} bytes")]
        tell(1, 5, "journal")
        texts = _texts(folder)
        links = _links(texts)
        checks.append(_journal_check(folder, texts, links, wanted))
        tell(2, 5, "records")
        checks.append(_records_check(folder, texts))
        if not quick:
            checks += _from_raw(folder, tell)
    tell(5, 5, "proved" if all(check.holds for check in checks) else "something differs")
    return Proof(
        tuple(checks), links[-1] if links else "", told.get("Bag-Software-Agent", "not told")
    )


@contextmanager
def opened(path: Path) -> Iterator[Path]:
    """Folder of an archive, unpacked for as long as it is looked at when it is one file.

    Raises
    ------
    FileError
        If there is no archive.
    """
    if path.is_dir():
        yield path
        return
    if not path.is_file():
        raise FileError(path, "isn't there", do="name the archive's folder or zip file")
    with tempfile.TemporaryDirectory(prefix="gaugewright-archive-") as scratch:
        yield packed.unpack(path, Path(scratch) / "unpacked")


def reopened(path: Path, target: Path, context: Context) -> CampaignStore:
    """Make a campaign again from an archive whose files are whole, and open it.

    Raises
    ------
    FileError
        If the archive isn't whole, or what it holds can't be a campaign.
    StoreError
        If the target is in use.
    """
    with opened(path) as folder:
        faults = [f"{where} {what}" for where, what in bag.faults(folder)]
        if faults:
            raise FileError(path, f"isn't whole: {faults[0]}", do="take it from a copy")
        return _made_again(folder, target, context)


def _made_again(folder: Path, target: Path, context: Context) -> CampaignStore:
    payload = folder / bag.PAYLOAD
    names = {
        told["original"]["sha256"]: original_name(
            told["original"]["sha256"], told["original"]["file_name"]
        )
        for told in map(_told, _texts(folder))
        if told["action"] == "keep"
    }
    try:
        return restored(
            target,
            _texts(folder),
            context,
            original=lambda sha256: payload / "originals" / names[sha256],
            readings=payload / "readings",
            beside=[payload / "handover"],
        )
    except (KeyError, TypeError) as error:
        raise FileError(folder, f"its journal can't be a campaign's ({error})") from error


def _typed_head(head: str) -> str:
    typed = "".join(head.split()).lower()
    if typed and not re.fullmatch(r"[0-9a-f]{8,64}", typed):
        raise InputError("head", head, "8 to 64 of the characters 0-9 and a-f, as printed")
    return typed


def _texts(folder: Path) -> list[str]:
    path = folder / bag.PAYLOAD / "records" / "journal.jsonl"
    if not path.is_file():
        raise FileError(path, "is missing: without the journal nothing can be proved")
    return path.read_text(encoding="utf-8").removesuffix("\n").split("\n")


def _told(text: str) -> dict[str, Any]:
    try:
        told: dict[str, Any] = json.loads(text)
    except json.JSONDecodeError as error:
        raise FileError("journal.jsonl", f"has a line that isn't a record ({error})") from error
    return told


def _links(texts: Iterable[str]) -> list[str]:
    """Hash of every entry, each over the one before."""
    links, previous = [], journal.START
    for text in texts:
        previous = journal.chained(previous, text)
        links.append(previous)
    return links


def _journal_check(folder: Path, texts: list[str], links: list[str], typed: str) -> Check:
    """Whether the journal ends where everything that tells of its head says it did."""
    faults = []
    for number, text in enumerate(texts, 1):
        if _told(text).get("seq") != number:
            faults.append(f"entry {number} says it is number {_told(text).get('seq')}")
            break
    heads = [
        *_heads_of_bag(folder),
        *_heads_of_reports(folder / bag.PAYLOAD / "handover"),
        *_heads_of_signatures(texts),
    ]
    for where, seq, sha256 in heads:
        if seq is None:
            if sha256 not in links:
                faults.append(f"{where} was written over another journal: head {sha256[:16]}…")
        elif seq > len(links) or links[seq - 1] != sha256:
            there = links[seq - 1][:16] if seq <= len(links) else "nothing"
            faults.append(f"{where} names head {sha256[:16]}… at entry {seq}; here is {there}…")
    if typed and not any(link.startswith(typed) for link in links):
        faults.append(f"the head you typed, {typed[:16]}…, is no entry of this journal")
    told = f"{len(texts)} entries; held to {len(heads)} heads told elsewhere"
    return Check("journal", tuple(faults), told + (" and to the one typed" if typed else ""))


def _heads_of_bag(folder: Path) -> Iterator[tuple[str, int | None, str]]:
    match = _HEAD.fullmatch(bag.info(folder).get("Journal-Head", ""))
    if match:
        yield "bag-info.txt", int(match["seq"]), match["sha256"]
    path = folder / bag.PAYLOAD / "records" / "head.json"
    if path.is_file():
        head = _told(path.read_text(encoding="utf-8"))
        yield "records/head.json", int(head["seq"]), str(head["sha256"])


def _heads_of_reports(folder: Path) -> Iterator[tuple[str, int | None, str]]:
    for path in sorted((*folder.glob("*.pdf"), *folder.glob("*.html"))):
        match = _PRINTED.search(path.read_bytes())
        if match:
            yield f"handover/{path.name}", int(match["seq"]), match["sha256"].decode()


def _heads_of_signatures(texts: Iterable[str]) -> Iterator[tuple[str, int | None, str]]:
    for text in texts:
        told = _told(text)
        if KINDS.get(told.get("kind", "")) is Signature and told["record"].get("journal_head"):
            yield f"the signature of entry {told['seq']}", None, told["record"]["journal_head"]


def _is_same(name: str, told: dict[str, Any], read: dict[str, Any]) -> bool:
    """Whether two texts of a record say the same.

    The journal keeps what was written by the version of that day, which had fewer fields; what
    isn't told means in both what it means where it is read today.
    """
    if told == read:
        return True
    try:
        return bool(from_plain(KINDS[name], told) == from_plain(KINDS[name], read))
    except GaugewrightError:
        return False  # a field that this version doesn't know: told apart by their words


def _records_check(folder: Path, texts: Iterable[str]) -> Check:
    """Whether the records people read are those that the journal tells."""
    latest: dict[str, dict[str, Any]] = {}
    for text in texts:
        told = _told(text)
        if told["action"] != "keep":
            latest[told["uid"]] = told
    faults, seen = [], set()
    places = folder / bag.PAYLOAD / "records"
    for name in KINDS:
        path = places / f"{name.replace(' ', '-')}.json"
        if not path.is_file():
            continue
        for entry in json.loads(path.read_text(encoding="utf-8")):
            told = latest.get(entry["uid"], {})
            seen.add(entry["uid"])
            if told.get("kind") != name or told["action"] == "withdraw":
                faults.append(f"{name} {entry['uid']} isn't in the journal")
            elif told["version"] != entry["version"] or not _is_same(
                name, told["record"], entry["record"]
            ):
                faults.append(f"{name} {entry['uid']} isn't what the journal tells")
    missing = [u for u, told in latest.items() if told["action"] != "withdraw" and u not in seen]
    faults += [f"{latest[uid]['kind']} {uid} is missing" for uid in missing]
    return Check("records", tuple(faults), f"{len(seen)} records held to the journal")


def _from_raw(folder: Path, tell: Progress) -> list[Check]:
    """Everything worked out again in a campaign of its own, made from the journal."""
    with tempfile.TemporaryDirectory(prefix="gaugewright-verify-") as scratch:
        try:
            store = _made_again(folder, Path(scratch) / "campaign", working_context())
        except GaugewrightError as error:
            return [Check("campaign made again", (str(error),), "can't be made from the journal")]
        with store:
            tell(3, 5, "reading the originals again")
            problems = tuple(str(problem) for problem in store.problems())
            checks = [
                Check("campaign made again", problems, "parts and originals have their hashes"),
                _reread_check(store, tell),
            ]
            checks.append(_tables_check(folder, store))
            tell(4, 5, "reducing again")
            return [*checks, *_results_checks(folder, store)]


def _reread_check(store: CampaignStore, tell: Progress) -> Check:
    book, faults, rows = Book.read(store), [], 0
    for entry in book.of(Recording):
        tell(3, 5, f"reading {entry.record.file_name} again")
        fault = archive_reread.difference(store, book, entry)
        faults += [f"{entry.record.label}: {fault}"] if fault else []
        rows += entry.record.rows
    outcome = DIFFERS if faults else SAME
    return Check("readings from the originals", tuple(faults), f"{rows} rows", outcome)


def _tables_check(folder: Path, store: CampaignStore) -> Check:
    """Tables that people read against those that the records give."""
    faults, tables = [], key_tables(Book.read(store))
    with tempfile.TemporaryDirectory(prefix="gaugewright-tables-") as scratch:
        for table in tables:
            again = Path(scratch) / f"{table.name}.csv"
            write_csv(table, again)
            place = folder / bag.PAYLOAD / "tables" / again.name
            if not place.is_file() or place.read_bytes() != again.read_bytes():
                faults.append(f"tables/{again.name} isn't what the records give")
                continue
            columns = place.with_suffix(".parquet")
            write_parquet(table, again.with_suffix(".parquet"))
            told = pl.read_parquet(again.with_suffix(".parquet"))
            if not columns.is_file() or not pl.read_parquet(columns).equals(told):
                faults.append(f"tables/{columns.name} isn't what the records give")
    return Check("tables", tuple(faults), f"{len(tables)} tables, each in both forms")


def _results_checks(folder: Path, store: CampaignStore) -> list[Check]:
    before = Book.read(store)
    kept = {entry.record.label: entry for entry in before.of(Result)}
    chains = {entry.record.label: entry for entry in before.of(Chain)}
    try:
        done = reduction.reduce(store)
    except GaugewrightError as error:
        if not kept:
            return [Check("results", (), "the campaign has none, and none can be found")]
        return [Check("results", (f"can't be reduced again: {error}",), "", DIFFERS)]
    again = {entry.record.label: entry for entry in done.results}
    found = [_chains_check(chains, {entry.record.label: entry for entry in done.chains})]
    found.append(_numbers_check(kept, again))
    found.append(_strain_check(folder, store))
    return found


def _chains_check(kept: dict[str, Entry[Chain]], again: dict[str, Entry[Chain]]) -> Check:
    faults = [
        f"{label}: the chain of corrections built from the records isn't the one kept"
        for label, entry in again.items()
        if label in kept and kept[label].record.stages != entry.record.stages
    ]
    faults += [f"{label}: is new" for label in again.keys() - kept.keys()]
    outcome = DIFFERS if faults else SAME
    return Check("chains", tuple(faults), f"{len(again)} chains built again", outcome)


def _numbers_check(kept: dict[str, Entry[Result]], again: dict[str, Entry[Result]]) -> Check:
    faults, outcome = [], SAME
    for label, entry in again.items():
        if label not in kept:
            faults.append(f"{label}: found now and not in the archive")
            continue
        was, now = kept[label].record, entry.record
        for name in ("value", "expanded_uncertainty"):
            how = _agreement(getattr(was, name), getattr(now, name))
            if how is DIFFERS:
                faults.append(
                    f"{label}: {name.replace('_', ' ')} kept {getattr(was, name)!r}, "
                    f"found again {getattr(now, name)!r} {now.unit}"
                )
            outcome = max(outcome, how, key=[SAME, CLOSE, DIFFERS].index)
    faults += [
        f"{label}: in the archive and not found again"
        for label, entry in kept.items()
        if label not in again and entry.record.value is not None
    ]
    outcome = DIFFERS if faults else outcome
    words = f"{len(again)} results found again by gaugewright {__version__}"
    return Check("results", tuple(faults), words, outcome)


def _agreement(was: float | None, now: float | None) -> str:
    if was == now:
        return SAME
    if was is None or now is None:
        return DIFFERS
    return CLOSE if math.isclose(was, now, rel_tol=_CLOSE, abs_tol=0.0) else DIFFERS


def _strain_check(folder: Path, store: CampaignStore) -> Check:
    """Strain kept in the archive beside strain reduced again, sample by sample."""
    faults: list[str] = []
    outcome, count = SAME, 0
    desk = Desk(store, Book.read(store))
    for entry in desk.book.of(Recording):
        key = strains_of_archive(desk, entry)
        source = None if key is None else store.derived(key)
        place = folder / bag.PAYLOAD / "strain" / entry.uid
        if source is None or not place.is_dir():
            if (source is None) is place.is_dir():
                faults.append(f"strain of {entry.record.label} is only on one side")
            continue
        kept = _strain(place)
        how, words = _frames_agree(kept, _strain(source))
        if how is not DIFFERS and not _text_agrees(place):
            how, words = DIFFERS, "strain.csv says something else than the Parquet beside it"
        count += kept.height * kept.width
        outcome = max(outcome, how, key=[SAME, CLOSE, DIFFERS].index)
        faults += [f"strain of {entry.record.label}: {words}"] if how is DIFFERS else []
    outcome = DIFFERS if faults else outcome
    return Check("strain", tuple(faults), f"{count} readings reduced again", outcome)


def _strain(folder: Path) -> pl.DataFrame:
    frame = pl.concat([pl.read_parquet(path) for path in sorted(folder.glob("*.parquet"))])
    return frame.select(pl.col("^strain_.*$"))


def _text_agrees(place: Path) -> bool:
    """Whether the text of a recording's strain, where there is one, is that of its Parquet."""
    path = place / "strain.csv"
    if not path.is_file():
        return True
    with path.open("rb") as text:
        for number, part in enumerate(sorted(place.glob("*.parquet"))):
            wanted = as_text(pl.read_parquet(part), is_first=number == 0)
            if text.read(len(wanted)) != wanted:
                return False
        return not text.read(1)


def _frames_agree(kept: pl.DataFrame, again: pl.DataFrame) -> tuple[str, str]:
    if kept.columns != again.columns:
        return DIFFERS, "other circuits have strain now"
    if kept.height != again.height:
        return DIFFERS, f"{kept.height} rows kept, {again.height} found again"
    how = SAME
    for name in kept.columns:
        if kept[name].equals(again[name], null_equal=True):
            continue
        was, now = kept[name].to_numpy(), again[name].to_numpy()
        bound = _FLOAT32_STEP * pl.Series(was).abs().fill_nan(0.0).to_numpy()
        near = (abs(was - now) <= bound) | ((was != was) & (now != now))
        if not near.all():
            row = int((~near).argmax())
            return DIFFERS, f"{name}, row {row}: kept {was[row]!r}, found again {now[row]!r}"
        how = CLOSE
    return how, ""
