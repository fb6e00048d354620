"""Files sent by a browser: kept under a name of our own, whatever name came with them."""

import re
import shutil
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from starlette.datastructures import UploadFile

from gaugewright.errors import InputError
from gaugewright.records.identity import Context

__all__ = ["Received", "keep", "text_of", "told_name"]

LONGEST = 200
_SUFFIX = re.compile(r"\.[A-Za-z0-9]{1,8}")


@dataclass(frozen=True, slots=True)
class Received:
    """A file as it was sent: where it is now, and what the sender called it."""

    path: Path
    name: str
    size: int


def told_name(name: str | None) -> str:
    """Name that a file was sent under, to be shown and written down, never to be opened.

    Raises
    ------
    InputError
        If it holds a path or what can't be printed: no browser sends that by itself.

    Examples
    --------
    >>> told_name("pull 1.txt")
    'pull 1.txt'
    """
    told = unicodedata.normalize("NFC", name or "")
    is_plain = told.strip(" .") and not any(sign in told for sign in "/\\:\0")
    if not is_plain or not told.isprintable() or len(told) > LONGEST:
        allowed = f"a file's own name without a path, of {LONGEST} characters at most"
        raise InputError("file name", told, allowed, "choose the file again, or rename it")
    return told


def text_of(upload: UploadFile | None) -> str:
    """Text of a small file that was chosen in a form; "" where none was.

    Raises
    ------
    InputError
        If its name can't be used, it is empty, or it isn't text in UTF-8.
    """
    if upload is None or not upload.filename:
        return ""
    name = told_name(upload.filename)
    upload.file.seek(0)
    try:
        text = upload.file.read().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("file", name, "text in UTF-8", "save it as CSV in UTF-8") from error
    if not text.strip():
        raise InputError("file", name, "one with something in it", "choose another file")
    return text


def keep(upload: UploadFile, folder: Path, context: Context) -> Received:
    """Write what was sent into a folder, under a new uid with the suffix that was told.

    Raises
    ------
    InputError
        If its name can't be used, or it is empty.
    """
    name = told_name(upload.filename)
    suffix = Path(name).suffix
    path = folder / (context.new_uid() + (suffix if _SUFFIX.fullmatch(suffix) else ""))
    folder.mkdir(parents=True, exist_ok=True)
    upload.file.seek(0)
    with path.open("xb") as file:
        shutil.copyfileobj(upload.file, file, 1 << 20)
    size = path.stat().st_size
    if size == 0:
        path.unlink()
        raise InputError("file", name, "one with something in it", "choose another file")
    return Received(path, name, size)
