"""What the records of a small campaign state."""

from dataclasses import dataclass, field, replace

from gaugewright.records.gauges import GaugePack, LargeStrainLaw, ThermalOutput
from gaugewright.records.stated import Basis, Meaning, Stated

__all__ = ["CONTACT_OHM", "PAPERS", "Papers", "limit"]

# Standard uncertainty of what remaking a plug adds to the bridge [ohm].
CONTACT_OHM = 0.010


def _k2(value: float, plus_minus: float, source: str) -> Stated:
    return Stated(value, plus_minus, Meaning.TWO_SIGMA, Basis.MEASURED, source)


def limit(value: float, plus_minus: float, source: str) -> Stated:
    """A value with a limit that a certificate or a calliper gives."""
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.STATED, source)


def _unknown(value: float, plus_minus: float, source: str) -> Stated:
    return Stated(value, plus_minus, Meaning.UNKNOWN, Basis.STATED, source)


@dataclass(frozen=True, slots=True)
class Papers:
    """Cards, certificates and measurements of one small campaign [SI]; all of it invented."""

    pack: GaugePack
    lead_resistance: Stated
    noise: float
    labels: tuple[str, ...] = ()
    elastic_modulus: Stated = field(default_factory=lambda: _k2(200e9, 2.4e9, "coupons"))
    yield_strength: Stated = field(default_factory=lambda: _k2(540e6, 8e6, "coupons"))
    hardening_modulus: Stated = field(default_factory=lambda: _k2(2.2e9, 0.3e9, "coupons"))
    poisson_ratio: Stated = field(default_factory=lambda: limit(0.29, 0.01, "usual"))
    thermal_expansion: Stated = field(default_factory=lambda: limit(11.6e-6, 0.4e-6, "usual"))
    area: Stated = field(default_factory=lambda: _k2(201.0e-6, 0.9e-6, "mass and length"))
    diameter: Stated = field(default_factory=lambda: limit(0.0160, 0.0001, "calliper"))
    flat_width: Stated = field(default_factory=lambda: limit(0.0050, 0.0003, "calliper"))
    recorder_gain: Stated = field(default_factory=lambda: _k2(1.0, 0.001, "certificate"))
    recorder_stability: Stated = field(default_factory=lambda: limit(0.0, 8e-7, "certificate"))
    point_doubt: Stated = field(default_factory=lambda: limit(0.0, 0.5, "thermometer"))
    load_gain: Stated = field(default_factory=lambda: _k2(1.0, 0.005, "certificate"))
    load_offset: Stated = field(default_factory=lambda: _k2(0.0, 100.0, "certificate"))
    step: float = 1e-8

    def for_gauges(self, count: int) -> "Papers":
        """The same papers with a label for each gauge: S1-T, S1-U, S2-T, ..."""
        labels = tuple(f"S{n // 2 + 1}-{'TU'[n % 2]}" for n in range(count))
        return replace(self, labels=labels)


def _pack(ohm: float, factor: Stated, curve: ThermalOutput) -> GaugePack:
    return GaugePack(
        label=f"{ohm:.0f} Ω, small campaign",
        lot="invented",
        gauge_resistance=limit(ohm, 0.003 * ohm, "card"),
        gauge_factor=factor,
        grid_length=3e-3,
        grid_width=1.5e-3,
        transverse_sensitivity=_unknown(0.006, 0.002, "card"),
        gauge_factor_slope=_unknown(1e-4, 0.2e-4, "card"),
        thermal_output=curve,
        strain_limit=0.08,
        large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        note="invented",
    )


PAPERS: tuple[Papers, ...] = (
    Papers(
        _pack(
            350.0,
            _k2(2.08, 0.0208, "card"),
            ThermalOutput(
                (-15.1e-6, 1.1e-6, -0.021e-6, 5e-11),
                2.0,
                11.0e-6,
                5.0,
                70.0,
                _k2(0.0, 0.6e-6, "card"),
            ),
        ),
        limit(2.22, 0.044, "length and wire size"),
        2e-7,
    ),
    Papers(
        _pack(
            120.0,
            _unknown(2.11, 0.015, "card"),
            ThermalOutput(
                (19.0e-6, -1.3e-6, 0.024e-6, -4e-11),
                2.11,
                11.7e-6,
                0.0,
                60.0,
                _k2(0.0, 0.5e-6, "card"),
            ),
        ),
        limit(1.03, 0.021, "length and wire size"),
        4e-7,
    ),
)
