"""Which column of a spreadsheet holds what, in which unit, with which decimal sign."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed
from gaugewright.quantities import Unit, parse_unit
from gaugewright.records.specimen import Bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.sheet_words import Asked, Role, heading_of, letter
from gaugewright.sources.plan_sheet import Grid

__all__ = ["Column", "Columns", "columns_of"]

_ROLES = tuple((role.value, role.value) for role in Role)
_ONCE = (Role.LABEL, Role.BAR, Role.DISTANCE, Role.ANGLE, Role.DATUM)
_LENGTHS = ("mm", "cm", "m", "in", "ft")
CLOCK = "o'clock"
_TURNS = (("°", "degrees, 0 at the top"), (CLOCK, "hours of a clock, 12 at the top"))
_PLACES = (("0", "top"), ("90", "right"), ("180", "under"), ("270", "left"))
_BARE = re.compile(r"[-+−–]?[\d.,\s'’/]+(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its number from 1, its heading, what it holds and the unit of bare numbers.

    ``comma`` is what a comma in its numbers is: "decimal", "thousands", or "" where none stands.
    """

    number: int
    heading: str
    role: Role
    unit: str = ""
    comma: str = ""


@dataclass(frozen=True, slots=True)
class Columns:
    """All columns that hold something, what must be asked of them, and what was plain.

    ``datum``, ``bar`` and ``angle`` are what holds for every row where no column tells it.
    """

    columns: tuple[Column, ...]
    asked: tuple[Asked, ...]
    told: tuple[str, ...]
    datum: str = ""
    bar: str = ""
    angle: str = ""

    def of(self, role: Role) -> Column | None:
        """The column of a role."""
        return next((one for one in self.columns if one.role is role), None)


def columns_of(
    book: Book,
    grid: Grid,
    heading_row: int,
    begins: int,
    *,
    units: tuple[str, ...],
    answers: Mapping[str, str],
) -> Columns:
    """Columns of a grid below its headings, with what a person answered so far."""
    finder = _Finder(grid, heading_row, begins, units, answers)
    columns = finder.columns()
    datum = finder.datum
    if finder.asked:  # units and whole-sheet questions would speak of columns not known yet
        return Columns(columns, tuple(finder.asked), tuple(finder.told))
    columns = tuple(finder.with_terms(column) for column in columns)
    roles = {column.role for column in columns}
    asked = finder.asked
    for role, words in ((Role.LABEL, "labels"), (Role.DISTANCE, "distances")):
        if role not in roles:
            asked.append(
                Asked(
                    f"missing {words}", f"No column has {words}: which one is it?", finder.named()
                )
            )
    terms = {"datum": datum, "bar": "", "angle": ""}
    if Role.DATUM not in roles and not datum:
        question = "Where do the distances count from? In words, such as: west end of the bar."
        terms["datum"] = finder.answered(Asked("datum", question))
    if Role.BAR not in roles:
        bars = tuple((bar.record.label, bar.record.label) for bar in book.of(Bar))
        terms["bar"] = finder.answered(
            Asked("bar", "No column names the bar: which one holds all stations?", bars)
        )
    if Role.ANGLE not in roles:
        question = "No column tells the place round the bar: where do all of them sit?"
        terms["angle"] = finder.answered(Asked("angle", question, _PLACES))
    return Columns(columns, tuple(asked), tuple(finder.told), **terms)


class _Finder:
    """Goes through the columns once, gathering questions."""

    def __init__(
        self,
        grid: Grid,
        heading_row: int,
        begins: int,
        units: tuple[str, ...],
        answers: Mapping[str, str],
    ) -> None:
        self.grid = grid
        self.headings = grid.rows[heading_row - 1] if heading_row else ("",) * len(grid.rows[0])
        self.begins = begins
        self.units = units
        self.answers = answers
        self.asked: list[Asked] = []
        self.told: list[str] = []
        self.datum = ""

    def answered(self, question: Asked) -> str:
        """The answer to a question, or "" with the question gathered."""
        answer = self.answers.get(question.key, "").strip()
        known = {value for value, _ in question.choices}
        if answer and (not known or answer in known):
            return answer
        self.asked.append(question)
        return ""

    def named(self) -> tuple[tuple[str, str], ...]:
        """Columns as choices."""
        return tuple(
            (letter(n), f"{letter(n)}: {self.headings[n - 1] or 'no heading'}")
            for n in self._filled()
        )

    def _filled(self) -> list[int]:
        body = self.grid.rows[self.begins - 1 :]
        width = len(self.headings)
        return [n for n in range(1, width + 1) if any(row[n - 1] for row in body)]

    def columns(self) -> tuple[Column, ...]:
        """Every filled column with its role; those that aren't plain are asked."""
        roles = {number: self._role(number) for number in self._filled()}
        for words, role in (("labels", Role.LABEL), ("distances", Role.DISTANCE)):
            chosen = self.answers.get(f"missing {words}", "")
            roles |= {n: role for n in roles if letter(n) == chosen}
        for role in _ONCE:
            twice = [number for number, found in roles.items() if found is role]
            if len(twice) > 1:
                self._ask_twice(role, twice)
        return tuple(
            Column(number, self.headings[number - 1], role)
            for number, role in roles.items()
            if role is not None
        )

    def _role(self, number: int) -> Role | None:
        heading = self.headings[number - 1]
        answer = self.answers.get(f"column {letter(number)}", "")
        chosen = next((role for role in Role if role.value == answer), None)
        if chosen is not None:
            return chosen
        found = heading_of(heading)
        if found.role is Role.LEFT_OUT:
            self.told.append(f"Column {letter(number)}, “{heading}”, is left out.")
        if found.datum:
            self.datum = found.datum
            self.told.append(f"Distances count from: {found.datum}.")
        if found.role is None:
            self._ask_role(number, f"What is in column {letter(number)}, {self._called(number)}?")
        return found.role

    def _called(self, number: int) -> str:
        heading = self.headings[number - 1]
        if heading:
            return f"headed “{heading}”"
        first = next(
            row[number - 1] for row in self.grid.rows[self.begins - 1 :] if row[number - 1]
        )
        return f"without a heading, first “{first}”"

    def _ask_role(self, number: int, words: str) -> None:
        self.asked.append(Asked(f"column {letter(number)}", words, _ROLES, column=number))

    def _ask_twice(self, role: Role, numbers: list[int]) -> None:
        names = " and ".join(letter(n) for n in numbers)
        for number in numbers:
            words = f"Columns {names} both seem to hold the {role.value}: what is in this one?"
            self._ask_role(number, words)

    def with_terms(self, column: Column) -> Column:
        """A column with its unit and its decimal sign, or the questions for them."""
        if column.role not in (Role.DISTANCE, Role.ANGLE):
            return column
        cells = [row[column.number - 1] for row in self.grid.rows[self.begins - 1 :]]
        bare = [cell for cell in cells if cell and _BARE.fullmatch(cell)]
        unit = self._unit(column, bare)
        comma = self._comma(column, cells) if column.role is Role.DISTANCE else ""
        return Column(column.number, column.heading, column.role, unit, comma)

    def _unit(self, column: Column, bare: list[str]) -> str:
        found = heading_of(column.heading)
        unit: Unit | None = found.unit
        if unit is None and len(self.units) >= column.number:
            unit = parse_unit(self.units[column.number - 1].strip("()[] ."))
        wanted = "m" if column.role is Role.DISTANCE else "rad"
        if unit is not None and unit.coherent == wanted:
            return unit.name
        if column.role is Role.ANGLE and re.search(r"\bo.clock\b", column.heading.casefold()):
            return CLOCK
        if not bare:
            return ""
        name = letter(column.number)
        odd = f" Its heading says “{found.odd_unit}”." if found.odd_unit else ""
        if column.role is Role.DISTANCE:
            choices = tuple((unit, unit) for unit in _LENGTHS)
            words = f"In which unit are the distances of column {name}, such as {bare[0]}?{odd}"
        else:
            choices = _TURNS
            words = f"What are the numbers of column {name}, such as {bare[0]}?{odd}"
        return self.answered(Asked(f"unit {name}", words, choices, column=column.number))

    def _comma(self, column: Column, cells: list[str]) -> str:
        """What a comma is where one number at least may be read in two ways."""
        for cell in cells:
            if "," not in cell:
                continue
            try:
                number_typed("distance", re.sub(r"[^\d.,eE+\-−]+$", "", cell))
            except InputError as error:
                if "two ways" not in error.allowed:
                    continue
                name = letter(column.number)
                whole, _, rest = cell.partition(",")
                choices = (
                    ("decimal", f"a decimal sign: {whole}.{rest}"),
                    ("thousands", f"it parts thousands: {whole}{rest}"),
                )
                words = f"What is the comma of {cell} in column {name}?"
                return self.answered(Asked(f"comma {name}", words, choices, column=column.number))
        return ""
