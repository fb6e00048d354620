"""The page that lists every command, read from the command line itself."""

from collections.abc import Iterator
from typing import Any

# What the command line is built from changes its types between releases; only names that its
# documentation gives (name, help, params, opts, required, default) are read here.
Command = Any


def root() -> Command:
    """Command line as one tree of commands."""
    import typer.main

    from gaugewright import cli

    return typer.main.get_command(cli.app)


def walk(
    command: Command, path: tuple[str, ...] = ("gaugewright",)
) -> Iterator[tuple[str, Command]]:
    """Every visible command that does something, each with the words that call it."""
    below = getattr(command, "commands", None)
    if not below:
        yield " ".join(path), command
        return
    for name, child in below.items():
        if not getattr(child, "hidden", False):
            yield from walk(child, (*path, name))


def _call(words: str, command: Command) -> str:
    arguments = []
    for parameter in command.params:
        if not parameter.opts[0].startswith("-"):
            name = (parameter.metavar or parameter.name).upper()
            arguments.append(name if parameter.required else f"[{name}]")
    return " ".join([words, *arguments])


def _parameter(parameter: Command) -> str:
    names = ", ".join(f"`{name}`" for name in [*parameter.opts, *parameter.secondary_opts])
    text = " ".join((parameter.help or "").split()).replace("<", "&lt;")
    needed = "must be given" if parameter.required else ""
    if not parameter.required and parameter.default not in (None, False, "", (), []):
        needed = f"when left out: `{parameter.default}`"
    return f"- {names}" + (f": {text}" if text else "") + (f" ({needed})" if needed else "")


def _paragraphs(text: str) -> str:
    """Help as Markdown; a line to be typed stands in a block of its own."""
    parts = []
    for paragraph in text.split("\n\n"):
        words = " ".join(paragraph.split())
        if words.startswith("Example: "):
            parts.append(f"```sh\n{words.removeprefix('Example: ')}\n```")
        else:
            parts.append(words.replace("<", "&lt;"))
    return "\n\n".join(parts) + "\n\n"


def page() -> str:
    """Every command with what it takes."""
    text = (
        "# Commands\n\n`gaugewright --help` and `gaugewright COMMAND --help` say the same. "
        "A command ends with 0 when it did its work, 2 when what it was given can't be used, "
        "1 when the fault is ours.\n\n"
    )
    for words, command in walk(root()):
        text += f"## {words}\n\n`{_call(words, command)}`\n\n"
        text += _paragraphs(command.help or "")
        lines = [_parameter(p) for p in command.params if p.name != "help"]
        text += "\n".join(lines) + "\n\n" if lines else ""
    return text
