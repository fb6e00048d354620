"""A real bridge's record from its file through import, clocks and chain to strain.

Gauge and wiring of that bridge aren't documented, so the chain here holds what can be said: a
linear instrument set to the gauge factor of the gauge, no lead, the recorder's own zero. What the
chain may change is the bridge's nonlinearity, below 1e-4 µm/m at 8 µm/m.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import zstandard

from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
    ReadingKind,
)
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Clock
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.long_run import term as long_term
from gaugewright.services.reading import readings
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.services.strain.strains import Desk
from gaugewright.sources import delimited

DATA = Path(__file__).parents[1] / "data" / "opendata" / "bridge-settlement"
ARRIVED = datetime(2022, 4, 1, tzinfo=UTC)
EXACT = Stated(0.0, 0.0, Meaning.LIMIT)


@pytest.fixture
def bridge(tiny):
    """Records of one gauge on one strain channel, and a thermometer on a recorder of its own."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, -20.0, 60.0, EXACT)
    tiny.store.revise(
        pack.uid, pack.version, replace(pack.record, thermal_output=curve), reason="none known"
    )
    lead = tiny.add("no lead", Lead("none", 3, 1.0, EXACT, 20.0))
    circuit = tiny.store.entry(tiny.uid["circuit G-T"])
    tiny.store.revise(
        circuit.uid, circuit.version, replace(circuit.record, lead=lead), reason="not documented"
    )
    one = Stated(1.0, 0.0, Meaning.LIMIT)
    tiny.add("strain recorder", Instrument("S", "of the data set", one, 0.0, EXACT, True))
    tiny.add("air recorder", Instrument("A", "of the data set", one, 0.0, EXACT, True))
    strain = tiny.add("strain", Channel("strain", tiny.uid["strain recorder"], 0, "DMS_CN"))
    setting = ChannelSetting(strain, ReadingKind.STRAIN_LINEAR, "µm/m", set_gauge_factor=2.0)
    connection = tiny.add(
        "on strain",
        Connection(circuit.uid, strain, tiny.add("strain setting", setting), ARRIVED),
    )
    tiny.store.add(Zero(ZeroKind.BEFORE_TEST, connection, EXACT, Stated(1.6, 0.1), ARRIVED))
    return tiny


def brought(bridge, name, recorder, date_order):
    """Import one file as a person would, its stamps trusted; returns the recording."""
    path = DATA / name
    if not path.exists():
        path = bridge.store.folder.parent / name
        packed = (DATA / f"{name}.zst").read_bytes()
        path.write_bytes(zstandard.ZstdDecompressor().decompress(packed))
    answers = {"date_order": date_order, "zone": "Europe/Berlin"}
    seen = delimited.understand(path)
    asked = {question.field for question in seen.questions}
    layout = seen.layout(**{field: value for field, value in answers.items() if field in asked})
    return readings.bring_in(
        bridge.store,
        path,
        layout,
        label=name,
        instrument=bridge.uid[recorder],
        clock=Clock(f"clock of {recorder}", "Europe/Berlin", 0.001),
        joint=ByStamps(0.05, "stamps of the data set"),
    ).entry.record


@pytest.fixture
def read_in(bridge):
    """Strain and air temperature imported and connected; the bridge, and what was imported."""
    strain_file = brought(
        bridge, "ref_support_load_01_strain.csv", "strain recorder", "yyyy-dd-mm hh:mm:ss.f"
    )
    air_file = brought(bridge, "ref_load_01_airtemp.csv", "air recorder", "dd.mm.yyyy hh:mm:ss.f")
    column = next(c.name for c in air_file.columns if c.role == "value")
    channel = bridge.add("air", Channel("air", bridge.uid["air recorder"], 0, column))
    setting = bridge.add("air setting", ChannelSetting(channel, ReadingKind.OTHER, "°C"))
    bridge.store.add(Connection(bridge.uid["T"], channel, setting, ARRIVED))
    return bridge, strain_file, air_file


def test_the_bridge_record_keeps_its_figures_through_import_and_chain(read_in):
    bridge, strain_file, air_file = read_in
    assert (strain_file.rows, air_file.rows) == (72_000, 719)

    desk = Desk(bridge.store, Book.read(bridge.store))
    found = desk.strain(desk.book.labelled(BridgeCircuit, "G-T"), ZeroKind.BEFORE_TEST)
    shown = found.strain * 1e6
    # The thermometer began 1.1 s after the gauge: no strain where no temperature is known.
    assert 100 <= np.isnan(shown).sum() <= 230
    known = shown[np.isfinite(shown)]
    # Figures of tests/data/opendata/bridge-settlement/SOURCE.md.
    assert np.std(np.diff(known)) / np.sqrt(2) == pytest.approx(0.197, abs=0.001)
    assert known.max() == pytest.approx(8.45, abs=0.005)
    raw = bridge.store.readings(found.pieces[0].stretch.recording.uid).values("dms_cn_um_per_m")
    assert raw[found.time - found.time[0] < 10].mean() == pytest.approx(-0.298, abs=0.0005)
    np.testing.assert_allclose(known, raw[np.isfinite(shown)], atol=1e-4)
    assert desk.series(bridge.uid["T"]).value.min() == pytest.approx(1.6, abs=0.01)
    assert desk.series(bridge.uid["T"]).value.max() == pytest.approx(2.0, abs=0.05)


def test_twelve_minutes_of_a_bridge_show_no_season_and_say_why(read_in):
    bridge = read_in[0]
    look = long_term.look_at(Desk(bridge.store, Book.read(bridge.store)), "G-T")
    assert [segment.border for segment in look.segments] == [None]
    assert (look.gaps, look.turns) == ((), ())
    season, temperature = look.fits
    assert season.found is None
    assert [words.partition(":")[0] for words in season.why] == [
        "no cycle of a year",
        "no cycle of a day",
    ]
    # Steady change and 0.4 kelvin in twelve minutes explain next to nothing of four crossings.
    assert temperature.found.share < 0.05
    each = temperature.found.coefficients[-1]
    doubt = temperature.found.standard_uncertainties[-1]
    known = np.isfinite(look.strain.strain)
    warm = bridge_air(bridge).at(look.strain.time[known])
    columns = np.column_stack([np.ones(warm.size), look.strain.time[known], warm])
    columns[:, 1:] -= columns[:, 1:].mean(axis=0)
    other = np.linalg.lstsq(columns, look.strain.strain[known], rcond=None)[0][-1]
    # The library fits every reading, the service means over a 28th of a second.
    assert each == pytest.approx(other, abs=0.05 * doubt)


def bridge_air(bridge):
    return Desk(bridge.store, Book.read(bridge.store)).series(bridge.uid["T"])
