"""American bars under their soft metric numbers, and what a bar called by a number may mean."""

from dataclasses import dataclass

from gaugewright.calc.bar import METRIC_BARS, US_BARS, BarSize
from gaugewright.errors import InputError

__all__ = ["SOFT_METRIC_BARS", "Named", "bars_named"]

# ASTM A615/A615M Table 1, metric numbers printed beside the inch-pound ones: same bars, rounded
# (#3 to #10 read in a reproduction of the table; #11, #14 and #18 from memory).
_SOFT = (
    ("#3", "10", 9.5, 71, 0.560),
    ("#4", "13", 12.7, 129, 0.994),
    ("#5", "16", 15.9, 199, 1.552),
    ("#6", "19", 19.1, 284, 2.235),
    ("#7", "22", 22.2, 387, 3.042),
    ("#8", "25", 25.4, 510, 3.973),
    ("#9", "29", 28.7, 645, 5.060),
    ("#10", "32", 32.3, 819, 6.404),
    ("#11", "36", 35.8, 1006, 7.907),
    ("#14", "43", 43.0, 1452, 11.38),
    ("#18", "57", 57.3, 2581, 20.24),
)
SOFT_METRIC_BARS: dict[str, tuple[str, BarSize]] = {
    metric: (inch, BarSize(metric, millimetres * 1e-3, square * 1e-6, mass))
    for inch, metric, millimetres, square, mass in _SOFT
}


@dataclass(frozen=True, slots=True)
class Named:
    """One bar that a name may mean, and by which table."""

    table: str
    size: BarSize


def bars_named(name: str) -> tuple[Named, ...]:
    """Every bar that goes by a name: "16" is a metric bar, and the soft metric name of #5.

    Their areas differ by 1 %, those called 25 by 4 %: which one was ordered must be asked.

    Parameters
    ----------
    name : str
        As it was ordered: ``16``, ``#5``.

    Returns
    -------
    tuple of Named
        One or two.

    Raises
    ------
    InputError
        If no table knows it.

    Examples
    --------
    >>> [(found.table, round(found.size.area * 1e6, 1)) for found in bars_named("16")]
    [('EN 10080', 201.1), ('ASTM A615/A706, soft metric', 199.0)]
    """
    found = []
    if name in METRIC_BARS:
        found.append(Named("EN 10080", METRIC_BARS[name]))
    if name in US_BARS:
        found.append(Named("ASTM A615/A706", US_BARS[name]))
    if name in SOFT_METRIC_BARS:
        found.append(Named("ASTM A615/A706, soft metric", SOFT_METRIC_BARS[name][1]))
    if not found:
        known = ", ".join(dict.fromkeys([*METRIC_BARS, *US_BARS, *SOFT_METRIC_BARS]))
        raise InputError("bar size", name, f"one of {known}")
    return tuple(found)
