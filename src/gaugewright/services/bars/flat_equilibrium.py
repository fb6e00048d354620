"""Strain at a ground flat beside that of its bar, and back, by the bar's own law, with all doubts.

The force of flat and full bar is one: on first loading, for any law that nowhere falls.
"""

from collections.abc import Callable

import numpy as np

from gaugewright.calc import steel_equilibrium
from gaugewright.calc.uncertainty import Term, Uncertain, combination
from gaugewright.quantities import FloatArray
from gaugewright.services.steel.steel_laws import LawInUse

__all__ = ["bar_of_flat", "flat_of_bar"]

# Farther than any law here reaches: each says itself where it ends.
_LARGEST = 0.25
_SMALL = 1e-7
# Half a step of a central difference, in standard uncertainties, as for sections.
_STEP = 0.25

_Solver = Callable[..., FloatArray]


def bar_of_flat(law: LawInUse, flat: Uncertain, share: Uncertain) -> Uncertain:
    """Strain of the bar from that at its flat; ``share`` is net area over area.

    Raises
    ------
    InputError
        If the law falls somewhere, as one with an upper yield point does.
    """
    return _moved(law, flat, share, steel_equilibrium.bar_strain_of_flat)


def flat_of_bar(law: LawInUse, bar: Uncertain, share: Uncertain) -> Uncertain:
    """Strain at the flat from that of the bar; NaN on a plateau and beyond the law.

    Raises
    ------
    InputError
        If the law falls somewhere, as one with an upper yield point does.
    """
    return _moved(law, bar, share, steel_equilibrium.flat_strain_of_bar)


def _moved(law: LawInUse, strain: Uncertain, share: Uncertain, solver: _Solver) -> Uncertain:
    inputs = [share, *law.numbers]
    at = [number.value for number in inputs]

    def solved(value: FloatArray, numbers: list[FloatArray]) -> FloatArray:
        # A share in doubt may be moved past the whole bar.
        left = min(float(numbers[0]), 1.0)
        found = solver(
            value, left, 1.0, lambda e: law.first(e, *numbers[1:]), largest_strain=_LARGEST
        )
        return np.asarray(found)

    value = strain.value
    found, up, down = solved(np.stack((value, value + _SMALL, value - _SMALL)), at)
    terms: list[Term] = [(strain, (up - down) / (2 * _SMALL))]
    for place, number in enumerate(inputs):
        step = _STEP * float(number.standard_uncertainty())
        if step:
            more, less = list(at), list(at)
            more[place], less[place] = at[place] + step, at[place] - step
            terms.append((number, (solved(value, more) - solved(value, less)) / (2 * step)))
    return combination(found, terms)
