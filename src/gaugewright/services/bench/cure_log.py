"""A log of temperatures as it comes: typed line by line, or a recorder's own file of text."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from gaugewright.errors import Faults, FileError, GaugewrightError, InputError
from gaugewright.present.typed import number_typed
from gaugewright.services.campaign.events import instant_typed

__all__ = ["Log", "log_typed"]

_MOST_LINES = 20_000
_TIME_ALONE = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
_DAY = re.compile(r"\d{4}-\d{1,2}-\d{1,2}|\d{1,2}\.\d{1,2}\.\d{4}")
_WARM = ("temp", "°c", "degc")


@dataclass(frozen=True, slots=True)
class Log:
    """Temperatures beside a gauge, in order of time; ``above`` are lines that stood above them."""

    instants: tuple[datetime, ...]
    temperatures_degc: tuple[float, ...]
    above: tuple[str, ...] = ()

    @property
    def seconds(self) -> tuple[float, ...]:
        """Time since the first reading [s]."""
        return tuple((instant - self.instants[0]).total_seconds() for instant in self.instants)


def log_typed(text: str, begun: datetime, zone: ZoneInfo, *, name: str = "temperature log") -> Log:
    """Log of lines with a time of the hall and degrees Celsius.

    Between both stands a semicolon, a tab, a comma or a space; day and time may be two columns. A
    time without a date is of the day on which the step began, or of the next day once the times
    start again. Lines above the first that begins with a digit are a heading; where a line has
    more numbers than one, the heading has to name the column of the temperature.

    Raises
    ------
    Faults
        Naming every line that can't be read.
    InputError
        If fewer than two lines are left.
    """
    lines = [
        (n, line.replace('"', "").strip())
        for n, line in enumerate(text.splitlines(), 1)
        if line.replace('"', "").strip()
    ]
    if len(lines) > _MOST_LINES:
        raise InputError(name, f"{len(lines)} lines", f"{_MOST_LINES} lines at most", "thin it out")
    first = next((at for at, (_, line) in enumerate(lines) if line[0].isdigit()), len(lines))
    above = tuple(line for _, line in lines[:first])
    instants: list[datetime] = []
    degrees: list[float] = []
    faults: list[GaugewrightError] = []
    for number, line in lines[first:]:
        try:
            when, warm = _parted(line, above[-1] if above else "")
            degrees.append(number_typed("temperature", warm))
            instants.append(_instant(when, instants[-1] if instants else None, begun, zone))
        except InputError as error:
            faults.append(FileError(name, str(error), line=number, got=line))
    if faults:
        raise Faults(name, faults)
    if len(instants) < 2:
        raise InputError(name, f"{len(instants)} readings", "two or more", "a line for each")
    return Log(tuple(instants), tuple(degrees), above)


def _parted(line: str, heading: str) -> tuple[str, str]:
    """Time and temperature of a line."""
    for sign in (";", "\t"):
        if sign in line:
            return _of_cells(line, line.split(sign), heading.split(sign))
    if heading.count(",") >= 2 and heading.count(",") == line.count(","):
        return _of_cells(line, line.split(","), heading.split(","))
    if "," in line and " " not in line.partition(",")[2].strip():
        when, _, warm = line.partition(",")
        if ":" in when and ":" not in warm:
            return when.strip(), _bare(warm)
    when, _, warm = _bare(line).rpartition(" ")
    if not when:
        raise InputError("line", line, "a time and a temperature", "put a semicolon between both")
    return when.strip(), warm


def _of_cells(line: str, cells: Sequence[str], heading: Sequence[str]) -> tuple[str, str]:
    tidy = [cell.strip() for cell in cells]
    at = next((n for n, cell in enumerate(tidy) if ":" in cell), None)
    if at is None:
        raise InputError("line", line, "a time, as 18:00, and a temperature")
    when = tidy[at]
    if at and _TIME_ALONE.fullmatch(when) and _DAY.fullmatch(tidy[at - 1]):
        when = f"{tidy[at - 1]} {when}"
    values = [n for n, cell in enumerate(tidy) if n > at and cell]
    if len(values) > 1:
        named = [
            n
            for n in values
            if n < len(heading) and any(word in heading[n].casefold() for word in _WARM)
        ]
        if len(named) != 1:
            do = "leave the other columns out, or name the temperature’s in a heading"
            raise InputError("line", line, "one temperature after the time", do)
        values = named
    if not values:
        raise InputError("line", line, "a time and a temperature")
    return when, _bare(tidy[values[0]])


def _bare(text: str) -> str:
    return text.strip().removesuffix("°C").removesuffix("C").strip()


def _instant(text: str, before: datetime | None, begun: datetime, zone: ZoneInfo) -> datetime:
    if not _TIME_ALONE.fullmatch(text):
        return instant_typed(text, zone, begun)
    instant = instant_typed(text, zone, before or begun)
    if before is not None and instant <= before:
        next_day = (before.astimezone(zone) + timedelta(days=1)).date()
        return instant_typed(f"{next_day} {text}", zone, begun)
    return instant
