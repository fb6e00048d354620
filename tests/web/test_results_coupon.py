"""A coupon on its page: curve, lines, values, and what was refused, from the records."""

import csv
import io
import re
from pathlib import Path

import pytest
import zstandard
from starlette.testclient import TestClient

from gaugewright.cli import main
from tests.web.reading import rows

DATA = Path(__file__).parents[1] / "data" / "opendata" / "s355-tensile"


@pytest.fixture
def stated(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, client: TestClient
) -> TestClient:
    """A browser before a campaign with a straight and a kinked coupon."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no settings"))
    for piece, area, low, high in (("Zx2", "120.444", 60, 180), ("Zd3", "120.707", 40, 200)):
        path = tmp_path / f"{piece}.csv"
        packed = (DATA / f"{piece}.csv.zst").read_bytes()
        path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
        words = ["coupon", str(home / "beam"), str(path), "--area", f"{area} ± 0.1 mm²"]
        words += ["--force-class", "1", "--extensometer-class", "0.5"]
        assert main([*words, "--elastic-from", str(low), "--elastic-to", str(high)]) == 0
    return client


def test_values_and_reasons_of_a_straight_and_of_a_kinked_coupon(stated: TestClient) -> None:
    page = stated.get("/c/beam/results/coupons/Zx2").text
    table = {row[0]: row for row in rows(page.partition('id="values"')[2])}
    assert table["Modulus E"][1].startswith("197.5")
    assert table["Tensile strength Rm"][1].startswith("503.7")
    assert "off at maximum force" in table["Extension at maximum force Agt"][2]
    assert "elastic line" in page
    assert "Refused" not in page
    kinked = stated.get("/c/beam/results/coupons/Zd3").text
    assert "The line is kinked: 198, 147, 161, 188 GPa" in kinked
    assert "fitted line, refused as a modulus" in kinked
    assert "moved by 0.2" not in kinked


def test_the_list_says_which_modulus_was_refused_and_results_lead_to_it(stated: TestClient) -> None:
    page = stated.get("/c/beam/results/coupons").text
    assert "Pulled; modulus refused." in page
    assert "/c/beam/results/coupons" in stated.get("/c/beam/results").text


def test_numbers_behind_the_curve_can_be_taken(stated: TestClient) -> None:
    got = stated.get("/c/beam/results/coupons/Zx2", params={"numbers": 1})
    cells = list(csv.reader(io.StringIO(got.text.lstrip("\N{ZERO WIDTH NO-BREAK SPACE}"))))
    assert cells[0] == ["line", "strain as read, %", "stress, MPa"]
    assert len(cells) - 1 == 12_781 - 10_861
    assert stated.get("/c/beam/results/coupons/Zx2", params={"numbers": 7}).status_code == 404
    assert stated.get("/c/beam/results/coupons/nobody").status_code == 404


def test_without_a_coupon_the_list_says_how_to_state_one(client: TestClient) -> None:
    page = client.get("/c/beam/results/coupons").text
    assert "No coupon is stated yet" in page
    assert "gaugewright coupon beam FILE" in page


PULL = "time [s];force [kN];strain [%]\n" + "\n".join(
    # 100 mm², 200 GPa up to 400 MPa, then a straight rise of 10 MPa per per cent.
    f"{second}.0;{min(20 * e, 40 + (e - 2) / 10):.5f};{e / 10:.5f}"
    for second, e in enumerate([n / 100 for n in range(300)] + [n / 10 for n in range(30, 600)])
)


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser of somebody who is at work, before a copy of the demo."""
    page = writer.get("/people").text
    (chosen,) = re.findall(r'name="label" value="([^"]+)"', page)[:1]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def test_a_pasted_coupon_is_evaluated_kept_and_made_a_metal(at_work: TestClient) -> None:
    typed = {"label": "K1", "table": PULL, "area": "100 ± 0.1 mm²", "force_class": "1"}
    bounds = {"elastic_from": "50", "elastic_to": "300"}
    got = at_work.post("/c/demo/results/coupons", data={**typed, **bounds}, follow_redirects=True)
    assert got.status_code == 200, got.text
    table = {row[0]: row for row in rows(got.text.partition('id="values"')[2])}
    assert table["Modulus E"][1].startswith("200")
    new = {"material": "B400", "by": "proof", "law": "curve"}
    refused = at_work.post("/c/demo/results/coupons/K1", data=new)
    assert refused.status_code == 422
    assert "thermal expansion" in refused.text.lower()
    known = {"thermal_expansion": "11.7 ± 0.5", "poisson_ratio": "0.3 ± 0.02"}
    made = at_work.post("/c/demo/results/coupons/K1", data={**new, **known}, follow_redirects=True)
    assert made.status_code == 200, made.text
    assert "B400, version 1" in made.text


def test_a_coupon_stated_in_no_way_or_two_or_without_a_size_is_not_kept(
    at_work: TestClient,
) -> None:
    for data, words in (
        ({"label": "K2"}, "one of them"),
        ({"label": "K2", "table": PULL, "recording": "some"}, "leave the others empty"),
        ({"label": "", "table": PULL, "area": "100 mm²"}, "name of the coupon"),
        ({"label": "K2", "table": PULL}, "area"),
    ):
        got = at_work.post("/c/demo/results/coupons", data=data)
        assert got.status_code == 422
        assert words in got.text.lower()
        assert "K2</a>" not in got.text
