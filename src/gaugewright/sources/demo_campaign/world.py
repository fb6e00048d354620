"""What the demo's beam, gauges and recorders truly are, drawn from the seed, and true strains."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gaugewright.quantities import FloatArray
from gaugewright.sources.demo_campaign import faults, plan
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan, Metal
from gaugewright.sources.demo_campaign.protocol import Protocol
from gaugewright.sources.simulated import installation, specimen
from gaugewright.sources.simulated.installation import TrueGauge, TrueLead, drawn, stream
from gaugewright.sources.simulated.instrument import Completion
from gaugewright.sources.simulated.section import Section, SteelBehaviour
from gaugewright.sources.simulated.specimen import Beam, Covered, Crack

__all__ = ["Scenario", "Site", "TrueMetal", "build", "leaks_of"]

SHRINKAGE_STRAIN = -95e-6
_WRAP_LENGTH, _PATCH_LENGTH, _PATCH_SHARE = 0.060, 0.045, 0.35
# The card of this pack says less than half of this.
_WRONG_CARD, _WRONG_CARD_BY = "350 Ω, annealed", 0.013
_PAST_YIELD_STRAINS = (0.0035, 0.0050, 0.0065)


@dataclass(frozen=True, slots=True)
class TrueMetal:
    """A metal as it is [SI]."""

    steel: SteelBehaviour
    poisson_ratio: float
    thermal_expansion: float

    @classmethod
    def of(cls, stated: Metal, rng: np.random.Generator) -> "TrueMetal":
        """Metal that agrees with what its coupon or standard states."""
        numbers = [
            drawn(part, rng)
            for part in (stated.elastic_modulus, stated.yield_strength, stated.hardening_modulus)
        ]
        return cls(
            SteelBehaviour(*numbers),
            drawn(stated.poisson_ratio, rng),
            drawn(stated.thermal_expansion, rng),
        )


@dataclass(frozen=True, slots=True)
class Site:
    """What is true at one gauge: flats, distance from plan, bending, leaks, contacts [SI].

    ``contacts`` holds three pins for each of three pluggings: before the pour, before the test,
    and after the plug was remade; ``contact_step`` comes at ``contact_step_at`` of the test.
    """

    flat_width: float
    shift: float
    net_area_share: float
    opposite_flat: bool
    bending_share: float
    bar_share: float
    leaks: tuple[float, float]
    wet_share: float
    contacts: FloatArray
    contact_step: float
    contact_step_at: float


@dataclass(frozen=True)
class Scenario:
    """The whole true world of the demo."""

    seed: int
    scale: float
    beam: Beam
    bar: TrueMetal
    plate: TrueMetal
    protocol: Protocol
    gauges: dict[str, TrueGauge]
    sites: dict[str, Site]
    leads: dict[str, TrueLead]
    completions: dict[str, Completion]
    load_cell_gain: float
    load_cell_offset: float
    point_bias: dict[str, float]
    clock_b_offset: float
    clock_b_rate: float
    plate_angle: float
    plate_gains: tuple[float, float, float]

    @cached_property
    def grid_seconds(self) -> FloatArray:
        """Fine times on which the world is computed [s]."""
        return np.arange(-2.0, self.protocol.duration + 2.0, 0.05)

    @cached_property
    def true_load(self) -> FloatArray:
        """Load on the beam on ``grid_seconds``: the actuator's, less a dip at every crack [N]."""
        seconds = self.grid_seconds
        told = self.protocol.load(seconds, self.scale)
        load = told + 60.0 * np.sin(2 * np.pi * 0.31 * seconds) * (told > 500.0)
        highest = np.maximum.accumulate(load)
        for opening in self.beam.opening_loads():
            if highest[-1] >= opening:
                since = seconds - seconds[int(np.argmax(highest >= opening))]
                dip = 900.0 * np.exp(-np.clip(since, 0.0, None) / (4.0 * self.scale))
                load = load - np.where(since > 0, dip, 0.0)
        return np.maximum(load, 0.0)

    def mechanical_strain(self, gauge: GaugePlan) -> FloatArray:
        """Strain of the metal under a gauge in its direction, since it was bonded [1].

        On ``grid_seconds`` of the test; what causes stress, local bending included.
        """
        return self.strain_axes(gauge)[0]

    @cached_property
    def _computed(self) -> dict[tuple[str, float], tuple[FloatArray, FloatArray]]:
        """Strains asked for before; they cost most of the time."""
        return {}

    def strain_axes(self, gauge: GaugePlan, turned: float = 0.0) -> tuple[FloatArray, FloatArray]:
        """Strain along and across a gauge whose grid is turned from its direction [1]."""
        key = gauge.label, turned
        if key not in self._computed:
            self._computed[key] = self._strain_axes(gauge, turned)
        return self._computed[key]

    def _strain_axes(self, gauge: GaugePlan, turned: float) -> tuple[FloatArray, FloatArray]:
        if gauge.bar == "offcut":
            nothing = np.zeros_like(self.grid_seconds)
            return nothing, nothing
        if gauge.bar == plan.PLATE:
            return self._plate_strain(gauge, turned)
        along = self._bar_strain(gauge)
        yielded = self.bar.steel.yield_strain
        elastic = np.clip(along, -yielded, yielded)
        # Plastic flow keeps the volume: it narrows the bar by half of what it lengthens it.
        return along, -self.bar.poisson_ratio * elastic - 0.5 * (along - elastic)

    def _bar_strain(self, gauge: GaugePlan) -> FloatArray:
        site, steel = self.sites[gauge.label], self.bar.steel
        x = gauge.x + site.shift
        load = self.true_load
        highest = np.maximum.accumulate(load)
        depth = self.beam.section.tension[0]
        if gauge.bar.startswith("C"):
            mean = self.beam.upper_strain(x, load, highest)
            axial = mean / site.net_area_share
            gradient = np.zeros_like(axial)
        else:
            state = self.beam.stress(gauge.bar, x, highest)
            first = site.bar_share * state.first_loading / site.net_area_share
            back = (highest - load) * state.unloading_slope * site.bar_share / site.net_area_share
            axial = steel.strain(first) - back / steel.elastic_modulus
            # A bar in a bent beam bends with it: 16 mm against the depth to the neutral axis.
            gradient = -math.cos(gauge.face) * axial * 0.5 * self.beam.bar_diameter / (0.7 * depth)
        return specimen.face_strain(axial, site.bending_share, steel.yield_strain, gradient)

    def _plate_strain(self, gauge: GaugePlan, turned: float) -> tuple[FloatArray, FloatArray]:
        """Plane stress in the loading plate, proportional to load."""
        first, second, bending = self.plate_gains
        nu, modulus = self.plate.poisson_ratio, self.plate.steel.elastic_modulus
        angle = gauge.direction + turned - self.plate_angle
        c, s = math.cos(angle) ** 2, math.sin(angle) ** 2
        strain_1 = (first - nu * second) / modulus
        strain_2 = (second - nu * first) / modulus
        along, across = strain_1 * c + strain_2 * s, strain_1 * s + strain_2 * c
        if not gauge.group:
            swing = bending * math.cos(gauge.face) / modulus
            along, across = along + swing, across - nu * swing
        return along * self.true_load, across * self.true_load

    def yield_load(self, gauge: GaugePlan) -> float | None:
        """Load at which the steel under a gauge first reaches its yield strain [N]."""
        reached = np.abs(self.mechanical_strain(gauge)) >= self.bar.steel.yield_strain
        if gauge.bar in (plan.PLATE, "offcut") or not reached.any():
            return None
        return float(self.true_load[int(np.argmax(reached))])

    def bar_yield_load(self) -> float:
        """Load at which the unweakened tension steel yields at a crack at midspan [N]."""
        section, middle = self.beam.section, self.beam.span / 2
        moment = float(section.cracked_moment(self.bar.steel.yield_strain))
        return (moment - self.beam.dead_moment(middle)) / self.beam.lever(middle)


def build(seed: int, scale: float) -> Scenario:
    """The true world of one seed."""
    bar = TrueMetal.of(plan.REINFORCEMENT, stream(seed, "reinforcement"))
    beam = _beam(seed, bar)
    rng = stream(seed, "sensors")
    middle = beam.span / 2
    moments = beam.section.cracked_moment(np.array(_PAST_YIELD_STRAINS))
    past = (moments - beam.dead_moment(middle)) / beam.lever(middle)
    return Scenario(
        seed=seed,
        scale=scale,
        beam=beam,
        bar=bar,
        plate=TrueMetal.of(plan.STRUCTURAL, stream(seed, "plate metal")),
        protocol=Protocol.planned(tuple(float(load) for load in past), scale),
        gauges=_gauges(seed),
        sites={gauge.label: _site(seed, gauge) for gauge in GAUGES},
        leads={gauge.label: _lead(seed, gauge) for gauge in GAUGES},
        completions={
            g.label: Completion.fitted(_ohm(g), stream(seed, f"channel {g.column}")) for g in GAUGES
        },
        load_cell_gain=drawn(plan.LOAD_CELL_GAIN, rng),
        load_cell_offset=drawn(plan.LOAD_CELL_OFFSET, rng),
        point_bias={name: drawn(plan.POINT_DOUBT, rng) for name in ("T1", "T2", "TH", "TK")},
        clock_b_offset=-7.31 + float(rng.uniform(-0.05, 0.05)),
        clock_b_rate=38e-6 + float(rng.uniform(-3e-6, 3e-6)),
        plate_angle=math.radians(24.0 + float(rng.uniform(-2.0, 2.0))),
        plate_gains=(0.32e6 / 1e3 * 0.2, -0.35e6 / 1e3, 0.06e6 / 1e3),
    )


def _beam(seed: int, bar: TrueMetal) -> Beam:
    concrete, rng = plan.CONCRETE, stream(seed, "cracks")
    lower, upper = drawn(plan.BAR_AREA, rng), drawn(plan.UPPER_BAR_AREA, rng)
    section = Section(
        0.30,
        0.45,
        (0.402, 4 * lower),
        (0.044, 2 * upper),
        bar.steel,
        concrete.strength,
        concrete.modulus,
    )
    cracking = section.cracking_moment(concrete.tensile_strength)
    # Protection starts a crack where it sits; the others keep their distance from each other.
    places = (0.28, 0.43, 0.57, 0.71, 0.86, 1.00, 1.14, 1.29, 1.445, 1.62, 1.803, 1.95, 2.19)
    mirrored = tuple(plan.SPAN - x for x in (1.28, 1.13, 0.99, 0.85, 0.70, 0.56, 0.42, 0.29))
    cracks = tuple(
        Crack(x, cracking * (0.86 if abs(x - 1.8) < 0.01 else float(rng.uniform(0.92, 1.15))))
        for x in (*places, *mirrored)
    )
    return Beam(
        section=section,
        span=plan.SPAN,
        shear_span=1.2,
        weight_per_length=0.30 * 0.45 * 24.5e3,
        cracks=cracks,
        shrinkage_strain=SHRINKAGE_STRAIN,
        bond_stress=1.9 * concrete.tensile_strength,
        bar_diameter=drawn(plan.BAR_DIAMETER, rng),
        tension_shift=0.16,
        left_behind=0.07,
        covered=_covered(),
    )


def _covered() -> dict[str, tuple[Covered, ...]]:
    covered: dict[str, dict[float, Covered]] = {}
    for gauge in GAUGES:
        if gauge.bar.startswith("L"):
            row = "-R" in gauge.label
            part = (
                Covered(gauge.x, _PATCH_LENGTH, _PATCH_SHARE)
                if row
                else Covered(gauge.x, _WRAP_LENGTH, 1.0)
            )
            covered.setdefault(gauge.bar, {})[gauge.x] = part
    return {bar: tuple(parts.values()) for bar, parts in covered.items()}


def _gauges(seed: int) -> dict[str, TrueGauge]:
    gauges: dict[str, TrueGauge] = {}
    for pack in plan.PACKS:
        labels = [gauge.label for gauge in GAUGES if gauge.pack == pack.label]
        opened = installation.TruePack.opened(
            pack,
            len(labels),
            # Spelt as ever, so that the sign on its label didn't make another world of it.
            stream(seed, f"pack {pack.label.replace('Ω', 'ohm')}"),
            work=installation.Workmanship(),
            factor_bias=_WRONG_CARD_BY if pack.label == _WRONG_CARD else None,
        )
        gauges.update(zip(labels, opened.gauges, strict=True))
    return gauges


def _ohm(gauge: GaugePlan) -> float:
    return 350.0 if gauge.pack.startswith("350") else 120.0


def _lead(seed: int, gauge: GaugePlan) -> TrueLead:
    return TrueLead.laid(
        plan.CABLES[gauge.pack].resistance,
        20.0,
        stream(seed, f"cable {plan.circuit_label(gauge)}"),
        spread=0.004,
        warming_spread=0.02,
    )


def _site(seed: int, gauge: GaugePlan) -> Site:
    station = gauge.label.rsplit("-", 1)[0]
    rng, common = stream(seed, f"site {gauge.label}"), stream(seed, f"station {station}")
    on_bar = gauge.bar[0] in "LC"
    bending = 0.05 * float(common.standard_normal())
    width = plan.FLAT_WIDTH + 0.15e-3 * float(common.standard_normal())
    flats = (width,) if gauge.label in _ONE_SIDED else (width, width)
    thick = plan.BAR_DIAMETER if gauge.bar.startswith("L") else plan.UPPER_BAR_DIAMETER
    diameter = drawn(thick, stream(seed, f"thickness {gauge.bar}"))
    leaks = rng.uniform(0.4e10, 2.5e10, size=2)
    return Site(
        flat_width=width,
        shift=drawn(plan.PLACE_DOUBT, rng),
        net_area_share=specimen.net_area_share(diameter, flats) if on_bar else 1.0,
        opposite_flat=len(flats) == 2,
        bending_share=math.copysign(1.0, math.cos(gauge.face - 0.3)) * bending if on_bar else 0.0,
        bar_share=1.0 + 0.012 * float(stream(seed, f"bar {gauge.bar}").standard_normal()),
        leaks=(float(leaks[0]), float(leaks[1])),
        wet_share=float(rng.uniform(0.06, 0.4)),
        contacts=np.abs(rng.normal(0.012, 0.004, size=(3, 3))),
        contact_step=0.0012 * float(rng.standard_normal()) if rng.uniform() < 0.4 else 0.0,
        contact_step_at=float(rng.uniform(0.2, 0.9)),
    )


_ONE_SIDED = frozenset(f"L3-R{n}-S" for n in (1, 2, 3, 5, 6, 7))


def leaks_of(site: Site, gauge: GaugePlan, *, poured: bool) -> tuple[float, float]:
    """Leaks from both tabs to the metal, before the pour or in wet concrete [ohm]."""
    if not poured or gauge.bar in (plan.PLATE, "offcut"):
        return site.leaks
    if gauge.label == faults.DAMP:
        return faults.DAMP_LEAK_OHM
    return site.leaks[0] * site.wet_share, site.leaks[1] * site.wet_share
