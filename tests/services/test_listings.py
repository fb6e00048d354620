"""Lists of records: what is on the page, in CSV and in JSON is the same number."""

import csv
import io

import pytest

from gaugewright.errors import InputError
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.showing import listings
from gaugewright.services.showing.listings import Column, Doubted, Listing

LISTING = Listing(
    "warm",
    "Warm",
    (Column("gauge"), Column("at", "temperature_degc"), Column("long", "distance"), Column("n")),
    (
        ("=G1", Stated(20.0, 5.0, Meaning.LIMIT), 0.0127, 3),
        ("G2", None, Doubted(0.0254, 0.00254), 0.5),
    ),
    "nothing",
)


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def test_csv_has_each_plus_minus_beside_its_number_and_no_formula() -> None:
    heads, first, second = read(listings.listing_csv(LISTING, "si"))
    assert heads == [
        "gauge",
        "at [°C]",
        "± of at [°C]",
        "meaning of ± of at",
        "long [mm]",
        "± of long [mm]",
        "meaning of ± of long",
        "n",
    ]
    assert first == ["'=G1", "20.0", "5.0", "limit", "12.7", "", "", "3"]
    assert second[1:4] == ["", "", ""]
    assert [float(second[4]), float(second[5])] == pytest.approx([25.4, 2.54])
    assert second[6] == "expanded, 95 %"


def test_a_doubt_in_fahrenheit_has_no_offset() -> None:
    first = read(listings.listing_csv(LISTING, "us"))[1]
    assert float(first[1]) == pytest.approx(68.0)
    assert float(first[2]) == pytest.approx(9.0)
    assert listings.cell_text(LISTING.rows[0][1], "temperature_degc", "si") == "20.0 ± 5.0"


def test_machines_get_si_and_an_unknown_list_is_refused() -> None:
    told = listings.plain(LISTING)
    assert told["columns"][2]["unit"] == "m"
    assert told["rows"][1][2] == {
        "value": 0.0254,
        "expanded_uncertainty": 0.00254,
        "coverage": 0.95,
    }
    with pytest.raises(InputError, match="one of warm"):
        listings.named((LISTING,), "cold")
