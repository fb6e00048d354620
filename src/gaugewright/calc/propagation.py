"""Uncertainty through any function, where nobody has written its derivatives."""

from collections.abc import Callable, Mapping

import numpy as np

from gaugewright.calc.uncertainty import Term, Uncertain, combination
from gaugewright.quantities import FloatArray

__all__ = ["propagated"]

# Half a step of a central difference, in standard uncertainties: the slope over the width that
# matters, and no kink closer than that can spoil it.
_STEP = 0.25


def propagated(
    function: Callable[[Mapping[str, FloatArray]], FloatArray], arguments: Mapping[str, Uncertain]
) -> Uncertain:
    """What any function makes of uncertain values, by central differences.

    Each argument is moved by a quarter of its standard uncertainty either way. Noise of an
    argument would be taken as independent between several results: name it first
    (``weighing.named_noise``) where they are used together.

    Parameters
    ----------
    function : callable
        From values by name to an array.
    arguments : mapping of name to Uncertain
        One number each; or one for each row, where the function goes row by row.

    Returns
    -------
    Uncertain
        Shaped like the function's result.
    """
    at = {name: argument.value for name, argument in arguments.items()}
    terms: list[Term] = []
    for name, argument in arguments.items():
        step = _STEP * argument.standard_uncertainty()
        if not np.any(step > 0):
            continue
        up = function({**at, name: argument.value + step})
        down = function({**at, name: argument.value - step})
        terms.append((argument, (up - down) / np.where(step > 0, 2 * step, np.inf)))
    return combination(function(at), terms)
