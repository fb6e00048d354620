"""What any function makes of uncertain arguments, by moving each cause up and down."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.uncertainty import InputQuantity, Uncertain, declare
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["by_difference"]


def by_difference(
    function: Callable[..., FloatArray],
    arguments: Sequence[Uncertain],
    *,
    noise_slopes: Sequence[ArrayLike],
) -> Uncertain:
    """Value of a function with what it owes to every cause, where no derivative can be written.

    Each cause is moved by its standard uncertainty up and down in all arguments at once, which
    JCGM 100:2008, 5.1.3 note 2 allows in place of a derivative: half the difference over the
    standard uncertainty is the sensitivity. At a corner this is the mean slope over the span in
    question, not that of one side. Made for laws with a memory, whose value now hangs on the whole
    record: a cause common to the record moves all of it.

    Parameters
    ----------
    function : function of arrays, one for each argument
        Gives an array of one shape for all.
    arguments : sequence of Uncertain
        In the order of the function.
    noise_slopes : sequence of array
        One for each argument: derivative of the value by the noise of that argument at the same
        place, which no common movement shows; 0 where it has none. In the units of what it
        relates [1].

    Returns
    -------
    Uncertain
        Shaped as the function's value.

    Raises
    ------
    InputError
        If there isn't one slope for each argument, a name stands for two causes, or a value
        moves out of what the function knows.

    Examples
    --------
    >>> side = Uncertain.from_input(3.0, InputQuantity("rule", 0.1))
    >>> square = by_difference(lambda x: x**2, [side], noise_slopes=[6.0])
    >>> square.standard_uncertainty().round(6).item()
    0.6
    """
    if len(noise_slopes) != len(arguments):
        raise InputError("noise_slopes", len(noise_slopes), f"{len(arguments)}, one each")
    inputs: dict[str, InputQuantity] = {}
    for argument in arguments:
        for name in argument.sensitivities:
            declare(inputs, argument.inputs[name])
    value = np.asarray(function(*(argument.value for argument in arguments)), dtype=np.float64)
    sensitivities: dict[str, FloatArray] = {}
    for name, quantity in inputs.items():
        step = quantity.standard_uncertainty
        if step == 0:
            continue
        up, down = (
            np.asarray(function(*(_moved(argument, name, way * step) for argument in arguments)))
            for way in (1.0, -1.0)
        )
        lost = np.isfinite(value) & ~(np.isfinite(up) & np.isfinite(down))
        if np.any(lost):
            raise InputError(
                quantity.meaning or name,
                f"moving {int(np.sum(lost))} value(s) out of what the law knows",
                "small enough that the law holds on both sides",
                "take a law that reaches farther, or state the cause more closely",
            )
        sensitivities[name] = (up - down) / (2 * step)
    variance = np.zeros(())
    for argument, slope in zip(arguments, noise_slopes, strict=True):
        if np.any(argument.noise):
            variance = variance + (np.asarray(slope, dtype=np.float64) * argument.noise) ** 2
    used = {name: inputs[name] for name in sensitivities}
    return Uncertain(value, sensitivities, np.asarray(np.sqrt(variance)), used)


def _moved(argument: Uncertain, name: str, step: float) -> FloatArray:
    slope = argument.sensitivities.get(name)
    return argument.value if slope is None else np.asarray(argument.value + slope * step)
