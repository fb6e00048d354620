"""Writes the reference pages that code already knows: they can't fall behind it.

``python -m tools.reference`` writes them, ``--check`` only says which are out of date.
"""

import ast
import dataclasses
import enum
import importlib
import inspect
import pkgutil
import re
import sys
from collections.abc import Iterable
from pathlib import Path

from tools import commands, repository

FOLDER = repository.ROOT / "docs" / "reference"
NOTE = "<!-- Written by tools/reference.py; change the code, then run: make reference -->\n\n"


def _cell(text: object) -> str:
    return " ".join(str(text).split()).replace("|", "\\|").replace("<", "&lt;")


def _code(text: object) -> str:
    tidy = " ".join(str(text).split()).replace("|", "\\|")
    return f"`{tidy}`" if tidy else ""


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    titles = list(head)
    lines = [titles, ["---"] * len(titles), *map(list, rows)]
    return "".join("| " + " | ".join(line) + " |\n" for line in lines) + "\n"


def _opening(thing: object) -> str:
    """Docstring up to its first numpydoc heading."""
    text = inspect.getdoc(thing) or ""
    return re.split(r"\n\w[\w ]*\n-{3,}\n", text)[0].strip()


def settings_page() -> str:
    """Every setting, what is shipped and where it can be set."""
    from gaugewright.settings import PREFIX, SETTINGS

    rows = (
        (
            _code(choice.name),
            _cell(choice.meaning),
            _code(choice.shipped) or "empty",
            ", ".join(map(_code, choice.allowed)) or "any text that fits the meaning",
            _code(PREFIX + choice.name.upper()),
        )
        for choice in SETTINGS.values()
    )
    return (
        "# Settings\n\nThe first place that names a setting decides: command line, environment, "
        "the laboratory's `settings.toml`, the user's `settings.toml`, what is shipped.\n\n"
        + _table(("Setting", "Meaning", "Shipped", "Allowed", "Environment"), rows)
    )


def errors_page() -> str:
    """Every error class and what its attributes say."""
    from gaugewright.errors import GaugewrightError

    for module in pkgutil.walk_packages([str(repository.SOURCE)], "gaugewright."):
        # One starts the program, the others run inside Alembic only.
        if not module.name.endswith("__main__") and ".migrations" not in module.name:
            importlib.import_module(module.name)
    text = (
        "# Errors\n\nAll of them are a `GaugewrightError`, so one `except` catches what this "
        "package reports. The text of an error is one sentence; what went into it is kept in "
        "attributes.\n\n"
    )

    def section(kind: type[Exception], parents: str) -> str:
        parameters = [
            name for name in inspect.signature(kind).parameters if name not in {"self", "message"}
        ]
        attributes = ", ".join(map(_code, parameters))
        below = "".join(
            section(child, kind.__name__)
            for child in sorted(kind.__subclasses__(), key=lambda child: child.__name__)
        )
        return (
            f"## {kind.__name__}\n\n"
            + (f"A kind of `{parents}`. " if parents else "")
            + _opening(kind)
            + "\n\n"
            + (f"Made from: {attributes}.\n\n" if attributes else "")
            + below
        )

    return text + section(GaugewrightError, "")


def quantities_page() -> str:
    """Every quantity with its unit inside the package, and every unit that is read."""
    from gaugewright import quantities, units

    named = (
        (_code(name), _cell(quantity.symbol), _cell(quantity.unit), _cell(quantity.meaning))
        for name, quantity in quantities.QUANTITIES.items()
    )
    known = {unit for unit, _ in units._SPELLED}
    read = (
        (
            _cell(unit.name),
            _cell(unit.dimension),
            _cell(unit.coherent),
            f"{unit.factor:.12g}",
            f"{unit.offset:g}",
        )
        for unit in sorted(known, key=lambda u: (u.dimension, u.factor, u.name))
    )
    return (
        "# Quantities and units\n\nOne name and one unit for every quantity, in the library, in "
        "stored columns and in reports. Temperature is the one that isn't in its coherent unit: "
        "degrees Celsius, with a name that ends in `_degc`.\n\n"
        + _table(("Name", "Symbol", "Unit", "Meaning"), named)
        + "## Units that are read\n\nInside = factor × (written + offset). A unit that isn't "
        "known is asked for, never guessed.\n\n"
        + _table(("Unit", "Of", "Inside", "Factor", "Offset"), read)
    )


def _type_name(hint: object) -> str:
    text = hint if isinstance(hint, str) else inspect.formatannotation(hint)
    return re.sub(r"\b(?:\w+\.)+(\w+)", r"\1", str(text))


def _choices() -> str:
    """Every list of words that a record's field is chosen from."""
    from gaugewright import records

    found: dict[str, type[enum.Enum]] = {}
    for module in pkgutil.iter_modules(records.__path__, "gaugewright.records."):
        for name, thing in vars(importlib.import_module(module.name)).items():
            if isinstance(thing, type) and issubclass(thing, enum.Enum) and list(thing):
                found[name] = thing
    rows = (
        (_code(name), _cell(_opening(kind)), ", ".join(_code(word.value) for word in kind))
        for name, kind in sorted(found.items())
    )
    return "## Words that fields are chosen from\n\n" + _table(("Type", "Means", "Words"), rows)


def calculations_page() -> str:
    """Every public calculation with the first sentence of its description."""
    text = (
        "# Calculations\n\nNumbers in, numbers out, in the units of the quantities they are named "
        "by. `help()` shows what each takes, what it assumes and where its formula stands.\n\n"
    )
    for path in sorted((repository.SOURCE / "calc").rglob("*.py")):
        rows = [
            (_code(function.name), _cell(function.docstring.partition("\n\n")[0]))
            for function in repository.public_callables(path)
        ]
        if rows:
            module = repository.module_name(path)
            about = _cell((ast.get_docstring(repository.tree_of(path)) or "").partition("\n\n")[0])
            text += f"## {module}\n\n{about}\n\n" + _table(("Name", "What it is"), rows)
    return text


def records_page() -> str:
    """Every record kind with its fields."""
    from gaugewright.records import KINDS

    text = (
        "# Record kinds\n\nWhat a laboratory writes down. A record is checked when it is made and "
        "never changed afterwards: a correction is a new version beside the old one.\n\n"
    )
    for kind, record in KINDS.items():
        rows = []
        for field in dataclasses.fields(record):
            needed = (
                field.default is dataclasses.MISSING
                and field.default_factory is dataclasses.MISSING
            )
            default = "" if field.default is dataclasses.MISSING else _code(repr(field.default))
            rows.append(
                (
                    _code(field.name),
                    _code(_type_name(field.type)),
                    "must be given" if needed else default,
                )
            )
        text += f"## {kind}\n\nClass `{record.__name__}`. {_opening(record)}\n\n"
        text += _table(("Field", "Type", "When left out"), rows)
    return text + _choices()


def stages_page() -> str:
    """Every kind of stage of the correction chain, in the order of the chain."""
    from gaugewright.calc.stage_kinds import SLOTS
    from gaugewright.calc.stages import KINDS

    text = (
        "# Stages of the correction chain\n\nIn their fixed order. A kind is never changed once it "
        "was released: a better formula gets the next number, and old results can be computed "
        "again. Every number must be given; one marked *choice* can't be uncertain.\n\n"
    )
    for slot in SLOTS:
        text += f"## {slot}\n\n"
        for kind in (kind for kind in KINDS.values() if kind.slot == slot):
            columns = ", ".join(map(_code, kind.columns))
            text += f"### {kind.name}\n\n{_cell(kind.summary)}.\n\n"
            text += f"Needs the column {columns}.\n\n" if columns else ""
            text += f"Gives no value where: {_cell(kind.stops)}.\n\n" if kind.stops else ""
            rows = [
                (
                    _code(parameter.name),
                    _cell(parameter.unit),
                    _cell(parameter.meaning),
                    _cell(parameter.allowed) + (", choice" if parameter.fixed else ""),
                )
                for parameter in kind.parameters
            ]
            text += _table(("Number", "Unit", "Meaning", "Allowed"), rows) if rows else ""
    return text


def published_page() -> str:
    """Every number that was checked against print."""
    text = (
        "# Checked against print\n\nEach line is a test that compares this package with a value "
        "printed elsewhere. *Seen* says which copy was really read.\n\n"
    )
    by_file: dict[Path, list[repository.PublishedTest]] = {}
    for test in repository.published_tests():
        by_file.setdefault(test.path, []).append(test)
    for path, tests in by_file.items():
        text += f"## {path.stem.removeprefix('test_').replace('_', ' ')}\n\n"
        rows = (
            (
                _cell(test.name.removeprefix("test_").replace("_", " ")),
                _cell(test.where),
                _cell(test.seen),
            )
            for test in tests
        )
        text += _table(("Test", "Where", "Seen"), rows)
    return text if by_file else text + "There is none yet.\n"


PAGES = {
    "commands.md": commands.page,
    "settings.md": settings_page,
    "quantities.md": quantities_page,
    "records.md": records_page,
    "calculations.md": calculations_page,
    "stages.md": stages_page,
    "errors.md": errors_page,
    "published.md": published_page,
}


def out_of_date() -> list[str]:
    """Names of pages that differ from what the code says."""
    stale = []
    for name, page in PAGES.items():
        path = FOLDER / name
        if not path.is_file() or path.read_text(encoding="utf-8") != NOTE + page():
            stale.append(name)
    return stale


def main(arguments: list[str]) -> int:
    """Write the pages, or with ``--check`` say which are out of date."""
    if arguments == ["--check"]:
        stale = out_of_date()
        for name in stale:
            print(f"docs/reference/{name} is out of date; run: make reference")
        return 1 if stale else 0
    for name, page in PAGES.items():
        (FOLDER / name).write_text(NOTE + page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
