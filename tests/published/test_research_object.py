"""What RO-Crate 1.1 and BagIt ask of an archive, rule by rule, held to one that was made."""

import json
import re
from datetime import UTC, date, datetime
from pathlib import Path
from urllib.parse import unquote

import pytest

from gaugewright.services.archiving.about import About
from gaugewright.services.archiving.words import crate
from gaugewright.store import bag
from gaugewright.store.journal import JournalHead

ABOUT = About(
    "trial",
    "A trial (invented)",
    "To see whether it holds",
    True,
    "CC0-1.0",
    (("A. Person", "technician"),),
    datetime(2026, 3, 4, tzinfo=UTC),
    JournalHead(3, "ab" * 32),
)


@pytest.fixture
def payload(tmp_path: Path) -> Path:
    folder = tmp_path / "bag" / "data"
    (folder / "tables").mkdir(parents=True)
    (folder / "tables" / "a.csv").write_bytes(b"a\r\n1\r\n")
    (folder / "originals").mkdir()
    (folder / "originals" / "100% rough.txt").write_bytes(b"1\n")
    return folder


@pytest.mark.published(
    where="RO-Crate Metadata Specification 1.1 (Sefton and others, 2020), Metadata File "
    "Descriptor and Root Data Entity: descriptor with @id ro-crate-metadata.json, @type "
    "CreativeWork, about the root; root a Dataset whose @id ends in / with name, description, "
    "license and an ISO 8601 datePublished; entities flat in @graph, each @id once; data entities "
    "File, named by relative paths and listed by hasPart",
    seen="from memory, not a copy; the archive is also opened with the package rocrate",
)
def test_the_musts_of_a_research_object(payload: Path) -> None:
    files = [path for path in payload.rglob("*") if path.is_file()]
    told = crate(ABOUT, payload, files)
    assert told["@context"] == "https://w3id.org/ro/crate/1.1/context"
    graph = told["@graph"]
    by_id = {entity["@id"]: entity for entity in graph}
    assert len(by_id) == len(graph)
    assert all("@type" in entity for entity in graph)
    descriptor = by_id["ro-crate-metadata.json"]
    assert descriptor["@type"] == "CreativeWork"
    assert descriptor["conformsTo"]["@id"].startswith("https://w3id.org/ro/crate/1.1")
    root = by_id[descriptor["about"]["@id"]]
    assert root["@type"] == "Dataset"
    assert root["@id"].endswith("/")
    assert root["name"]
    assert root["description"].startswith("Invented data")
    assert by_id[root["license"]["@id"]]["name"] == "CC0-1.0"
    assert datetime.fromisoformat(root["datePublished"].replace("Z", "+00:00"))
    for part in root["hasPart"]:
        assert by_id[part["@id"]]["@type"] == "File"
        assert (payload / unquote(part["@id"])).is_file()
        assert re.fullmatch(r"[^\s\\]+", part["@id"])
    assert {p["@id"] for p in root["hasPart"]} == {e["@id"] for e in graph if e["@type"] == "File"}
    # Nested entities are references only: the graph is flat.
    for entity in graph:
        for value in entity.values():
            for item in value if isinstance(value, list) else [value]:
                assert not isinstance(item, dict) or set(item) == {"@id"}
    assert json.loads(json.dumps(told)) == told


@pytest.mark.published(
    where="RFC 8493, The BagIt File Packaging Format (V1.0), sections 2.1 and 2.2: declaration of "
    "two lines, payload below data/, a line of checksum and path for each file with % written "
    "%25, Payload-Oxum as octets.streams, tag manifest over the tag files",
    seen="from memory, not a copy; the archive is also opened with the package bagit",
)
def test_the_rules_of_a_bag(payload: Path) -> None:
    folder = payload.parent
    bag.seal(folder, {"External-Description": "a trial"}, day=date(2026, 3, 4))
    declared = (folder / "bagit.txt").read_text(encoding="utf-8").splitlines()
    assert declared == ["BagIt-Version: 1.0", "Tag-File-Character-Encoding: UTF-8"]
    lines = (folder / "manifest-sha256.txt").read_text(encoding="utf-8").splitlines()
    assert [line.split("  ", 1)[1] for line in lines] == [
        "data/originals/100%25 rough.txt",
        "data/tables/a.csv",
    ]
    assert "Payload-Oxum: 8.2" in (folder / "bag-info.txt").read_text(encoding="utf-8")
    tags = (folder / "tagmanifest-sha256.txt").read_text(encoding="utf-8")
    assert sorted(line.split("  ", 1)[1] for line in tags.splitlines()) == [
        "bag-info.txt",
        "bagit.txt",
        "manifest-sha256.txt",
    ]
    assert list(bag.faults(folder)) == []
