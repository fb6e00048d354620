"""Plots of strains that take seconds to work out: drawn once for each state of the records."""

import hashlib
import json
import math
import shutil
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.plots import Curve, drawn
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import SOFTWARE
from gaugewright.services.handover.figures import (
    Drawing,
    bar_drawings,
    gauge_drawings,
    service_step,
)
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore, JournalHead

__all__ = ["KeptDrawing", "Samples", "drawings", "kept"]

WIDE, NARROW = 800.0, 360.0
_LAYOUT = 3  # goes up when what is kept changes
# Strains of one drawing fill the memory of a small machine; two at once gain nothing.
_one_at_a_time = threading.Lock()


@dataclass(frozen=True, slots=True)
class Samples:
    """The numbers behind a curve in shown units; None where one is missing."""

    label: str
    x: tuple[float | None, ...]
    y: tuple[float | None, ...]
    plus_minus: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class KeptDrawing:
    """A plot drawn for a wide and for a narrow sheet, its words, and its numbers."""

    wide: str
    narrow: str
    title: str
    caption: str
    stands_on: str
    x_title: str
    y_title: str
    samples: tuple[Samples, ...]


def kept(store: CampaignStore, head: JournalHead, name: str) -> tuple[KeptDrawing, ...] | None:
    """Drawings kept under a name for this state of the journal; None when they aren't drawn yet."""
    path = _place(store, head, name)
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    return tuple(_from_plain(one) for one in told)


def drawings(
    store: CampaignStore, book: Book, head: JournalHead, name: str
) -> tuple[KeptDrawing, ...]:
    """Drawings of "bar LABEL" or "gauge LABEL", from the cache or drawn now and kept there.

    Raises
    ------
    InputError
        If no bar or gauge is called so.
    """
    work_out = _worker(book, name)
    found = kept(store, head, name)
    if found is not None:
        return found
    with _one_at_a_time:
        found = kept(store, head, name)  # drawn for somebody else while this one waited
        if found is None:
            page = Page.of(Desk(store, book))
            found = tuple(_drawn(drawing) for drawing in work_out(page))
            if not store.read_only:
                _keep(_place(store, head, name), found)
    return found


def _worker(book: Book, name: str) -> Callable[[Page], tuple[Drawing, ...]]:
    kind, _, label = name.partition(" ")
    if kind == "bar":
        bar = book.labelled(Bar, label)
        return lambda page: bar_drawings(page, bar, service_step(page))
    if kind == "gauge":
        gauge = book.labelled(Gauge, label)
        return lambda page: gauge_drawings(page, gauge)
    raise InputError("drawing", name, "bar or gauge, and a label")


def _drawn(drawing: Drawing) -> KeptDrawing:
    plot = drawing.plot
    return KeptDrawing(
        drawn(plot, WIDE, 1.25 * drawing.height),
        drawn(plot, NARROW, NARROW),
        drawing.title,
        drawing.caption,
        drawing.stands_on,
        plot.x.title,
        plot.y.title,
        tuple(_samples(curve) for curve in plot.curves if curve.plus_minus is not None),
    )


def _samples(curve: Curve) -> Samples:
    doubt = () if curve.plus_minus is None else curve.plus_minus.tolist()
    rows = (curve.x.tolist(), curve.y.tolist(), doubt)
    x, y, plus_minus = (tuple(n if math.isfinite(n) else None for n in row) for row in rows)
    return Samples(curve.label, x, y, plus_minus)


def _place(store: CampaignStore, head: JournalHead, name: str) -> Path:
    """One folder for a state of the journal; the name is hashed: a label may hold anything."""
    key = hashlib.sha256(f"{_LAYOUT} {SOFTWARE} {name}".encode()).hexdigest()[:24]
    return store.folder / "cache" / "drawings" / head.sha256[:24] / f"{key}.json"


def _keep(path: Path, found: tuple[KeptDrawing, ...]) -> None:
    if not path.parent.is_dir():
        # Drawings of what the records said before: nobody asks for them again.
        shutil.rmtree(path.parent.parent, ignore_errors=True)
        path.parent.mkdir(parents=True)
    fresh = path.with_suffix(".new")
    fresh.write_text(json.dumps([asdict(one) for one in found], allow_nan=False), encoding="utf-8")
    fresh.replace(path)


def _from_plain(told: dict[str, object]) -> KeptDrawing:
    samples = told["samples"]
    if not isinstance(samples, list):
        raise InputError("kept drawing", "changed", "as it was written", "delete the cache folder")
    rest = {name: str(value) for name, value in told.items() if name != "samples"}
    return KeptDrawing(samples=tuple(_samples_from_plain(one) for one in samples), **rest)


def _samples_from_plain(one: dict[str, list[float | None]]) -> Samples:
    return Samples(str(one["label"]), tuple(one["x"]), tuple(one["y"]), tuple(one["plus_minus"]))
