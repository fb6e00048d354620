"""Units as they are written outside, and the coherent SI unit inside for each.

A unit is never guessed from a number: a spelling that isn't known must be asked for.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError

__all__ = ["FloatArray", "Unit", "parse_unit", "to_si", "unit_named"]

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as written outside: ``si = factor * (value + offset)``.

    ``dimension`` names the family ("strain", "force", ...); ``coherent`` is the unit inside.
    """

    name: str
    dimension: str
    coherent: str
    factor: float
    offset: float = 0.0


_MICRO = ("u", "\N{MICRO SIGN}", "\N{GREEK SMALL LETTER MU}")


def _micro(rest: str) -> tuple[str, ...]:
    return tuple(f"{prefix}{rest}" for prefix in _MICRO)


_MICRO_STRAIN = tuple(
    spelling for rest in ("m/m", "m\\m", "e", "ε", "strain", "in/in") for spelling in _micro(rest)
)

# Each unit with its other spellings; its name is a spelling too.
_SPELLED: tuple[tuple[Unit, tuple[str, ...]], ...] = (
    (
        Unit("µm/m", "strain", "1", 1e-6),
        (
            *_MICRO_STRAIN,
            "microstrain",
            "ppm",
            "με",
        ),
    ),
    (
        Unit("m/m", "strain", "1", 1.0),
        (
            "mm/mm",
            "in/in",
            "strain",
        ),
    ),
    (Unit("mm/m", "strain", "1", 1e-3), ("‰",)),
    (Unit("%", "strain", "1", 1e-2), ("percent",)),
    (Unit("V/V", "ratio", "V/V", 1.0), ()),
    (Unit("mV/V", "ratio", "V/V", 1e-3), ()),
    (Unit("µV/V", "ratio", "V/V", 1e-6), (*_micro("V/V"),)),
    (
        Unit("V", "voltage", "V", 1.0),
        (
            "volt",
            "volts",
        ),
    ),
    (Unit("mV", "voltage", "V", 1e-3), ()),
    (Unit("µV", "voltage", "V", 1e-6), (*_micro("V"),)),
    (Unit("A", "current", "A", 1.0), ()),
    (Unit("mA", "current", "A", 1e-3), ()),
    (
        Unit("Ω", "resistance", "ohm", 1.0),
        (
            "ohm",
            "ohms",
        ),
    ),
    (Unit("kΩ", "resistance", "ohm", 1e3), ("kohm",)),
    (
        Unit("MΩ", "resistance", "ohm", 1e6),
        (
            "Mohm",
            "MΩ",
            "megohm",
        ),
    ),
    (
        Unit("GΩ", "resistance", "ohm", 1e9),
        (
            "Gohm",
            "GΩ",
        ),
    ),
    (Unit("N", "force", "N", 1.0), ()),
    (Unit("kN", "force", "N", 1e3), ()),
    (Unit("MN", "force", "N", 1e6), ()),
    (
        Unit("lbf", "force", "N", 4.4482216152605),
        (
            "lb",
            "lbs",
        ),
    ),
    (
        Unit("kip", "force", "N", 4448.2216152605),
        (
            "kips",
            "klbf",
        ),
    ),
    (Unit("Pa", "stress", "Pa", 1.0), ()),
    (Unit("kPa", "stress", "Pa", 1e3), ()),
    (
        Unit("MPa", "stress", "Pa", 1e6),
        (
            "N/mm2",
            "N/mm²",
            "N/mm^2",
        ),
    ),
    (
        Unit("GPa", "stress", "Pa", 1e9),
        (
            "kN/mm2",
            "kN/mm²",
        ),
    ),
    (
        Unit("psi", "stress", "Pa", 4.4482216152605 / 0.0254**2),
        (
            "lbf/in2",
            "lbf/in^2",
        ),
    ),
    (
        Unit("ksi", "stress", "Pa", 4448.2216152605 / 0.0254**2),
        (
            "kip/in2",
            "kip/in^2",
        ),
    ),
    (Unit("m", "length", "m", 1.0), ()),
    (Unit("cm", "length", "m", 1e-2), ()),
    (Unit("mm", "length", "m", 1e-3), ()),
    (Unit("µm", "length", "m", 1e-6), (*_micro("m"),)),
    (
        Unit("in", "length", "m", 0.0254),
        (
            "inch",
            "inches",
            '"',
        ),
    ),
    (
        Unit("ft", "length", "m", 0.3048),
        (
            "foot",
            "feet",
        ),
    ),
    (
        Unit("m²", "area", "m^2", 1.0),
        (
            "m2",
            "m^2",
        ),
    ),
    (
        Unit("mm²", "area", "m^2", 1e-6),
        (
            "mm2",
            "mm^2",
        ),
    ),
    (
        Unit("in²", "area", "m^2", 0.0254**2),
        (
            "in2",
            "in^2",
        ),
    ),
    (
        Unit("N·m", "moment", "N m", 1.0),
        (
            "Nm",
            "N m",
            "N*m",
        ),
    ),
    (
        Unit("kN·m", "moment", "N m", 1e3),
        (
            "kNm",
            "kN m",
            "kN*m",
        ),
    ),
    (
        Unit("kip·ft", "moment", "N m", 4448.2216152605 * 0.3048),
        (
            "kip-ft",
            "kip ft",
            "kipft",
        ),
    ),
    (
        Unit("kip·in", "moment", "N m", 4448.2216152605 * 0.0254),
        (
            "kip-in",
            "kip in",
            "kipin",
        ),
    ),
    (
        Unit("°C", "temperature", "degC", 1.0),
        (
            "degC",
            "C",
            "deg C",
            "celsius",
            "° C",
            "ºC",
        ),
    ),
    (
        Unit("°F", "temperature", "degC", 5 / 9, -32.0),
        (
            "degF",
            "F",
            "deg F",
            "fahrenheit",
            "ºF",
        ),
    ),
    (Unit("K", "temperature", "degC", 1.0, -273.15), ("kelvin",)),
    (
        Unit("s", "time", "s", 1.0),
        (
            "sec",
            "second",
            "seconds",
        ),
    ),
    (Unit("ms", "time", "s", 1e-3), ("msec",)),
    (
        Unit("min", "time", "s", 60.0),
        (
            "minute",
            "minutes",
        ),
    ),
    (
        Unit("h", "time", "s", 3600.0),
        (
            "hour",
            "hours",
            "hr",
        ),
    ),
    (Unit("Hz", "frequency", "1/s", 1.0), ()),
    (
        Unit("°", "angle", "rad", math.pi / 180),
        (
            "deg",
            "degree",
            "degrees",
        ),
    ),
    (Unit("rad", "angle", "rad", 1.0), ()),
    (Unit("mrad", "angle", "rad", 1e-3), ()),
)


def _by_spelling() -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for unit, spellings in _SPELLED:
        for spelling in (unit.name, *spellings):
            known = table.setdefault(_normal(spelling), unit)
            if known != unit:
                raise RuntimeError(f"unit spelling {spelling!r} means two things")
    return table


def _normal(text: str) -> str:
    """Spelling with brackets, spaces and look-alike micro and ohm signs taken out."""
    bare = text.strip().strip("[]()").strip().replace(" ", "")
    return bare.replace("\N{GREEK SMALL LETTER MU}", "\N{MICRO SIGN}").replace("\N{OHM SIGN}", "Ω")


_UNITS = _by_spelling()
# Case decides between milli and mega, so only spellings that no other unit shares are folded.
_FOLDED = {
    folded: matches[0]
    for folded in {key.casefold() for key in _UNITS}
    if len(matches := list({u for k, u in _UNITS.items() if k.casefold() == folded})) == 1
}


def parse_unit(text: str) -> Unit | None:
    """Unit meant by a spelling found in a file, or None when it isn't known: then ask.

    Examples
    --------
    >>> parse_unit("(um/m)").name, parse_unit("[kN]").factor, parse_unit("furlong")
    ('µm/m', 1000.0, None)
    """
    bare = _normal(text)
    return _UNITS.get(bare) or _FOLDED.get(bare.casefold())


def unit_named(text: str) -> Unit:
    """Unit meant by a spelling typed by a person.

    Raises
    ------
    InputError
        If no unit is spelled that way.

    Examples
    --------
    >>> unit_named("kip").dimension
    'force'
    """
    unit = parse_unit(text)
    if unit is None:
        known = sorted({u.name for u in _UNITS.values()})
        raise InputError("unit", text, "one of " + ", ".join(known))
    return unit


def to_si(value: npt.ArrayLike, unit: Unit) -> FloatArray:
    """Numbers in the coherent unit inside the package.

    Parameters
    ----------
    value : array of any shape
        Numbers as written outside, in ``unit``.
    unit : Unit
        What they are in.

    Returns
    -------
    array shaped like ``value``
        In ``unit.coherent``.

    Examples
    --------
    >>> to_si(212.0, unit_named("degF")).item()
    100.0
    """
    return np.asarray((np.asarray(value, dtype=np.float64) + unit.offset) * unit.factor)
