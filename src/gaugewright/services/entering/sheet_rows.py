"""The rows of a spreadsheet as stations: what each says, and what must be asked of it."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Bar, Campaign, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.sheet_columns import CLOCK, Columns
from gaugewright.services.entering.sheet_words import FACES, Asked, Role, letter
from gaugewright.sources.plan_sheet import Grid

__all__ = ["PlacedRow", "Rows", "rows_of"]

OUT = "leave it out"
_OUT = ("out", OUT)
_AROUND = (("0", "top"), ("90", "right"), ("180", "under"), ("270", "left"), _OUT)
_CLOCKED = re.compile(r"^\s*(\d{1,2})(?::(\d{2}))?\s*(?:o'?clock)?\s*$")
_BARE = re.compile(r"[-+−–]?[\d.,\s'’/]+(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True)
class PlacedRow:
    """A station that a row says [m, rad]; ``instead_of`` is the one it changes."""

    row: int
    label: str
    bar: Uid
    datum: str
    distance: float
    angle: float
    instead_of: Entry[Station] | None = None


@dataclass(frozen=True, slots=True)
class Rows:
    """Stations, questions about rows, and what was plain."""

    placed: tuple[PlacedRow, ...]
    asked: tuple[Asked, ...]
    told: tuple[str, ...]


@dataclass(slots=True)
class _Line:
    """A row on its way: cells by role, whether it is left out, whether its bar is being asked."""

    number: int
    cells: dict[Role, str]
    is_out: bool = False
    has_bar_asked: bool = False


def rows_of(
    book: Book, grid: Grid, columns: Columns, begins: int, answers: Mapping[str, str]
) -> Rows:
    """Stations of the rows from ``begins`` on, with what a person answered so far."""
    reader = _RowReader(book, grid, columns, answers)
    lines = reader.lines(begins)
    reader.fill_bars(lines)
    placed = [reader.placed(line) for line in lines if not line.is_out]
    found = reader.without_doubles([one for one in placed if one is not None])
    return Rows(tuple(found), tuple(reader.asked), tuple(reader.told))


class _RowReader:
    """Reads rows one after the other, gathering each question once."""

    def __init__(
        self, book: Book, grid: Grid, columns: Columns, answers: Mapping[str, str]
    ) -> None:
        self.book = book
        self.grid = grid
        self.columns = columns
        self.answers = answers
        self.asked: list[Asked] = []
        self.told: list[str] = []
        self._bars = {bar.record.label: bar for bar in book.of(Bar)}
        self._labels = {one.record.label: one for one in book.of(Station)}
        shown = [campaign.record.units for campaign in book.of(Campaign)]
        self._system: System = "us" if shown == ["us"] else "si"

    def _answer(self, question: Asked) -> str:
        answer = self.answers.get(question.key, "").strip()
        known = {value for value, _ in question.choices}
        if answer and (not known or answer in known):
            return answer
        if all(one.key != question.key for one in self.asked):
            self.asked.append(question)
        return ""

    def lines(self, begins: int) -> list[_Line]:
        """Rows that hold a station: without blank ones, headings again, and subtitles."""
        used = [c for c in self.columns.columns if c.role is not Role.LEFT_OUT]
        headings = tuple(column.heading for column in used)
        found: list[_Line] = []
        blank, again, below = 0, [], ""
        for number, row in enumerate(self.grid.rows[begins - 1 :], start=begins):
            cells = {column.role: row[column.number - 1] for column in used}
            filled = [cell for cell in row if cell]
            if not filled:
                blank += 1
            elif tuple(row[column.number - 1] for column in used) == headings:
                again.append(number)
            elif len(filled) == 1 and len(used) > 1:
                below = self._alone(number, filled[0], below)
            else:
                if below and not cells.get(Role.BAR):
                    cells[Role.BAR] = below
                found.append(_Line(number, cells))
        if blank:
            self.told.append(f"{blank} blank row{'s' if blank > 1 else ''} left out.")
        if again:
            words = ", ".join(map(str, again))
            self.told.append(f"The headings stand again in row {words}: left out.")
        return found

    def _alone(self, number: int, text: str, below: str) -> str:
        """A row with one cell: a subtitle, a sum, or the bar of the rows below it."""
        choices = (_OUT, ("bar", "it names the bar of the rows below"))
        words = f"Row {number} holds “{text}” alone: what is it?"
        answer = self._answer(Asked(f"row {number}", words, choices, row=number))
        return text if answer == "bar" else below

    def fill_bars(self, lines: list[_Line]) -> None:
        """Blank cells of the bar: those below another may mean the same, and are asked."""
        column = self.columns.of(Role.BAR)
        if column is None:
            return
        above = ""
        waiting: list[tuple[_Line, str]] = []
        for line in lines:
            text = line.cells.get(Role.BAR, "")
            if text:
                above = text
            else:
                waiting.append((line, above))
        if not waiting:
            return
        merged = self._is_merged(column.number, [line.number for line, _ in waiting])
        numbers = ", ".join(str(line.number) for line, _ in waiting[:12])
        why = "the cell above is merged over them" if merged else "the cells are blank"
        words = f"Rows {numbers} name no bar: {why}. Which bar is theirs?"
        choices: tuple[tuple[str, str], ...] = (("out", "leave these rows out"),)
        if all(bar for _, bar in waiting):
            choices = (("above", f"the one named above them, such as {waiting[0][1]}"), *choices)
        name = letter(column.number)
        answer = self._answer(Asked(f"blank {name}", words, choices, column=column.number))
        for line, bar in waiting:
            line.is_out = answer == "out"
            line.has_bar_asked = not answer
            line.cells[Role.BAR] = bar if answer == "above" else ""

    def _is_merged(self, column: int, numbers: list[int]) -> bool:
        return all(
            any(
                first < number <= last and left <= column <= right
                for first, left, last, right in self.grid.merged
            )
            for number in numbers
        )

    def placed(self, line: _Line) -> PlacedRow | None:
        """Station of a row, or None where something of it must be asked or it is left out."""
        before = len(self.asked)
        label = self._label(line)
        bar = self._bar(line)
        distance = self._distance(line)
        angle = self._angle(line)
        datum = line.cells.get(Role.DATUM, "") or self.columns.datum
        if Role.DATUM in line.cells and not line.cells[Role.DATUM]:
            words = f"Row {line.number} doesn’t say where its distance counts from: in words?"
            datum = self._answer(Asked(f"datum {line.number}", words, row=line.number))
        if label is None or bar is None or distance is None or angle is None or not datum:
            return None
        if len(self.asked) > before or not self._is_on(line, bar, label, distance):
            return None
        instead, is_out = self._instead(label, line)
        if is_out:
            return None
        return PlacedRow(line.number, label, bar.uid, datum, distance, angle, instead)

    def _label(self, line: _Line) -> str | None:
        text = line.cells.get(Role.LABEL, "")
        if not text:
            words = f"Row {line.number} has no label: type one, or leave the row out with a dash."
            text = self._answer(Asked(f"label {line.number}", words, row=line.number))
        return None if text in ("", "-") else text

    def _bar(self, line: _Line) -> Entry[Bar] | None:
        text = self.columns.bar or line.cells.get(Role.BAR, "")
        if line.has_bar_asked:
            return None
        if text in self._bars:
            return self._bars[text]
        choices = (*((label, label) for label in self._bars), ("out", "leave its rows out"))
        words = f"Bar “{text}” isn’t entered: which one is it?"
        answer = self._answer(Asked(f"bar {text}", words, choices, row=line.number))
        return self._bars.get(answer)

    def _distance(self, line: _Line) -> float | None:
        column = self.columns.of(Role.DISTANCE)
        text = line.cells.get(Role.DISTANCE, "")
        if column is None:
            return None
        own = self.answers.get(f"distance {line.number}", "").strip()
        if own == "-":
            return None
        if own:
            return self._typed(line, own, "", own)
        if column.comma:
            text = text.replace(",", "." if column.comma == "decimal" else "")
        return self._typed(line, text, column.unit, line.cells.get(Role.DISTANCE, ""))

    def _typed(self, line: _Line, text: str, unit: str, shown: str) -> float | None:
        """A distance with its unit, or the question for it."""
        tidy = text.replace("″", '"').strip()
        with_unit = f"{tidy} {unit}" if unit and _BARE.fullmatch(tidy) else tidy
        wrong = ""
        try:
            if tidy and not _BARE.fullmatch(with_unit):
                return quantity_typed("distance", with_unit, "distance")
        except InputError as error:
            wrong = str(error)
        what = f"“{shown}” isn’t a distance with a unit" if shown else "no distance stands there"
        words = f"Row {line.number}: {what}. Type it with its unit, or a dash to leave the row out."
        own = self.answers.get(f"distance {line.number}", "")
        self.asked.append(
            Asked(
                f"distance {line.number}",
                words,
                row=line.number,
                answer=own,
                wrong=wrong if own else "",
            )
        )
        return None

    def _angle(self, line: _Line) -> float | None:
        if self.columns.of(Role.ANGLE) is None:
            return math.radians(float(self.columns.angle)) if self.columns.angle else None
        text = line.cells.get(Role.ANGLE, "")
        found = self._angle_of(text)
        if found is not None:
            return float(f"{found:.15g}")
        called = f"“{text}”" if text else "a blank"
        words = f"Where round the bar is {called} in the column of places?"
        answer = self._answer(Asked(f"face {text}", words, _AROUND, row=line.number))
        return math.radians(float(answer)) if answer not in ("", "out") else None

    def _angle_of(self, text: str) -> float | None:
        """Clock angle that a cell says plainly, or None."""
        column = self.columns.of(Role.ANGLE)
        unit = column.unit if column is not None else ""
        if text.casefold() in FACES:
            return math.radians(FACES[text.casefold()])
        hours = _CLOCKED.match(text)
        if hours is not None and (unit == CLOCK or "clock" in text):
            turn = int(hours[1]) % 12 + int(hours[2] or 0) / 60
            return turn * math.pi / 6 if int(hours[1]) <= 12 else None
        try:
            if unit and unit != CLOCK and _BARE.fullmatch(text):
                return quantity_typed("angle", f"{text} {unit}", "angle")
            if text and not _BARE.fullmatch(text):
                return quantity_typed("angle", text, "angle")
        except InputError:
            return None  # asked by whoever called
        return None

    def _is_on(self, line: _Line, bar: Entry[Bar], label: str, distance: float) -> bool:
        """Whether a distance lies on its bar; one beyond its ends is asked."""
        length = bar.record.length
        if distance >= 0 and (length is None or distance <= length):
            return True
        at = quantity_shown("distance", distance, None, self._system).text
        ends = ""
        if length is not None:
            ends = f", which is {quantity_shown('distance', length, None, self._system).text} long"
        words = (
            f"Row {line.number}: {at} lies beyond the ends of bar {bar.record.label}{ends}. "
            "Is it right?"
        )
        choices = (("yes", "yes, it counts from elsewhere"), _OUT)
        question = Asked(f"beyond {line.number}", words, choices, row=line.number)
        return self._answer(question) == "yes"

    def _instead(self, label: str, line: _Line) -> tuple[Entry[Station] | None, bool]:
        """Station of the campaign that a row would change, and whether it is left out."""
        there = self._labels.get(label)
        if there is None:
            return None, False
        choices = (
            ("keep", "keep what is there, leave the row out"),
            ("change", "change it: a new version"),
        )
        words = f"Row {line.number}: station {label} is entered already."
        answer = self._answer(Asked(f"there {label}", words, choices, row=line.number))
        return there, answer != "change"

    def without_doubles(self, placed: list[PlacedRow]) -> list[PlacedRow]:
        """Stations without those that stand twice; which of them holds is asked."""
        found: list[PlacedRow] = []
        for label in dict.fromkeys(one.label for one in placed):
            same = [one for one in placed if one.label == label]
            if len(same) == 1:
                found += same
                continue
            rows = ", ".join(str(one.row) for one in same)
            choices = tuple((str(one.row), f"row {one.row} holds") for one in same)
            words = f"Station {label} stands in rows {rows}: which one holds?"
            question = Asked(
                f"twice {label}", words, (*choices, ("out", "none of them")), row=same[-1].row
            )
            answer = self._answer(question)
            found += [one for one in same if str(one.row) == answer]
        return found
