"""What an archive says of itself: research-object metadata, table schemas, citation, read-me."""

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from gaugewright import __version__
from gaugewright.records.identity import instant_text
from gaugewright.services.archiving.about import About
from gaugewright.services.archiving.table import Table

__all__ = ["citation", "crate", "data_package", "read_me", "write_json"]

_KINDS = {
    ".cff": "application/yaml",
    ".csv": "text/csv",
    ".html": "text/html",
    ".jpeg": "image/jpeg",
    ".jpg": "image/jpeg",
    ".json": "application/json",
    ".jsonl": "application/jsonl",
    ".md": "text/markdown",
    ".parquet": "application/vnd.apache.parquet",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".txt": "text/plain",
    ".webp": "image/webp",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_FIELD_TYPES = {"datetime": ("datetime", {"format": "%Y-%m-%dT%H:%M:%S.%fZ"})}


def _described(about: About) -> str:
    words = about.purpose.strip() or f"Records, readings and results of {about.title}."
    return f"Invented data, made to show the software. {words}" if about.invented else words


def crate(about: About, folder: Path, files: Iterable[Path]) -> dict[str, Any]:
    """Metadata of a research object after RO-Crate 1.1, for the files below ``folder``."""
    listed = sorted(path.relative_to(folder).as_posix() for path in files)
    licence = {
        "@id": about.licence if ":" in about.licence else "#licence",
        "@type": "CreativeWork",
        "name": about.licence,
        "description": f"Licence under which this archive is handed over: {about.licence}",
    }
    people = [
        {"@id": f"#person-{number}", "@type": "Person", "name": name, "jobTitle": role}
        for number, (name, role) in enumerate(about.people, 1)
    ]
    root: dict[str, Any] = {
        "@id": "./",
        "@type": "Dataset",
        "name": f"{about.label}: {about.title}",
        "description": _described(about),
        "datePublished": instant_text(about.made),
        "license": {"@id": licence["@id"]},
        "identifier": about.head.sha256,
        "hasPart": [{"@id": quote(name)} for name in listed],
        "mentions": [{"@id": "#making"}],
    }
    if people:
        root["author"] = [{"@id": person["@id"]} for person in people]
    entities = [_file(folder, name) for name in listed]
    return {
        "@context": "https://w3id.org/ro/crate/1.1/context",
        "@graph": [_DESCRIPTOR, root, licence, *_making(about, listed), *people, *entities],
    }


_DESCRIPTOR = {
    "@id": "ro-crate-metadata.json",
    "@type": "CreativeWork",
    "about": {"@id": "./"},
    "conformsTo": {"@id": "https://w3id.org/ro/crate/1.1"},
}


def _making(about: About, listed: list[str]) -> list[dict[str, Any]]:
    """The program, and what it made of what."""
    program = {
        "@id": "#gaugewright",
        "@type": "SoftwareApplication",
        "name": "gaugewright",
        "version": __version__,
        "softwareVersion": __version__,
    }
    made = {
        "@id": "#making",
        "@type": "CreateAction",
        "name": "archive made from the campaign's records",
        "endTime": instant_text(about.made),
        "instrument": {"@id": "#gaugewright"},
        "object": [{"@id": quote(name)} for name in listed if name.startswith("originals/")],
        "result": [
            {"@id": quote(name)} for name in listed if name.startswith(("tables/", "strain/"))
        ],
    }
    return [program, made]


def _file(folder: Path, name: str) -> dict[str, Any]:
    path = folder / name
    return {
        "@id": quote(name),
        "@type": "File",
        "name": path.name,
        "contentSize": str(path.stat().st_size),
        "encodingFormat": _KINDS.get(path.suffix.lower(), "application/octet-stream"),
    }


def data_package(
    about: About, tables: Iterable[Table], hashes: Mapping[str, tuple[int, str]]
) -> dict[str, Any]:
    """Frictionless data package: schema of every table of ``tables/``, with meanings and units.

    ``hashes`` gives size [bytes] and SHA-256 of each file by its path.
    """
    resources = []
    for table in tables:
        path = f"tables/{table.name}.csv"
        size, sha256 = hashes[path]
        resources.append(
            {
                "name": table.name,
                "title": table.title,
                "path": path,
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "bytes": size,
                "hash": f"sha256:{sha256}",
                "schema": _schema(table),
            }
        )
    return {
        "profile": "tabular-data-package",
        "name": "".join(c if c.isalnum() and c.isascii() else "-" for c in about.label.lower()),
        "title": about.title,
        "description": _described(about),
        "created": instant_text(about.made),
        "licenses": [_licence(about.licence)],
        "resources": resources,
    }


def _licence(licence: str) -> dict[str, str]:
    return {"path": licence} if ":" in licence else {"name": licence, "title": licence}


def _schema(table: Table) -> dict[str, Any]:
    fields = []
    for column in table.columns:
        kind, more = _FIELD_TYPES.get(column.kind, (column.kind, {}))
        field: dict[str, Any] = {"name": column.name, "type": kind, **more}
        field["description"] = column.meaning + (f" [{column.unit}]" if column.unit else "")
        if column.unit:
            field["unit"] = column.unit
        fields.append(field)
    schema: dict[str, Any] = {"fields": fields, "missingValues": [""]}
    if table.key:
        schema["primaryKey"] = list(table.key)
    return schema


def citation(about: About) -> str:
    """How the archive is to be cited, after Citation File Format 1.2.0."""
    names = [name for name, _ in about.people] or ["the laboratory that made it"]
    lines = [
        "cff-version: 1.2.0",
        "message: Please cite this archive by its title, its authors and the journal's head.",
        "type: dataset",
        f"title: {_quoted(about.title)}",
        "authors:",
        *[f"  - name: {_quoted(name)}" for name in names],
        f"date-released: {about.made:%Y-%m-%d}",
        "identifiers:",
        "  - type: other",
        f"    value: {about.head.sha256}",
        "    description: head of the journal of records",
        *([] if ":" in about.licence else [f"license: {_quoted(about.licence)}"]),
        *([f"license-url: {_quoted(about.licence)}"] if ":" in about.licence else []),
    ]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a YAML string


_WHERE = (
    "## What is where",
    "",
    "- `handover/`: reports and sheets as they were handed over.",
    "- `tables/`: gauges, results, budgets, zeros and what they stand on, each as CSV and "
    "as Parquet; `datapackage.json` says what every column means, in which unit.",
    "- `strain/`: mechanical strain of every circuit, a folder a recording, with "
    "time in UTC; empty where a reading is bad or left out.",
    "- `readings/`: numbers as received, a folder a recording, in Parquet.",
    "- `originals/`: files as received, to the last byte; photos too.",
    "- `records/journal.jsonl`: every record ever written, in order, never changed. Each "
    "line's hash is SHA-256 of the hash before it (64 zeros for the first) and the line.",
    "- `records/*.json`: the latest version of every record, by kind.",
    "- `ro-crate-metadata.json`, `CITATION.cff`: what this is, for catalogues.",
    "",
    "Text that begins like a formula of a sheet program has an apostrophe before it in "
    "CSV; in Parquet and in the records it is as written. All numbers are SI; strain is "
    "positive in tension.",
    "",
)


def read_me(about: About, notes: Iterable[str]) -> str:
    """What is where, for whoever opens the archive without any program for it."""
    return "\n".join(
        [
            f"# {about.title}",
            "",
            _described(about),
            "",
            f"Made by gaugewright {__version__} on {instant_text(about.made)}.",
            f"Licence: {about.licence}.",
            "",
            f"Head of the journal: entry {about.head.seq}, SHA-256",
            "",
            f"    {about.head.sha256}",
            "",
            "Compare it with the head printed on the signed report: the checksums show that no "
            "file changed since, the printed head shows that nobody wrote the journal anew.",
            "",
            *_WHERE,
            *[f"- {note}" for note in notes],
            "",
            "## To prove it",
            "",
            "    gaugewright archive verify PATH-OF-THIS-ARCHIVE",
            "",
            "reads the originals again, reduces them again and holds every number to the one "
            "kept here. Checksums alone: any program for BagIt (RFC 8493), or `sha256sum -c` on "
            "the manifest.",
            "",
        ]
    )


def write_json(path: Path, plain: object) -> None:
    """Write JSON that people can read."""
    text = json.dumps(plain, ensure_ascii=False, indent=1, sort_keys=False)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")
