"""Addresses of records: one place knows how a gauge's page is called."""

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

if TYPE_CHECKING:
    from gaugewright.web.rooms import Room

__all__ = ["GaugeLink", "gauge_url"]


@dataclass(frozen=True, slots=True)
class GaugeLink:
    """A gauge as other pages name it: label, address of its page, state."""

    label: str
    url: str
    state: str


def gauge_url(room: "Room", label: str) -> str:
    """Address of a gauge's page; a label may hold anything a person can type."""
    return room.url(f"gauges/{quote(label, safe='')}")
