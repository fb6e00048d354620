"""How far gauges bonded by this laboratory scatter: from its calibrated bars or opposite pairs."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import installation_scatter, leads
from gaugewright.calc.evaluation import Repeated
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Topology
from gaugewright.records.proof import Calibration, Limit, ZeroKind
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.bars.forces import net_area_of
from gaugewright.services.bars.together import opposite_pairs
from gaugewright.services.calibrating.calibrations import WorkedOut, worked_out
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.limit_labels import INSTALLATION
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at
from gaugewright.store.campaign import CampaignStore

__all__ = ["OwnScatter", "ScatterRow", "keep", "own_scatter"]

# Elastic, clear of the zero's noise and of yield of any bar.
_FROM, _TO = 100e-6, 1000e-6
_FEWEST_ROWS = 10
CAST = "Bars of a cast member bend with it and at its cracks, which is in this number."


@dataclass(frozen=True, slots=True)
class ScatterRow:
    """A pair with the slopes of both gauges, or a gauge with what it showed over the truth."""

    label: str
    first: float
    second: float


@dataclass(frozen=True, slots=True)
class OwnScatter:
    """Relative standard uncertainty of one gauge as bonded here, and what it was found from."""

    standard_uncertainty: float
    degrees_of_freedom: float
    mean: float
    counted_what: str
    heads: tuple[str, str, str]
    rows: tuple[ScatterRow, ...]
    source: str
    caution: str = ""

    @property
    def sentence(self) -> str:
        """Result in words."""
        return (
            f"One gauge scatters by {100 * self.standard_uncertainty:.2g} % (one standard "
            f"uncertainty, {self.degrees_of_freedom:g} degrees of freedom), laboratory's own, "
            f"{len(self.rows)} {self.counted_what}." + (f" {self.caution}" if self.caution else "")
        )

    def limit(self, now: Limit) -> Limit:
        """The limit as it stands, with what was found in its place."""
        return replace(
            now,
            value=self.standard_uncertainty,
            source=self.source,
            unverified=False,
            counted=len(self.rows),
            counted_what=self.counted_what,
            degrees_of_freedom=self.degrees_of_freedom,
        )

    def as_toml(self) -> str:
        """Lines for ``limits.toml`` of the laboratory's folder."""
        return "\n".join(
            (
                "[[limit]]",
                f"label = {_quoted(INSTALLATION)}",
                'quantity = "standard_uncertainty"',
                f"value = {self.standard_uncertainty!r}",
                'unit = "1"',
                f"source = {_quoted(self.source)}",
                "unverified = false",
                f"counted = {len(self.rows)}",
                f"counted_what = {_quoted(self.counted_what)}",
                f"degrees_of_freedom = {self.degrees_of_freedom!r}",
            )
        )


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a TOML string


def own_scatter(store: CampaignStore) -> OwnScatter:
    """Scatter from the campaign's calibrated bars if there are two gauges or more, else pairs.

    Bending that the readings still hold counts as scatter, and so does each gauge's own part of
    its gauge factor: what is found errs on the large side. Pairs on bare metal are taken before
    those of a cast member, whose bars bend with it and at its cracks.

    Raises
    ------
    InputError
        If there is neither, with what to measure.
    """
    book = Book.read(store)
    desk = Desk(store, book)
    bars = _from_calibrations(desk)
    if len(bars) >= 2:
        found = installation_scatter.bare_bar_scatter([row.first for row in bars])
        heads = ("gauge", "shown over force/(E A)", "N per change of arm")
        return _made(found, "bare-bar calibrations", heads, bars)
    bare, cast = _from_pairs(desk)
    pairs = bare or cast
    if not pairs:
        raise InputError(
            "calibrated bars and opposite pairs",
            "none with readings",
            "two calibrated gauges, or a pair read under load",
            "calibrate bars before casting, or reduce a test of a specimen with opposite gauges",
        )
    found = installation_scatter.pair_scatter(
        [row.first for row in pairs], [row.second for row in pairs]
    )
    heads = ("pair", "strain per N, first", "second")
    made = _made(found, "opposite pairs" if len(pairs) > 1 else "opposite pair", heads, pairs)
    return made if bare else replace(made, caution=CAST)


def _made(
    found: Repeated,
    what: str,
    heads: tuple[str, str, str],
    rows: Sequence[ScatterRow],
) -> OwnScatter:
    if found.standard_uncertainty <= 0:
        raise InputError("scatter", 0.0, "more than nothing: readings that agree to the last digit")
    labels = ", ".join(row.label for row in rows)
    source = f"worked out by gaugewright scatter from {labels}"
    return OwnScatter(
        found.standard_uncertainty,
        found.degrees_of_freedom,
        found.mean,
        what,
        heads,
        tuple(rows),
        source,
    )


def _from_calibrations(desk: Desk) -> list[ScatterRow]:
    """Strain shown over force/(E A) of every single gauge that was calibrated, the latest time."""
    latest: dict[str, Entry[Calibration]] = {}
    for entry in desk.book.of(Calibration):
        known = latest.get(entry.record.of)
        is_later = known is None or known.record.measured <= entry.record.measured
        if entry.record.series and is_later:
            latest[entry.record.of] = entry
    rows = []
    for entry in latest.values():
        worked = worked_out(desk.book, entry)
        if len(worked.wired.gauges) == 1:
            shown = _shown_over_true(desk, worked)
            label = worked.wired.gauge.record.label
            rows.append(ScatterRow(label, shown, worked.found.force_per_reading))
    return rows


def _shown_over_true(desk: Desk, worked: WorkedOut) -> float:
    wired = worked.wired
    modulus = wired.material.record.elastic_modulus.value
    area = float(net_area_of(desk, wired.gauge).value)
    wires = 2 if wired.circuit.record.topology is Topology.QUARTER_TWO_WIRE else 1
    pack = wired.pack.record
    grid, wire = pack.gauge_resistance.value, wired.lead.record.resistance.value
    seen = float(leads.lead_sensitivity(grid, wire, wires))
    per_newton = 1 / (seen * worked.found.force_per_reading * pack.gauge_factor.value)
    return per_newton * modulus * area


def _from_pairs(desk: Desk) -> tuple[list[ScatterRow], list[ScatterRow]]:
    """Strain over load of both gauges of every usable pair: on bare metal, and in cast members."""
    bare: list[ScatterRow] = []
    cast: list[ScatterRow] = []
    for (first, second), (gauge, other) in opposite_pairs(desk):
        slopes = _slopes(desk, first, second)
        if slopes is None:
            continue
        specimen = desk.book.entry(desk.book.bar_of(gauge).record.specimen, Specimen)
        label = f"{gauge.record.label} with {other.record.label}"
        rows = cast if specimen.record.kind is SpecimenKind.CAST_MEMBER else bare
        rows.append(ScatterRow(label, *slopes))
    return bare, cast


def _slopes(
    desk: Desk, first: Entry[BridgeCircuit], second: Entry[BridgeCircuit]
) -> tuple[float, float] | None:
    one, two = (desk.strain(circuit, ZeroKind.BEFORE_TEST) for circuit in (first, second))
    other = np.interp(one.time, two.time, two.strain)
    load = load_at(desk, one.time)
    mean = (one.strain + other) / 2
    inside = np.isfinite(load) & (mean > _FROM) & (mean < _TO)
    if np.count_nonzero(inside) < _FEWEST_ROWS or np.ptp(load[inside]) <= 0:
        return None
    slopes = [float(np.polyfit(load[inside], s[inside], 1)[0]) for s in (one.strain, other)]
    return slopes[0], slopes[1]


def keep(store: CampaignStore, found: OwnScatter) -> Entry[Limit]:
    """Put what was found in the place of the campaign's limit; the earlier version stays.

    Raises
    ------
    InputError
        If it was found in a cast member, where bending of the bars is the larger part, or the
        campaign has no such limit.
    """
    if found.caution:
        raise InputError(
            "scatter to keep",
            "from pairs in a cast member",
            "from calibrated bars, or pairs on bare metal",
            "the bars' own bending is in it: calibrate bars before they are cast",
        )
    now = Book.read(store).limit(INSTALLATION)
    return store.revise(
        now.uid, now.version, found.limit(now.record), reason="laboratory's own measurements"
    )
