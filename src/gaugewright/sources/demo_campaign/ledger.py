"""Lays the demo's records down in the order in which each needs the ones before it."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from gaugewright.records.gauges import BenchStep, Gauge, Protection, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import GateCheck, GateReading, Meter, Person
from gaugewright.records.specimen import (
    Bar,
    Flat,
    Material,
    Question,
    SmoothedZone,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.sources.demo_campaign import gates, plan
from gaugewright.sources.demo_campaign.gates import HandMeter, SheetLine
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan, Metal
from gaugewright.sources.demo_campaign.protocol import DAYS
from gaugewright.sources.demo_campaign.world import Scenario

__all__ = ["Add", "DemoUids", "lay_down_gates", "lay_down_gauges", "lay_down_specimen"]

Add = Callable[[object], Uid]

_PEOPLE = (
    ("bonder", "Ines Example (invented)", "bonds and wires"),
    ("checker", "Tom Sample (invented)", "second pair of eyes"),
    ("engineer", "Mara Specimen (invented)", "answers for the test"),
)
_SUPPLIES = (
    ("adhesive", "post-yield cyanoacrylate adhesive", "AD-77 (invented)", date(2027, 1, 31)),
    ("coating", "soft rubber coating", "CO-12 (invented)", date(2027, 6, 30)),
    ("tape", "mastic tape with foil", "TA-05 (invented)", None),
    ("cleaner", "degreaser and mild acid and base cleaners", "CL-31 (invented)", date(2028, 3, 31)),
)
_LAYERS = ("thin acrylic film", "soft rubber", "mastic tape with foil", "cloth tape")


@dataclass
class DemoUids:
    """Uids of the demo's records by the label people know them by.

    ``connections`` is keyed by (circuit, sensor or point, number of the plugging from 0).
    """

    people: dict[str, Uid] = field(default_factory=dict)
    questions: dict[str, Uid] = field(default_factory=dict)
    specimens: dict[str, Uid] = field(default_factory=dict)
    materials: dict[str, Uid] = field(default_factory=dict)
    bars: dict[str, Uid] = field(default_factory=dict)
    stations: dict[str, Uid] = field(default_factory=dict)
    packs: dict[str, Uid] = field(default_factory=dict)
    gauges: dict[str, Uid] = field(default_factory=dict)
    supplies: dict[str, Uid] = field(default_factory=dict)
    leads: dict[str, Uid] = field(default_factory=dict)
    circuits: dict[str, Uid] = field(default_factory=dict)
    instruments: dict[str, Uid] = field(default_factory=dict)
    channels: dict[str, Uid] = field(default_factory=dict)
    settings: dict[str, Uid] = field(default_factory=dict)
    sensors: dict[str, Uid] = field(default_factory=dict)
    points: dict[str, Uid] = field(default_factory=dict)
    connections: dict[tuple[str, int], Uid] = field(default_factory=dict)
    meters: dict[str, Uid] = field(default_factory=dict)
    gate_checks: list[Uid] = field(default_factory=list)
    events: list[Uid] = field(default_factory=list)
    load_steps: dict[str, Uid] = field(default_factory=dict)


def lay_down_specimen(world: Scenario, add: Add, uids: DemoUids) -> None:
    """People, what is tested, its metals and bars, and the stations with their flats."""
    for label, name, role in _PEOPLE:
        uids.people[label] = add(Person(label, name, role))
    for specimen in _specimens():
        uids.specimens[specimen.label] = add(specimen)
    reinforcement = _material("B500, one heat", plan.REINFORCEMENT, SteelLaw.BILINEAR)
    uids.materials["reinforcement"] = add(reinforcement)
    uids.materials["plate"] = add(_material("structural steel", plan.STRUCTURAL, SteelLaw.ELASTIC))
    for bar in _bars(uids):
        uids.bars[bar.label] = add(bar)
    for gauge in GAUGES:
        uids.stations[gauge.label] = add(_station(gauge, uids))
        if gauge.bar[0] in "LC":
            _lay_down_flat(world, gauge, add, uids)
    for question in _questions(uids):
        uids.questions[question.label] = add(question)


def _specimens() -> tuple[Specimen, ...]:
    return (
        Specimen(
            "H3",
            SpecimenKind.CAST_MEMBER,
            "beam in four-point bending, span 3.60 m, loads 1.20 m from the supports, 4 d16 below",
            plan.SPECIMEN_LENGTH,
            0.30,
            0.45,
        ),
        Specimen("P", SpecimenKind.BARE_METAL, "loading plate under the jack", 0.40, 0.20, 0.02),
        Specimen("D", SpecimenKind.DUMMY, "offcut beside the beam, never loaded", 0.10, 0.04, 0.01),
    )


def _material(label: str, metal: Metal, law: SteelLaw) -> Material:
    bilinear = law is SteelLaw.BILINEAR
    return Material(
        label,
        law,
        metal.elastic_modulus,
        metal.thermal_expansion,
        metal.poisson_ratio,
        metal.yield_strength if bilinear else None,
        metal.hardening_modulus if bilinear else None,
        coupon="C1 to C5 (invented)" if bilinear else "",
    )


def _bars(uids: DemoUids) -> list[Bar]:
    beam, steel = uids.specimens["H3"], uids.materials["reinforcement"]
    bars = [
        Bar(f"L{n}", beam, steel, "d16", plan.BAR_DIAMETER, plan.BAR_AREA, 4.14)
        for n in range(1, 5)
    ]
    bars.append(Bar("C1", beam, steel, "d12", plan.UPPER_BAR_DIAMETER, plan.UPPER_BAR_AREA, 4.14))
    bars.append(Bar(plan.PLATE, uids.specimens["P"], uids.materials["plate"], length=0.40))
    bars.append(Bar("offcut", uids.specimens["D"], uids.materials["plate"], length=0.10))
    return bars


def _station(gauge: GaugePlan, uids: DemoUids) -> Station:
    on_bar = gauge.bar[0] in "LC"
    datum = "west end of the bar" if on_bar else "marked edge"
    planned = round(gauge.x - plan.BAR_END, 4) if on_bar else gauge.x
    return Station(
        gauge.label,
        uids.bars[gauge.bar],
        datum,
        planned,
        gauge.face,
        replace(plan.PLACE_DOUBT, value=planned),
        Stated(gauge.face, 0.09, Meaning.LIMIT, Basis.MEASURED, "protractor"),
    )


def _lay_down_flat(world: Scenario, gauge: GaugePlan, add: Add, uids: DemoUids) -> None:
    station, site = uids.stations[gauge.label], world.sites[gauge.label]
    length = Stated(0.030, 0.002, Meaning.LIMIT, Basis.MEASURED, "rule")
    lower = gauge.bar.startswith("L")
    left = plan.BAR_DIAMETER if lower else plan.UPPER_BAR_DIAMETER
    add(SmoothedZone(station, length, left))
    # As read: to a tenth of a millimetre, which is what the stated limit allows for.
    width = round(site.flat_width, 4)
    stated = Stated(width, 0.0003, Meaning.LIMIT, Basis.MEASURED, "calliper")
    add(Flat(station, stated, opposite=site.opposite_flat))


def _questions(uids: DemoUids) -> tuple[Question, ...]:
    def at(*labels: str) -> tuple[Uid, ...]:
        return tuple(uids.stations[label] for label in labels)

    midspan = [g.label for g in GAUGES if g.bar.startswith("L") and "-M-" in g.label]
    row = [g.label for g in GAUGES if "-R" in g.label and g.bar == "L3"]
    return (
        Question(
            "yield",
            "At which load do the tension bars yield at midspan?",
            "yield load",
            8.0e3,
            at(*midspan),
        ),
        Question(
            "bar force",
            "What force does each tension bar carry at midspan under 160 kN?",
            "force",
            4.0e3,
            at(*midspan),
            160e3,
        ),
        Question(
            "bond",
            "How large is the bond stress along bar L3 in the west shear span at 232 kN?",
            "bond stress",
            0.8e6,
            at(*row),
            232e3,
        ),
        Question(
            "plate",
            "Which principal stresses, in which direction, are in the plate at 160 kN?",
            "principal stress",
            5.0e6,
            at("P-1", "P-2", "P-3"),
            160e3,
        ),
    )


def lay_down_gauges(add: Add, uids: DemoUids) -> None:
    """Packs, gauges with their partners, supplies, protection and the steps at the bench."""
    for pack in plan.PACKS:
        uids.packs[pack.label] = add(pack)
    numbers = dict.fromkeys(uids.packs, 0)
    for gauge in GAUGES:
        numbers[gauge.pack] += 1
        uids.gauges[gauge.label] = add(
            Gauge(
                gauge.label,
                uids.packs[gauge.pack],
                uids.stations[gauge.label],
                gauge.direction,
                uids.gauges[gauge.opposite] if gauge.opposite else None,
                gauge.group,
                numbers[gauge.pack],
            )
        )
    for label, what, batch, expires in _SUPPLIES:
        uids.supplies[label] = add(Supply(label, what, batch, expires))
    for place, gauge in enumerate(GAUGES):
        _lay_down_bench(gauge, place, add, uids)


def _lay_down_bench(gauge: GaugePlan, place: int, add: Add, uids: DemoUids) -> None:
    steps = (
        ("smooth and flatten", DAYS.bonded - timedelta(hours=25), 8, ()),
        ("clean", DAYS.bonded - timedelta(hours=4), 5, ("cleaner",)),
        ("bond", DAYS.bonded - timedelta(hours=3, minutes=50), 5, ("adhesive",)),
        ("wire", DAYS.wired - timedelta(hours=6), 9, ()),
        ("protect", DAYS.protected - timedelta(hours=8), 10, ("coating", "tape")),
    )
    for step, first, minutes, supplies in steps:
        begun = first + timedelta(minutes=6 * place)
        add(
            BenchStep(
                uids.gauges[gauge.label],
                step,
                begun,
                begun + timedelta(minutes=minutes),
                uids.people["bonder"],
                tuple(uids.supplies[name] for name in supplies),
                21.5,
                0.48,
            )
        )
    if gauge.bar[0] not in "LC":
        return
    wrapped = "-R" not in gauge.label
    length = Stated(0.060 if wrapped else 0.045, 0.004, Meaning.LIMIT, Basis.MEASURED, "rule")
    add(Protection(uids.gauges[gauge.label], _LAYERS, length, full_wrap=wrapped))


def lay_down_gates(lines: tuple[SheetLine, ...], add: Add, uids: DemoUids) -> None:
    """Meters, and every gate sheet line by line."""
    for meter in (gates.OHMMETER, gates.INSULATION_METER):
        uids.meters[meter.label] = add(_meter(meter))
    for line in lines:
        readings = tuple(
            GateReading(
                reading.what,
                reading.value,
                reading.censor,
                uids.meters[reading.meter],
                reading.typed,
                line.temperature_degc,
                line.at + timedelta(seconds=20 * place),
                line.at + timedelta(seconds=20 * place + 8),
            )
            for place, reading in enumerate(line.readings)
        )
        uids.gate_checks.append(
            add(
                GateCheck(
                    uids.gauges[line.gauge],
                    line.gate,
                    readings,
                    line.verdict,
                    line.reason,
                    (),
                    uids.people["bonder"],
                    uids.people["checker"],
                )
            )
        )


def _meter(meter: HandMeter) -> Meter:
    return Meter(
        meter.label,
        "ohm",
        meter.error_share,
        meter.error_fixed,
        meter.highest,
        meter.test_voltage,
        "certificate 2026 (invented)",
    )
