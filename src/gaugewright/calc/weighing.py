"""Covariance matrices of several single values, for fits that weigh them."""

from collections.abc import Collection, Sequence

import numpy as np

from gaugewright.calc.uncertainty import InputQuantity, Uncertain, declare
from gaugewright.quantities import FloatArray

__all__ = ["common_inputs", "covariance_matrix", "named_noise"]


def covariance_matrix(values: Sequence[Uncertain], leaving_out: Collection[str] = ()) -> FloatArray:
    """What single values vary by and share (JCGM 100:2008, equation F.2), as a matrix.

    Parameters
    ----------
    values : sequence of Uncertain
        One number each; noise is shared by none.
    leaving_out : collection of str
        Names of inputs that aren't to count.

    Returns
    -------
    covariances : array, shape (n, n)
        In products of their units [1].

    Raises
    ------
    InputError
        If one name stands for two inputs.
    """
    inputs: dict[str, InputQuantity] = {}
    matrix = np.diag([value.noise.item() ** 2 for value in values])
    for value in values:
        for quantity in value.inputs.values():
            declare(inputs, quantity)
    for name, quantity in inputs.items():
        if name in leaving_out:
            continue
        nothing = np.zeros(())
        slopes = np.array([v.sensitivities.get(name, nothing).item() for v in values])
        part = slopes * quantity.standard_uncertainty
        matrix = matrix + np.outer(part, part)
    return np.asarray(matrix)


def common_inputs(values: Sequence[Uncertain]) -> frozenset[str]:
    """Names of inputs that every one of several values owes to.

    Parameters
    ----------
    values : sequence of Uncertain
        Two at least, else nothing is common.

    Returns
    -------
    frozenset of str
        Such as the gain of the one instrument they all went through.
    """
    if len(values) < 2:
        return frozenset()
    return frozenset.intersection(*(frozenset(value.sensitivities) for value in values))


def named_noise(value: Uncertain, name: str) -> Uncertain:
    """A single value whose noise has become an input, so that what is made of it keeps sharing it.

    Results of one fit all owe to the noise of the same readings; as plain noise that bond would
    be lost.

    Parameters
    ----------
    value : Uncertain
        One number.
    name : str
        For the new input; no other may have it.

    Returns
    -------
    Uncertain
        The same number and uncertainty, without noise.

    Raises
    ------
    InputError
        If the name stands for another input.
    """
    size = value.noise.item()
    if not size:
        return value
    inputs = dict(value.inputs)
    declare(inputs, InputQuantity(name, size, meaning="scatter of the reading"))
    slopes = {**value.sensitivities, name: np.ones(())}
    return Uncertain(value.value, slopes, inputs=inputs)
