"""The commands that answer one question each, without a campaign: answer reading, shunt, ..."""

import inspect
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.services.answering.asks import SI_UNITS, TOOLS, Ask, Tool

if TYPE_CHECKING:
    from gaugewright.services.answering.parts import Answer

__all__ = ["add_to"]

ABOUT = """Single questions answered at once, each with its doubt, what it assumes, and where its
formula stands. A number may have its doubt: "2.08 +- 1 %" or "120 ± 0.4 k=2"; without a meaning
a doubt is a limit. A unit may be typed; without one the unit in the help holds (that of the
reader's own system where settings say us). The same questions
are pages of the app, with a drawing."""
_FROM_HERE = {
    "reading": "gaugewright answer shunt, to see whether the channel reads as it should",
    "shunt": "connect the resistor and compare; then gaugewright answer shunt with --found",
    "excitation": "halve the excitation on the bar and see whether the zero moves",
    "flat": "write the measured width down with the gauge's station",
    "leads": "write the readings down at the gauge's gate",
    "meter": "gaugewright answer leads, with the meter's own digit",
}


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    answers = typer.Typer(help=" ".join(ABOUT.split()), no_args_is_help=True, rich_markup_mode=None)
    for tool in TOOLS.values():
        answers.command(tool.name, help=_help(tool))(_command(tool))
    app.add_typer(answers, name="answer")


def _help(tool: Tool) -> str:
    words = [f'"{word}"' if " " in word else word for word in tool.example]
    return teaching(
        does=f"{tool.question} {tool.about}",
        when="whenever it is asked; no campaign is needed.",
        example=f"gaugewright answer {tool.name} {' '.join(words)}",
        after=_FROM_HERE[tool.name],
    )


def _command(tool: Tool) -> Callable[..., None]:
    """Command with one option for each thing the tool asks, all of them words as typed."""

    def command(context: typer.Context, **typed: Any) -> None:
        as_json = typed.pop("as_json")
        _answer(context, tool, {name: text for name, text in typed.items() if text}, as_json)

    parameters = [inspect.Parameter("context", _KEYWORD, annotation=typer.Context)]
    for ask in tool.asks:
        option = typer.Option(ask.option, help=_option_help(ask), show_default=False)
        annotation = Annotated[str, option]
        parameters.append(inspect.Parameter(ask.name, _KEYWORD, annotation=annotation, default=""))
    parameters.append(inspect.Parameter("as_json", _KEYWORD, annotation=AsJson, default=False))
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {each.name: each.annotation for each in parameters}
    command.__doc__ = tool.question
    return command


_KEYWORD = inspect.Parameter.KEYWORD_ONLY


def _option_help(ask: Ask) -> str:
    unit = SI_UNITS.get(ask.quantity, ask.unit)
    told = ask.label if not unit or "µε" in ask.hint else f"{ask.label}, {unit}"
    parts = [told + "."]
    if ask.options:
        parts.append("One of: " + ", ".join(option.value for option in ask.options) + ".")
    if ask.hint:
        parts.append(ask.hint)
    if ask.is_needed:
        parts.append("Must be given.")
    elif ask.assumed:
        parts.append(f"Assumed when left out: {ask.assumed}.")
    return " ".join(parts)


def _answer(context: typer.Context, tool: Tool, typed: dict[str, str], as_json: bool) -> None:
    from gaugewright.services.answering.answers import answered

    is_us = settings_of(context)["units"] == "us"
    found = answered(tool.name, typed, "us" if is_us else "si")
    result(as_json, _plain(found, typed), _lines(found))


def _lines(found: "Answer") -> list[str]:
    """The answer for a person: numbers, causes, table, and what it stands on."""
    lines = [found.sentence, ""]
    lines += table(
        ("", "value (± 95 %)", "main cause"),
        [(each.label, each.shown.text, each.cause) for each in found.numbers],
    )
    lines += _causes(found)
    if found.rows:
        rows = [(("> " if row.is_here else "  ") + row.name, *row.cells) for row in found.rows]
        lines += ["", *table(found.heads, rows)]
    for head, told in (
        ("Mind", found.cautions),
        ("Assumed", found.assumed),
        ("Not in it", found.left_out),
        ("From", found.sources),
    ):
        lines += ["", f"{head}:", *(f"  {line}" for line in told)] if told else []
    return lines


def _causes(found: "Answer") -> list[str]:
    """What the first number's doubt is made of, where several things make it."""
    from gaugewright.present.captions import share_text

    first = next((each for each in found.numbers if len(each.causes) > 1), None)
    if first is None:
        return []
    rows = [
        (cause.meaning, cause.basis, share_text(cause.share), cause.half) for cause in first.causes
    ]
    return ["", *table((f"doubt of {first.label}", "known how", "share", "halving gives"), rows)]


def _plain(found: "Answer", typed: dict[str, str]) -> dict[str, Any]:
    """An answer as JSON values in coherent units, nothing rounded."""
    return {
        "question": found.tool,
        "typed": typed,
        "sentence": found.sentence,
        "numbers": [
            {
                "name": each.label,
                "value": each.value,
                "expanded_uncertainty": each.plus_minus,
                "coverage": 0.95,
                "unit": each.unit,
                "main_cause": each.cause,
                "causes": [
                    {"meaning": cause.meaning, "basis": cause.basis, "share": cause.share}
                    for cause in each.causes
                ],
            }
            for each in found.numbers
        ],
        "rows": [{"name": row.name, "cells": list(row.cells)} for row in found.rows],
        "cautions": list(found.cautions),
        "assumed": list(found.assumed),
        "left_out": list(found.left_out),
        "sources": list(found.sources),
    }
