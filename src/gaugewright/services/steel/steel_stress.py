"""Stress at a gauge beyond yield: its history replayed through the metal's law, holds allowed."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.quality import noise_floor
from gaugewright.calc.turns import turning_points
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Material, SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.campaign.limit_labels import HOLD_HIGH, HOLD_LOW
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.services.strain.strains import CircuitStrain, Desk

__all__ = [
    "HOLD_HIGH",
    "HOLD_LOW",
    "RecordStress",
    "past_yield",
    "reversal_gate",
    "stress_along_rows",
]

HELD = "rest of the steel while it is held past yield"
# Reversals smaller than this many standard deviations of the noise are noise.
_GATE = 6.0
# On the yielding part of the law, as a share of the yield strength: below it steel is at rest.
_FLOWING = 0.9


@dataclass(frozen=True, slots=True)
class RecordStress:
    """Stress at some rows of a record [Pa], and what must be said beside it.

    ``yielded`` tells for each row whether the steel had passed yield by then.
    """

    stress: Uncertain
    yielded: npt.NDArray[np.bool_]
    note: str

    @property
    def known(self) -> bool:
        """Whether every row has a stress."""
        return bool(np.all(np.isfinite(self.stress.value)))


def past_yield(desk: Desk, material: Entry[Material], strain: FloatArray) -> bool:
    """Whether a record passes the strain at which the law leaves its elastic line."""
    if material.record.law is SteelLaw.ELASTIC:
        return False
    limit = law_of(material).yield_strain
    known = strain[np.isfinite(strain)]
    return bool(known.size and np.max(np.abs(known)) > limit)


def stress_along_rows(
    desk: Desk,
    circuit: Entry[BridgeCircuit],
    zero: ZeroKind,
    rows: npt.NDArray[np.int64],
    *,
    held: npt.NDArray[np.bool_] | bool = False,
    bending: InputQuantity | None = None,
) -> RecordStress:
    """Stress at rows of a circuit by the law of its metal, after all that went before them.

    ``held`` says which rows lie in a hold: there, past yield, the law's stress is an upper end.
    ``bending`` is a doubt of strain over strain that every sample carries.

    Raises
    ------
    InputError
        If the law lacks a number, or a doubt reaches beyond what it knows.
    """
    strain = desk.strain(circuit, zero)
    material = desk.book.material_of(desk.book.gauges_of(circuit)[0])
    law = law_of(material)
    history, places, gate = history_of(strain, rows)
    record = strain.uncertain(history)
    if bending is not None:
        record = record + Uncertain.from_input(np.zeros(history.size), bending, record.value)
    stress = law.of_record(record, places, gate)
    passed = np.fmax.accumulate(np.abs(record.value)) > law.yield_strain
    yielded = np.asarray(passed[places])
    note = [law.words]
    if np.any(yielded):
        note += _rates(material, strain, history, law.yield_strain)
        strength = law.yield_strain * float(law.numbers[0].value)
        flowing = yielded & (np.abs(stress.value) > _FLOWING * strength) & held
        if np.any(flowing):
            stress, words = _rested(desk.book, material, stress, flowing)
            note.append(words)
    note += _gaps(material, stress)
    return RecordStress(stress, yielded, "; ".join(note))


def reversal_gate(strain: FloatArray) -> float:
    """Strain that must come back before a record has turned: six deviations of its noise."""
    floor = noise_floor(strain)
    return 0.0 if math.isnan(floor) else _GATE * floor


def history_of(
    strain: CircuitStrain, rows: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], float]:
    """Rows that the stress at some rows hangs on, where those are among them, and the gate."""
    last = int(rows.max()) + 1
    before = strain.strain[:last]
    gate = reversal_gate(before)
    _, turns = turning_points(before, gate)
    history = np.unique(np.concatenate([turns[np.isfinite(before[turns])], rows]))
    return history, np.searchsorted(history, rows).astype(np.int64), gate


def _rates(
    material: Entry[Material],
    strain: CircuitStrain,
    history: npt.NDArray[np.int64],
    yield_strain: float,
) -> list[str]:
    """Rate of coupon and test in words: steel pulled faster is the stronger."""
    record = material.record
    coupon = f"coupon {record.coupon}" if record.coupon else "no coupon named"
    rate = record.coupon_rate
    told = f"at {rate.value:.2g} 1/s" if rate else "at a rate that nobody stated"
    values = strain.strain[: int(history[-1]) + 1]
    beyond = np.flatnonzero(np.abs(np.nan_to_num(values)) > yield_strain)
    first, last = int(beyond[0]), int(history[-1])
    time = float(strain.time[last] - strain.time[first])
    test = "test: too short beyond yield for a rate"
    if time > 0:
        turns = np.concatenate([[first], history[history > first]])
        way = float(np.nansum(np.abs(np.diff(strain.strain[turns]))))
        test = f"test {way / time:.2g} 1/s on the mean since yield, holds included"
    return [f"{coupon} {told}", test]


def _rested(
    book: Book, material: Entry[Material], stress: Uncertain, flowing: npt.NDArray[np.bool_]
) -> tuple[Uncertain, str]:
    """Stress in a hold past yield: anywhere between two shares of the law's stress.

    JCGM 100:2008, 4.3.8: a rectangle that isn't symmetric has its best estimate in its middle.
    """
    low, high = (limit_or_shipped(book, label) for label in (HOLD_LOW, HOLD_HIGH))
    if not low.value <= high.value:
        raise InputError(HOLD_LOW, low.value, f"no more than {HOLD_HIGH} ({high.value})")
    basis = "assumed" if low.unverified or high.unverified else "stated"
    cause = InputQuantity(
        f"hold@{material.uid}",
        (high.value - low.value) / math.sqrt(12),
        distribution="rectangular",
        basis=basis,
        meaning=HELD,
    )
    middle = np.where(flowing, 1 + (low.value + high.value) / 2, 1.0)
    moved = stress * middle
    widened = moved + Uncertain.from_input(
        np.zeros(stress.value.shape), cause, np.where(flowing, stress.value, 0.0)
    )
    return widened, (
        f"held past yield: between {low.value * 100:+g} % and {high.value * 100:+g} % of the law, "
        f"the middle stated ({basis})"
    )


def _gaps(material: Entry[Material], stress: Uncertain) -> list[str]:
    lost = int(np.sum(~np.isfinite(stress.value)))
    if not lost:
        return []
    if material.record.law is SteelLaw.CYCLIC:
        return [f"{lost} sample(s) without stress"]
    return [
        f"{lost} sample(s) without stress: beyond the end of the law, or yielded back, which only "
        "the cyclic law follows"
    ]
