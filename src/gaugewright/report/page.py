"""The report as one page for a browser: nothing beside the file is needed to read it.

Style, faces and marks are the app's own, put into the page; so are its drawings. There is no
script in it, and nothing is fetched.
"""

import base64
import re
from pathlib import Path

import jinja2

from gaugewright.report.document import ReportDocument, as_plain
from gaugewright.report.whole import refuse_no_folder, write_whole

__all__ = ["page"]

_APP = Path(__file__).parents[1] / "web"
_LOOK = _APP / "static" / "look"
_SHEETS = (
    "faces",
    "tokens",
    "ground",
    "sheet",
    "type",
    "state",
    "tables",
    "notices",
    "figures",
    "story",
    "narrow",
    "print",
)
_FACE = re.compile(r'url\("\.\./fonts/([A-Za-z0-9-]+\.woff2)"\)')
_KEPT_FACES = (
    "SourceSans3-Regular.woff2",
    "SourceSans3-Semibold.woff2",
    "STIXTwoText-Regular.woff2",
)


def page(document: ReportDocument, out: Path) -> Path:
    """Write the report as one HTML file, complete or not at all, and return its path.

    Raises
    ------
    InputError
        If the folder of ``out`` doesn't exist.
    """
    refuse_no_folder(out)
    text = _room().get_template("report.html").render(d=as_plain(document), style=_style())
    return write_whole(out, text.encode("utf-8"))


def _room() -> jinja2.Environment:
    folders = [str(Path(__file__).parent / "templates"), str(_APP / "templates")]
    room = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folders),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    room.filters["first_words"] = _first_words
    return room


def _first_words(text: str) -> str:
    """Words as an anchor of the page."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _style() -> str:
    """The app's style in one text, with the faces it prints in; a face left out falls back."""
    text = "\n".join((_LOOK / f"{name}.css").read_text(encoding="utf-8") for name in _SHEETS)
    lines = [line for line in text.splitlines() if not _is_left_out(line)]
    return _FACE.sub(_embedded, "\n".join(lines))


def _is_left_out(line: str) -> bool:
    match = _FACE.search(line)
    return match is not None and match[1] not in _KEPT_FACES


def _embedded(match: re.Match[str]) -> str:
    content = (_APP / "static" / "fonts" / match[1]).read_bytes()
    return f'url("data:font/woff2;base64,{base64.b64encode(content).decode("ascii")}")'
