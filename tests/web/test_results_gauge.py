"""A gauge under load on its sheet: what stands there is what the service found."""

import csv
import dataclasses
import io
import math
import re
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pytest
from starlette.testclient import TestClient

from gaugewright.present.axes import Axis
from gaugewright.present.plots import Curve, Plot, drawn, frame_of
from gaugewright.records.identity import working_context
from gaugewright.services.campaign.book import Book
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.gauge import named as gauge_named
from gaugewright.services.gauge import plots as gauge_plots
from gaugewright.services.gauge import predicted as gauge_predicted
from gaugewright.services.gauge.look import GaugeLook
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.gauge_marks import marked
from gaugewright.web.pages import results_gauge
from tests.web.reading import links, rows, words

GAUGE = "/c/demo/results/gauges/L2-M-T"


@pytest.fixture(scope="module")
def look(demo_campaign: Path) -> GaugeLook:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        return gauge_look.look_at(Desk(store, Book.read(store)), "L2-M-T")


def part(text: str, key: str) -> str:
    return text.partition(f'id="{key}"')[2].partition("</section>")[0]


def test_results_name_the_sheets_and_they_open(reader: TestClient) -> None:
    found = [url for url, _ in links(part(reader.get("/c/demo/results").text, "close-up"))]
    assert "/c/demo/results/gauges" in found
    assert "/c/demo/results/events" in found
    for url in found:
        assert reader.get(url).status_code == 200, url


def test_every_gauge_and_pair_of_the_list_has_its_sheet(
    reader: TestClient, demo_campaign: Path
) -> None:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        singles, pairs = gauge_named.labels(Desk(store, Book.read(store)))
    listed = [url for url, _ in links(reader.get("/c/demo/results/gauges").text)]
    wanted = [f"/c/demo/results/gauges/{quote(label, safe='')}" for label in (*singles, *pairs)]
    assert [url for url in listed if "/results/gauges/" in url] == sorted(
        wanted, key=[url for url in listed if "/results/gauges/" in url].index
    )
    for url in (wanted[0], wanted[-1]):
        assert reader.get(url).status_code == 200


def test_events_stand_in_their_table_with_the_load_and_its_doubt(
    reader: TestClient, look: GaugeLook
) -> None:
    table = rows(part(reader.get(GAUGE).text, "events"))[1:]
    assert len(table) == len(look.events)
    for row, event in zip(table, look.events, strict=True):
        assert row[0].startswith(f"{event.kind} by {event.name}")
        if event.load is None:
            assert row[1] == "–"
            assert event.note in row[0]
        else:
            number = float(re.sub(r"[^0-9.]", "", row[1].partition("±")[0]))
            assert number == pytest.approx(event.load.value.item() / 1e3, rel=0.01)
            assert "±" in row[1]


def test_predicted_curve_has_its_band_and_kept_numbers_lead_to_their_budgets(
    reader: TestClient, look: GaugeLook
) -> None:
    samples = gauge_predicted.with_prediction(look.record, gauge_plots.samples_of(look))
    curve = gauge_plots.under_load(look, samples, "si").plot.curves[1]
    assert curve.label == "predicted"
    assert curve.doubt_of == "x"
    known = np.isfinite(curve.x)
    assert known.any()
    assert np.all(curve.plus_minus[known] > 0)
    text = reader.get(GAUGE).text
    budgets = [(url, name) for url, name in links(text) if "/results/budget/" in url]
    assert any("yield load" in name and "L2-M-T" in name for _, name in budgets)
    for url, _ in budgets:
        assert "L2-M-T" in reader.get(url).text


def test_an_instant_is_shown_without_a_script(reader: TestClient, look: GaugeLook) -> None:
    samples = gauge_plots.samples_of(look)
    place = int(np.nanargmax(np.where(np.isfinite(samples.strain), samples.load, np.nan))) - 20
    while not (math.isfinite(samples.strain[place]) and math.isfinite(samples.load[place])):
        place -= 1
    text = reader.get(GAUGE, params={"at": place}).text
    seen = re.sub(r"\s", "", words(part(text, "instant")))
    strain = f"{samples.strain[place] * 1e6:.0f}"
    assert re.search(rf"Strain[−-]?{strain[:2]}", seen.replace("−", ""))
    marks = re.findall(r'data-at><line class="ln-next" x1="([^"]+)"', text)
    assert len(marks) >= 4  # wide and narrow of two plots or more
    assert any(float(x) > 0 for x in marks)


def test_script_gets_every_sample_in_words_and_places(reader: TestClient) -> None:
    told = reader.get(GAUGE, params={"numbers": "plots"}).json()
    size = len(told["words"]["load"])
    assert all(len(column) == size for column in told["words"].values())
    for name, (x, y) in told["places"].items():
        assert len(x) == len(y) == size, name
    for kind in ("wide", "narrow"):
        frame = told["frames"]["load"][kind]
        assert frame["across"][0] < frame["across"][1]
        assert frame["x"][0] < frame["x"][1]


def test_numbers_of_the_drawing_are_a_table_for_other_programs(
    reader: TestClient, look: GaugeLook
) -> None:
    answer = reader.get(GAUGE, params={"numbers": "samples"})
    table = list(csv.reader(io.StringIO(answer.text)))
    samples = gauge_plots.samples_of(look)
    assert len(table) == samples.rows.size + 1
    at = table[0].index("load [N]")
    assert float(table[5][at]) == pytest.approx(float(samples.load[4]))


@pytest.mark.parametrize("address", [f"{GAUGE}?at=100000", f"{GAUGE}?at=-1"])
def test_an_instant_that_isnt_there_is_refused(reader: TestClient, address: str) -> None:
    assert reader.get(address).status_code == 422


def test_a_gauge_that_isnt_there_is_told(reader: TestClient) -> None:
    assert reader.get("/c/demo/results/gauges/G99").status_code == 404


def test_events_of_all_gauges_have_a_table_a_criterion(reader: TestClient) -> None:
    text = reader.get("/c/demo/results/events").text
    assert "All usable gauges together" in words(text)
    for key in ("cracking-step", "cracking-bend", "yield-strain", "yield-departure"):
        assert part(text, key), key


def test_a_campaign_that_isnt_reduced_says_what_to_do(client: TestClient) -> None:
    text = words(client.get("/c/beam/results/gauges").text)
    assert "once their readings are reduced" in text
    assert "results/gauges" not in client.get("/c/beam/results").text


def test_contexts_are_frozen_and_have_what_their_templates_take() -> None:
    for kind in (
        results_gauge.ResultsGaugePage,
        results_gauge.GaugesPage,
        results_gauge.EventsPage,
    ):
        assert kind.__dataclass_params__.frozen
        assert "sheet" in {field.name for field in dataclasses.fields(kind)}


def test_a_mark_stands_where_the_frame_puts_its_number() -> None:
    line = Curve("", np.array([0.0, 10.0]), np.array([0.0, 5.0]))
    plot = Plot(Axis("x", ""), Axis("y", ""), "a line", (line,))
    made, frames = marked("a", (plot, plot), ("", ""), ((800.0, 400.0), (360.0, 360.0)), (5.0, 2.5))
    frame = frame_of(plot, 800, 400)
    x, y = frame.at(5.0, 2.5)
    assert f'cx="{x:.1f}" cy="{y:.1f}"' in made.wide
    assert frames["wide"]["across"] == (frame.left, frame.right)
    assert made.wide.startswith(drawn(plot, 800, 400).removesuffix("</svg>"))


def test_a_mark_without_a_number_waits_outside() -> None:
    line = Curve("", np.array([0.0, 10.0]), np.array([0.0, 5.0]))
    plot = Plot(Axis("x", ""), Axis("y", ""), "a line", (line,))
    made, _ = marked("a", (plot, plot), ("", ""), ((800.0, 400.0), (360.0, 360.0)), (None, None))
    assert 'cx="-100.0"' in made.wide
