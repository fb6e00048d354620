"""Signals and moments of a calibrated two-axis bridge, in a file without a row of names."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gaugewright.sources import delimited

PATH = Path(__file__).parents[1] / "data" / "opendata" / "bridge-signal-to-moment" / "blade_cal.csv"


@pytest.mark.published(
    where="MHKiT-MATLAB, examples/data/loads/blade_cal.csv with mhkit/tests/Loads_TestLoads.m: "
    "offsets 9.19906e-05, -0.000310854; matrix 1034671.4, -126487.28; 82507.959, 1154090.7",
    seen="the data file; matrix as quoted in SOURCE.md of opendata/bridge-signal-to-moment",
)
def test_the_cross_talk_matrix_comes_out_of_all_600_rows() -> None:
    seen = delimited.understand(PATH)
    assert [q.field for q in seen.questions] == ["clock", "unit_1", "unit_2", "unit_3", "unit_4"]
    units = {"unit_1": "V/V", "unit_2": "V/V", "unit_3": "kN m", "unit_4": "kN m"}
    reading = delimited.read(PATH, seen.layout(clock="none", **units))
    values = pl.concat([block.values for block in reading]).to_numpy()
    assert values.shape == (600, 4)  # read with a header there would be 599
    signals = values[:, :2] - [9.19906e-05, -0.000310854]
    matrix = np.array([[1034671.4, -126487.28], [82507.959, 1154090.7]])
    assert np.abs(signals @ matrix.T - values[:, 2:]).max() == pytest.approx(0.010, abs=0.0005)
    fitted = np.linalg.lstsq(signals, values[:, 2:], rcond=None)[0].T
    assert fitted == pytest.approx(matrix, abs=1.0)  # one in the sixth digit
