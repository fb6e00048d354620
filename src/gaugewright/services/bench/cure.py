"""A cure by its temperature log: the log as typed or from a file, held to the adhesive's sheet."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from gaugewright.calc.cure import Cure, SheetRow, cure
from gaugewright.errors import Faults, FileError, GaugewrightError, InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.typed import number_typed
from gaugewright.records.benching import RanOut
from gaugewright.records.gauges import Supply
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.laboratory.laboratory import limit_or_shipped

__all__ = ["GAP", "CureTold", "Log", "cure_told", "log_typed"]

GAP = "gap in a cure log"
_MOST_LINES = 20_000
_TIME_ALONE = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")


@dataclass(frozen=True, slots=True)
class Log:
    """Temperatures beside a gauge, in order of time."""

    instants: tuple[datetime, ...]
    temperatures_degc: tuple[float, ...]

    @property
    def seconds(self) -> tuple[float, ...]:
        """Time since the first reading [s]."""
        return tuple((instant - self.instants[0]).total_seconds() for instant in self.instants)


@dataclass(frozen=True, slots=True)
class CureTold:
    """A cure in numbers and words; ``ran_out`` where it isn't whole."""

    cure: Cure
    sentences: tuple[str, ...]
    ran_out: RanOut | None


def log_typed(text: str, begun: datetime, zone: ZoneInfo, *, name: str = "temperature log") -> Log:
    """Log of lines with a time of the hall and degrees Celsius; a heading may stand above.

    Between both stands a semicolon, a tab, a comma or a space. A time without a date is of the
    day on which the step began, or of the next day once the times start again.

    Raises
    ------
    Faults
        Naming every line that can't be read.
    InputError
        If fewer than two lines are left.
    """
    lines = [(n, line.strip()) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    if len(lines) > _MOST_LINES:
        raise InputError(name, f"{len(lines)} lines", f"{_MOST_LINES} lines at most", "thin it out")
    if lines and not any(sign.isdigit() for sign in lines[0][1]):
        lines = lines[1:]
    instants: list[datetime] = []
    degrees: list[float] = []
    faults: list[GaugewrightError] = []
    for number, line in lines:
        try:
            when, warm = _parted(line)
            degrees.append(number_typed("temperature", warm))
            instants.append(_instant(when, instants[-1] if instants else None, begun, zone))
        except InputError as error:
            faults.append(FileError(name, str(error), line=number, got=line))
    if faults:
        raise Faults(name, faults)
    if len(instants) < 2:
        raise InputError(name, f"{len(instants)} readings", "two or more", "a line for each")
    return Log(tuple(instants), tuple(degrees))


def _parted(line: str) -> tuple[str, str]:
    for sign in (";", "\t"):
        if sign in line:
            when, _, warm = line.partition(sign)
            return when.strip(), _bare(warm)
    if "," in line and " " not in line.partition(",")[2].strip():
        when, _, warm = line.partition(",")
        if ":" in when and ":" not in warm:
            return when.strip(), _bare(warm)
    when, _, warm = _bare(line).rpartition(" ")
    if not when:
        raise InputError("line", line, "a time and a temperature", "put a semicolon between both")
    return when.strip(), warm


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


def cure_told(book: Book, log: Log, supplies: Sequence[Supply]) -> CureTold:
    """What a log is worth by the sheet of the first supply that has a table of cure.

    Raises
    ------
    InputError
        If none has one, or the log is warmer than the sheet allows.
    """
    supply = next((one for one in supplies if one.sheet and one.sheet.cure), None)
    if supply is None or supply.sheet is None:
        names = ", ".join(one.label for one in supplies) or "no supply named"
        do = "type the sheet’s temperatures and times in with the supply"
        raise InputError("cure table", names, "that of the adhesive’s data sheet", do)
    sheet = supply.sheet
    gap = limit_or_shipped(book, GAP).value
    found = cure(
        log.seconds,
        log.temperatures_degc,
        tuple(SheetRow(row.temperature_degc, row.time) for row in sheet.cure),
        longest_gap=gap,
        highest_degc=math.inf if sheet.highest_degc is None else sheet.highest_degc,
    )
    told = _sentences(found, supply, gap)
    is_whole = found.still == 0
    broken = None if is_whole else RanOut("cure", told[0], "cure")
    return CureTold(found, told, broken)


def _sentences(found: Cure, supply: Supply, gap: float) -> tuple[str, ...]:
    source = supply.sheet.source if supply.sheet else ""
    percent = fixed_text(100 * min(found.share, 9.99), 0)
    first = f"cured to {percent} % of what the sheet of {supply.label} asks ({source})"
    if found.still == math.inf:
        first += "; at the last temperature it doesn’t go on"
    elif found.still > 0:
        first += f"; {duration_text(found.still)} more at the last temperature"
    told = [first]
    if found.too_cold:
        told.append(
            f"{duration_text(found.too_cold)} were colder than the sheet’s table: not counted"
        )
    if found.unknown:
        gaps = f"{duration_text(found.unknown)} lie in gaps longer than {duration_text(gap)}"
        told.append(f"{gaps}: not counted")
    told.append(f"coldest {fixed_text(found.lowest_degc, 1)} °C")
    return tuple(told)
