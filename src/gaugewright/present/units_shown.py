"""Which unit does a reader see for a quantity, in SI and in US customary units?

Everything inside is coherent SI; here is the only place where a page's numbers get their factor.
"""

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.present.numbers import Shown, shown
from gaugewright.quantities import QUANTITIES, FloatArray, unit_named

__all__ = [
    "System",
    "UnitShown",
    "in_shown",
    "ohm_signs",
    "quantity_shown",
    "resistance_text",
    "series_shown",
    "unit_shown",
    "units_sentence",
]

System = Literal["si", "us"]


@dataclass(frozen=True, slots=True)
class UnitShown:
    """A unit on a page: ``shown = si / factor - offset``."""

    text: str
    factor: float
    offset: float = 0.0


def _known(spelling: str, text: str = "") -> UnitShown:
    unit = unit_named(spelling)
    return UnitShown(text or unit.name, unit.factor, unit.offset)


# After a digit only: a name that holds the word, such as a meter's, stays as it is.
_OHMS = re.compile(r"(?<=\d)(\s*)([kMG]?)[Oo]hms?\b")
_POUND = unit_named("lbf").factor
_INCH = unit_named("in").factor

# By quantity where trade habit differs from the family's unit, else by the coherent unit.
_BY_QUANTITY: dict[str, tuple[UnitShown, UnitShown]] = {
    name: (_known("µm/m", "µε"), _known("µm/m", "µε"))
    for name in (
        "indicated_strain",
        "strain",
        "mechanical_strain",
        "total_strain",
        "thermal_output",
    )
}
_BY_QUANTITY |= {
    "strain_per_load": (UnitShown("µε/kN", 1e-9), UnitShown("µε/kip", 1e-9 / _POUND)),
    "strain_rate": (UnitShown("µε/min", 1e-6 / 60), UnitShown("µε/min", 1e-6 / 60)),
    "work_per_length": (UnitShown("J/m", 1.0), UnitShown("lbf", _POUND)),
    "work_per_volume": (UnitShown("kJ/m³", 1e3), UnitShown("in·lbf/in³", _POUND / _INCH**2)),
    "elastic_modulus": (_known("GPa"), _known("ksi")),
    "hardening_modulus": (_known("GPa"), _known("ksi")),
    "insulation_resistance": (_known("MΩ"), _known("MΩ")),
    "shunt_resistance": (_known("kΩ"), _known("kΩ")),
    "cross_section": (_known("mm²"), _known("mm²")),
    "misalignment": (_known("°"), _known("°")),
    "angle": (_known("°"), _known("°")),
    "length": (_known("m"), _known("ft")),
    "gauge_factor_slope": (UnitShown("×10⁻⁶/K", 1e-6), UnitShown("×10⁻⁶/°F", 1.8e-6)),
    "transverse_sensitivity": (_known("%"), _known("%")),
    "coverage": (_known("%"), _known("%")),
}
_BY_QUANTITY |= {
    name: (UnitShown("×10⁻⁶", 1e-6), UnitShown("×10⁻⁶", 1e-6))
    for name in ("arm_change", "arm_change_zero", "grid_change")
}
_BY_COHERENT: dict[str, tuple[UnitShown, UnitShown]] = {
    "1": (UnitShown("", 1.0), UnitShown("", 1.0)),
    "V/V": (_known("mV/V"), _known("mV/V")),
    "V": (_known("V"), _known("V")),
    "A": (_known("mA"), _known("mA")),
    "W": (UnitShown("mW", 1e-3), UnitShown("mW", 1e-3)),
    "ohm": (_known("Ω"), _known("Ω")),
    "Pa": (_known("MPa"), _known("ksi")),
    "N": (_known("kN"), _known("kip")),
    "N m": (_known("kN·m"), _known("kip·ft")),
    "m": (_known("mm"), _known("in")),
    "m^2": (_known("mm²"), _known("in²")),
    "1/m": (UnitShown("km⁻¹", 1e-3), UnitShown("×10⁻⁶/in", 1e-6 / _INCH)),
    "1/m^2": (UnitShown("µε/m²", 1e-6), UnitShown("µε/in²", 1e-6 / _INCH**2)),
    "N/m": (UnitShown("N/mm", 1e3), UnitShown("lbf/in", _POUND / _INCH)),
    "kg/m": (UnitShown("kg/m", 1.0), UnitShown("lb/ft", 0.45359237 / 0.3048)),
    "kg/m^3": (UnitShown("kg/m³", 1.0), UnitShown("lb/ft³", 0.45359237 / 0.3048**3)),
    "W/m^2": (UnitShown("kW/m²", 1e3), UnitShown("W/in²", 1 / _INCH**2)),
    "ohm m": (UnitShown("nΩ·m", 1e-9), UnitShown("nΩ·m", 1e-9)),
    "1/K": (UnitShown("×10⁻⁶/K", 1e-6), UnitShown("×10⁻⁶/°F", 1.8e-6)),
    "1/K^n": (UnitShown("1/Kⁿ", 1.0), UnitShown("1/Kⁿ", 1.0)),
    "degC": (_known("°C"), _known("°F")),
    "K": (UnitShown("K", 1.0), UnitShown("°F", 5 / 9)),
    "rad": (_known("°"), _known("°")),
    "s": (_known("s"), _known("s")),
    "1/s": (_known("Hz"), _known("Hz")),
    "Hz": (_known("Hz"), _known("Hz")),
    "V/Hz^0.5": (UnitShown("nV/√Hz", 1e-9), UnitShown("nV/√Hz", 1e-9)),
}


def unit_shown(quantity: str, system: System = "si") -> UnitShown:
    """Unit in which a quantity of ``QUANTITIES`` is shown.

    Raises
    ------
    InputError
        If the quantity is unknown, or no unit is chosen for its kind yet.

    Examples
    --------
    >>> unit_shown("stress").text, unit_shown("stress", "us").text, unit_shown("strain", "us").text
    ('MPa', 'ksi', 'µε')
    """
    if system not in ("si", "us"):
        raise InputError("units", system, "si or us")
    if quantity not in QUANTITIES:
        raise InputError("quantity", quantity, "a name listed in QUANTITIES")
    coherent = QUANTITIES[quantity].unit
    pair = _BY_QUANTITY.get(quantity) or _BY_COHERENT.get(coherent)
    if pair is None:
        raise InputError(f"unit of {quantity}", coherent, "one that has a shown unit beside it")
    return pair[0] if system == "si" else pair[1]


def in_shown(value: float, quantity: str, system: System = "si") -> float:
    """A number inside the package as a number on the page.

    Raises
    ------
    InputError
        As ``unit_shown``.

    Examples
    --------
    >>> in_shown(0.001, "strain"), round(in_shown(100.0, "temperature_degc", "us"), 9)
    (1000.0, 212.0)
    """
    unit = unit_shown(quantity, system)
    return _over(value, unit.factor) - unit.offset


def series_shown(values: npt.ArrayLike, quantity: str, system: System = "si") -> FloatArray:
    """Numbers inside the package as numbers on a plot; missing ones stay missing.

    Raises
    ------
    InputError
        As ``unit_shown``.
    """
    unit = unit_shown(quantity, system)
    return np.asarray(np.asarray(values, dtype=np.float64) / unit.factor - unit.offset)


def quantity_shown(
    quantity: str,
    value: float,
    plus_minus: float | None = None,
    system: System = "si",
    *,
    sign: bool = False,
) -> Shown:
    """A quantity inside the package as it stands on a page, rounded by its uncertainty.

    A difference keeps the factor of its unit but not the offset, so ± in °F is right.

    Raises
    ------
    InputError
        As ``unit_shown`` and ``numbers.shown``.

    Examples
    --------
    >>> quantity_shown("force", 163_900.0, 800.0).text.replace("\N{NO-BREAK SPACE}", " ")
    '163.90 ± 0.80 kN'
    """
    unit = unit_shown(quantity, system)
    doubt = None if plus_minus is None else _over(plus_minus, unit.factor)
    return shown(_over(value, unit.factor) - unit.offset, doubt, unit.text, sign=sign)


def resistance_text(ohms: float) -> str:
    """A resistance that isn't measured, such as the end of a meter's range, by its size.

    Examples
    --------
    >>> [resistance_text(ohms) for ohms in (0.02, 350.0, 2e6, 2e9)]
    ['0.02 Ω', '350 Ω', '2 MΩ', '2 GΩ']
    """
    for factor, sign in ((1e9, "GΩ"), (1e6, "MΩ"), (1e3, "kΩ")):
        if abs(ohms) >= factor:
            return f"{ohms / factor:g} {sign}"
    return f"{ohms:g} Ω"


def ohm_signs(text: str) -> str:
    """Words typed with ohm, kohm or MOhm after a number, with the signs that every page uses.

    Examples
    --------
    >>> ohm_signs("> 2000 MOhm"), ohm_signs("119.8 ohm"), ohm_signs("ohmmeter 2")
    ('> 2000 MΩ', '119.8 Ω', 'ohmmeter 2')
    """
    return _OHMS.sub(r"\1\2Ω", text)


def units_sentence(system: System = "si") -> str:
    """Sign and units for a title block.

    Examples
    --------
    >>> units_sentence("us")
    'tension positive; in, kip, ksi, µε'
    """
    names = ("distance", "force", "stress", "strain")
    return "tension positive; " + ", ".join(unit_shown(name, system).text for name in names)


def _over(value: float, factor: float) -> float:
    # 0.001 / 1e-6 is 1000.0000000000001 in binary: the last bit must not decide a rounding.
    return float(f"{value / factor:.15g}")
