"""Campaigns that are only planned: a tubular brace in SI, a circular column in US units."""

import math
from pathlib import Path

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.member import (
    BarPlace,
    Concrete,
    LoadPoint,
    Member,
    Outline,
    OutlineShape,
)
from gaugewright.records.planning import PlannedStep, Protocol
from gaugewright.records.specimen import (
    Bar,
    Campaign,
    Material,
    Question,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.store.campaign import CampaignStore

OUTER, INNER = 0.1143, 0.1017
AREA = math.pi / 4 * (OUTER**2 - INNER**2)
MODULUS, YIELD = 210e9, 380e6
FORCE = 200e3


def limit(value: float, doubt: float = 0.0) -> Stated:
    return Stated(value, doubt or None, Meaning.LIMIT)


def begun(folder: Path, label: str, units: str) -> CampaignStore:
    shipped = settings.load({}, environment={}, user_folder=folder.parent / "no settings")
    record = Campaign(label, f"Planned {label} (invented)", "Europe/Rome", units=units)
    return campaigns.new(folder, record, shipped, context=working_context())


def steel(store: CampaignStore, modulus: float, strength: float) -> str:
    metal = Material(
        "steel",
        SteelLaw.BILINEAR,
        limit(modulus, 0.02 * modulus),
        limit(12e-6, 0.4e-6),
        limit(0.3, 0.01),
        limit(strength, 0.02 * strength),
        limit(2e9, 0.3e9),
    )
    return store.add(metal).uid


def brace(folder: Path) -> None:
    """A tube in tension with four stations round its middle: two opposite pairs."""
    with begun(folder, "brace", "si") as store:
        specimen = store.add(Specimen("B1", SpecimenKind.BARE_METAL, length=3.0)).uid
        metal = steel(store, MODULUS, YIELD)
        wall = (OUTER - INNER) / 2
        tube = Bar("tube", specimen, metal, "", limit(OUTER), limit(AREA), 3.0, limit(wall))
        bar = store.add(tube).uid
        stations = tuple(
            store.add(Station(f"T{n}", bar, "lower end", 1.5, n * math.pi / 2)).uid
            for n in range(4)
        )
        for question in (
            Question("axial", "Which force?", "force", 15e3, stations, FORCE),
            Question("fine", "Which force, to 1 kN?", "force", 1e3, stations, FORCE),
            Question("one side", "Which strain?", "strain", 20e-6, stations[:1], FORCE),
            Question("yield", "When does it yield?", "yield load", 60e3, stations),
            Question("nowhere", "Which stress?", "stress", 20e6, (), FORCE),
            Question("too much", "Which force at 2 MN?", "force", 5e3, stations, 2e6),
            Question("odd", "Which taste?", "taste", None, stations),
        ):
            store.add(question)
        steps = (PlannedStep("half", FORCE / 2), PlannedStep("whole", FORCE))
        store.add(Protocol("pull", specimen, steps))


def column(folder: Path) -> None:
    """A circular column bent as a beam, six bars of an American size, no station yet."""
    with begun(folder, "column", "us") as store:
        specimen = store.add(Specimen("C", SpecimenKind.CAST_MEMBER, length=3.6)).uid
        metal = steel(store, 200e9, 455e6)
        places = []
        for number in range(6):
            turn = number * math.pi / 3
            size = Bar(
                f"V{number + 1}", specimen, metal, "#7", limit(0.022225), limit(3.871e-4), 3.6
            )
            bar = store.add(size).uid
            depth, across = 0.2286 - 0.16 * math.cos(turn), 0.16 * math.sin(turn)
            places.append(BarPlace(bar, limit(depth, 0.004), limit(across, 0.004), limit(0.0)))
        concrete = store.add(Concrete("mix", limit(35e6, 2e6))).uid
        store.add(
            Member(
                "C",
                specimen,
                concrete,
                Outline(OutlineShape.CIRCLE, limit(0.4572, 0.002)),
                tuple(places),
                "left support",
                (limit(0.1), limit(3.5)),
                (LoadPoint(limit(1.8), 1.0),),
            )
        )
        for question in (
            Question("curvature", "Curvature?", "curvature", 2e-3, (), 90e3),
            Question("bond", "Bond?", "bond stress", 1e6, (), 90e3),
            Question("force", "Force at 10 MN?", "force", 10e3, (), 1e7),
        ):
            store.add(question)
