"""A small campaign drawn anew from what its records state, to count how often intervals hold.

One bar is pulled in six load levels, with gauges in opposite pairs on ground flats. Every
systematic input (cards, workmanship, lead, contact, leak, temperatures, expansion, flats, metal,
recorder, load cell) is drawn from the distribution its record gives it, and the readings come
through the circuits. What a record can't hold is in ``ALLOWANCES``.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.sources.simulated import specimen
from gaugewright.sources.simulated.installation import (
    TrueGauge,
    TrueLead,
    TruePack,
    Workmanship,
    drawn,
    stream,
)
from gaugewright.sources.simulated.instrument import Completion, WiredBridge, bridge_ratio
from gaugewright.sources.simulated.section import SteelBehaviour
from gaugewright.sources.simulated.small_papers import CONTACT_OHM, PAPERS, Papers

__all__ = ["ALLOWANCES", "SmallCampaign"]

# Standard uncertainties by the label of the limit that states them: strain transfer [1], angle
# [rad], difference of warmth of two wires [K], drift since the zero [1].
ALLOWANCES: Mapping[str, float] = MappingProxyType(
    {
        "installation scatter": 0.015,
        "misalignment allowance": 0.02,
        "lead warming difference": 0.2,
        "zero drift allowance": 3e-6,
    }
)
_LEVELS = np.array([0.15, 0.35, 0.55, 0.75, 0.90, 1.01])
_BENDING_SCATTER = 0.03
_ZERO_SCANS = 50


@dataclass(frozen=True, slots=True)
class _Conditions:
    """What all gauges of one campaign share; levels begin with the zero, shape (7,)."""

    steel: SteelBehaviour
    poisson_ratio: float
    thermal_expansion: float
    force: FloatArray
    temperature_degc: FloatArray
    gain: float


@dataclass(frozen=True)
class SmallCampaign:
    """Readings of one draw, what its papers say, and the truth.

    Attributes
    ----------
    papers : Papers
        Everything the records state; ``small_records.lay_down`` makes records of them.
    zero_ratio : array, shape (n,)
        Mean reading of each gauge at the zero [V/V].
    ratio : array, shape (n, 6)
        Reading of each gauge at each level [V/V].
    zero_temperature_degc, temperature_degc : float and array, shape (6,)
        As the temperature point showed them [degC].
    load : array, shape (6,)
        As the load cell showed it [N].
    insulation : array, shape (n,)
        Insulation resistance read before the test [ohm].
    true_strain, true_stress : arrays, shape (n, 6)
        Mechanical strain of the steel under each gauge since the zero [1], and its stress [Pa].
    true_load : array, shape (6,)
        Pull on the bar [N].
    """

    papers: Papers
    zero_ratio: FloatArray
    ratio: FloatArray
    zero_temperature_degc: float
    temperature_degc: FloatArray
    load: FloatArray
    insulation: FloatArray
    true_strain: FloatArray
    true_stress: FloatArray
    true_load: FloatArray

    @classmethod
    def draw(
        cls, seed: int, n_gauges: int = 6, *, allowances: Mapping[str, float] = ALLOWANCES
    ) -> "SmallCampaign":
        """One campaign; every seed draws all of its inputs anew.

        Raises
        ------
        InputError
            If ``n_gauges`` isn't even and positive: gauges come in opposite pairs.
        """
        if n_gauges < 2 or n_gauges % 2:
            raise InputError("n_gauges", n_gauges, "an even number, 2 or more")
        rng = stream(seed, "small campaign")
        papers = PAPERS[int(rng.integers(len(PAPERS)))].for_gauges(n_gauges)
        shared = _conditions(papers, rng)
        work = Workmanship(allowances["installation scatter"], allowances["misalignment allowance"])
        pack = TruePack.opened(papers.pack, n_gauges, rng, work=work)
        strain = _strains(papers, shared, n_gauges, rng)
        # From 20 to 2000 Mohm, any decade as likely as another.
        insulation = np.exp(rng.uniform(math.log(2e7), math.log(2e9), n_gauges))
        circuits = [
            _wired(
                papers,
                shared,
                gauge,
                strain[n],
                insulation=float(insulation[n]),
                remade=n == 0,
                allowances=allowances,
                rng=rng,
            )
            for n, gauge in enumerate(pack.gauges)
        ]
        ratio = np.array([bridge_ratio(circuit) for circuit in circuits])
        read = _digitised(papers, shared, pack.gauges, ratio, allowances=allowances, rng=rng)
        bias = drawn(papers.point_doubt, rng)
        shown = shared.temperature_degc + bias
        cell_gain, cell_offset = drawn(papers.load_gain, rng), drawn(papers.load_offset, rng)
        return cls(
            papers=papers,
            zero_ratio=read[:, 0],
            ratio=read[:, 1:],
            zero_temperature_degc=float(shown[0]),
            temperature_degc=shown[1:],
            load=(shared.force[1:] - cell_offset) / cell_gain,
            insulation=insulation,
            true_strain=strain[:, 1:] - strain[:, :1],
            true_stress=shared.steel.stress(strain[:, 1:]),
            true_load=shared.force[1:],
        )


def _conditions(papers: Papers, rng: np.random.Generator) -> _Conditions:
    strength = drawn(papers.yield_strength, rng)
    # Loads are chosen by what is stated of the steel, as a person would.
    stated = papers.yield_strength.value * papers.area.value
    zero_warmth = float(rng.uniform(17.0, 24.0))
    change = float(rng.uniform(-4.0, 8.0))
    return _Conditions(
        SteelBehaviour(
            drawn(papers.elastic_modulus, rng), strength, drawn(papers.hardening_modulus, rng)
        ),
        drawn(papers.poisson_ratio, rng),
        drawn(papers.thermal_expansion, rng),
        np.concatenate([[0.0], _LEVELS * stated]),
        zero_warmth + change * np.arange(7) / 6,
        drawn(papers.recorder_gain, rng),
    )


def _strains(
    papers: Papers, shared: _Conditions, n_gauges: int, rng: np.random.Generator
) -> FloatArray:
    """Mechanical strain under every gauge at zero and levels, shape (n, 7) [1]."""
    area, diameter = drawn(papers.area, rng), drawn(papers.diameter, rng)
    strains = []
    for _ in range(n_gauges // 2):
        width = drawn(papers.flat_width, rng)
        net = area * specimen.net_area_share(diameter, (width, width))
        axial = shared.steel.strain(shared.force / net)
        bending = _BENDING_SCATTER * float(rng.standard_normal())
        for side in (1.0, -1.0):
            share, none = side * bending, np.zeros_like(axial)
            strains.append(specimen.face_strain(axial, share, shared.steel.yield_strain, none))
    return np.array(strains)


def _wired(
    papers: Papers,
    shared: _Conditions,
    gauge: TrueGauge,
    strain: FloatArray,
    *,
    insulation: float,
    remade: bool,
    allowances: Mapping[str, float],
    rng: np.random.Generator,
) -> WiredBridge:
    """Circuit of one gauge at zero and levels: dry and as plugged at the zero, not so after."""
    elastic = np.clip(strain, -shared.steel.yield_strain, shared.steel.yield_strain)
    across = -shared.poisson_ratio * elastic - 0.5 * (strain - elastic)
    grid = gauge.resistance_at(strain, across, shared.temperature_degc, shared.thermal_expansion)
    lead = TrueLead.laid(papers.lead_resistance, 20.0, rng, spread=0.003)
    after = np.arange(7) > 0
    unlike = allowances["lead warming difference"] * float(rng.standard_normal()) * after
    wires = np.array(lead.at(shared.temperature_degc - 20.0))
    wires[:, 0] = lead.at(shared.temperature_degc - 20.0 + unlike)[:, 0]
    if remade:
        # A contact of so many milliohm, shared between the two pins that are in the bridge.
        wires[:, :2] += 0.02
        wires[:, :2] += CONTACT_OHM / math.sqrt(2) * rng.standard_normal(2) * after[:, None]
    share = float(rng.uniform(0.05, 0.95))
    leaks = tuple(np.where(after, insulation / part, 1e12) for part in (share, 1 - share))
    completion = Completion.fitted(papers.pack.gauge_resistance.value, rng)
    return WiredBridge(grid, wires, (leaks[0], leaks[1]), completion)


def _digitised(
    papers: Papers,
    shared: _Conditions,
    gauges: tuple[TrueGauge, ...],
    ratio: FloatArray,
    *,
    allowances: Mapping[str, float],
    rng: np.random.Generator,
) -> FloatArray:
    """What the recorder writes: its gain, its drift since the zero, its noise and steps [V/V]."""
    after = np.arange(ratio.shape[1]) > 0
    drift = np.array([drawn(papers.recorder_stability, rng) for _ in gauges])
    crept = allowances["zero drift allowance"] * rng.standard_normal(len(gauges))
    # Drift of gauge and adhesive is stated as strain: a quarter of k times it is its ratio.
    crept = crept * np.array([gauge.gauge_factor for gauge in gauges]) / 4
    noise = papers.noise * rng.standard_normal(ratio.shape)
    noise[:, 0] /= math.sqrt(_ZERO_SCANS)
    read = shared.gain * ratio + (drift + crept)[:, None] * after + noise
    return np.asarray(np.round(read / papers.step) * papers.step)
