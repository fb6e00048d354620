"""A folder that tells whether it is whole: payload, checksums, and what was put in (RFC 8493)."""

import hashlib
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from gaugewright.errors import StoreError
from gaugewright.store.safely import file_hash

__all__ = ["PAYLOAD", "faults", "info", "seal"]

PAYLOAD = "data"
_DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_MANIFEST = "manifest-sha256.txt"
_TAG_MANIFEST = "tagmanifest-sha256.txt"
_TAGS = ("bag-info.txt", "bagit.txt", _MANIFEST)


def seal(folder: Path, told: Mapping[str, str], *, day: date) -> None:
    """Write the checksums of everything below ``data/`` and what the bag says of itself.

    ``told`` are lines of ``bag-info.txt`` beside the day and the number and size of files.

    Raises
    ------
    StoreError
        If there is no payload, or a text of ``told`` has a line break in it.
    """
    payload = _payload(folder)
    if not payload:
        raise StoreError(f"{folder} has no file below {PAYLOAD}/: there is nothing to seal")
    for name, text in told.items():
        if "\n" in text or "\r" in text:
            raise StoreError(f"{name} in bag-info.txt must stand on one line")
    (folder / "bagit.txt").write_text(_DECLARATION, encoding="utf-8", newline="\n")
    size = sum(path.stat().st_size for path in payload.values())
    lines = {**told, "Bagging-Date": day.isoformat(), "Payload-Oxum": f"{size}.{len(payload)}"}
    text = "".join(f"{name}: {words}\n" for name, words in lines.items())
    (folder / "bag-info.txt").write_text(text, encoding="utf-8", newline="\n")
    _write_manifest(folder / _MANIFEST, payload)
    _write_manifest(folder / _TAG_MANIFEST, {name: folder / name for name in _TAGS})


def info(folder: Path) -> dict[str, str]:
    """What a bag says of itself, by name; empty when it says nothing."""
    path = folder / "bag-info.txt"
    if not path.is_file():
        return {}
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    pairs = (line.split(":", 1) for line in lines if ":" in line)
    return {name.strip(): words.strip() for name, words in pairs}


def faults(folder: Path) -> Iterator[tuple[str, str]]:
    """Every file that isn't what was sealed: where, and what is wrong; nothing when it is whole."""
    if not (folder / "bagit.txt").is_file():
        yield "bagit.txt", "is missing: this isn't a sealed folder, or not all of it"
        return
    links = [path for path in sorted(folder.rglob("*")) if path.is_symlink()]
    for path in links:
        yield path.relative_to(folder).as_posix(), "is a link, which points out of the archive"
    yield from _against_manifest(folder, _TAG_MANIFEST, {n: folder / n for n in _TAGS}, "tag file")
    payload = _payload(folder)
    yield from _against_manifest(folder, _MANIFEST, payload, "payload")
    size = sum(path.stat().st_size for path in payload.values())
    sealed = info(folder).get("Payload-Oxum", "")
    if sealed != f"{size}.{len(payload)}":
        there = f"{size} bytes in {len(payload)} files"
        yield "bag-info.txt", f"says {sealed or 'nothing'} (bytes.files), and there are {there}"


def _payload(folder: Path) -> dict[str, Path]:
    found = (path for path in (folder / PAYLOAD).rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path for path in sorted(found)}


def _write_manifest(path: Path, files: Mapping[str, Path]) -> None:
    lines = [f"{file_hash(file)}  {_escaped(name)}\n" for name, file in sorted(files.items())]
    path.write_text("".join(lines), encoding="utf-8", newline="\n")


def _against_manifest(
    folder: Path, manifest: str, files: Mapping[str, Path], kind: str
) -> Iterator[tuple[str, str]]:
    path = folder / manifest
    if not path.is_file():
        yield manifest, "is missing: without it no file can be held to its checksum"
        return
    sealed: dict[str, str] = {}
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        digest, _, name = line.partition(" ")
        if len(digest) != hashlib.sha256().digest_size * 2 or not name.strip():
            yield manifest, f"line {number} isn't a checksum and a name"
            continue
        sealed[_unescaped(name.strip())] = digest.lower()
    for name in sorted(sealed.keys() - files.keys()):
        yield name, "is missing: it was sealed with the rest"
    for name, file in files.items():
        if name not in sealed:
            yield name, f"was put in after the sealing ({kind})"
        elif not file.is_file():
            yield name, "is missing: it was sealed with the rest"
        elif file_hash(file) != sealed[name]:
            yield name, "has been changed: its bytes have another checksum than when sealed"


def _escaped(name: str) -> str:
    """Name on one line, as the standard writes it."""
    return name.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _unescaped(name: str) -> str:
    return name.replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%")
