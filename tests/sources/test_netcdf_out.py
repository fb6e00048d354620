"""NetCDF is read back by the library of its makers, not by ours."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import netCDF4
import numpy as np
import polars as pl
import pytest

from gaugewright.errors import InputError
from gaugewright.sources.netcdf_out import write_netcdf

BEGINS = datetime(2026, 3, 4, 5, 6, 7, 250_000, tzinfo=UTC)


def frame(first: int, rows: int) -> pl.DataFrame:
    values = [None if n % 7 == 0 else (first + n) * 1e-6 for n in range(rows)]
    time = [BEGINS + timedelta(milliseconds=100 * (first + n)) for n in range(rows)]
    return pl.DataFrame(
        {"time_utc": time, "strain_L-1": values, "strain_L 1": values},
        schema={
            "time_utc": pl.Datetime("us", "UTC"),
            "strain_L-1": pl.Float32,
            "strain_L 1": pl.Float32,
        },
    )


def written(path: Path, rows: int) -> Path:
    return write_netcdf(
        path,
        [frame(0, 30), frame(30, 20)],
        rows=rows,
        time="time_utc",
        long_names={"strain_L-1": "strain of L-1", "strain_L 1": "strain of L 1"},
        told={"title": "a trial"},
    )


def test_another_library_reads_the_same_values_times_and_gaps(tmp_path: Path) -> None:
    expected = pl.concat([frame(0, 30), frame(30, 20)])
    with netCDF4.Dataset(written(tmp_path / "a.nc", 50)) as file:
        assert file.Conventions == "CF-1.8"
        assert file.title == "a trial"
        variable = file["strain_L_1"]
        assert variable.long_name == "strain of L-1"
        assert file["strain_L_1_2"].long_name == "strain of L 1"
        assert variable.units == "1"
        found = np.ma.filled(variable[:], np.nan)
        wanted = expected["strain_L-1"].fill_null(float("nan")).to_numpy()
        np.testing.assert_array_equal(found, wanted)
        times = netCDF4.num2date(
            file["time"][:], file["time"].units, only_use_cftime_datetimes=False
        )
        first = times[0].replace(tzinfo=UTC)
        assert abs(first - BEGINS) < timedelta(microseconds=2)
        assert times[-1] - times[0] == timedelta(milliseconds=4900)


def test_rows_that_are_missing_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="as was told"):
        written(tmp_path / "b.nc", 60)
