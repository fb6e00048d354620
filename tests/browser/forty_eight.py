"""An invented campaign of 48 gauges, and what a hand meter would read of each circuit, by hand.

Resistances are added up here wire by wire; nothing of the package's own formulas is used.
"""

import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from gaugewright import settings
from gaugewright.records import electrical, gauges, proof, specimen
from gaugewright.records.electrical import Arm, BridgeCircuit, Topology
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.store.campaign import CampaignStore

__all__ = ["CAMPAIGN", "Bench", "Wired", "made"]

CAMPAIGN = "frame"
CARD, WIRE = 350.0, 2.20  # ohm
# Bars of two gauges each: twenty whose gauges are read singly, two in half bridges, and one bar
# of four in a full bridge.
SINGLE_BARS, HALF_BARS, FULL_BARS = 20, 2, 1


def k2(value: float, plus_minus: float) -> Stated:
    return Stated(value, plus_minus, Meaning.TWO_SIGMA, Basis.STATED, "card")


def limit(value: float, plus_minus: float) -> Stated:
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.MEASURED, "calliper")


@dataclass(slots=True)
class Wired:
    """Circuit as it truly is: grids and wires [ohm], and what was done to it."""

    gauges: tuple[str, ...]
    family: str
    grids: tuple[float, ...]
    wires: Mapping[str, float]
    insulation_mohm: float = 200e3
    open_wire: str = ""
    shorted_at: float | None = None

    def repair(self) -> None:
        """New leads, dried cover: as it was meant to be."""
        self.open_wire, self.shorted_at, self.insulation_mohm = "", None, 200e3

    def reads(self, what: str) -> str:
        """What the meter shows, as a person would write it."""
        if what == "insulation":
            mohm = self.insulation_mohm
            return "> 100000" if mohm > 100e3 else f"{mohm:.3g}"
        if what == "tab to tab":
            return f"{self.grids[0]:.2f}"
        if what == "reading":
            return f"{1000 * self._ratio():.4f}"
        ends = what.split("-")
        if self.open_wire and self.open_wire in ends:
            return "open"
        return f"{self._pair(*ends):.2f}"

    def _ratio(self) -> float:
        """Bridge output from the grids alone: wires of one cable cancel to the fourth digit."""
        if self.family == "quarter":
            return (self.grids[0] / CARD - 1) / 4
        signs = (1, -1, 1, -1)
        return sum(s * (g / CARD - 1) for s, g in zip(signs, self.grids, strict=False)) / 4

    def _pair(self, one: str, other: str) -> float:
        both = self.wires[one] + self.wires[other]
        if self.family == "quarter":
            return self._quarter({one, other}, both)
        if self.family == "half":
            between = {"A": {"B": sum(self.grids), "C": self.grids[0]}, "B": {"C": self.grids[1]}}
            return both + between[min(one, other)][max(one, other)]
        place = {"SP": 0, "P": 1, "SN": 2, "N": 3}
        places = [place[end.replace("KP", "P").replace("KN", "N")] for end in (one, other)]
        low, high = min(places), max(places)
        # Corners SP, P, SN, N follow one another round the bridge with a grid between each two.
        round_bridge = (self.grids[1], self.grids[2], self.grids[3], self.grids[0])
        there, back = sum(round_bridge[low:high]), sum(round_bridge[:low] + round_bridge[high:])
        return both + (there * back / (there + back) if there else 0.0)

    def _quarter(self, ends: set[str], both: float) -> float:
        if self.shorted_at is not None:
            # B and C touch at a fraction of their length: beyond it they run side by side.
            k, b, c = self.shorted_at, self.wires["B"], self.wires["C"]
            if ends == {"B", "C"}:
                return k * (b + c)
            beyond = (1 - k) * b * c / (b + c)
            near = k * (b if "B" in ends else c)
            return self.wires["A"] + near + beyond + self.grids[0]
        return both if ends == {"B", "C"} else both + self.grids[0]


@dataclass(frozen=True, slots=True)
class Bench:
    """Folder of the campaign, and what stands in the hall."""

    home: Path
    wired: tuple[Wired, ...]

    @property
    def gauges(self) -> tuple[str, ...]:
        return tuple(label for one in self.wired for label in one.gauges)

    def of(self, label: str) -> Wired:
        return next(one for one in self.wired if label in one.gauges)


def made(home: Path) -> Bench:
    """Campaign in its folder, with nothing read yet."""
    record = specimen.Campaign(CAMPAIGN, "Frame corner (invented)", "Europe/Rome", invented=True)
    given = settings.load({}, environment={}, user_folder=home)
    new = campaigns.new(home / CAMPAIGN, record, given, context=working_context())
    with new as store, store.several():
        wired = tuple(_entered(store))
    return Bench(home, wired)


def _entered(store: CampaignStore) -> Iterator[Wired]:
    draw = random.Random(48)

    def add(record: object) -> Uid:
        return store.add(record).uid

    add(proof.Person("IE", "Ines Example"))
    add(proof.Person("TO", "Tomas Other"))
    add(proof.Meter("hand meter", "ohm", 0.0002, 0.01, highest=20e3, certificate="invented"))
    add(proof.Meter("leak tester", "Mohm", 0.03, 0.1, highest=100e3, test_voltage=50.0))
    add(proof.Meter("bridge reader", "mV/V", 0.0005, 0.0005, highest=20.0))
    steel = add(
        specimen.Material(
            "B500",
            specimen.SteelLaw.BILINEAR,
            k2(200e9, 4e9),
            limit(11.6e-6, 4e-7),
            limit(0.29, 0.01),
            yield_strength=k2(535e6, 7e6),
            hardening_modulus=k2(2e9, 3e8),
        )
    )
    corner = add(specimen.Specimen("corner", specimen.SpecimenKind.CAST_MEMBER))
    pack = add(
        gauges.GaugePack(
            "3 mm", "invented lot", limit(CARD, 1.0), k2(2.08, 0.02), 3e-3, 1.6e-3,
            limit(0.004, 0.002),
        )
    )  # fmt: skip
    recorder = add(
        electrical.Instrument(
            "recorder", "invented", k2(1.0, 0.001), 0.0, limit(0.0, 0.001), channels_isolated=True
        )
    )
    bars = SINGLE_BARS + HALF_BARS + FULL_BARS
    stations = []
    channel = 0
    for number in range(1, bars + 1):
        name = f"B{number:02d}"
        bar = add(specimen.Bar(name, corner, steel, "d16", limit(0.016, 0.0001), k2(201e-6, 1e-6)))
        faces = ("T", "U") if number <= SINGLE_BARS + HALF_BARS else ("T", "U", "V", "W")
        mine: list[tuple[str, Uid]] = []
        for place, face in enumerate(faces):
            label = f"{name}-{face}"
            station = add(specimen.Station(label, bar, "corner", 0.3 + 0.1 * (place // 2)))
            opposite = mine[-1][1] if place % 2 else None
            mine.append((label, add(gauges.Gauge(label, pack, station, opposite=opposite))))
            stations.append(station)
        for one in _circuits(add, name, mine, draw):
            channel += 1
            into = add(electrical.Channel(f"K{channel:02d}", recorder, channel, f"K{channel:02d}"))
            add(electrical.ChannelSetting(into, electrical.ReadingKind.RATIO, "mV/V", 2.5))
            yield one
    add(specimen.Question("corner", "Which bar yields first?", "yield load", None, (*stations,)))


def _circuits(
    add: Callable[[object], Uid], name: str, mine: list[tuple[str, Uid]], draw: random.Random
) -> Iterator[Wired]:
    grids = [CARD + draw.uniform(-0.4, 0.4) for _ in mine]
    if len(mine) == 4:
        parts = [(Topology.FULL_BENDING, mine, grids, ("P", "SP", "N", "SN", "KP", "KN"), "full")]
    elif int(name[1:]) > SINGLE_BARS:
        parts = [(Topology.HALF_BENDING, mine, grids, ("A", "B", "C"), "half")]
    else:
        parts = [
            (Topology.QUARTER_THREE_WIRE, [gauge], [grid], ("A", "B", "C"), "quarter")
            for gauge, grid in zip(mine, grids, strict=True)
        ]
    for topology, members, own, terminals, family in parts:
        label = members[0][0] if len(members) == 1 else name
        number = int(name[1:])
        lead = add(
            electrical.Lead(
                f"cable {label}", len(terminals), 16.5, limit(WIRE, 0.03), 20.0,
                bundle=f"bundle {1 + (number - 1) // 6}",
            )
        )  # fmt: skip
        arms = tuple(
            Arm(place, 1 if place % 2 else -1, uid) for place, (_, uid) in enumerate(members, 1)
        )
        wires = {terminal: WIRE + draw.uniform(-0.008, 0.008) for terminal in terminals}
        add(BridgeCircuit(label, topology, arms, lead))
        yield Wired(tuple(gauge for gauge, _ in members), family, tuple(own), wires)
