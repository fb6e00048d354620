"""Series written as NetCDF (version 4, on HDF5), block by block, after the CF conventions."""

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import polars as pl

from gaugewright.errors import InputError
from gaugewright.extras import needs

__all__ = ["write_netcdf"]

_TIME = "seconds since 1970-01-01 00:00:00 UTC"


def write_netcdf(
    path: Path,
    frames: Iterable[pl.DataFrame],
    *,
    rows: int,
    time: str,
    long_names: Mapping[str, str],
    told: Mapping[str, str],
) -> Path:
    """Write columns of frames as variables over one dimension, ``row``.

    Parameters
    ----------
    path : path
        A file that doesn't exist.
    frames : iterable of DataFrame
        One after another; all with the columns of ``long_names`` and ``time``.
    rows : int
        Rows of all frames together.
    time : str
        Column of instants; written as seconds since 1970 in UTC.
    long_names : mapping
        Columns of strain [1], each with what it is, in words.
    told : mapping
        What the file says of itself.

    Raises
    ------
    MissingExtraError
        If the package that writes NetCDF isn't installed.
    InputError
        If the frames don't have as many rows as were told.
    """
    package = needs("h5netcdf", extra="interop", to="write NetCDF")
    names = _names(long_names)
    first = 0
    with package.File(path, "w") as file:
        file.attrs.update({**told, "Conventions": "CF-1.8"})
        file.dimensions = {"row": rows}
        seconds = file.create_variable("time", ("row",), "f8")
        seconds.attrs.update({"standard_name": "time", "units": _TIME, "calendar": "standard"})
        variables = {}
        for column, name in names.items():
            variable = file.create_variable(
                name, ("row",), "f4", fillvalue=float("nan"), compression="gzip"
            )
            variable.attrs.update(
                {"units": "1", "long_name": long_names[column], "coordinates": "time"}
            )
            variables[column] = variable
        for frame in frames:
            _write(frame, slice(first, first + frame.height), time, seconds, variables)
            first += frame.height
    if first != rows:
        raise InputError("rows", first, f"{rows}, as was told")
    return path


def _write(
    frame: pl.DataFrame, rows: slice, time: str, seconds: Any, variables: Mapping[str, Any]
) -> None:
    seconds[rows] = frame[time].dt.timestamp("us").cast(pl.Float64).to_numpy() / 1e6
    for column, variable in variables.items():
        variable[rows] = frame[column].cast(pl.Float32).fill_null(float("nan")).to_numpy()


def _names(columns: Iterable[str]) -> dict[str, str]:
    """Names of letters, digits and low lines, as the conventions ask, each different."""
    names: dict[str, str] = {}
    for column in columns:
        plain = re.sub(r"[^A-Za-z0-9_]", "_", column)
        number, name = 2, plain
        while name in names.values():
            name, number = f"{plain}_{number}", number + 1
        names[column] = name
    return names
