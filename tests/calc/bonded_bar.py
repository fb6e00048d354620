"""A bar pulled in concrete, by integrating a bond-slip law of this file's own: no code shared."""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

DIAMETER, MODULUS = 0.016, 200e9
AREA, PERIMETER = np.pi * DIAMETER**2 / 4, np.pi * DIAMETER


@dataclass(frozen=True)
class Truth:
    """Fields at many places along a bar; concrete doesn't give."""

    place: np.ndarray
    force: np.ndarray
    bond: np.ndarray
    slip: np.ndarray

    def at(self, name, places):
        return np.interp(places, self.place, getattr(self, name))


def shear(slip, strength=9e6, knee=0.6e-3):
    return strength * np.tanh(slip / knee)


def pulled_bar(length=0.6, free_slip=4e-5):
    """Bar pulled at its far end: force and slip grow from the free end."""

    def change(_, state):
        slip, force = state
        return [force / (MODULUS * AREA), PERIMETER * shear(slip)]

    place = np.linspace(0, length, 2401)
    found = solve_ivp(change, (0, length), [free_slip, 0.0], t_eval=place, rtol=1e-10, atol=1e-13)
    slip, force = found.y
    return Truth(place, force, shear(slip), slip)


def between_cracks(length=0.6):
    """Two pulled bars head to head: bond changes its sign where a crack is, and jumps there."""
    half = pulled_bar(length / 2)
    return Truth(
        np.concatenate([half.place, half.place[1:] + length / 2]),
        np.concatenate([half.force, half.force[-2::-1]]),
        np.concatenate([half.bond, -half.bond[-2::-1]]),
        np.concatenate([half.slip, -half.slip[-2::-1]]),
    )
