"""What of a campaign may change later: its name and units, not what its readings rest on."""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.services.campaign.changes import changed

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)


def test_title_and_units_change_as_a_new_version_with_both_told(tiny):
    before = tiny.store.campaign
    kept = changed(tiny.store, title=" Bar pulled ", units="us")
    assert kept.version == before.version + 1
    assert kept.record == replace(before.record, title="Bar pulled", units="us")
    assert kept.reason == "changed: title Bar pulled; units us"
    assert tiny.store.campaign.record.units == "us"


def test_the_zone_changes_only_before_readings_are_in(tiny):
    assert changed(tiny.store, zone="Asia/Tokyo").record.zone == "Asia/Tokyo"
    tiny.record("test", _tiny.BEGINS + timedelta(hours=1), {"P": np.arange(9.0)})
    with pytest.raises(InputError, match="their stamps were read by it"):
        changed(tiny.store, zone="Europe/Rome")
    assert changed(tiny.store, units="us").record.zone == "Asia/Tokyo"


@pytest.mark.parametrize(
    ("what", "named"),
    [
        ({}, "change"),
        ({"units": "imperial"}, "units"),
        ({"zone": "Rome"}, "zone"),
        ({"title": " "}, "title"),
    ],
)
def test_nothing_and_the_impossible_are_refused(tiny, what, named):
    with pytest.raises(InputError) as caught:
        changed(tiny.store, **what)
    assert caught.value.name == named
    assert tiny.store.campaign.version == 1
