"""Words that several commands take: the campaign's folder, JSON, and settings for this run."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from gaugewright import settings
from gaugewright.errors import InputError

__all__ = ["AsJson", "CampaignFolder", "pairs", "settings_of"]

AsJson = Annotated[
    bool,
    typer.Option("--json", help="Print the result as JSON; all other words go to standard error."),
]
CampaignFolder = Annotated[
    Path, typer.Argument(metavar="CAMPAIGN", help="Folder of the campaign.", show_default=False)
]


def pairs(option: str, texts: Sequence[str]) -> dict[str, str]:
    """Values typed as NAME=VALUE; only the last = parts them, so that a name may hold one.

    Raises
    ------
    InputError
        If a text has no = or no name, or gives one name two values.
    """
    found: dict[str, str] = {}
    for text in texts:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip():
            raise InputError(option, text, "written as NAME=VALUE")
        if found.get(name, value) != value:
            raise InputError(option, text, f"given once for {name}")
        found[name] = value
    return found


def settings_of(context: typer.Context) -> settings.Settings:
    """Settings in force for this run, with what was typed before the command's name."""
    typed = context.find_root().params.get("set_") or ()
    return settings.load(pairs("--set", typed))
