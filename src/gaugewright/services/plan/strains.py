"""What a planned gauge should read at a load, and with which uncertainty it will read it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Lead
from gaugewright.records.gauges import Gauge
from gaugewright.records.member import Member
from gaugewright.records.planning import Protocol
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.sensors import Sensor
from gaugewright.records.specimen import Question, Specimen, SpecimenKind, SteelLaw
from gaugewright.services.bars.forces import net_area_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.services.members.bare_metal import (
    OnFace,
    bends_or_twists,
    loading_of,
    loading_words,
    on_face,
)
from gaugewright.services.members.members import member_of
from gaugewright.services.plan.book import PlanBook, planned_limit
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.section.predictions import Prediction, crushing_load, predicted_strain
from gaugewright.services.steel.steel_laws import LawInUse, law_of
from gaugewright.services.under_load.loads import load_uncertain

__all__ = [
    "BeyondReach",
    "Expected",
    "PlannedReadings",
    "bare_yield_load",
    "in_member",
    "is_along",
    "is_dummy",
    "load_doubt",
    "section_yield_load",
]

_IN_MEMBER = "statics and section through a crack, first loading"
_BETWEEN = 41  # loads from nothing to the last state at which a curve is made
_STEPS = 12  # of Newton's method: readings are nearly straight in strain
_CLOSE = 1e-12
_LARGEST = 0.2  # farther than any pack's grid follows [1]
_POINTS = 20_001


class BeyondReach(InputError):
    """A load that the specimen, as it is described, doesn't carry."""


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Strain expected at a gauge [1] and by what; ``is_level`` where no load could be followed.

    Then ``strain`` is only a level that resolution is told at, such as that of yield.
    """

    strain: float
    words: str
    is_level: bool = False


class PlannedReadings:
    """Gauges of a plan as if they were read: each chain built once.

    ``like`` is another plan of the same specimen, whose predictions hold here too; ``loads`` are
    asked for beside those of questions and steps [N].
    """

    def __init__(
        self,
        plan: PlanBook,
        like: "PlannedReadings | None" = None,
        loads: tuple[float, ...] = (),
    ) -> None:
        self.plan = plan
        self.loads = loads
        self._chains: dict[str, BuiltChain] = {}
        self._predictions: dict[str, Prediction] = {}
        self._faces: dict[str, OnFace] = {}
        if like is not None:
            self._predictions |= like._predictions
            plan.book.knowing(like.book, "member ", "response ")

    @property
    def book(self) -> Book:
        """Records of the plan, those made up included."""
        return self.plan.book

    @cached_property
    def noise(self) -> float:
        """Standard deviation of the mean reading of a load step [1]."""
        return planned_limit(self.book, "planned reading noise")

    @cached_property
    def rise(self) -> float:
        """Change of temperature between the zero and the reading [K]."""
        return planned_limit(self.book, "planned temperature rise")

    def chain(self, circuit: Entry[BridgeCircuit]) -> BuiltChain:
        """Chain of a circuit's planned connection."""
        known = self._chains.get(circuit.uid)
        if known is None:
            known = chain_for(self.book, self.plan.connection_of(circuit))
            self._chains[circuit.uid] = known
        return known

    def strain(self, circuit: Entry[BridgeCircuit], strain: float, stage: str = "") -> Uncertain:
        """A circuit's strain with everything it owes, where it truly is ``strain`` [1].

        ``stage`` names one that is switched on for what is told: torque instead of shear strain.

        Raises
        ------
        InputError
            If the chain gives no value there: it says which stage stops, and why.
        """
        built = self.chain(circuit)
        chain, columns = built.chain, self._columns(built)
        reading, slope = 0.0, 1.0
        for _ in range(_STEPS):
            there = float(chain.strain(reading, columns))
            beyond = float(chain.strain(reading + 1e-6, columns))
            slope = (beyond - there) / 1e-6
            if not np.isfinite(there) or not np.isfinite(slope) or slope == 0:
                raise self._stopped(circuit, strain, reading)
            reading += (strain - there) / slope
            if abs(strain - there) < _CLOSE:
                break
        last = chain.step_on(stage, "asked for in the plan") if stage else chain
        found = last.uncertain(np.asarray(reading), columns, self.noise / abs(slope))
        if not np.isfinite(found.value):
            raise self._stopped(circuit, strain, reading)
        return found

    def _stopped(self, circuit: Entry[BridgeCircuit], strain: float, reading: float) -> InputError:
        built = self.chain(circuit)
        columns = {name: np.atleast_1d(v) for name, v in self._columns(built).items()}
        why = built.chain.stopped(np.atleast_1d(reading), columns)
        told = f"{why[0].kind}: {why[0].why}" if why else "no reading leads to it"
        return InputError(
            f"strain of {circuit.record.label}",
            f"{strain * 1e6:.0f} µε",
            f"one that its chain gives a value for ({told})",
            "declare the pack's law at large strain, or choose another pack",
        )

    def _columns(self, built: BuiltChain) -> dict[str, FloatArray]:
        """What a chain needs beside its reading, as a plan has it."""
        zero = built.subject.zero.record
        known = {
            "temperature_degc": zero.temperature.value + self.rise,
            "time": campaign_seconds(zero.measured),
        }
        return {name: np.asarray(known.get(name, 0.0)) for name in built.chain.columns}

    @cached_property
    def asked_loads(self) -> tuple[float, ...]:
        """Loads of questions and of planned steps, each once, rising [N]."""
        loads = {q.record.load for q in self.book.of(Question) if q.record.load is not None}
        loads |= {step.load for entry in self.book.of(Protocol) for step in entry.record.steps}
        loads |= {step.record.load for step in self.book.of(LoadStep)} | set(self.loads)
        return tuple(sorted(loads))

    def prediction(self, gauge: Entry[Gauge]) -> Prediction:
        """Prediction for a gauge in a described member, from no load to its last state.

        At the loads that are asked for and at loads between; made once, for it takes a while.
        """
        known = self._predictions.get(gauge.uid)
        if known is None:
            member = member_of(self.book, self.book.bar_of(gauge))
            last = crushing_load(self.book, member)
            between = np.linspace(0.0, last, _BETWEEN) if np.isfinite(last) else np.zeros(1)
            asked = [load for load in self.asked_loads if load >= 0]
            loads = np.unique(np.concatenate([between, asked]))
            known = predicted_strain(self.book, gauge, loads, since=ZeroKind.BEFORE_TEST)
            self._predictions[gauge.uid] = known
        return known

    def expected(self, gauge: Entry[Gauge], load: float | None) -> Expected:
        """Strain to be expected at a gauge under a load; a level where none can be predicted.

        Raises
        ------
        InputError
            If the specimen doesn't carry such a load.
        """
        if load is None:
            return self.level(gauge, "the question names no load")
        try:
            return self._at_load(gauge, load)
        except BeyondReach:
            raise  # it can be predicted: the load is the fault
        except Faults as problem:
            return self.level(gauge, str(problem).splitlines()[0])
        except InputError as problem:
            return self.level(gauge, str(problem))

    def _at_load(self, gauge: Entry[Gauge], load: float) -> Expected:
        return Expected(self.strain_at_load(gauge, load), self.how(gauge))

    def how(self, gauge: Entry[Gauge]) -> str:
        """By what a gauge is predicted, in words."""
        if is_dummy(self.book, gauge):
            return "a dummy: never loaded"
        if in_member(self.book, gauge):
            return _IN_MEMBER
        return loading_words(loading_of(self.book, self.book.bar_of(gauge)))

    def strain_at_load(self, gauge: Entry[Gauge], load: float) -> float:
        """Predicted mechanical strain at a gauge under a load [1].

        Raises
        ------
        InputError
            If records lack what a prediction needs, or nothing carries such a load.
        """
        if is_dummy(self.book, gauge):
            return 0.0
        if not in_member(self.book, gauge):
            return self._bare(gauge, load)
        found = self.prediction(gauge)
        curve = found.first_loading.value
        strain = float(np.interp(load, found.load, curve, left=np.nan, right=np.nan))
        if not np.isfinite(strain):
            raise BeyondReach(
                f"load on {found.member.label}",
                f"{load / 1e3:.6g} kN",
                f"from 0 to the crushing load, about {found.crushing_load / 1e3:.4g} kN",
                "ask at a load that the member carries",
            )
        return strain

    def lead(self, circuit: Entry[BridgeCircuit]) -> Lead:
        """Lead of a circuit, on record or planned."""
        return self.book.entry(circuit.record.lead, Lead).record

    def face(self, gauge: Entry[Gauge]) -> OnFace | None:
        """What a load does at a grid of bare metal that it bends or twists; None where it doesn't.

        Raises
        ------
        InputError
            If records lack what that takes.
        """
        bar = self.book.bar_of(gauge)
        loading = loading_of(self.book, bar)
        specimen = self.book.entry(bar.record.specimen, Specimen).record
        if loading is None and specimen.kind is SpecimenKind.TUBE:
            raise InputError(
                f"loading of {bar.record.label}",
                None,
                "written down: a torsion tube isn't pulled",
                "say under Loadings of bars by which arm the load turns it",
            )
        if not bends_or_twists(loading):
            return None
        known = self._faces.get(gauge.uid)
        if known is None:
            known = self._faces[gauge.uid] = on_face(self.book, gauge)
        return known

    def _bare(self, gauge: Entry[Gauge], load: float) -> float:
        """Strain along a grid of a piece of bare metal [1]."""
        face = self.face(gauge)
        if face is None:
            return self._axial(gauge, load)
        last = section_yield_load(self, gauge)
        if last is not None and abs(load) > float(last.value):
            raise BeyondReach(
                f"load on {self.book.bar_of(gauge).record.label}",
                f"{load / 1e3:.6g} kN",
                f"up to first yield, about {float(last.value) / 1e3:.4g} kN: bending and torsion "
                "are predicted elastically",
                "ask at a load below it",
            )
        return float(face.strain.value) * load

    def _axial(self, gauge: Entry[Gauge], load: float) -> float:
        """Strain along a grid of a piece of bare metal under a central load [1]."""
        loading = loading_of(self.book, self.book.bar_of(gauge))
        share = 1.0 if loading is None else loading.axial_share
        area = float(net_area_of(self.plan.desk, gauge).value)
        material = self.book.material_of(gauge)
        modulus = material.record.elastic_modulus.value
        along, carried = _strain_at(law_of(material), share * load / area, modulus)
        if not np.isfinite(along):
            raise BeyondReach(
                f"load on {self.book.bar_of(gauge).record.label}",
                f"{load / 1e3:.6g} kN",
                f"what its metal carries: up to {carried * area / abs(share) / 1e3:.4g} kN",
                "ask at a load that it carries",
            )
        nu, angle = material.record.poisson_ratio.value, gauge.record.angle_to_axis
        return float(along * (np.cos(angle) ** 2 - nu * np.sin(angle) ** 2))

    def level(self, gauge: Entry[Gauge], why: str = "") -> Expected:
        """Strain that resolution is told at where nothing is predicted: that of yield, or a limit.

        ``why`` nothing is.
        """
        record = self.book.material_of(gauge).record
        after = f": {why}" if why else ""
        if record.yield_strength is None:
            strain = planned_limit(self.book, "planned level of strain")
            return Expected(strain, f"at {strain * 1e6:.0f} µε, nothing is predicted{after}", True)
        strain = record.yield_strength.value / record.elastic_modulus.value
        return Expected(strain, f"at the strain of yield, nothing is predicted{after}", True)


def _strain_at(law: LawInUse, stress: float, modulus: float) -> tuple[float, float]:
    """Strain on first loading at a stress, NaN beyond, and the largest stress the law reaches.

    The law is taken alike in compression.
    """
    size = abs(stress) / modulus
    if size <= law.yield_strain:
        return stress / modulus, np.inf
    numbers = [float(number.value) for number in law.numbers]
    along = np.linspace(law.yield_strain, _LARGEST, _POINTS)
    carried = np.asarray(law.first(along, *numbers))
    above = np.flatnonzero(carried >= abs(stress))
    most = float(np.nanmax(carried))
    if not above.size:
        return np.nan, most
    last = max(int(above[0]), 1)
    found = np.interp(abs(stress), carried[last - 1 : last + 1], along[last - 1 : last + 1])
    return float(np.copysign(found, stress)), most


def in_member(book: Book, gauge: Entry[Gauge]) -> bool:
    """Whether a gauge's bar lies in a described member."""
    bar = book.bar_of(gauge).uid
    return any(place.bar == bar for member in book.of(Member) for place in member.record.bars)


def is_dummy(book: Book, gauge: Entry[Gauge]) -> bool:
    """Whether a gauge sits on a piece that is never loaded."""
    specimen = book.entry(book.bar_of(gauge).record.specimen, Specimen)
    return specimen.record.kind is SpecimenKind.DUMMY


def is_along(gauge: Entry[Gauge]) -> bool:
    """Whether a grid lies along its bar."""
    return abs(gauge.record.angle_to_axis) < 0.01 and not gauge.record.group


def section_yield_load(readings: PlannedReadings, gauge: Entry[Gauge]) -> Uncertain | None:
    """Load at which the section of a piece of bare metal first yields anywhere [N]; None: never."""
    return _yields(readings, gauge, at_grid=False)


def bare_yield_load(readings: PlannedReadings, gauge: Entry[Gauge]) -> Uncertain | None:
    """Load at which a piece of bare metal yields at a gauge [N].

    Raises
    ------
    InputError
        If another place of its section yields first: past that nothing is predicted.
    """
    found, first = _yields(readings, gauge), section_yield_load(readings, gauge)
    if found is None or first is None:
        return None
    if float(found.value) > float(first.value) * 1.001:
        raise InputError(
            f"yield load of {gauge.record.label}",
            f"{float(found.value) / 1e3:.4g} kN",
            f"that at which its section first yields, {float(first.value) / 1e3:.4g} kN",
            "place the gauge where the stress is greatest",
        )
    return found


def _yields(
    readings: PlannedReadings, gauge: Entry[Gauge], *, at_grid: bool = True
) -> Uncertain | None:
    material = readings.book.material_of(gauge)
    strength = material.record.yield_strength
    if strength is None or material.record.law is SteelLaw.ELASTIC:
        return None
    stated = uncertain_of_stated(
        f"yield_strength@{material.uid}", strength, "yield strength of the steel"
    )
    face = readings.face(gauge)
    if face is not None:
        per_load = face.mises if at_grid else face.largest
        return stated / per_load if float(per_load.value) > 0 else None
    loading = loading_of(readings.book, readings.book.bar_of(gauge))
    share = 1.0 if loading is None else abs(loading.axial_share)
    return stated * net_area_of(readings.plan.desk, gauge) / share


def load_doubt(readings: PlannedReadings, load: float) -> Uncertain:
    """A load as the campaign's load cell will tell it; by a limit where there is none yet [N]."""
    cells = [s for s in readings.book.of(Sensor) if s.record.quantity == "force"]
    if len(cells) == 1:
        return load_uncertain(readings.plan.desk, np.array([load]))[0]
    share = planned_limit(readings.book, "planned load doubt")
    doubt = InputQuantity(
        "planned load cell",
        share / np.sqrt(3),
        distribution="rectangular",
        basis="assumed",
        meaning="load cell, not calibrated yet",
    )
    return Uncertain.from_input(load, doubt, load)
