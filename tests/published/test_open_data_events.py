"""Events, holds and loops found in records that others measured and published."""

import itertools
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import zstandard
from scipy import integrate

from gaugewright.calc import first_loading, hysteresis, load_steps
from gaugewright.sources import delimited

DATA = Path(__file__).parents[1] / "data" / "opendata"


def unpacked(folder: Path, name: str) -> Path:
    path = folder / Path(name).name
    packed = (DATA / f"{name}.zst").read_bytes()
    path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
    return path


def frame(path: Path, **answers: str) -> pl.DataFrame:
    reading = delimited.read(path, delimited.understand(path).layout(**answers))
    return pl.concat([block.values for block in reading])


# Piece, area in mm2, Rp0.2 in MPa of the simple fit and of the table.
PIECES = [("Zx2", 120.444, 373.5, 374.0), ("Zd3", 120.707, 395.5, None)]


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; data set "
    "tensile-test-ontology, Zx2.csv and Zd3.csv: Rp0.2 of S355_data.csv (374 MPa, none) and of a "
    "simple fit from 60 to 180 MPa (373.5 and 395.5 MPa)",
    seen="the data files and S355_data.csv as quoted in "
    "tests/data/opendata/s355-tensile/SOURCE.md, with a simple fit made by separate code",
)
@pytest.mark.parametrize(("piece", "area_mm2", "simple_fit", "table"), PIECES)
def test_departure_by_two_thousandths_is_the_proof_strength(
    tmp_path, piece, area_mm2, simple_fit, table
) -> None:
    values = frame(unpacked(tmp_path, f"s355-tensile/{piece}.csv"))
    load = values["Load"].to_numpy() * 1000
    strain = values["Extensometer elongation"].to_numpy() / 100
    begin, end = (int(np.argmax(load >= 1e6 * mpa * area_mm2 * 1e-6)) for mpa in (60.0, 180.0))
    line = first_loading.line_between(
        load[: end + 1], strain[: end + 1], strain[begin], strain[end]
    )
    found = first_loading.departure(load, strain, line, 0.002)
    assert found is not None
    strength = found.load / area_mm2
    assert strength == pytest.approx(simple_fit, abs=0.5)
    if table is not None:
        assert strength == pytest.approx(table, abs=0.5)


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv: areas of its "
    "loops by the trapezoid rule of a general library",
    seen="the data file",
)
def test_loops_of_a_cyclic_coupon_have_the_area_of_the_trapezoid_rule(tmp_path) -> None:
    path = unpacked(tmp_path, "cyclic-coupon/HEM320C_LP8.csv")
    table = pl.read_csv(path, separator=",", encoding="utf8-lossy", infer_schema_length=None)
    strain = table["e_true"].to_numpy()
    stress = table["Sigma_true"].to_numpy() * 1e6
    falls = hysteresis.unloadings(stress, gate=400e6)
    assert len(falls) >= 3
    for one, other in itertools.pairwise(falls):
        rows = np.arange(one.first, other.first + 1)
        found = hysteresis.loop_area(stress[rows], strain[rows])
        closed = np.append(rows, rows[0])
        by_rule = integrate.trapezoid(stress[closed], strain[closed])
        assert found.area == pytest.approx(by_rule, rel=1e-9)
        # Work that steel takes in is never given back.
        assert found.area > 0


@pytest.mark.published(
    where="Jaelani et al., Developing a Benchmark Study for Bridge Monitoring, data set "
    "munich-bridge-data, reference load test: strain while the load stood on the bridge",
    seen="the data file; medians of every 5 s by separate code: 7.0 to 7.7 um/m from 370 to 490 s, "
    "below 1 um/m in every block from 505 to 530 s",
)
def test_a_load_that_stood_on_a_bridge_is_a_hold_and_its_coming_and_going_are_none(
    tmp_path,
) -> None:
    path = unpacked(tmp_path, "bridge-settlement/ref_support_load_01_strain.csv")
    values = frame(path, date_order="yyyy-dd-mm hh:mm:ss.f", zone="Europe/Berlin")
    strain = values["DMS_CN"].to_numpy()
    time = np.arange(strain.size) / 100
    found = load_steps.holds(time, strain)
    standing = [hold for hold in found if hold.level > 2]
    assert all(365 < time[hold.first] < time[hold.last] < 495 for hold in standing)
    assert sum(time[hold.last] - time[hold.first] for hold in standing) > 90
    median = float(np.median(strain[37_500:48_500]))
    assert [hold.level for hold in standing] == pytest.approx([median] * len(standing), abs=0.15)
    after = [hold for hold in found if 500 <= time[hold.first] < 530]
    assert after
    assert all(abs(hold.level) < 1 for hold in after)
