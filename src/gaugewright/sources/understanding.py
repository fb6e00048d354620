"""What was understood of a delimited file, with the evidence, and what must still be asked."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from gaugewright.errors import Faults, GaugewrightError, InputError
from gaugewright.quantities import Unit, parse_unit, unit_named
from gaugewright.sources.layout import Clock, Column, Layout, Marker, Role

__all__ = [
    "ColumnSeen",
    "Evidence",
    "MarkerSeen",
    "OriginSeen",
    "Question",
    "StampSeen",
    "Stated",
    "Understanding",
    "dated",
]


@dataclass(frozen=True, slots=True)
class Question:
    """Something the file can't tell: answer it by ``field``; ``choices`` are examples if open."""

    field: str
    what: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Evidence:
    """A decision and what in the file speaks for it."""

    decision: str
    words: str


@dataclass(frozen=True, slots=True)
class ColumnSeen:
    """A column as the file shows it; ``number`` counts from 1."""

    number: int
    name: str
    name_in_file: str
    unit_in_file: str
    unit: Unit | None
    role: Role


@dataclass(frozen=True, slots=True)
class StampSeen:
    """Text stamps in one column or two: patterns that every sampled stamp follows."""

    columns: tuple[int, ...]
    patterns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OriginSeen:
    """A line ahead of the readings that tells a date and a time.

    ``instants`` has a pattern and what the line says by it, as ``2027-01-12 09:15:00``; several
    where the order of day and month is open.
    """

    line: int
    text: str
    instants: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class MarkerSeen:
    """A text met instead of a number in the sample: how often, and the mark it becomes.

    ``columns`` has the names of the columns where it stood, each with how often.
    """

    text: str
    count: int
    code: str
    columns: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Stated:
    """Decisions about the structure that a person stated rather than left to be found."""

    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    thousands: str | None = None
    comment: str | None = None
    first_data_row: int | None = None
    names_rows: tuple[int, ...] | None = None
    units_row: int | None = None
    importer: str | None = None
    table: str | None = None
    tare_lines: tuple[int, ...] | None = None


T = TypeVar("T")

_STRUCTURE = tuple(Stated.__dataclass_fields__)


@dataclass(frozen=True, slots=True)
class Understanding:
    """A proposal for reading a file. Lines count from 1; 0 or empty means there is none.

    ``clock`` is proposed with what is known; questions about it stand in ``questions``.
    ``markers`` were counted in ``sampled_bytes`` of the file's ``size_bytes``.
    """

    path: Path
    size_bytes: int
    sampled_bytes: int
    stated: Stated
    encoding: str
    line_end: str
    delimiter: str
    decimal: str
    thousands: str
    comment: str
    head_rows: tuple[str, ...]
    names_rows: tuple[int, ...]
    units_row: int
    first_data_row: int
    columns: tuple[ColumnSeen, ...]
    stamps_seen: tuple[StampSeen, ...]
    clock: Clock | None
    zone_needed: bool
    markers: tuple[MarkerSeen, ...]
    questions: tuple[Question, ...]
    sample_rows: tuple[tuple[str, ...], ...]
    evidence: tuple[Evidence, ...]
    again: "Callable[[Path, Stated], Understanding]" = field(repr=False, compare=False)
    importer: str = "delimited text"
    table: str = ""
    origins: tuple[OriginSeen, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the sample is the whole file."""
        return self.sampled_bytes >= self.size_bytes

    def layout(self, **answers: Any) -> Layout:
        """Layout with the questions answered; nothing unanswered is assumed.

        Parameters
        ----------
        **answers
            By question field. Also taken without being asked: the structure (``encoding``,
            ``delimiter``, ``decimal``, ``thousands``, ``comment``, ``first_data_row``,
            ``names_rows``, ``units_row``, ``importer``, ``table``, ``tare_lines``, empty for
            none), ``unit_N`` and ``sign_N`` of any column, ``clock``, ``pattern``, ``zone``,
            ``epoch``, ``rate_hz``, ``months`` and ``numeric_markers`` (texts or ``Marker``).

        Raises
        ------
        InputError
            Naming the questions without an answer, or an answer to no question.
        Faults
            If several answers can't be used.
        """
        structure = {name: answers.pop(name) for name in _STRUCTURE if name in answers}
        if structure:
            for name in ("names_rows", "tare_lines"):
                if name in structure:
                    structure[name] = tuple(structure[name])
            return self.again(self.path, replace(self.stated, **structure)).layout(**answers)
        self._refuse_unknown(answers)
        self._refuse_unanswered(answers)
        return _Answered(self, answers).layout()

    def open_questions(self, answers: Mapping[str, Any]) -> tuple[Question, ...]:
        """Questions that ``answers``, by question field, leave open."""
        settled = self._settled(answers) | set(answers)
        return tuple(question for question in self.questions if question.field not in settled)

    def clock_said(self, answers: Mapping[str, Any]) -> Clock | None:
        """Clock as ``answers`` say so far, without the instant it began; None while open."""
        kept = {"date_order", "pattern", "months", "century", "time_unit", "clock"}
        given = {"time_unit": "s"} | {name: answers[name] for name in kept & set(answers)}
        if given.get("clock") == "rate" or "rate_hz" in answers:
            given["rate_hz"] = 1.0
        if self.clock is None and "clock" not in given and "rate_hz" not in given:
            return None
        try:
            return _Answered(self, given).clock()
        except InputError:
            return None

    def _refuse_unanswered(self, answers: Mapping[str, Any]) -> None:
        asked = "; ".join(f"{q.field}: {q.what}" for q in self.open_questions(answers))
        if asked:
            raise InputError("answers", ", ".join(sorted(answers)) or "none", f"given for {asked}")

    def _settled(self, answers: Mapping[str, Any]) -> set[str]:
        """Questions that other answers have made pointless."""
        about_stamps = {"date_order", "century", "months", "zone"}
        settled: set[str] = set()
        chosen = str(answers.get("clock", ""))
        if "pattern" in answers:
            settled |= {"date_order"}
        if chosen in ("none", "rate"):
            settled |= about_stamps | {"time_unit"}
        elif chosen:
            positions = _positions(chosen, len(self.columns))
            settled |= {f"unit_{position + 1}" for position in positions}
            stamps_at = {place for stamp in self.stamps_seen for place in stamp.columns}
            settled |= {"time_unit"} if stamps_at & set(positions) else about_stamps
        for column in self.columns:
            if answers.get(f"role_{column.number}") in ("text", "empty", "time"):
                settled |= {f"unit_{column.number}", f"sign_{column.number}"}
        return settled

    def _refuse_unknown(self, answers: dict[str, Any]) -> None:
        known = {question.field for question in self.questions}
        known |= {"clock", "pattern", "zone", "epoch", "rate_hz", "months", "numeric_markers"}
        known |= {"century", "time_unit", "date_order"}
        for column in self.columns:
            known |= {f"{part}_{column.number}" for part in ("unit", "sign", "name", "role")}
        for name in answers:
            if name not in known:
                raise InputError("answer", name, "the field of a question: " + ", ".join(known))


class _Answered:
    """An understanding with a person's answers, turned into a layout."""

    def __init__(self, seen: Understanding, answers: dict[str, Any]) -> None:
        self._seen = seen
        self._answers = answers
        self._faults: list[GaugewrightError] = []

    def layout(self) -> Layout:
        seen, answers = self._seen, self._answers
        clock = self._tried(self.clock, Clock())
        columns = tuple(self._column(column, clock) for column in seen.columns)
        markers = tuple(
            marker if isinstance(marker, Marker) else Marker(str(marker))
            for marker in _several(answers.get("numeric_markers", ()))
            if marker != "none"
        )
        if self._faults:
            if len(self._faults) == 1:
                raise self._faults[0]
            raise Faults("answers that can't be used", self._faults)
        head = [*seen.names_rows, *([seen.units_row] if seen.units_row else [])]
        return Layout(
            columns,
            seen.delimiter,
            clock,
            first_data_row=seen.first_data_row,
            encoding=seen.encoding,
            decimal=seen.decimal,
            thousands=seen.thousands,
            comment=seen.comment,
            line_end=seen.line_end,
            numeric_markers=markers,
            head_texts=tuple(seen.head_rows[line - 1].strip() for line in head),
            importer=seen.importer,
            table=seen.table,
            tare_lines=seen.stated.tare_lines or (),
        )

    def _tried(self, make: Callable[[], T], otherwise: T) -> T:
        try:
            return make()
        except InputError as error:
            self._faults.append(error)
            return otherwise

    def _column(self, seen: ColumnSeen, clock: Clock) -> Column:
        role: Role = self._answers.get(f"role_{seen.number}", seen.role)
        answer = str(self._answers.get(f"unit_{seen.number}", seen.unit.name if seen.unit else ""))
        unit = ""
        if answer == "text":
            role = "text"
        if seen.number - 1 in clock.columns:
            role = "time"
        elif role == "time" and seen.role != "time":
            role = "value"
        if role in ("value", "time") and answer not in ("", "none", "1", "text", "d"):
            unit = self._tried(lambda: unit_named(answer).name, "")
        sign = str(self._answers.get(f"sign_{seen.number}", ""))
        sign = "" if sign == "none" else sign
        name = str(self._answers.get(f"name_{seen.number}", seen.name))
        column = Column(name, role, unit, seen.name_in_file, seen.unit_in_file)
        return self._tried(lambda: replace(column, sign=sign), column)

    def clock(self) -> Clock:
        """How the time of a row is known."""
        seen, answers = self._seen, self._answers
        chosen = answers.get("clock")
        clock = seen.clock or Clock()
        if chosen == "none":
            return Clock()
        zone = "" if answers.get("zone") == "none" else str(answers.get("zone", clock.zone))
        if chosen == "rate" or (chosen is None and "rate_hz" in answers):
            even = Clock("rate", rate_hz=float(answers.get("rate_hz", 0.0)), zone=zone)
            return self._dated(even)
        if chosen is not None:
            clock = self._clock_of(str(chosen))
        if clock.kind == "stamp":
            months = tuple(answers.get("months", clock.months))
            pattern = str(answers.get("pattern") or self._pattern(clock))
            century = int(answers.get("century", clock.century))
            told = replace(clock, pattern=pattern, zone=zone, months=months, century=century)
            return told if told.stamp_pattern().has_date else self._dated(told)
        if clock.kind in ("elapsed", "epoch"):
            unit = str(answers.get("time_unit", clock.unit))
            return self._dated(Clock("elapsed", clock.columns, unit=unit, zone=zone))
        return clock

    def _dated(self, clock: Clock) -> Clock:
        """Clock with the instant that a person stated, and the line that told it, if one did."""
        return dated(self._seen, clock, str(self._answers.get("epoch", "")))

    def _clock_of(self, chosen: str) -> Clock:
        positions = _positions(chosen, len(self._seen.columns))
        for stamp in self._seen.stamps_seen:
            if stamp.columns == positions or (
                len(positions) == 1 and positions[0] in stamp.columns
            ):
                return Clock("stamp", stamp.columns, pattern=stamp.patterns[0])
        if "pattern" in self._answers:
            return Clock("stamp", positions, pattern=str(self._answers["pattern"]))
        seen = self._seen.columns[positions[0]]
        unit = seen.unit.name if seen.unit is not None and seen.unit.dimension == "time" else ""
        unit = unit or str(self._answers.get("time_unit", ""))
        if not unit:
            raise InputError("time_unit", "", "s, ms, min, h or d: the file doesn't say it")
        return Clock("elapsed", positions[:1], unit=unit)

    def _pattern(self, clock: Clock) -> str:
        for stamp in self._seen.stamps_seen:
            if stamp.columns == clock.columns:
                if len(stamp.patterns) == 1:
                    return stamp.patterns[0]
                order = str(self._answers.get("date_order", ""))
                if order in stamp.patterns:
                    return order
                raise InputError("date_order", order, "one of " + ", ".join(stamp.patterns))
        return clock.pattern


def dated(seen: Understanding, clock: Clock, epoch: str) -> Clock:
    """Clock whose time counts from ``epoch``; empty or none where nobody knows."""
    if epoch in ("", "none"):
        return clock
    line, pattern = next(
        (
            (origin.line, pattern)
            for origin in seen.origins
            for pattern, instant in origin.instants
            if epoch in (instant, instant[:10])
        ),
        (0, ""),
    )
    kind = "epoch" if clock.kind == "elapsed" else clock.kind
    return replace(clock, kind=kind, epoch=epoch, epoch_line=line, epoch_pattern=pattern)


def _positions(chosen: str, count: int) -> tuple[int, ...]:
    words = [
        word.strip() for word in chosen.removeprefix("columns").removeprefix("column").split("+")
    ]
    numbers = tuple(int(word) - 1 for word in words if word.isdecimal())
    if not numbers or len(numbers) != len(words) or not all(0 <= n < count for n in numbers):
        raise InputError("clock", chosen, f"column 1 to column {count}, rate or none")
    return numbers


def _several(value: Any) -> Sequence[Any]:
    return (value,) if isinstance(value, str | Marker) else tuple(value)


def known_unit(text: str) -> Unit | None:
    """Unit of a spelling in a file; None when it isn't known or there is nothing."""
    return parse_unit(text) if text.strip(" []()") else None
