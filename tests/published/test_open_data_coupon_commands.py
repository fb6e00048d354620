"""The same coupons as a person has them evaluated: by command, from file to metal."""

import json
import shlex
from pathlib import Path

import numpy as np
import pytest
import rainflow
import zstandard

from gaugewright.cli import main
from gaugewright.records.coupons import CouponTest
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Material
from gaugewright.records.steel import SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.coupon import cyclic as coupon_cyclic
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.store.campaign import CampaignStore

HOW_TO = Path(__file__).parents[2] / "docs" / "how-to"
DATA = Path(__file__).parents[1] / "data" / "opendata"
S355 = (
    "Schilling et al., Advanced Engineering Materials 2024, 2400138; data set "
    "tensile-test-ontology, S355_data.csv: "
)
S355_SEEN = (
    "the data files and S355_data.csv as quoted in tests/data/opendata/s355-tensile/SOURCE.md, "
    "with a simple fit made by separate code; not the article"
)
STRIP_SEEN = (
    "the data file; README as quoted in tests/data/opendata/coupon-no-extensometer/SOURCE.md"
)
CYCLIC_SEEN = "the data file; figures of tests/data/opendata/cyclic-coupon/SOURCE.md, separate code"
MACHINE = ("--force-class", "1", "--extensometer-class", "0.5")


@pytest.fixture(autouse=True)
def nobodys_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Settings of whoever runs the tests don't count."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no settings"))
    for name in ("LABORATORY", "ZONE", "UNITS", "PERSON"):
        monkeypatch.delenv(f"GAUGEWRIGHT_{name}", raising=False)


@pytest.fixture
def campaign(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = tmp_path / "coupons"
    assert main(["new", str(folder), "--title", "Coupons", "--zone", "Europe/Berlin"]) == 0
    capsys.readouterr()
    return folder


def plain_spaces(text: str) -> str:
    """Spaces that may break a line, as a page of text has them."""
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def unpacked(folder: Path, name: str) -> Path:
    path = folder / Path(name).name
    packed = (DATA / f"{name}.zst").read_bytes()
    path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> dict:
    assert main([*map(str, words), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def value(plain: dict, key: str) -> float:
    return plain["values"][key]["value"]


@pytest.mark.published(where=S355 + "Zx2 with E 199 GPa, Rp0.2 374 MPa, Rm 504 MPa", seen=S355_SEEN)
def test_straight_record_gives_its_values_and_a_metal(campaign, tmp_path, capsys) -> None:
    path = unpacked(tmp_path, "s355-tensile/Zx2.csv")
    plain = told(
        capsys,
        *("coupon", campaign, path, "--area", "120.444 ± 0.1 mm²", *MACHINE),
        *("--elastic-from", "60", "--elastic-to", "180", "--material", "S355"),
        *("--thermal-expansion", "12 ± 1", "--poisson-ratio", "0.3"),
    )
    assert plain["doubts"] == []
    modulus, doubt = (
        plain["values"]["elastic_modulus"][key] for key in ("value", "expanded_uncertainty")
    )
    # The table's range of stress isn't known: its modulus lies within the expanded uncertainty.
    assert abs(modulus - 199e9) < doubt < 4e9
    assert modulus == pytest.approx(197.5e9, abs=0.05e9)
    assert value(plain, "proof_strength") == pytest.approx(374e6, abs=0.5e6)
    assert value(plain, "tensile_strength") == pytest.approx(504e6, abs=0.5e6)
    assert plain["extensometer_rows"] == 12_781 - 10_861
    assert value(plain, "total_extension") is None
    assert "off at maximum force" in plain["values"]["total_extension"]["how"]
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        entry = store.labelled(Material, "S355")
    metal = entry.record
    assert metal.law is SteelLaw.COUPON_CURVE
    assert metal.yield_strength.value == value(plain, "proof_strength")
    # On the metal's curve the proof strength lies 0.2 % beside the elastic line, within the width
    # of one class of the table there.
    strain = metal.yield_strength.value / metal.elastic_modulus.value + 0.002
    at = float(np.interp(strain, metal.curve.strain, metal.curve.stress))
    assert at == pytest.approx(metal.yield_strength.value, rel=0.005)
    assert "coupon curve" in law_of(entry).words
    again = told(capsys, "results", "coupon", campaign, "Zx2")
    assert again["coupons"][0]["values"] == plain["values"]


@pytest.mark.published(
    where=S355 + "Zd3 with E 195 GPa, ReH 396 MPa and no proof strength, Rm 511 MPa",
    seen=S355_SEEN,
)
def test_kinked_record_is_refused_with_the_reason_and_makes_no_metal(
    campaign, tmp_path, capsys
) -> None:
    path = unpacked(tmp_path, "s355-tensile/Zd3.csv")
    words = ("coupon", campaign, path, "--area", "120.707 mm²", *MACHINE)
    plain = told(capsys, *words, "--elastic-from", "40", "--elastic-to", "200")
    assert value(plain, "elastic_modulus") is None
    assert "kinked: 198, 147, 161, 188 GPa" in plain["values"]["elastic_modulus"]["how"]
    assert value(plain, "proof_strength") is None
    assert value(plain, "upper_yield_strength") == pytest.approx(396e6, abs=0.5e6)
    assert value(plain, "tensile_strength") == pytest.approx(511e6, abs=0.5e6)
    assert "doubt of the area: none was stated" in plain["not_in_uncertainty"]
    again = ["coupon", str(campaign), "Zd3", "--area", "120.707 mm²", "--elastic-from", "40"]
    assert main([*again, "--elastic-to", "200", "--material", "S355"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("modulus of coupon Zd3 is 'refused'")
    assert "kinked" in said
    below = told(
        capsys, *words[:2], "Zd3", *words[3:], "--elastic-from", "40", "--elastic-to", "80"
    )
    assert value(below, "elastic_modulus") == pytest.approx(198e9, abs=0.5e9)


@pytest.mark.published(
    where="bezborodow, stress-strain, README: St1594.csv, E 159.55 GPa, UTS 497.018 MPa",
    seen=STRIP_SEEN,
)
@pytest.mark.parametrize(("low", "high"), [("10", "50"), ("50", "150"), ("100", "200")])
def test_quantised_record_is_refused_in_every_range(campaign, capsys, low, high) -> None:
    path = DATA / "coupon-no-extensometer" / "St1594.csv"
    plain = told(
        capsys,
        *("coupon", campaign, path, "--width", "11.7 mm", "--thickness", "2.9 ± 0.01 mm"),
        *("--elastic-from", low, "--elastic-to", high),
    )
    assert value(plain, "elastic_modulus") is None
    assert "strain is written in steps of 1e-05" in " ".join(plain["doubts"])
    assert value(plain, "tensile_strength") == pytest.approx(497.018e6, abs=500)


def cyclic_imported(campaign: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = unpacked(folder, "cyclic-coupon/HEM320C_LP8.csv")
    signs = {"Eng_Strain": "tension", "Eng_Stress": "tension"}
    signs |= {"e_true": "compression", "Sigma_true": "compression"}
    units = {"S/No": "none", "Eng_Strain": "m/m", "e_true": "m/m", "Sigma_true": "MPa"}
    words = [word for name, sign in signs.items() for word in ("--sign", f"{name}={sign}")]
    words += [word for name, unit in units.items() for word in ("--unit", f"{name}={unit}")]
    begin = [
        "import",
        str(campaign),
        str(path),
        "--label",
        "cyclic",
        "--epoch",
        "none",
        "--clock",
        "3",
    ]
    assert main([*begin, "--zone", "none", *words, "--yes"]) == 0
    capsys.readouterr()


FIT = (
    *("--force-column", "Eng_Stress", "--strain-column", "Eng_Strain"),
    *("--elastic-from", "50", "--elastic-to", "200", "--gate", "100"),
)


@pytest.mark.published(
    where="Hartloper, rlmtp, Examples/HEM320C-LP8_Specimen_1_processed_data.csv: E 216.5 GPa from "
    "50 to 200 MPa of the first loading; by another counter 248.5 cycles of strain, 3.0 of at "
    "least 1e-4, largest range 0.1015; stress to 623.4 MPa",
    seen=CYCLIC_SEEN + "; no fit is printed, so the record is what the law is held against",
)
def test_cyclic_coupon_by_command(campaign, tmp_path, capsys) -> None:
    pytest.importorskip("numba")
    cyclic_imported(campaign, tmp_path, capsys)
    plain = told(capsys, "results", "cyclic-fit", campaign, "cyclic", *FIT)
    assert plain["first_loading"] == "compression"
    assert plain["steel"]["elastic_modulus"] == pytest.approx(216.5e9, abs=0.05e9)
    assert (plain["cycles_without_gate"], plain["cycles"]) == (248.5, 3.0)
    assert plain["largest_range"] == pytest.approx(0.1015, abs=5e-5)
    assert plain["settled"]
    # A twentieth of the greatest stress is what such a law can be trusted with at best.
    assert plain["misfit_pa"] < 623.4e6 / 20
    assert plain["determination"] > 0.99
    assert main(["coupon", str(campaign), "cyclic", *FIT[:8]]) == 2
    assert "results cyclic-fit" in capsys.readouterr().err


@pytest.mark.published(
    where="PyPI package rainflow, extract_cycles, the cyclic coupon of rlmtp: the same cycles one "
    "by one, a second opinion",
    seen="the package, run here on the same record",
)
def test_every_cycle_of_the_cyclic_coupon_is_that_of_another_counter(
    campaign, tmp_path, capsys
) -> None:
    pytest.importorskip("numba")
    cyclic_imported(campaign, tmp_path, capsys)
    told(capsys, "results", "cyclic-fit", campaign, "cyclic", *FIT)
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        book = Book.read(store)
        found = coupon_cyclic.cyclic_coupon(store, book, book.labelled(CouponTest, "cyclic"))
    theirs = sorted((c[0], c[1], c[2]) for c in rainflow.extract_cycles(found.strain))
    ours = sorted(zip(found.every.ranges, found.every.means, found.every.counts, strict=True))
    assert np.array(ours) == pytest.approx(np.array(theirs), abs=1e-15)


@pytest.mark.published(
    where=S355 + "Zx2 with E 199 GPa, Rp0.2 374 MPa, Rm 504 MPa, as the how-to prints them",
    seen=S355_SEEN,
)
def test_the_how_to_prints_what_the_command_prints(campaign, tmp_path, capsys) -> None:
    page = (HOW_TO / "evaluate-a-coupon.md").read_text(encoding="utf-8")
    (command,) = [line for line in page.splitlines() if line.startswith("gaugewright coupon ")]
    words = shlex.split(command)[1:]
    words[1:3] = [str(campaign), str(unpacked(tmp_path, "s355-tensile/Zx2.csv"))]
    assert main(words) == 0
    printed = plain_spaces(capsys.readouterr().out.partition("\n\n")[0])
    assert f"```text\n{printed}\n```" in page
