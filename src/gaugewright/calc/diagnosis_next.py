"""Which reading to take next: the one that is expected to settle most for the minutes it costs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr
from scipy.stats import norm

from gaugewright.calc.diagnosis import Diagnosis, Finder, sign_share
from gaugewright.calc.diagnosis_causes import NONE_OF_THESE, Effort, Reading, ReadingError
from gaugewright.calc.diagnosis_circuit import LOGARITHMIC
from gaugewright.calc.diagnosis_fit import log_none_of_these, one_foretold
from gaugewright.quantities import FloatArray

__all__ = ["NextStep", "next_steps"]

_Law = tuple[FloatArray, FloatArray, FloatArray, FloatArray]
_MOST_CAUSES = 14  # the weightiest; the rest can't gain enough to change what is offered
_MOST_CELLS = 6
_SPOTS = (-1.2, 0.0, 1.2)  # standard deviations at which an outcome is tried, with equal weight


@dataclass(frozen=True, slots=True)
class NextStep:
    """A reading or a look not taken yet: bits expected from it, its minutes, bits a minute."""

    what: str
    minutes: float
    bits: float
    needs: str
    how: str

    @property
    def bits_per_minute(self) -> float:
        """By which steps are ordered [1]."""
        return self.bits / self.minutes


def next_steps(
    finder: Finder,
    diagnosis: Diagnosis,
    taken: tuple[Sequence[Reading], Mapping[str, bool]],
    efforts: Sequence[Effort],
    meters: Mapping[str, ReadingError],
) -> tuple[NextStep, ...]:
    """Readings and looks not taken yet, the best first: expected entropy saved per minute.

    The entropy is that of the causes; each outcome is weighed by how likely the causes make it.

    Parameters
    ----------
    finder, diagnosis : Finder and Diagnosis
        As they stand.
    taken : readings and mapping of sign to bool
        What ``diagnosis`` was made from.
    efforts : sequence of Effort
        Readings that can be offered.
    meters : mapping of reading to ReadingError
        Meters at hand; a reading without one isn't offered.

    Returns
    -------
    tuple of NextStep
        Those that are expected to bring less than a thousandth of a bit are left out.
    """
    readings, seen = taken
    whats = {one.what for one in readings}
    known = {one.cause.label: one.weight for one in diagnosis.ranked[:_MOST_CAUSES]}
    steps = []
    for effort in efforts:
        if effort.what in whats or effort.what not in meters:
            continue
        if effort.what not in finder.sound.names:
            continue
        if effort.what == "shunt step" and finder.setup.shunt_resistance is None:
            continue
        bits = _bits_of_reading(finder, diagnosis, readings, (effort.what, meters[effort.what]))
        steps.append(NextStep(effort.what, effort.minutes, bits, effort.needs, effort.how))
    for sign in finder.signs.values():
        if sign.name in seen:
            continue
        shares = np.array([sign_share(finder.clouds[c].cause, sign) for c in known])
        bits = _saved(np.array(list(known.values())), np.stack([shares, 1 - shares]))
        steps.append(NextStep(sign.name, sign.minutes, bits, "", sign.how))
    useful = [step for step in steps if step.bits > 1e-3]
    return tuple(sorted(useful, key=lambda step: (-step.bits_per_minute, step.what)))


def _entropy(weights: FloatArray) -> FloatArray:
    """In bits, along the last axis."""
    safe = np.clip(weights, 1e-300, 1.0)
    return np.asarray(-np.sum(weights * np.log2(safe), axis=-1))


def _saved(weights: FloatArray, outcomes: FloatArray) -> float:
    """Entropy before less expected after; ``outcomes`` holds one row of chances an outcome."""
    prior = weights / weights.sum()
    joint = outcomes * prior
    chance = joint.sum(axis=1)
    after = joint / np.clip(chance, 1e-300, None)[:, np.newaxis]
    return float(np.clip(_entropy(prior) - chance @ _entropy(after) / chance.sum(), 0.0, None))


def _bits_of_reading(
    finder: Finder,
    diagnosis: Diagnosis,
    readings: Sequence[Reading],
    further: tuple[str, ReadingError],
) -> float:
    """Expected saving by a reading whose outcomes are tried at a few places of every cause."""
    what, error = further
    size = finder.sound.middle[0, finder.sound.column(what)]
    at = float(10**size) if what in LOGARITHMIC else float(np.clip(size, -1e6, 1e6))
    trial = Reading(what, at if at else 1.0, error)
    highest = np.log10(error.highest) if what in LOGARITHMIC else error.highest
    laws: list[_Law | None] = []
    for one in diagnosis.ranked[:_MOST_CAUSES]:
        if one.cause.label == NONE_OF_THESE:
            laws.append(None)
            continue
        fit = diagnosis.fits[one.cause.label]
        middle, sigma = one_foretold(fit.cloud, readings, trial, diagnosis.known)
        best = np.argsort(-fit.weights)[:_MOST_CELLS]
        share = fit.weights[best] / fit.weights[best].sum()
        laws.append(
            (
                share,
                middle[best],
                sigma[best],
                np.asarray(ndtr((middle[best] - highest) / sigma[best])),
            )
        )
    weights = np.array([one.weight for one in diagnosis.ranked[:_MOST_CAUSES]])
    tried, chance = _outcomes(laws, weights, highest)
    densities = np.stack([_chances(law, tried, trial) for law in laws], axis=1)
    prior = weights / weights.sum()
    joint = densities * prior
    after = joint / np.clip(joint.sum(axis=1), 1e-300, None)[:, np.newaxis]
    return float(np.clip(_entropy(prior) - chance @ _entropy(after), 0.0, None))


def _outcomes(
    laws: Sequence[_Law | None], weights: FloatArray, highest: float
) -> tuple[FloatArray, FloatArray]:
    """Values to try (infinite for open) and how likely each is, together 1."""
    values, chances = [np.array([np.inf])], [np.zeros(1)]
    for law, weight in zip(laws, weights, strict=True):
        if law is None:
            continue
        share, middle, sigma, beyond = law
        chances[0] = chances[0] + weight * float(share @ beyond)
        for spot in _SPOTS:
            values.append(np.minimum(middle + spot * sigma, highest))
            chances.append(weight * share * (1 - beyond) / len(_SPOTS))
    every, chance = np.concatenate(values), np.concatenate(chances)
    kept = chance > 1e-6
    return every[kept], chance[kept] / chance[kept].sum()


def _chances(law: _Law | None, tried: FloatArray, trial: Reading) -> FloatArray:
    """Density of each outcome under one cause, or the chance that it reads open."""
    if law is None:
        even = float(np.exp(log_none_of_these([trial])))
        return np.where(np.isinf(tried), 0.3, even)
    share, middle, sigma, beyond = law
    inside = np.where(np.isinf(tried), 0.0, tried)[:, np.newaxis]
    density = norm.pdf(inside, middle, sigma) @ (share * (1 - beyond))
    return np.where(np.isinf(tried), float(share @ beyond), density)
