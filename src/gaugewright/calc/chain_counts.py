"""How many samples a chain gave no value for, and at which stage each was lost."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.chain import Chain

__all__ = ["LostSamples", "lost_samples"]


@dataclass(frozen=True, slots=True)
class LostSamples:
    """Samples without a value.

    Attributes
    ----------
    samples : int
        All that were given.
    not_read : int
        Missing before the first stage.
    by_stage : mapping of kind to int
        Lost in each stage that is on, in order; zeros are kept, so that nothing is left unsaid.
    """

    samples: int
    not_read: int
    by_stage: Mapping[str, int]

    @property
    def kept(self) -> int:
        """Samples that have a value at the end [1]."""
        return self.samples - self.not_read - sum(self.by_stage.values())


def lost_samples(chain: Chain, reading: ArrayLike, columns: Mapping[str, ArrayLike]) -> LostSamples:
    """Count what is missing in the result, and where it went.

    Parameters
    ----------
    chain : Chain
        As it is applied.
    reading : array of any shape
        As for ``Chain.strain`` [1].
    columns : mapping of name to array
        As for ``Chain.strain``.

    Returns
    -------
    LostSamples
        Counts that add up to all samples.

    Examples
    --------
    >>> from gaugewright.calc.chain import Stage
    >>> chain = Chain((
    ...     Stage.of("reading in ratio@1", scale=1.0, gain=1.0), Stage.of("quarter bridge@1"),
    ... ))
    >>> found = lost_samples(chain, [0.001, 0.6, float("nan")], {})
    >>> found.kept, found.not_read, found.by_stage["quarter bridge@1"]
    (1, 1, 1)
    """
    given = np.asarray(reading, dtype=np.float64)
    counts = {}
    for kind, before, after in chain.trail(given, columns):
        counts[kind] = int(np.count_nonzero(np.isfinite(before) & ~np.isfinite(after)))
    not_read = int(np.count_nonzero(~np.isfinite(given)))
    return LostSamples(given.size, not_read, counts)
