"""Predicted strain at a gauge or a pair, beside what was measured."""

from dataclasses import replace

import numpy as np

from gaugewright.calc import first_loading
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.gauge.look import GaugeLook
from gaugewright.services.gauge.plots import Samples
from gaugewright.services.section.predictions import predicted_strain
from gaugewright.services.under_load.record import GaugeRecord

__all__ = ["predicted_at", "predicted_at_holds", "with_prediction"]


def predicted_at(record: GaugeRecord, load: FloatArray) -> Uncertain:
    """Mechanical strain on first loading at some loads, since the record's own zero.

    Raises
    ------
    InputError
        If the gauge's bar belongs to no described member, or the description lacks something.
    """
    parts = [
        predicted_strain(record.desk.book, gauge, load, since=record.zero).first_loading
        for gauge in record.gauges
    ]
    return parts[0] if len(parts) == 1 else (parts[0] + parts[1]) / 2


def predicted_at_holds(look: GaugeLook) -> tuple[tuple[Uncertain | None, ...], str]:
    """Prediction for every hold that belongs to the first loading; why there is none at all."""
    loads = np.asarray([hold.load.value.item() for hold in look.holds])
    if not loads.size:
        return (), "no hold was found"
    try:
        found = predicted_at(look.record, np.maximum(loads, 0.0))
    except (InputError, Faults) as problem:
        return (None,) * loads.size, str(problem)
    highest = np.maximum.accumulate(loads)
    known = np.isfinite(found.value)
    return tuple(
        # After a fall the concrete goes another way: the prediction is of first loading.
        found[place] if known[place] and loads[place] >= 0.98 * highest[place] else None
        for place in range(loads.size)
    ), ""


def with_prediction(record: GaugeRecord, samples: Samples) -> Samples:
    """Samples with the prediction where the load was as high as never before."""
    first = first_loading.first_loading(record.load)[samples.rows]
    rows = np.flatnonzero(first & np.isfinite(samples.load))
    try:
        found = predicted_at(record, np.maximum(samples.load[rows], 0.0))
    except (InputError, Faults):
        return samples
    predicted = np.full(samples.rows.size, np.nan)
    doubt = predicted.copy()
    predicted[rows] = found.value
    doubt[rows] = found.expanded(COVERAGE)
    return replace(samples, predicted=predicted, predicted_doubt=doubt)
