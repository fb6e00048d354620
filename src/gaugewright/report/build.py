"""From a report's data to a PDF that looks the same in thirty years, byte for byte.

Typst sets it as PDF/A-2b, tagged, with the shipped faces only. The compiler sees nothing but a
fresh folder holding the template, the data as JSON and the drawings.
"""

import json
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

import typst

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.report import glyphs
from gaugewright.report.document import ReportDocument, as_plain
from gaugewright.report.handout import Handout
from gaugewright.report.whole import refuse_no_folder, write_whole

__all__ = ["drawn_pages", "pdf"]

_TEMPLATES = Path(__file__).parent / "templates"
Paper = Literal["a4", "letter"]
_PARTS = ("parts", "installed", "seen", "instruments")


def pdf(document: ReportDocument | Handout, out: Path, *, paper: Paper = "a4") -> Path:
    """Write a report or a sheet to ``out``, complete or not at all, and return that path.

    The same document gives the same bytes: the only time in the file is the document's own.

    Raises
    ------
    InputError
        If the paper isn't known or the folder of ``out`` doesn't exist.
    GaugewrightError
        If the typesetter refuses the data; its own words are in the message.
    """
    if paper not in ("a4", "letter"):
        raise InputError("paper", paper, "a4 or letter")
    refuse_no_folder(out)
    with tempfile.TemporaryDirectory(prefix="report-") as folder:
        root = Path(folder)
        _lay_out(document, root, paper)
        template = "report.typ" if isinstance(document, ReportDocument) else "handout.typ"
        content = _compiled(root, template, document.prepared_epoch)
    return write_whole(out, content)


def drawn_pages(
    pages: Sequence[tuple[float, float, str, str]], out: Path, *, title: str, epoch: int
) -> Path:
    """Write drawings to ``out``, each on a page of its own size, and return that path.

    Each page is its width and height [mm], its SVG and words for who can't see it.

    Raises
    ------
    InputError
        If there is no page or the folder of ``out`` doesn't exist.
    GaugewrightError
        If the typesetter refuses the drawings.
    """
    if not pages:
        raise InputError("pages", 0, "one or more")
    refuse_no_folder(out)
    with tempfile.TemporaryDirectory(prefix="pages-") as folder:
        root = Path(folder)
        shutil.copyfile(_TEMPLATES / "pages.typ", root / "pages.typ")
        told = []
        for number, (width, height, svg, alt) in enumerate(pages):
            name = f"page-{number:03d}.svg"
            (root / name).write_text(svg, encoding="utf-8")
            told.append({"file": name, "width": width, "height": height, "alt": alt})
        data = {"title": title, "pages": told}
        (root / "report.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        content = _compiled(root, "pages.typ", epoch)
    return write_whole(out, content)


def _lay_out(document: ReportDocument | Handout, root: Path, paper: Paper) -> None:
    """Everything the compiler may see, in one folder."""
    for template in sorted(_TEMPLATES.glob("*.typ")):
        shutil.copyfile(template, root / template.name)
    data, missing = glyphs.printable_plain(as_plain(document))
    data["unprintable"] = list(glyphs.described(missing))
    data["paper"] = "us-letter" if paper == "letter" else "a4"
    drawn = data.get("figures", []) + _figures_of_parts(data)
    for number, figure in enumerate(drawn):
        name = f"figure-{number:03d}.svg"
        (root / name).write_text(figure.pop("svg"), encoding="utf-8")
        figure["file"] = name
    (root / "report.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")


def _figures_of_parts(data: dict[str, Any]) -> list[dict[str, Any]]:
    parts = [p for name in _PARTS for p in data.get(name, ())]
    return [part["figure"] for part in parts if part["figure"] is not None]


def _compiled(root: Path, template: str, epoch: int) -> bytes:
    try:
        content, warnings = typst.compile_with_warnings(
            str(root / template),
            root=str(root),
            font_paths=_fonts(),
            format="pdf",
            pdf_standards="a-2b",
            timestamp=epoch,
        )
    except typst.TypstError as error:
        raise GaugewrightError(f"the report can't be set: {error}") from error
    if warnings:
        # A face that isn't found is only a warning there; on an archived sheet it is a fault.
        raise GaugewrightError("the report can't be set: " + "; ".join(map(_words, warnings)))
    return bytes(content)


def _fonts() -> Any:
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(glyphs.FONT_FOLDER)],
    )


def _words(warning: Any) -> str:
    return str(getattr(warning, "message", warning))
