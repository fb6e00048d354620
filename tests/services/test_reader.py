"""A script opens a campaign by its folder and asks by label; nothing is written."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gaugewright
from gaugewright.errors import InputError, StoreError
from gaugewright.records.electrical import BridgeCircuit, Topology
from gaugewright.records.gauges import Gauge, ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.results import Result
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.records.stated import Meaning, Stated

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v, exact = _tiny.BEGINS, _tiny.divider_mv_per_v, _tiny.exact
CURVE = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT))


@pytest.fixture
def pulled(tiny):
    """G-T at 500 µm/m in every row; G-U is wired and was never read."""
    pack = tiny.store.entry(tiny.uid["pack"])
    card = replace(pack.record, thermal_output=CURVE)
    tiny.store.revise(pack.uid, pack.version, card, reason="card typed in")
    zero = (ZeroKind.BEFORE_TEST, tiny.uid["connection G-T"], exact(0.0), exact(20.0), BEGINS)
    tiny.add("zero", Zero(*zero))
    rows = np.zeros(30)
    tiny.record("day", BEGINS, {"G-T": divider_mv_per_v(rows + 500e-6), "T": rows + 20.0})
    return tiny


def test_strain_comes_with_its_instants_and_its_doubt_and_stays_after_closing(pulled):
    with gaugewright.open_campaign(str(pulled.store.folder)) as campaign:
        assert campaign.gauges == ("G-T", "G-U")
        found = campaign.strain("G-T")
    assert found.strain == pytest.approx(np.full(30, 500e-6), rel=1e-6)
    assert found.instant[0] == np.datetime64(BEGINS.replace(tzinfo=None))
    assert np.all(np.diff(found.instant) == np.timedelta64(1, "s"))
    assert found.zero == "before test"
    uncertain = found.uncertain([3, 4])
    assert uncertain.value == pytest.approx(found.strain[3:5])
    assert np.all(uncertain.standard_uncertainty() > 0)


def test_records_are_had_by_kind_and_label_and_nothing_is_written(pulled):
    before = pulled.store.head()
    with gaugewright.open_campaign(pulled.store.folder) as campaign:
        assert campaign.labelled(Gauge, "G-U").uid == pulled.uid["G-U"]
        assert campaign.label(pulled.uid["G-U"]) == "G-U"
        assert campaign.entries(Result) == campaign.results() == campaign.results("force") == ()
        with pytest.raises(StoreError):
            campaign._store.add(Specimen("another", SpecimenKind.BARE_METAL))
    assert pulled.store.head() == before


def test_of_several_circuits_of_a_gauge_the_one_called_like_it_is_meant(pulled):
    circuit = pulled.store.entry(pulled.uid["circuit G-T"])
    again = replace(circuit.record, label="again", topology=Topology.QUARTER_THREE_WIRE)
    pulled.add("circuit again", again)
    with gaugewright.open_campaign(pulled.store.folder) as campaign:
        assert campaign.strain("G-T").strain.size == 30
        with pytest.raises(InputError, match="readings of circuit again"):
            campaign.strain("again")
    named = replace(circuit.record, label="first")
    pulled.store.revise(circuit.uid, circuit.version, named, reason="renamed")
    with (
        gaugewright.open_campaign(pulled.store.folder) as campaign,
        pytest.raises(InputError, match="one of its circuits instead: first, again"),
    ):
        campaign.strain("G-T")


def test_what_is_not_there_is_refused_with_what_is(pulled, tmp_path):
    with gaugewright.open_campaign(pulled.store.folder) as campaign:
        with pytest.raises(InputError, match="one of: G-T, G-U"):
            campaign.strain("G-X")
        with pytest.raises(InputError, match="one of: bare bar, before pour"):
            campaign.strain("G-T", zero="yesterday")
        with pytest.raises(InputError, match="readings of circuit G-U"):
            campaign.strain("G-U")
        gauge = campaign.labelled(Gauge, "G-U")
    loose = replace(gauge.record, label="loose", opposite=None)
    pulled.add("loose", loose)
    with gaugewright.open_campaign(pulled.store.folder) as campaign:
        assert len(campaign.entries(BridgeCircuit)) == 2
        with pytest.raises(InputError, match="circuit of loose is not given"):
            campaign.strain("loose")
    with pytest.raises(InputError, match="the folder of a campaign"):
        gaugewright.open_campaign(tmp_path)
