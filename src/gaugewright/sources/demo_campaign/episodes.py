"""What is true while something is recorded: strains, temperatures, leads and joints in time."""

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from gaugewright.quantities import FloatArray
from gaugewright.sources.demo_campaign import faults, plan
from gaugewright.sources.demo_campaign.plan import GaugePlan
from gaugewright.sources.demo_campaign.protocol import DAYS, PULSE, pulse_voltage
from gaugewright.sources.demo_campaign.world import Scenario, leaks_of
from gaugewright.sources.simulated.instrument import WiredBridge

__all__ = ["Episode", "episodes"]

_FIRST_PULSE = 5.0
_OPEN_OHM = 1e12


@dataclass(frozen=True)
class Episode:
    """A stretch of time in which both recorders run; seconds count from ``begins``.

    ``plugging`` 0 is before the pour, 1 before the test, 2 once the one plug was remade.
    """

    purpose: str
    begins: datetime
    duration: float
    plugging: int
    world: Scenario
    b_offset: float

    @property
    def is_test(self) -> bool:
        """Whether the beam is loaded."""
        return self.purpose == "test"

    @property
    def is_poured(self) -> bool:
        """Whether concrete is round the cage."""
        return self.begins > DAYS.pour

    @property
    def pulses(self) -> tuple[float, float]:
        """When the two trigger pulses begin [s]."""
        return _FIRST_PULSE, self.duration - _FIRST_PULSE - sum(PULSE)

    def load(self, seconds: FloatArray) -> FloatArray:
        """Load on the beam [N]."""
        if not self.is_test:
            return np.zeros_like(seconds)
        return np.interp(seconds, self.world.grid_seconds, self.world.true_load)

    def trigger(self, seconds: FloatArray) -> FloatArray:
        """Voltage of the trigger line [V]."""
        return pulse_voltage(seconds, self.pulses)

    def strain(self, gauge: GaugePlan, seconds: FloatArray, turned: float = 0.0) -> FloatArray:
        """Mechanical strain under a gauge along and across it, shape (2, n) [1]."""
        if not self.is_poured:
            return np.zeros((2, *seconds.shape))
        along, across = self.world.strain_axes(gauge, turned)
        if not self.is_test:  # as at the first instant of the test: on its supports, unloaded
            held = np.array([along[0], across[0]])[:, None]
            return np.broadcast_to(held, (2, seconds.size)).copy()
        grid = self.world.grid_seconds
        return np.array([np.interp(seconds, grid, part) for part in (along, across)])

    def temperature(self, point: str, seconds: FloatArray) -> FloatArray:
        """True temperature at a point: T1, T2 in the beam, TH hall, TK cables [degC]."""
        share = np.clip(seconds / self.duration, 0.0, 1.0)
        if not self.is_poured:
            start = {"T1": 17.6, "T2": 17.7, "TH": 18.1, "TK": 18.3}[point]
            return np.asarray(start + 0.1 * share)
        if not self.is_test:
            start = {"T1": 19.0, "T2": 18.9, "TH": 19.4, "TK": 19.7}[point]
            return np.asarray(start + 0.08 * share)
        rise = {"T1": 0.9, "T2": 0.7, "TH": 1.7, "TK": 1.7}[point]
        power = 1.6 if point in ("T1", "T2") else 0.9
        start = {"T1": 19.1, "T2": 19.0, "TH": 19.6, "TK": 19.9}[point]
        warmed = start + rise * share**power + 0.08 * np.sin(9.0 * share)
        if point == "TK":  # a lamp is put up beside the cables for the photographs
            warmed = warmed + 9.0 * (1 - np.exp(-np.clip(share - 0.22, 0.0, None) / 0.10))
        return np.asarray(warmed)

    def wires(self, gauge: GaugePlan, seconds: FloatArray) -> FloatArray:
        """Resistance of the three wires with the contacts at the plug, shape (n, 3) [ohm]."""
        site = self.world.sites[gauge.label]
        plugging = self.plugging
        if gauge.label == faults.REMADE and self.is_test:
            plugging = 2
        rise = self.temperature("TK", seconds) - 20.0
        if gauge.column.startswith("B"):  # the lamp stands nearer the cables of recorder A
            rise = 0.55 * rise
        wires = np.array(self.world.leads[gauge.label].at(rise) + site.contacts[plugging])
        if self.is_test and site.contact_step:
            late = seconds >= site.contact_step_at * self.duration
            wires[late, 0] += site.contact_step
        return wires

    def grid(self, gauge: GaugePlan, seconds: FloatArray) -> FloatArray:
        """Resistance of the grid of one gauge [ohm]."""
        true = self.world.gauges[gauge.label]
        metal = self.world.plate if gauge.bar in (plan.PLATE, "offcut") else self.world.bar
        warmth = self.temperature(gauge.point, seconds)
        if gauge.bar == plan.PLATE:  # the plate carries some heat of the pump
            warmth = warmth + 0.15
        turned = true.angle_error if gauge.bar == plan.PLATE else 0.0
        along, across = self.strain(gauge, seconds, turned)
        if turned:
            true = true.straightened()
        highest = self._highest_strain(gauge, seconds)
        fading = np.ones_like(seconds)
        if gauge.label == faults.FADING:
            span = faults.FADING_TO_STRAIN - faults.FADING_FROM_STRAIN
            gone = np.clip((highest - faults.FADING_FROM_STRAIN) / span, 0.0, 1.0)
            fading = 1.0 - (1.0 - faults.FADING_SHARE) * gone**2 * (3 - 2 * gone)
        ohm = true.resistance_at(along, across, warmth, metal.thermal_expansion, fading)
        if gauge.label == faults.OPENED:
            ohm = np.where(highest >= faults.OPENED_AT_STRAIN, _OPEN_OHM, ohm)
        return ohm

    def _highest_strain(self, gauge: GaugePlan, seconds: FloatArray) -> FloatArray:
        if not self.is_test:
            return np.zeros_like(seconds)
        highest = np.maximum.accumulate(self.world.strain_axes(gauge)[0])
        return np.interp(seconds, self.world.grid_seconds, highest)

    def bridge(self, gauges: tuple[GaugePlan, ...], seconds: FloatArray) -> WiredBridge:
        """Circuit of one gauge, or of two for a half bridge: the first raises the output."""
        first = gauges[0]
        site = self.world.sites[first.label]
        crushed = first.label == faults.CRUSHED and self.is_poured
        return WiredBridge(
            grid=self.grid(first, seconds),
            wires=self.wires(first, seconds),
            leaks=leaks_of(site, first, poured=self.is_poured),
            completion=self.world.completions[first.label],
            second_grid=self.grid(gauges[1], seconds) if len(gauges) == 2 else None,
            crush=faults.CRUSH_OHM if crushed else None,
            crush_place=faults.CRUSH_PLACE,
        )


def episodes(world: Scenario) -> tuple[Episode, ...]:
    """The three recordings of the demo, in order of time."""
    short = max(world.scale, 0.15)
    before_pour = Episode(
        "zero before pour",
        DAYS.zero_before_pour,
        180.0 * short,
        0,
        world,
        world.clock_b_offset + 3.2,
    )
    before_test = Episode(
        "zero before test",
        DAYS.zero_before_test,
        240.0 * short,
        1,
        world,
        world.clock_b_offset + 0.11,
    )
    test = Episode(
        "test", DAYS.test, math.floor(world.protocol.duration), 1, world, world.clock_b_offset
    )
    return before_pour, before_test, test
