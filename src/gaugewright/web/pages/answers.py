"""Worked answers: single questions that need no campaign, each on a page of its own."""

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import cast
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError
from gaugewright.present.captions import share_text
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import System, unit_shown, units_sentence
from gaugewright.services.answering.answers import answered
from gaugewright.services.answering.asks import TOOLS, Ask, Tool
from gaugewright.services.answering.parts import Answer
from gaugewright.web import frame
from gaugewright.web.forms import Choice, Field, told_beside
from gaugewright.web.not_there import NotThere

__all__ = ["AnswerPage", "AnswersPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ToolRow:
    """A question in the list."""

    url: str
    question: str
    about: str


@dataclass(frozen=True, slots=True)
class NumberShown:
    """One number of an answer, and what its doubt is mostly made of."""

    label: str
    shown: Shown
    cause: str


@dataclass(frozen=True, slots=True)
class CauseShown:
    """One cause of a number's doubt, and what halving it would leave."""

    meaning: str
    basis: str
    share: str
    half: str


@dataclass(frozen=True, slots=True)
class RowShown:
    """A line of an answer's table."""

    name: str
    cells: tuple[str, ...]
    is_here: bool


@dataclass(frozen=True, slots=True)
class AnswerShown:
    """An answer as the page shows it; ``drawing`` is our own SVG."""

    sentence: str
    numbers: tuple[NumberShown, ...]
    causes_of: str
    causes: tuple[CauseShown, ...]
    heads: tuple[str, ...]
    rows: tuple[RowShown, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]
    left_out: tuple[str, ...]
    sources: tuple[str, ...]
    drawing: str


@dataclass(frozen=True, slots=True)
class AnswersPage:
    """The questions that can be asked."""

    sheet: frame.Sheet
    tools: tuple[ToolRow, ...]


@dataclass(frozen=True, slots=True)
class AnswerPage:
    """One question: its form, and the answer once something was typed."""

    sheet: frame.Sheet
    question: str
    about: str
    action: str
    fields: tuple[Field, ...]
    answer: AnswerShown | None
    failure: str
    example_url: str
    all_url: str
    others: tuple[ToolRow, ...]


@router.get("/answers")
def show_all(request: Request) -> Response:
    """Every question."""
    context = AnswersPage(_sheet(request, "Worked answers"), _rows())
    return frame.page(request, "answers.html", context)


@router.get("/answers/{tool}")
def show(request: Request, tool: str) -> Response:
    """One question, and its answer to what the address carries: it can be kept and sent on."""
    if tool not in TOOLS:
        raise NotThere("question", tool, "one of " + ", ".join(TOOLS), "look at /answers")
    asked = TOOLS[tool]
    names = [ask.name for ask in asked.asks]
    typed = {name: request.query_params.get(name, "") for name in names}
    found: Answer | None = None
    error: GaugewrightError | None = None
    if any(name in request.query_params for name in names):
        try:
            found = answered(tool, typed, _system(request))
        except GaugewrightError as fault:
            error = fault
    return _page(request, asked, typed, found, error)


def _page(
    request: Request,
    tool: Tool,
    typed: Mapping[str, str],
    found: Answer | None,
    error: GaugewrightError | None,
) -> Response:
    wrong, failure = _faults(tool, error)
    context = AnswerPage(
        sheet=_sheet(request, tool.question),
        question=tool.question,
        about=tool.about,
        action=f"/answers/{tool.name}",
        fields=tuple(_field(request, ask, typed, wrong) for ask in tool.asks),
        answer=_shown(found) if found else None,
        failure=failure,
        example_url=_example(tool),
        all_url="/answers",
        others=tuple(row for row in _rows() if not row.url.endswith(f"/{tool.name}")),
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "answer.html", context, status=status)


def _system(request: Request) -> System:
    return cast("System", request.app.state.settings["units"])


def _faults(tool: Tool, error: GaugewrightError | None) -> tuple[dict[str, str], str]:
    """Sentence for each field that is wrong, and what belongs beside none of them."""
    wrong, rest = told_beside(error, {ask.name for ask in tool.asks})
    shown = {name: f"{told[:1].upper()}{told[1:]}" for name, told in wrong.items()}
    return {name: told.replace("_", " ") for name, told in shown.items()}, rest


def _field(request: Request, ask: Ask, typed: Mapping[str, str], wrong: Mapping[str, str]) -> Field:
    hint = ask.hint
    if ask.assumed and not ask.options:
        hint = f"{hint} Left empty: {_in_units(request, ask)}.".strip()
    # Where the channel's own kind of number is typed, the hint says its units instead.
    unit = ask.unit
    if ask.quantity and "µε" not in ask.hint:
        unit = unit_shown(ask.quantity, _system(request)).text
    return Field(
        name=ask.name,
        label=ask.label,
        value=typed[ask.name] or (ask.assumed if ask.options else ""),
        unit=unit,
        hint=hint,
        wrong=wrong.get(ask.name, ""),
        kind="number" if not ask.options else "text",
        choices=tuple(Choice(option.value, option.words) for option in ask.options),
        is_needed=ask.is_needed,
    )


def _in_units(request: Request, ask: Ask) -> str:
    """What is assumed, with its SI unit where the reader's own units may differ."""
    unit = unit_shown(ask.quantity, "si").text if ask.quantity else ask.unit
    if "µε" in ask.hint:
        unit = ""
    return f"{ask.assumed} {unit}".strip()


def _example(tool: Tool) -> str:
    words = tool.example
    pairs = [
        (name.removeprefix("--").replace("-", "_"), text)
        for name, text in zip(words[::2], words[1::2], strict=True)
    ]
    return f"/answers/{tool.name}?{urlencode(pairs)}"


def _rows() -> tuple[ToolRow, ...]:
    return tuple(ToolRow(f"/answers/{t.name}", t.question, t.about) for t in TOOLS.values())


def _sheet(request: Request, name: str) -> frame.Sheet:
    block = (
        ("Sheet", name),
        ("Sign and units", units_sentence(_system(request))),
        ("Coverage", "95 % unless stated"),
        ("Campaign", "none: nothing is kept"),
    )
    return frame.Sheet(title=name, name=name, block=block)


def _numbers(found: Answer) -> tuple[NumberShown, ...]:
    """Numbers, each with its main cause unless it is that of the number above."""
    causes = ["", *(each.cause for each in found.numbers)]
    return tuple(
        NumberShown(each.label, each.shown, each.cause if each.cause != above else "")
        for each, above in zip(found.numbers, causes, strict=False)
    )


def _shown(found: Answer) -> AnswerShown:
    first = next((each for each in found.numbers if len(each.causes) > 1), None)
    return AnswerShown(
        found.sentence,
        _numbers(found),
        first.label if first else "",
        tuple(
            CauseShown(cause.meaning, cause.basis, share_text(cause.share), cause.half)
            for cause in (first.causes if first else ())
        ),
        found.heads,
        tuple(RowShown(row.name, row.cells, row.is_here) for row in found.rows),
        found.cautions,
        found.assumed,
        found.left_out,
        found.sources,
        found.drawing,
    )
