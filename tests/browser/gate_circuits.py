"""A demo before its pour in which gauges stand in every kind of circuit that a gate knows."""

import shutil
from pathlib import Path

from gaugewright.records.electrical import Arm, BridgeCircuit, Lead, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Gate, GateCheck
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

LATE = (Gate.BEFORE_POUR, Gate.AFTER_POUR, Gate.BEFORE_TEST)
# Label of the first gauge -> how it is wired, with how many wires, how many grids.
CIRCUITS = {
    "L1-M-U": (Topology.QUARTER_TWO_WIRE, 2, 1),
    "L2-M-U": (Topology.QUARTER_THREE_WIRE, 4, 1),
    "L3-M-U": (Topology.HALF_BENDING, 3, 2),
    "L4-M-U": (Topology.HALF_OPPOSITE, 4, 2),
    "L3-R1-S": (Topology.FULL_BENDING, 4, 4),
    "L3-R2-S": (Topology.FULL_POISSON, 6, 4),
}
NUMBERS = {Topology.HALF_OPPOSITE: (1, 3)}


def every_circuit(demo: Path, folder: Path) -> Path:
    """The demo copied to a folder, late gates withdrawn, one gauge in each kind of circuit."""
    shutil.copytree(demo, folder / "demo")
    with CampaignStore.open(folder / "demo", working_context()) as store:
        for check in Book.read(store).of(GateCheck):
            if check.record.gate in LATE:
                store.withdraw(check.uid, check.version, reason="still to come")
        book = Book.read(store)
        spare = [g for g in book.of(Gauge) if g.record.label not in CIRCUITS]
        for label, (topology, wires, grids) in CIRCUITS.items():
            lead = store.add(Lead(f"lead of {label}", wires, 5.0, Stated(1.1), 20.0))
            mine = [g.uid for g in book.of(Gauge) if g.record.label == label]
            mine += [spare.pop().uid for _ in range(grids - 1)]
            numbers = NUMBERS.get(topology, (1, 2, 3, 4))[:grids]
            arms = tuple(
                Arm(number, 1 if number in (1, 3) else -1, uid)
                for number, uid in zip(numbers, mine, strict=True)
            )
            for circuit in book.of(BridgeCircuit):
                if any(arm.gauge == mine[0] for arm in circuit.record.arms):
                    made = BridgeCircuit(circuit.record.label, topology, arms, lead.uid)
                    store.revise(circuit.uid, circuit.version, made, reason="tried")
    return folder
