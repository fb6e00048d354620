"""Force of a calibrated bar at a load step, straight from its readings and its calibration."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import ZeroKind
from gaugewright.services.calibrating.calibrated_chains import force_chain_for, is_calibrated
from gaugewright.services.chaining.chains import BuiltChain
from gaugewright.services.strain.strains import Desk, Piece, joined

__all__ = ["CircuitForce", "are_calibrated", "force_of_circuit", "mean_force"]


@dataclass(frozen=True, slots=True)
class CircuitForce:
    """Force of one calibrated circuit at some rows of its readings [N].

    ``beyond`` counts rows that the calibration says nothing of; they are NaN in ``value``.
    """

    circuit: Entry[BridgeCircuit]
    rows: npt.NDArray[np.int64]
    force: Uncertain
    beyond: int


def are_calibrated(desk: Desk, circuits: Sequence[Entry[BridgeCircuit]], zero: ZeroKind) -> bool:
    """Whether every connection that the circuits were read through has a calibration."""
    return all(
        is_calibrated(desk.book, piece.stretch.connection)
        for circuit in circuits
        for piece in desk.strain(circuit, zero).pieces
    )


def force_of_circuit(
    desk: Desk, circuit: Entry[BridgeCircuit], zero: ZeroKind, rows: npt.ArrayLike
) -> CircuitForce:
    """Force at some rows (in rising order) of a circuit's readings.

    Raises
    ------
    InputError
        If no calibration holds for a connection, or every row lies beyond its range.
    """
    wanted = np.asarray(rows, dtype=np.int64).reshape(-1)
    strain = desk.strain(circuit, zero)
    parts: list[Uncertain] = []
    for piece, begin in zip(strain.pieces, strain.begins, strict=True):
        local = wanted[(wanted >= begin) & (wanted < begin + piece.stretch.reading.size)] - begin
        if local.size:
            parts.append(_force_of_piece(desk, piece, zero, local))
    if not parts:
        raise InputError("rows", "none", "rows of this circuit's readings")
    force = parts[0] if len(parts) == 1 else joined(parts)
    beyond = int(np.count_nonzero(np.isnan(force.value)))
    if beyond == wanted.size:
        raise InputError(
            f"readings of {circuit.record.label}",
            f"all {beyond} beyond the range of the calibration",
            "within the forces it was calibrated over",
            "calibrate the bar that far, or take the force from strain and area",
        )
    return CircuitForce(circuit, wanted, force, beyond)


def _force_of_piece(
    desk: Desk, piece: Piece, zero: ZeroKind, local: npt.NDArray[np.int64]
) -> Uncertain:
    built: BuiltChain = desk.book.once(
        f"force chain of {piece.stretch.connection.uid} since {zero.value}",
        lambda book: force_chain_for(book, piece.stretch.connection, zero_kind=zero),
    )
    time: FloatArray = piece.stretch.time[local]
    columns = {name: desk.column(built, name, time, zero) for name in built.chain.columns}
    return built.chain.uncertain(piece.stretch.reading[local], columns, piece.noise)


def mean_force(
    desk: Desk,
    circuits: Sequence[Entry[BridgeCircuit]],
    zero: ZeroKind,
    rows: Sequence[npt.NDArray[np.int64]],
) -> Uncertain:
    """Mean force of one or several circuits of a bar, each over its own rows [N].

    Raises
    ------
    InputError
        If a row lies beyond the range of a calibration: a mean of what is left would be too low.
    """
    total: Uncertain | None = None
    for circuit, own in zip(circuits, rows, strict=True):
        found = force_of_circuit(desk, circuit, zero, own)
        if found.beyond:
            raise InputError(
                f"readings of {circuit.record.label}",
                f"{found.beyond} of {own.size} beyond the range of the calibration",
                "within the forces it was calibrated over",
                "calibrate the bar that far, or take the force from strain and area",
            )
        mean = found.force.mean()
        total = mean if total is None else total + mean
    if total is None:
        raise InputError("circuits", "none", "one or more")
    return total / len(circuits)
