"""How is a file read? Understood, asked about, confirmed by a person, kept as a profile."""

import json
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.readings import ReadingProfile, RecordingColumn
from gaugewright.services.reading import beginnings
from gaugewright.sources import delimited, files
from gaugewright.sources.lines import Cells

__all__ = [
    "completed",
    "confirmed",
    "fields_of",
    "kept_layout",
    "layout_of",
    "open_questions",
    "resolution_of",
    "undeclared",
    "understood",
]


def understood(path: Path, **structure: Any) -> delimited.Understanding:
    """What a file looks like, with the evidence and what must still be asked.

    Raises
    ------
    FileError
        If nothing fits it, or it holds no rows of readings.
    InputError
        If a stated part of the structure can't be used.
    """
    return files.understand(path, **structure)


def layout_of(profile: Entry[ReadingProfile], seen: delimited.Understanding) -> delimited.Layout:
    """Layout that a person confirmed before, when it fits the file at hand.

    Raises
    ------
    InputError
        If the file's columns aren't those of the profile.
    """
    layout = kept_layout(profile)
    if layout.importer != seen.importer:
        raise InputError(
            f"kind of {seen.path.name}",
            seen.importer,
            f"{layout.importer}, which profile {profile.record.label!r} is for",
            "import it without the profile and confirm what was understood",
        )
    kept = [column.name_in_file for column in layout.columns]
    found = [column.name_in_file for column in seen.columns]
    if kept != found:
        raise InputError(
            f"columns of {seen.path.name}",
            ", ".join(found),
            f"those of profile {profile.record.label!r}: {', '.join(kept)}",
            "import it without the profile and confirm what was understood",
        )
    return beginnings.of_this_file(layout, seen)


def kept_layout(profile: Entry[ReadingProfile]) -> delimited.Layout:
    """Layout of a profile, with the instant at which the file began that it was made for."""
    return delimited.Layout.from_plain(json.loads(profile.record.layout))


def open_questions(
    seen: delimited.Understanding, answers: Mapping[str, Any], markers: Mapping[str, str]
) -> tuple[delimited.Question, ...]:
    """Questions about a file that answers and markers leave open."""
    given, _ = _with_markers(answers, markers)
    asked = seen.open_questions(given)
    suspects = delimited.Layout(
        (delimited.Column("any"),),
        seen.delimiter,
        delimited.Clock(),
        decimal=seen.decimal,
        thousands=seen.thousands,
    )
    missed = tuple(q for q in _about_numbers(seen) if _is_missed(q, suspects, given))
    return asked + tuple(question for question in missed if question not in asked)


def undeclared(
    layout: delimited.Layout,
    seen: delimited.Understanding,
    answers: Mapping[str, Any],
    markers: Mapping[str, str],
) -> tuple[tuple[delimited.Question, ...], tuple[delimited.Question, ...]]:
    """Questions about suspicious numbers that a profile's layout doesn't declare.

    A person who confirmed a profile saw other files: about these numbers nobody was asked.

    Returns
    -------
    asked : tuple of Question
        About every such number, answered or not.
    still_open : tuple of Question
        Those among them that the answers leave open.
    """
    cells = Cells(layout)
    asked = []
    for question in _about_numbers(seen):
        texts = [text for text in question.choices if text != "none"]
        new = [text for text in texts if cells.number(text) not in cells.numeric_markers]
        if new:
            known = "do these numbers, which the profile doesn't know, stand for no reading"
            what = f"{known}: {', '.join(new)}? List those that do, or none"
            asked.append(replace(question, what=what, choices=(*new, "none")))
    given, _ = _with_markers(answers, markers)
    still_open = tuple(q for q in asked if q.field not in given or _is_missed(q, layout, given))
    return tuple(asked), still_open


def completed(
    layout: delimited.Layout, answers: Mapping[str, Any], markers: Mapping[str, str]
) -> delimited.Layout:
    """A profile's layout with the markers that a person declared for the file at hand."""
    given, words = _with_markers(answers, markers)
    declared = [layout.number_of_marker(marker) for marker in layout.numeric_markers]
    numbers = [
        marker
        for marker in given.get("numeric_markers", ())
        if isinstance(marker, delimited.Marker) and layout.number_of_marker(marker) not in declared
    ]
    return replace(
        layout,
        numeric_markers=(*layout.numeric_markers, *numbers),
        text_markers=(*words, *layout.text_markers),
    )


def _about_numbers(seen: delimited.Understanding) -> tuple[delimited.Question, ...]:
    return tuple(question for question in seen.questions if question.field == "numeric_markers")


def _is_missed(
    question: delimited.Question, layout: delimited.Layout, given: Mapping[str, Any]
) -> bool:
    """Whether an answer lists only numbers other than those that were asked about."""
    answer = given.get(question.field, "none")
    if answer == "none":
        return False
    cells = Cells(layout)
    asked = {cells.number(text) for text in question.choices if text != "none"}
    return not asked & {layout.number_of_marker(marker) for marker in answer}


def confirmed(
    seen: delimited.Understanding, answers: Mapping[str, Any], markers: Mapping[str, str]
) -> delimited.Layout:
    """Layout with a person's answers; markers that aren't numbers are added to the known words.

    Raises
    ------
    InputError
        If a question is open or an answer can't be used.
    Faults
        If several answers can't be used.
    """
    given, words = _with_markers(answers, markers)
    layout = seen.layout(**given)
    return replace(layout, text_markers=(*words, *layout.text_markers)) if words else layout


def _with_markers(
    answers: Mapping[str, Any], markers: Mapping[str, str]
) -> tuple[dict[str, Any], tuple[delimited.Marker, ...]]:
    """Answers with the markers that are numbers, and the markers that are words."""
    made = [delimited.Marker(text, code) for text, code in markers.items()]
    numbers = tuple(marker for marker in made if _is_number(marker.text))
    words = tuple(marker for marker in made if not _is_number(marker.text))
    given = dict(answers)
    if numbers:
        given["numeric_markers"] = numbers
    return given, words


def resolution_of(seen: delimited.Understanding, layout: delimited.Layout) -> float:
    """Smallest step that a file's time stamps, or the instant it began, show [s]; 0 without."""
    return max(_step_of_rows(seen, layout), layout.clock.epoch_step())


def _step_of_rows(seen: delimited.Understanding, layout: delimited.Layout) -> float:
    clock = layout.clock
    if clock.kind in ("rate", "none"):
        return 0.0
    texts = [" ".join(row[column] for column in clock.columns) for row in seen.sample_rows]
    if clock.kind == "stamp":
        pattern = clock.stamp_pattern()
        if "ss" not in pattern.tokens:
            return 60.0
        matches = [pattern.regex.fullmatch(text.strip()) for text in texts]
        fractions = [m["fraction"] or "" for m in matches if m and "f" in pattern.tokens]
        return float(10.0 ** -max((len(digits) for digits in fractions), default=0))
    decimals = [text.partition(layout.decimal)[2] for text in texts]
    most = max((len(text) - len(text.lstrip("0123456789")) for text in decimals), default=0)
    return float(clock.seconds_per_unit() * 10.0**-most)


def fields_of(layout: delimited.Layout) -> tuple[RecordingColumn, ...]:
    """Columns of a recording: names as in the file, and fields that end in their unit."""
    taken: set[str] = set()
    made: list[RecordingColumn] = []
    for column in layout.columns:
        if column.role == "empty":
            continue
        name = field = _field_name(column.name, column.unit if column.role != "text" else "")
        number = 2
        while field in taken:
            field, number = f"{name}_{number}", number + 1
        taken.add(field)
        made.append(RecordingColumn(column.name, field, column.unit, column.role))
    return tuple(made)


def _field_name(name: str, unit: str) -> str:
    parts = [name, unit.replace("/", " per ").replace("%", "percent")] if unit else [name]
    # NFKD first: µ and Ω become letters that have an ASCII neighbour or are written out below.
    text = (
        "_".join(parts).replace("µ", "u").replace("μ", "u").replace("Ω", "ohm").replace("°", "deg")
    )
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    field = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")
    return field if field[:1].isalpha() else f"column_{field}".rstrip("_")


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True
