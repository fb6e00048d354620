"""Files beside the analyst's sheet: tables with their dictionary, strain with its time."""

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import polars as pl

from gaugewright.errors import InputError
from gaugewright.records.readings import Recording
from gaugewright.services.archiving import words as archive_words
from gaugewright.services.archiving.about import About, about_campaign
from gaugewright.services.archiving.strain import write_strain
from gaugewright.services.archiving.tables import key_tables
from gaugewright.services.campaign.book import Book
from gaugewright.services.packing.archive import write_tables
from gaugewright.sources.netcdf_out import write_netcdf
from gaugewright.store import packed
from gaugewright.store.campaign import CampaignStore

__all__ = ["analyst_files"]

_TERMS = "terms not stated: ask whoever handed this over"


def analyst_files(
    store: CampaignStore,
    out: Path,
    *,
    netcdf: bool = False,
    licence: str = "",
    progress: Callable[[int, int, str], None] | None = None,
) -> Path:
    """Write tables, dictionary and strain as one zip file and return where it is.

    A file made before is replaced. ``netcdf`` adds each recording's strain as NetCDF 4.

    Raises
    ------
    MissingExtraError
        If NetCDF is wanted and its package isn't installed.
    InputError
        If the folder of ``out`` doesn't exist.
    """
    if not out.absolute().parent.is_dir():
        raise InputError("folder", str(out.parent), "a folder that exists", "make it first")
    tell = progress or (lambda done, total, what: None)
    book = Book.read(store)
    with tempfile.TemporaryDirectory(prefix="analyst-") as scratch:
        folder = Path(scratch) / out.stem
        (folder / "strain").parent.mkdir(parents=True)
        about = about_campaign(store, licence or _TERMS)
        tables = key_tables(book)
        tell(0, 3, "tables")
        hashes = write_tables(tables, folder)
        package = archive_words.data_package(about, tables, hashes)
        archive_words.write_json(folder / "datapackage.json", package)
        tell(1, 3, "strain")
        notes = list(write_strain(store, book, folder / "strain", tell))
        if netcdf:
            tell(2, 3, "NetCDF")
            for place in sorted(path for path in (folder / "strain").iterdir() if path.is_dir()):
                _write_netcdf(about, book, place)
        text = "\n".join([_READ_ME.format(title=about.title), *(f"- {note}" for note in notes), ""])
        (folder / "README.md").write_text(text, encoding="utf-8", newline="\n")
        path = packed.pack(folder, out)
    tell(3, 3, "files written")
    return path


_READ_ME = """# Numbers of: {title}

- `tables/`: gauges, results, budgets, zeros and what they stand on, as CSV and as Parquet;
  `datapackage.json` says what every column means, in which unit.
- `strain/`: mechanical strain of every circuit, a folder a recording, with time in UTC; empty
  where a reading is bad, left out, or before its zero.

All numbers are SI; tension is positive. Strain is what causes stress: free thermal strain is out.
Positions are as built where they were measured. In CSV, text that begins like a formula has an
apostrophe before it.
"""


def _write_netcdf(about: About, book: Book, place: Path) -> None:
    parts = sorted(place.glob("*.parquet"))
    columns = [name for name in pl.read_parquet_schema(parts[0]) if name.startswith("strain_")]
    rows = pl.scan_parquet(parts).select(pl.len()).collect().item()
    label = next(e.record.label for e in book.of(Recording) if e.uid == place.name)
    words = "mechanical strain since the zero before the test, tension positive"
    write_netcdf(
        place / "strain.nc",
        _frames(parts),
        rows=rows,
        time="time_utc",
        long_names={name: f"{words}: {name.removeprefix('strain_')}" for name in columns},
        told={
            "title": f"{about.title}: {label}",
            "institution": about.label,
            "source": "bonded strain gauges, corrected by gaugewright",
            "history": f"from the journal's head {about.head.seq} {about.head.sha256}",
        },
    )


def _frames(parts: list[Path]) -> Iterator[pl.DataFrame]:
    for part in parts:
        yield pl.read_parquet(part)
