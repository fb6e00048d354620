"""A test bridge's gauge, load cells and air temperature, read from the files as recorded."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
import zstandard

from gaugewright.errors import InputError
from gaugewright.sources import delimited

DATA = Path(__file__).parents[1] / "data" / "opendata" / "bridge-settlement"
SEEN = (
    "the data files; the figures stand in tests/data/opendata/bridge-settlement/SOURCE.md and were "
    "worked out by separate code before this importer existed, the paper doesn't print them"
)


@pytest.fixture
def whole(tmp_path):
    def unpacked(name: str) -> Path:
        path = tmp_path / name
        packed = (DATA / f"{name}.zst").read_bytes()
        path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
        return path

    return unpacked


def read(path: Path, layout: delimited.Layout) -> tuple[pl.DataFrame, np.ndarray, object]:
    reading = delimited.read(path, layout)
    blocks = list(reading)
    elapsed = pl.concat([block.elapsed_ns for block in blocks]).to_numpy() / 1e9
    return pl.concat([block.values for block in blocks]), elapsed, reading.report


@pytest.mark.published(
    where="Jaelani et al., Developing a Benchmark Study for Bridge Monitoring, data set "
    "munich-bridge-data, reference load test of 11 April 2022, ...01DMS_CNAt100Hz.csv",
    seen=SEEN,
)
def test_strain_noise_means_and_peak_of_the_settlement_record(whole) -> None:
    path = whole("ref_support_load_01_strain.csv")
    seen = delimited.understand(path)
    assert [q.field for q in seen.questions] == ["date_order", "zone"]
    layout = seen.layout(date_order="yyyy-dd-mm hh:mm:ss.f", zone="Europe/Berlin")
    values, elapsed, report = read(path, layout)
    strain = values["DMS_CN"].to_numpy()
    assert (report.lines, report.rows_kept, report.marks) == (72_000, 72_000, {})
    assert elapsed[-1] == pytest.approx(719.99, abs=1e-9)
    assert np.std(np.diff(strain)) / np.sqrt(2) == pytest.approx(0.197, abs=0.0005)
    assert strain[elapsed < 10].mean() == pytest.approx(-0.298, abs=0.0005)
    assert strain[elapsed >= elapsed[-1] - 9.995].mean() == pytest.approx(0.296, abs=0.0005)
    assert strain.max() == pytest.approx(8.45, abs=0.005)
    # Central European summer time: two hours ahead of UTC in April.
    assert report.start_utc == "2022-04-11T06:36:24.897000Z"


@pytest.mark.published(
    where="Jaelani et al., Developing a Benchmark Study for Bridge Monitoring, data set "
    "munich-bridge-data, reference load test of 11 April 2022, ...ForceAt100Hz.csv",
    seen=SEEN,
)
def test_both_support_forces_of_the_first_ten_seconds(whole) -> None:
    path = whole("ref_support_load_01_force.csv")
    layout = delimited.understand(path).layout(date_order="yyyy-dd-mm hh:mm:ss.f", zone="none")
    values, elapsed, report = read(path, layout)
    assert report.rows_kept == 72_000
    first = values.filter(pl.Series(elapsed < 10)).mean().row(0)
    assert first == (pytest.approx(233.95, abs=0.005), pytest.approx(233.96, abs=0.005))
    assert [column.unit for column in layout.columns] == ["", "kN", "kN"]


@pytest.mark.published(
    where="Jaelani et al., Developing a Benchmark Study for Bridge Monitoring, data set "
    "munich-bridge-data, reference load test of 11 April 2022, UniBw_2022-04-11_ref_load_01.csv",
    seen=SEEN,
)
def test_air_temperature_lies_inside_the_strain_record_only_with_the_order_stated(whole) -> None:
    path = DATA / "ref_load_01_airtemp.csv"
    seen = delimited.understand(path)
    assert seen.encoding == "latin-1"
    assert [q.field for q in seen.questions] == ["date_order", "zone"]
    with pytest.raises(InputError, match="date_order"):
        seen.layout(zone="Europe/Berlin")
    layout = seen.layout(date_order="dd.mm.yyyy hh:mm:ss.f", zone="Europe/Berlin")
    values, elapsed, report = read(path, layout)
    assert report.rows_kept == 719
    assert layout.columns[1].unit == "°C"
    assert values["Air Temperature"].min() == pytest.approx(1.6, abs=0.05)
    assert values["Air Temperature"].max() == pytest.approx(2.0, abs=0.05)
    assert report.start_utc == "2022-04-11T06:36:25.984000Z"
    strain = DATA / "ref_support_load_01_strain.head.csv"
    seen = delimited.understand(strain)
    starts = {}
    for order in ("yyyy-dd-mm hh:mm:ss.f", "yyyy-mm-dd hh:mm:ss.f"):
        starts[order] = read(strain, seen.layout(date_order=order, zone="Europe/Berlin"))[
            2
        ].start_utc
    assert starts["yyyy-dd-mm hh:mm:ss.f"][:10] == report.start_utc[:10]
    assert starts["yyyy-mm-dd hh:mm:ss.f"][:10] == "2022-11-04"  # seven months later, no error
    assert elapsed[-1] == pytest.approx(717.944, abs=1e-9)
