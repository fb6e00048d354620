"""Tensile records of S355 pieces, a cyclic coupon and a strip, read from the files as recorded."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
import zstandard

from gaugewright.calc import (
    coupon,
    coupon_curve,
    coupon_modulus,
    cycles,
    steel,
    steel_curves,
    steel_cyclic,
    steel_fit,
    steel_plateau,
    steel_table,
)
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.sources import delimited

DATA = Path(__file__).parents[1] / "data" / "opendata"
S355_SEEN = (
    "the data files and S355_data.csv as quoted in tests/data/opendata/s355-tensile/SOURCE.md, "
    "with a simple fit made by separate code; not the article"
)


def unpacked(folder: Path, name: str) -> Path:
    path = folder / Path(name).name
    packed = (DATA / f"{name}.zst").read_bytes()
    path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
    return path


def read(path: Path, layout: delimited.Layout) -> tuple[pl.DataFrame, delimited.Reading]:
    reading = delimited.read(path, layout)
    frames = [block.values for block in reading]
    assert reading.report.accounted
    return pl.concat(frames), reading


def slope(strain: np.ndarray, stress: np.ndarray, low: float, high: float) -> float:
    """Least-squares slope between two stresses of the first loading."""
    end = int(np.argmax(stress >= high))
    chosen = (np.arange(len(stress)) < end) & (stress >= low)
    return float(np.polyfit(strain[chosen], stress[chosen], 1)[0])


def offset_stress(strain: np.ndarray, stress: np.ndarray, modulus: float, origin: float) -> float:
    """Stress where the curve crosses the line of slope ``modulus`` through ``origin`` + 0.2 %."""
    line = modulus * (strain - origin - 0.002)
    after = int(np.argmax((stress < line) & (stress > 0.5 * np.nanmax(stress))))
    return float(stress[after])


# Piece, area in mm2, rows, rows with extensometer, load at the start in kN, and from the table of
# the simple fit: E in GPa, Rp0.2 and Rm in MPa; the last is Rm of S355_data.csv.
PIECES = [
    ("Zx2", 120.444, 12_781, 10_861, 0.17, 197.5, 373.5, 503.7, 504),
    ("Zd3", 120.707, 12_257, 10_226, 0.27, 156.2, 395.5, 511.4, 511),
]


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; data set "
    "tensile-test-ontology, Zx2.csv and Zd3.csv, reference values S355_data.csv",
    seen=S355_SEEN,
)
@pytest.mark.parametrize(
    ("piece", "area_mm2", "rows", "empty", "start_kn", "fit_gpa", "fit_rp", "fit_rm", "table_rm"),
    PIECES,
)
def test_pulled_pieces_of_s355(
    tmp_path, piece, area_mm2, rows, empty, start_kn, fit_gpa, fit_rp, fit_rm, table_rm
) -> None:
    path = unpacked(tmp_path, f"s355-tensile/{piece}.csv")
    seen = delimited.understand(path)
    assert seen.questions == ()
    values, reading = read(path, seen.layout())
    report = reading.report
    assert (report.lines, report.rows_kept, report.rows_reported) == (rows, rows, 0)
    assert report.marks == {"Extensometer elongation": {"empty": empty}}
    load = values["Load"].to_numpy()
    assert load[0] == pytest.approx(start_kn, abs=0.005)
    stress = load * 1000 / area_mm2
    strain = values["Extensometer elongation"].to_numpy() / 100
    modulus = slope(strain, stress, 60.0, 180.0)
    assert modulus / 1000 == pytest.approx(fit_gpa, abs=0.05)
    assert stress.max() == pytest.approx(fit_rm, abs=0.05)
    assert stress.max() == pytest.approx(table_rm, abs=0.5)
    end = int(np.argmax(stress >= 180.0))
    chosen = (np.arange(len(stress)) < end) & (stress >= 60.0)
    _, intercept = np.polyfit(strain[chosen], stress[chosen], 1)
    rp = offset_stress(strain, stress, modulus, -intercept / modulus)
    assert rp == pytest.approx(fit_rp, abs=0.5)


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; data set "
    "tensile-test-ontology, Zx2.csv",
    seen=S355_SEEN,
)
def test_the_elongation_is_null_from_the_row_where_the_extensometer_came_off(tmp_path) -> None:
    path = unpacked(tmp_path, "s355-tensile/Zx2.csv")
    blocks = list(delimited.read(path, delimited.understand(path).layout()))
    [mark] = [mark for block in blocks for mark in block.marks]
    assert (mark.first_row, mark.last_row) == (12_781 - 10_861, 12_780)
    elongation = blocks[0].values["Extensometer elongation"]
    assert elongation[: mark.first_row].null_count() == 0
    assert elongation[mark.first_row :].null_count() == 10_861
    assert elongation[mark.first_row - 1] == pytest.approx(3.9, abs=0.05)
    steps = np.diff(blocks[0].elapsed_ns.to_numpy()) / 1e9
    assert steps.min() == pytest.approx(0.0019, abs=0.00005)
    assert steps.max() == pytest.approx(16, abs=0.5)


CYCLIC_SEEN = "the data file; figures of tests/data/opendata/cyclic-coupon/SOURCE.md, separate code"


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv", seen=CYCLIC_SEEN
)
def test_cyclic_coupon_with_a_clock_that_runs_backwards(tmp_path) -> None:
    path = unpacked(tmp_path, "cyclic-coupon/HEM320C_LP8.csv")
    seen = delimited.understand(path)
    # The first excursion is compression: negative in the engineering pair, positive in the true.
    signs = {"sign_7": "tension", "sign_8": "tension"}
    signs |= {"sign_9": "compression", "sign_10": "compression"}
    units = {"unit_1": "none", "unit_8": "m/m", "unit_9": "m/m", "unit_10": "MPa"}
    asked = {question.field for question in seen.questions}
    assert asked == {"clock", "date_order", "zone", *signs, *units}
    wall = seen.layout(
        clock="column 2", date_order="yyyy-mm-dd hh:mm:ss.f", zone="none", **signs, **units
    )
    values, reading = read(path, wall)
    assert reading.report.rows_kept == 8_434
    assert reading.report.steps_back == 7_592
    assert "7592 of 8433 steps" in reading.report.findings()[0]
    regular = seen.layout(clock="column 3", **signs, **units)
    values, reading = read(path, regular)
    assert reading.report.steps_back == 0
    strain, stress = values["Eng_Strain"].to_numpy(), values["Eng_Stress"].to_numpy()
    assert np.corrcoef(strain, values["e_true"].to_numpy())[0, 1] == pytest.approx(
        -0.9999, abs=5e-5
    )
    assert (strain.min(), strain.max()) == (
        pytest.approx(-0.0622, abs=5e-5),
        pytest.approx(0.0393, abs=5e-5),
    )
    assert (stress.min(), stress.max()) == (
        pytest.approx(-570.8, abs=0.05),
        pytest.approx(623.4, abs=0.05),
    )
    modulus = slope(-strain, -stress, 50.0, 200.0)
    assert modulus / 1000 == pytest.approx(216.5, abs=0.05)


@pytest.mark.published(
    where="bezborodow, stress-strain, README: St1594.csv, UTS 497.018 MPa",
    seen="the data file; README as quoted in tests/data/opendata/coupon-no-extensometer/SOURCE.md",
)
def test_strip_without_extensometer_gives_its_strength_and_no_modulus() -> None:
    path = DATA / "coupon-no-extensometer" / "St1594.csv"
    seen = delimited.understand(path)
    assert seen.questions == ()
    assert (seen.names_rows, seen.units_row, seen.first_data_row) == ((13,), 14, 15)
    assert seen.head_rows[6] == "Specimen properties : Area,33.93,mm^2,,"
    values, reading = read(path, seen.layout())
    assert reading.report.rows_kept == 1_285
    stress = values["Tensile stress"].to_numpy()
    strain = values["Tensile strain (Strain 1)"].to_numpy()
    assert stress.max() == pytest.approx(497.018, abs=0.0005)
    # The printed E of 159.55 GPa isn't credible for steel; the slope depends on the window.
    windows = [(10.0, 50.0), (50.0, 150.0), (100.0, 200.0)]
    found = [slope(strain, stress, *window) / 1000 for window in windows]
    assert found == [pytest.approx(v, abs=0.5) for v in (201, 173, 153)]


def pulled(folder: Path, piece: str) -> tuple[np.ndarray, np.ndarray]:
    """Force and strain of a piece of S355."""
    path = unpacked(folder, f"s355-tensile/{piece}.csv")
    values, _ = read(path, delimited.understand(path).layout())
    return values["Load"].to_numpy() * 1000, values["Extensometer elongation"].to_numpy() / 100


def worth(area_mm2: float) -> coupon.CouponInputs:
    """Invented calibrations: half a per cent each as standard uncertainty of the two scales."""
    return coupon.CouponInputs(
        "piece",
        Uncertain.from_input(area_mm2 * 1e-6, InputQuantity("area", area_mm2 * 1e-9)),
        Uncertain.from_input(1.0, InputQuantity("force calibration", 0.005)),
        Uncertain.from_input(1.0, InputQuantity("extensometer", 0.005)),
    )


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; S355_data.csv: "
    "Zx2 with E 199 GPa, Rp0.2 374 MPa, Rm 504 MPa",
    seen=S355_SEEN,
)
def test_evaluation_of_a_straight_record(tmp_path) -> None:
    force, strain = pulled(tmp_path, "Zx2")
    found = coupon.coupon_values(force, strain, worth(120.444), 60e6, 180e6)
    assert found.doubts == ()
    # The simple fit of the same range by other code, to its last digit.
    assert found.elastic_modulus.value / 1e9 == pytest.approx(197.5, abs=0.05)
    assert found.proof_strength.value / 1e6 == pytest.approx(373.5, abs=0.05)
    assert found.tensile_strength.value / 1e6 == pytest.approx(503.7, abs=0.05)
    assert found.axis_offset.value == pytest.approx(-0.00070, abs=1e-5)
    # The table's range of stress isn't known; its modulus lies within the expanded uncertainty.
    assert abs(found.elastic_modulus.value / 1e9 - 199) < found.elastic_modulus.expanded() / 1e9
    assert found.proof_strength.value / 1e6 == pytest.approx(374, abs=0.5)
    assert found.tensile_strength.value / 1e6 == pytest.approx(504, abs=0.5)
    assert found.extensometer_rows == 12_781 - 10_861
    assert "off at maximum force" in found.missing["total_extension"]


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; S355_data.csv: "
    "Zd3 with E 195 GPa, ReH 396 MPa and no proof strength, Rm 511 MPa",
    seen=S355_SEEN,
)
def test_evaluation_of_a_kinked_record_refuses_its_modulus(tmp_path) -> None:
    force, strain = pulled(tmp_path, "Zd3")
    found = coupon.coupon_values(force, strain, worth(120.707), 40e6, 200e6)
    assert found.elastic_modulus is None
    assert found.line.local_moduli / 1e9 == pytest.approx([198, 147, 161, 188], abs=0.5)
    assert "kinked: 198, 147, 161, 188 GPa" in found.missing["elastic_modulus"]
    assert found.missing["proof_strength"] == found.missing["elastic_modulus"]
    assert found.upper_yield_strength.value / 1e6 == pytest.approx(396, abs=0.5)
    assert found.tensile_strength.value / 1e6 == pytest.approx(511, abs=0.5)
    with pytest.raises(InputError, match=r"^elastic_modulus is '163\.1 GPa by fit'; .*kinked"):
        coupon_modulus.refuse_doubtful(found.line)


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; Zd3: chord 198 GPa "
    "from 40 to 80 MPa, proof strength 395.5 MPa by the line of a blind fit",
    seen=S355_SEEN,
)
def test_below_its_kink_the_same_record_is_believed(tmp_path) -> None:
    force, strain = pulled(tmp_path, "Zd3")
    found = coupon.coupon_values(force, strain, worth(120.707), 40e6, 80e6)
    assert found.doubts == ()
    assert found.elastic_modulus.value / 1e9 == pytest.approx(198, abs=0.5)
    # The blind line is flatter and meets the plateau later; both lie between ReL and ReH.
    low, high = found.lower_yield_strength.value, found.upper_yield_strength.value
    assert low < found.proof_strength.value < high
    assert found.proof_strength.value / 1e6 == pytest.approx(395.5, abs=2.5)


@pytest.mark.published(
    where="bezborodow, stress-strain, README: St1594.csv, E 159.55 GPa, UTS 497.018 MPa",
    seen="the data file; README as quoted in tests/data/opendata/coupon-no-extensometer/SOURCE.md",
)
@pytest.mark.parametrize(("low", "high"), [(10e6, 50e6), (50e6, 150e6), (100e6, 200e6)])
def test_evaluation_of_a_coarse_record_refuses_its_modulus_in_every_range(low, high) -> None:
    path = DATA / "coupon-no-extensometer" / "St1594.csv"
    values, _ = read(path, delimited.understand(path).layout())
    force = values["Load"].to_numpy()
    strain = values["Tensile strain (Strain 1)"].to_numpy()
    found = coupon.coupon_values(force, strain, worth(33.93), low, high)
    assert found.elastic_modulus is None
    assert "strain is written in steps of 1e-05" in found.missing["elastic_modulus"]
    assert found.upper_yield_strength is None
    assert found.tensile_strength.value / 1e6 == pytest.approx(497.018, abs=0.001)


def cyclic(folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Engineering strain and stress in Pa, tension positive."""
    path = unpacked(folder, "cyclic-coupon/HEM320C_LP8.csv")
    seen = delimited.understand(path)
    signs = dict.fromkeys(("sign_7", "sign_8"), "tension")
    signs |= dict.fromkeys(("sign_9", "sign_10"), "compression")
    units = {"unit_1": "none", "unit_8": "m/m", "unit_9": "m/m", "unit_10": "MPa"}
    values, _ = read(path, seen.layout(clock="column 3", **signs, **units))
    return values["Eng_Strain"].to_numpy(), values["Eng_Stress"].to_numpy() * 1e6


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv: by another "
    "counter 248.5 cycles of strain without a gate, 3.0 of at least 1e-4, largest range 0.1015",
    seen="the data file, counted once by the PyPI package rainflow; no count is printed",
)
def test_noise_of_the_cyclic_coupon_makes_cycles_that_a_gate_leaves_out(tmp_path) -> None:
    strain, _ = cyclic(tmp_path)
    every, gated = cycles.rainflow_cycles(strain), cycles.rainflow_cycles(strain, gate=1e-4)
    assert np.sum(every.counts) == 248.5
    assert np.sum(gated.counts) == 3.0
    assert gated.ranges.max() == pytest.approx(0.1015, abs=5e-5)
    assert every.ranges.max() == gated.ranges.max()


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv: 216.5 GPa from 50 "
    "to 200 MPa of the first loading, which is compression, 300 points",
    seen=CYCLIC_SEEN,
)
def test_first_loading_of_the_cyclic_coupon_in_compression(tmp_path) -> None:
    strain, stress = cyclic(tmp_path)
    line = coupon_modulus.elastic_line(-strain, -stress, 50e6, 200e6)
    assert line.samples == 300
    assert line.elastic_modulus / 1e9 == pytest.approx(216.5, abs=0.05)


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv: stress of a "
    "history from -0.0622 to +0.0393, the cyclic law fitted to it",
    seen="the data file; no fit is printed, so the record itself is what the law is held against",
)
def test_the_cyclic_law_comes_near_the_cyclic_coupon(tmp_path) -> None:
    pytest.importorskip("numba")
    strain, stress = cyclic(tmp_path)
    fit = steel_fit.fitted_cyclic_steel(strain, stress, 216.5e9, gate=1e-4, fast=True)
    assert fit.settled
    assert fit.samples == 8_434
    follows, _ = steel_cyclic.cyclic_stress(strain, fit.steel, gate=1e-4)
    assert fit.misfit == pytest.approx(np.sqrt(np.mean((follows - stress) ** 2)), rel=1e-6)
    # A twentieth of the greatest stress is what such a law can be trusted with at best.
    assert fit.misfit < 623.4e6 / 20
    assert fit.determination > 0.99


# Each law with numbers that come near the record, and its misfit in MPa by the formulas below.
BEST = {
    "bilinear": (
        lambda e, modulus: steel.bilinear_stress(e, modulus, 357.9e6, 2.293e9),
        6.5,
    ),
    "Ramberg-Osgood": (
        lambda e, modulus: steel_curves.ramberg_osgood_stress(e, modulus, 352.25e6, 15.15),
        11.6,
    ),
    "Mander": (
        lambda e, modulus: steel_plateau.mander_stress(
            e,
            modulus,
            372.95e6,
            446.1e6,
            hardening_strain=0.01255,
            hardening_onset_modulus=3.508e9,
            ultimate_strain=0.04344,
        ),
        6.3,
    ),
    "elastic and level": (lambda e, modulus: steel.bilinear_stress(e, modulus, 401.84e6), 25.2),
}


def written_out(e: np.ndarray, modulus: float) -> dict[str, np.ndarray]:
    """Stress by the formula of each law, without the package."""
    stresses = np.linspace(0.0, 700e6, 70_001)
    of_stress = stresses / modulus + 0.002 * (stresses / 352.25e6) ** 15.15
    power = 3.508e9 * (0.04344 - 0.01255) / (446.1e6 - 372.95e6)
    rest = np.clip((0.04344 - e) / (0.04344 - 0.01255), 0.0, 1.0)
    return {
        "bilinear": np.minimum(modulus * e, 357.9e6 + 2.293e9 * (e - 357.9e6 / modulus)),
        "Ramberg-Osgood": np.interp(e, of_stress, stresses),
        "Mander": np.minimum(modulus * e, 446.1e6 - (446.1e6 - 372.95e6) * rest**power),
        "elastic and level": np.minimum(modulus * e, 401.84e6),
    }


@pytest.mark.published(
    where="Schilling et al., Advanced Engineering Materials 2024, 2400138; record of Zx2 up to 4 % "
    "strain, beside each law with stated numbers, its formula written out here once more",
    seen="the data files; formulas of Ramberg-Osgood and of Mander's hardening from memory",
)
def test_how_near_each_law_comes_to_a_coupon(tmp_path) -> None:
    """The figures of the explanation on laws of the steel."""
    force, strain = pulled(tmp_path, "Zx2")
    found = coupon.coupon_values(force, strain, worth(120.444), 60e6, 180e6)
    stress, modulus = force / 120.444e-6, float(found.elastic_modulus.value)
    e = strain - float(found.axis_offset.value)
    known = np.isfinite(e) & np.isfinite(stress) & (e > 0)
    order = np.argsort(e[known])
    # Even in strain, so that the slow elastic part doesn't outweigh the rest.
    at = np.linspace(0.0005, 0.0397, 600)
    seen = np.interp(at, e[known][order], stress[known][order])

    def left_over(law: np.ndarray) -> float:
        return float(np.sqrt(np.nanmean((law - seen) ** 2)) / 1e6)

    apart = written_out(at, modulus)
    for name, (law, printed) in BEST.items():
        assert left_over(apart[name]) == pytest.approx(printed, abs=0.1), name
        assert left_over(law(at, modulus)) == pytest.approx(left_over(apart[name]), abs=0.01), name
    table = coupon_curve.tabulated_curve(strain, stress, found.line)
    own = steel_table.coupon_curve_stress(at, *table)
    assert left_over(own.stress) < 0.2
    # No law with a sharp corner follows the knee of a piece without a plateau.
    knee = np.argmin(np.abs(at - 0.0019))
    for name in ("Mander", "bilinear"):
        law, _ = BEST[name]
        assert abs(law(at, modulus)[knee] - seen[knee]) > 35e6
