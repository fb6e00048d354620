"""What is wrong with a gauge: evidence first, then groups of causes by weight, then what to read.

Bayes' rule over causes, each a small circuit with ranges; see ``diagnosis_cloud`` for how a cause
predicts readings and ``diagnosis_fit`` for how it is held against them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc.diagnosis_causes import (
    HEALTHY,
    NONE_OF_THESE,
    Allowances,
    Cause,
    Range,
    Reading,
    Sign,
    at_the_floor,
)
from gaugewright.calc.diagnosis_circuit import LOGARITHMIC, Setup
from gaugewright.calc.diagnosis_cloud import Cloud, cloud_of
from gaugewright.calc.diagnosis_fit import Fit, Known, fitted, known_before, log_none_of_these
from gaugewright.errors import InputError

__all__ = ["Diagnosis", "Estimate", "Evidence", "Finder", "Group", "Ranked"]

# A ranking that holds when the first prior is a third and another three times as large.
_PRIORS_EITHER_WAY = 9.0
_EXCLUDED = 3.0  # standard uncertainties, from which on a reading counts as evidence against
_TELLS_NOTHING = 0.5  # of log odds against healthy: a factor of 1.6
_AS_GOOD = 4.0  # square of two standard uncertainties: readings that can't be told apart


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading that a cause doesn't explain, and by how many standard uncertainties [1]."""

    what: str
    standard_uncertainties: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """An element of the circuit as far as the readings tell it: value and standard uncertainty."""

    element: str
    value: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class Ranked:
    """A cause after the readings.

    ``weight`` is its share by Bayes' rule with the priors given; ``against`` the reading it
    explains worst; ``distance`` all readings together, in standard uncertainties; ``estimates``
    what it would amount to, such as the place of a crush.
    """

    cause: Cause
    weight: float
    against: Evidence | None
    distance: float
    estimates: tuple[Estimate, ...]

    @property
    def excluded(self) -> bool:
        """Whether one reading alone speaks against it by three standard uncertainties or more."""
        return self.against is not None and self.against.standard_uncertainties >= _EXCLUDED


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that predict the same readings, the weightiest first, and their weight together."""

    causes: tuple[Ranked, ...]
    weight: float

    @property
    def named(self) -> tuple[Ranked, ...]:
        """Those worth naming: none that weighs less than a hundredth of the first."""
        least = self.causes[0].weight / 100
        return tuple(one for one in self.causes if one.weight >= least)

    @property
    def label(self) -> str:
        """Labels of those worth naming."""
        return " or ".join(one.cause.label for one in self.named)


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Everything the readings say.

    ``settled`` tells whether the first group stays first with priors three times larger or
    smaller, one way for it and the other way for the rest: only then is ``weight`` to be shown
    as a percentage. ``unseen`` are causes that these readings speak neither for nor against, as
    measured by a healthy gauge: they stand aside, and groups are weighed without them. ``known``
    is what earlier gates gave.
    """

    ranked: tuple[Ranked, ...]
    groups: tuple[Group, ...]
    unseen: tuple[Ranked, ...]
    settled: bool
    known: Known
    fits: Mapping[str, Fit]

    @property
    def first(self) -> Group:
        """The weightiest group."""
        return self.groups[0]

    @property
    def repair(self) -> bool:
        """Whether the gauge has a fault that is settled; healthy and none of these aren't."""
        labels = {one.cause.label for one in self.first.causes}
        return self.settled and not labels & {HEALTHY, NONE_OF_THESE}

    def cause(self, label: str) -> Ranked:
        """One cause by its label.

        Raises
        ------
        InputError
            If it isn't among them.
        """
        for one in self.ranked:
            if one.cause.label == label:
                return one
        raise InputError("cause", label, "one of those the finder was given")


class Finder:
    """Fault finder for one kind of gauge: circuits are solved once and held against any readings.

    Parameters
    ----------
    setup : Setup
        What records say of the gauge.
    causes : sequence of Cause
        With ``healthy`` and ``none of these`` among them.
    allowances : Allowances
        How far a sound gauge may be off its records.
    signs : sequence of Sign
        What may be seen without a number.

    Raises
    ------
    InputError
        If a label is used twice, or ``healthy`` or ``none of these`` is missing.
    """

    def __init__(
        self,
        setup: Setup,
        causes: Sequence[Cause],
        allowances: Allowances,
        signs: Sequence[Sign] = (),
    ) -> None:
        labels = [cause.label for cause in causes]
        twice = sorted({label for label in labels if labels.count(label) > 1})
        if twice:
            raise InputError("causes", ", ".join(twice), "named once each")
        if not {HEALTHY, NONE_OF_THESE} <= set(labels):
            raise InputError("causes", "incomplete", f"with '{HEALTHY}' and '{NONE_OF_THESE}'")
        self.setup, self.allowances = setup, allowances
        self.signs = {sign.name: sign for sign in signs}
        self.causes = tuple(causes)
        # Causes without a circuit of their own read as a sound gauge does: solved once.
        sound = cloud_of(setup, next(c for c in causes if c.label == HEALTHY), allowances)
        self.sound = sound
        self.clouds = {cause.label: self._cloud(cause) for cause in causes}

    def _cloud(self, cause: Cause) -> Cloud:
        if cause.ranges or cause.pins != "ABC":
            return cloud_of(self.setup, cause, self.allowances)
        one = self.sound
        return replace(one, cause=cause)

    def diagnosis(
        self,
        readings: Sequence[Reading],
        seen: Mapping[str, bool] | None = None,
        earlier: Sequence[Sequence[Reading]] = (),
    ) -> Diagnosis:
        """What readings and signs say, with what earlier gates gave.

        Parameters
        ----------
        readings : sequence of Reading
            Of this gate, one of each thing at most.
        seen : mapping of sign to bool
            Looked for, and seen or not.
        earlier : sequence of sequences of Reading
            Gates that the same gauge passed before.

        Returns
        -------
        Diagnosis
            Never without an answer: with nothing read the priors stand.

        Raises
        ------
        InputError
            If a thing was read twice, a shunt step without a stated shunt, or a sign is unknown.
        """
        looked = dict(seen or {})
        self._refuse(readings, looked)
        readings = [at_the_floor(one) for one in readings]
        degc = next((one.degc for one in readings if one.degc is not None), None)
        known = known_before(self.sound, self.allowances, earlier, degc)
        fits = {label: fitted(cloud, readings, known) for label, cloud in self.clouds.items()}
        told = {c.label: self._told(c, fits, readings, looked) for c in self.causes}
        weights = self.weights(told, known.gates_used > 0)
        ranked = sorted(
            (_ranked(fits[c.label], readings, weights[c.label]) for c in self.causes),
            key=lambda one: (-one.weight, one.cause.label),
        )
        unseen = [one for one in ranked if _unseen(one.cause, told)]
        aside = {one.cause.label for one in unseen}
        groups = _groups([r for r in ranked if r.cause.label not in aside], fits, readings, known)
        return Diagnosis(tuple(ranked), groups, tuple(unseen), _settled(groups), known, fits)

    def _refuse(self, readings: Sequence[Reading], seen: Mapping[str, bool]) -> None:
        whats = [one.what for one in readings]
        twice = sorted({what for what in whats if whats.count(what) > 1})
        if twice:
            raise InputError("readings", ", ".join(twice), "one of each", "give the latest")
        if "shunt step" in whats and self.setup.shunt_resistance is None:
            raise InputError("shunt_resistance", None, "given where a shunt step was read")
        unknown = sorted(set(seen) - set(self.signs))
        if unknown:
            known = ", ".join(self.signs) or "none yet"
            raise InputError("sign", ", ".join(unknown), "one of: " + known)

    def weights(self, told: Mapping[str, float], passed_before: bool) -> dict[str, float]:
        """Share of each cause by Bayes' rule.

        Parameters
        ----------
        told : mapping of label to float
            Logarithm of the likelihood of all readings and signs [1].
        passed_before : bool
            Whether an earlier gate was passed, after which some causes can hardly begin.

        Returns
        -------
        dict of label to float
            Together 1 [1].
        """
        logs = {}
        for cause in self.causes:
            late = passed_before and cause.from_the_start
            prior = cause.prior * (self.allowances.late_start if late else 1.0)
            logs[cause.label] = float(np.log(prior)) + told[cause.label]
        most = max(logs.values())
        shares = {label: float(np.exp(log - most)) for label, log in logs.items()}
        total = sum(shares.values())
        return {label: share / total for label, share in shares.items()}

    def _told(
        self,
        cause: Cause,
        fits: Mapping[str, Fit],
        readings: Sequence[Reading],
        seen: Mapping[str, bool],
    ) -> float:
        by_signs = self._log_signs(cause, seen)
        if cause.label == NONE_OF_THESE:
            return log_none_of_these(readings) + by_signs
        return fits[cause.label].log_mean + by_signs

    def _log_signs(self, cause: Cause, seen: Mapping[str, bool]) -> float:
        total = 0.0
        for name, there in seen.items():
            often = sign_share(cause, self.signs[name])
            total += float(np.log(often if there else 1 - often))
        return total


def sign_share(cause: Cause, sign: Sign) -> float:
    """How often a sign is seen when a cause is true; none of these: as often as not.

    Parameters
    ----------
    cause : Cause
        Any.
    sign : Sign
        Any.

    Returns
    -------
    share : float
        Between 0 and 1 [1].
    """
    if cause.label == NONE_OF_THESE:
        return 0.5
    return max(cause.signs.get(sign.name, 0.0), sign.by_chance)


def _ranked(fit: Fit, readings: Sequence[Reading], weight: float) -> Ranked:
    cause = fit.cloud.cause
    if cause.label == NONE_OF_THESE:
        return Ranked(cause, weight, None, 0.0, ())
    worst = int(np.argmax(fit.apart)) if len(readings) else -1
    against = Evidence(readings[worst].what, float(fit.apart[worst])) if readings else None
    return Ranked(cause, weight, against, float(np.min(fit.distance)), _estimates(fit))


def _estimates(fit: Fit) -> tuple[Estimate, ...]:
    """Mean and standard deviation of each element left open, in its own measure."""
    free = [one for one in fit.cloud.cause.ranges if one.high > one.low]
    share = fit.weights
    found = []
    for place, one in enumerate(free):
        spot, left = fit.spot[:, place], fit.spot_scatter[:, place]
        mean = float(share @ spot)
        spread = float(np.sqrt(share @ ((spot - mean) ** 2 + left**2)))
        value = _value(one, mean)
        slope = one.high - one.low
        if one.even_in == "logarithm":
            slope = value * float(np.log(one.high / one.low))
        found.append(Estimate(one.element, value, slope * spread))
    return tuple(found)


def _value(one: Range, unit: float) -> float:
    if one.even_in == "value":
        return one.low + (one.high - one.low) * unit
    return float(one.low * (one.high / one.low) ** unit)


def _unseen(cause: Cause, told: Mapping[str, float]) -> bool:
    """Whether the readings speak neither for nor against: beside healthy, or beside one of two.

    Two faults at once of which one alone explains the readings as well say nothing of the other.
    """
    if cause.label in (HEALTHY, NONE_OF_THESE):
        return False
    beside = [part for part in cause.parts if part in told] or [HEALTHY]
    return any(abs(told[cause.label] - told[part]) < _TELLS_NOTHING for part in beside)


def _groups(
    ranked: Sequence[Ranked],
    fits: Mapping[str, Fit],
    readings: Sequence[Reading],
    known: Known,
) -> tuple[Group, ...]:
    """Causes put together that would have given each other's readings, their weight made 1.

    Healthy and none of these stand alone: a person does something else about them.
    """
    whole = sum(one.weight for one in ranked)
    left = list(ranked)
    groups = []
    while left:
        first = left.pop(0)
        together = [first]
        if first.cause.label not in (HEALTHY, NONE_OF_THESE) and first.weight > 1e-9:
            for other in list(left):
                if other.cause.label in (HEALTHY, NONE_OF_THESE) or other.weight < 1e-9:
                    continue
                both = (first.cause.label, other.cause.label)
                if _alike(fits[both[0]], fits[both[1]], readings, known):
                    together.append(other)
                    left.remove(other)
        groups.append(Group(tuple(together), sum(one.weight for one in together) / whole))
    return tuple(sorted(groups, key=lambda group: -group.weight))


def _alike(one: Fit, other: Fit, readings: Sequence[Reading], known: Known) -> bool:
    return _explains(one, other, readings, known) and _explains(other, one, readings, known)


def _explains(one: Fit, other: Fit, readings: Sequence[Reading], known: Known) -> bool:
    """Whether a cause could give what another, at the place the readings point to, predicts."""
    best = int(np.argmax(other.log_likelihood))
    made = []
    for taken in readings:
        column = other.cloud.column(taken.what)
        slopes = other.cloud.slopes[best, column] @ known.mean
        value = float(other.cloud.middle[best, column] + slopes)
        beyond = value > taken.value if taken.bound == "above" else value < taken.value
        if taken.bound:
            made.append(
                Reading(
                    taken.what,
                    taken.value,
                    taken.error,
                    taken.bound if beyond else {"above": "below", "below": "above"}[taken.bound],
                )
            )
            continue
        if taken.what in LOGARITHMIC:
            value = 10**value
        made.append(Reading(taken.what, value, taken.error))
    told = fitted(one.cloud, made, known)
    bound = [n for n, taken in enumerate(made) if taken.bound]
    near = bool(np.min(told.distance) ** 2 < _AS_GOOD)
    return near and bool(np.all(told.apart[bound] < 2.0))


def _settled(groups: Sequence[Group]) -> bool:
    rest = max((group.weight for group in groups[1:]), default=0.0)
    return groups[0].weight > _PRIORS_EITHER_WAY * rest
