"""Fixtures of the store's tests: a campaign in a folder of its own, and a file to import."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from gaugewright.store.campaign import CampaignStore
from tests.store import invented


@pytest.fixture
def original(tmp_path: Path) -> Path:
    path = tmp_path / "received.csv"
    path.write_bytes(b"Time;G1;G2\r\nrow 0;0;OVL\r\n")
    return path


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    with invented.new_store(tmp_path / "campaign") as opened:
        yield opened


@pytest.fixture
def filled(tmp_path: Path, original: Path) -> Iterator[CampaignStore]:
    with invented.filled_store(tmp_path / "campaign", original) as opened:
        yield opened
