"""What may be wrong with a gauge at a gate: evidence, causes, what to read next; and all faults."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.calc.diagnosis_next import NextStep
from gaugewright.calc.diagnosis_templates import reading_shown
from gaugewright.errors import GaugewrightError, InputError
from gaugewright.services.campaign.gates import gate_number
from gaugewright.services.diagnosis import diagnosing
from gaugewright.services.diagnosis import said as diagnosis_said
from gaugewright.services.diagnosis.diagnosing import Look
from gaugewright.services.diagnosis.faults_known import FaultBook
from gaugewright.services.diagnosis.said import Against, GroupSaid
from gaugewright.services.gating import checks as gate_checks
from gaugewright.services.gating.fields import READING, GateField, Setup, open_connection
from gaugewright.web import frame, rooms, sending
from gaugewright.web.forms import Field
from gaugewright.web.gate_place import setup_named
from gaugewright.web.pages.gate import group_of
from gaugewright.web.pages.gates import gate_url
from gaugewright.web.rooms import Room

__all__ = ["CataloguePage", "DiagnosisPage", "router"]

router = APIRouter()
MOST_STEPS = 4
LEAST_BITS = 0.005


@dataclass(frozen=True, slots=True)
class StepShown:
    """A reading or a look that would help, with what is needed to type it right there.

    With ``name`` it is written down at the gate; with ``ask`` it is only weighed here; a look has
    neither, but the addresses of seen and not seen.
    """

    what: str
    minutes: str
    bits: str
    needs: str
    how: str
    name: str
    unit: str
    hidden: tuple[tuple[str, str], ...]
    is_unplugged: bool
    ask: str
    seen_url: str
    unseen_url: str


@dataclass(frozen=True, slots=True)
class DiagnosisPage:
    """A gauge's diagnosis at one gate."""

    sheet: frame.Sheet
    label: str
    lead: str
    url: str
    record_url: str
    key: str
    readings: tuple[tuple[str, str], ...]
    asides: tuple[str, ...]
    against: tuple[Against, ...]
    groups: tuple[GroupSaid, ...]
    standing: tuple[str, ...]
    steps: tuple[StepShown, ...]
    kept: tuple[tuple[str, str], ...]
    unplug: str
    gate_url: str
    faults_url: str
    plain_url: str
    caution: str
    failure: str


@dataclass(frozen=True, slots=True)
class FaultShown:
    """A known fault as the catalogue tells it."""

    label: str
    family: str
    symptom: str
    check: str
    remedy: str
    signs: tuple[str, ...]
    stands_on: str


@dataclass(frozen=True, slots=True)
class CataloguePage:
    """Known faults by symptom."""

    sheet: frame.Sheet
    lead: str
    search: Field
    action: str
    signs: tuple[tuple[str, str], ...]
    faults: tuple[FaultShown, ...]
    caution: str
    back: str
    all_url: str


@router.get("/c/{name}/gates/{gate}/{gauge}/diagnosis")
def show(
    request: Request,
    gate: str,
    gauge: str,
    reading: list[str] = Query(default=[]),  # noqa: B008 - how the framework takes several
    seen: list[str] = Query(default=[]),  # noqa: B008
    unseen: list[str] = Query(default=[]),  # noqa: B008
) -> Response:
    """What the readings of one gauge at one gate point to; a part of it for the gate's page."""
    room = rooms.room(request)
    made = setup_named(room, gate, gauge)
    known = diagnosing.known_faults(room.settings)
    asked = _Asked(tuple(reading), tuple(seen), tuple(unseen))
    failure = ""
    try:
        look = _look(room, made, known, asked)
    except GaugewrightError as error:
        if not asked.query or (isinstance(error, InputError) and error.name.startswith("gate ")):
            raise
        failure, asked = str(error), _Asked((), (), ())
        look = _look(room, made, known, asked)
    context = _context(room, made, look, asked, failure)
    return frame.page(request, "diagnosis.html", context, part="_diagnosis_short.html")


@router.get("/c/{name}/faults")
def catalogue(request: Request, q: str = "") -> Response:
    """Known faults, those whose symptom holds all the words."""
    room = rooms.room(request)
    known = diagnosing.known_faults(room.settings)
    words, wrong = q.strip()[:80], ""
    try:
        causes, signs = diagnosing.catalogue(known, words)
    except InputError as error:
        wrong = str(error)
        causes, signs = (), known.signs
    shown = tuple(
        FaultShown(
            cause.label,
            cause.family,
            cause.symptom,
            cause.check,
            cause.remedy,
            tuple(cause.signs),
            cause.source + (", unverified" if cause.label in known.unverified else ""),
        )
        for cause in causes
    )
    url = room.url("faults")
    context = CataloguePage(
        sheet=frame.Sheet("Faults", "Faults", frame.room_block(room, "Faults"), step="gates"),
        lead=f"{len(shown)} of {len(known.causes)} known faults"
        + (f" for “{words}”." if words and not wrong else "."),
        search=Field("q", "What is seen", words, hint="Such as drift, hum, open.", wrong=wrong),
        action=url,
        signs=tuple((sign.name, f"{url}?q={quote(sign.name)}") for sign in signs),
        faults=shown,
        caution=diagnosis_said.CAUTION,
        back=room.url("gates"),
        all_url=url if words else "",
    )
    return frame.page(request, "faults.html", context)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the address holds besides the gauge: readings and looks that are nowhere recorded."""

    readings: tuple[str, ...]
    seen: tuple[str, ...]
    unseen: tuple[str, ...]

    @property
    def query(self) -> tuple[tuple[str, str], ...]:
        """As pairs of an address."""
        found = [("reading", text) for text in self.readings]
        found += [("seen", text) for text in self.seen]
        return (*found, *(("unseen", text) for text in self.unseen))

    def url(self, base: str, *more: tuple[str, str]) -> str:
        """Address with what is asked already, and more."""
        pairs = (*self.query, *more)
        return base + ("?" + urlencode(pairs) if pairs else "")


def _look(room: Room, made: Setup, known: FaultBook, asked: _Asked) -> Look:
    return diagnosing.diagnose(
        room.book,
        made.gauge.record.label,
        known,
        gate=made.gate,
        further=[diagnosing.taken_typed(known, text) for text in asked.readings],
        seen=dict.fromkeys(asked.seen, True) | dict.fromkeys(asked.unseen, False),
    )


def _context(room: Room, made: Setup, look: Look, asked: _Asked, failure: str) -> DiagnosisPage:
    label = made.gauge.record.label
    base = gate_url(room, made.gate, label) + "/diagnosis"
    title = f"What may be wrong with {label}"
    standing = open_connection(room.book, made)
    unplug = ""
    if standing is not None:
        unplug = f"Unplugged from {room.book.label(standing.record.channel)}: its zero ends here"
    return DiagnosisPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="gates"),
        label=label,
        lead=f"Gate {gate_number(room.book, made.gate)}, {made.gate.value}.",
        url=base,
        record_url=gate_url(room, made.gate, label),
        key=sending.new_key(),
        readings=tuple((reading_shown(one.reading.what), one.typed) for one in look.taken),
        asides=tuple(_asides(look)),
        against=diagnosis_said.evidence(look),
        groups=diagnosis_said.groups(look),
        standing=tuple(diagnosis_said.standing(look)),
        steps=tuple(
            _step(room, made, step, (base, asked))
            for step in look.steps[:MOST_STEPS]
            if step.bits >= LEAST_BITS
        ),
        kept=asked.query,
        unplug=unplug,
        gate_url=gate_url(room, made.gate, label),
        faults_url=room.url("faults"),
        plain_url=base if asked.query else "",
        caution=diagnosis_said.CAUTION,
        failure=failure,
    )


def _asides(look: Look) -> Iterator[str]:
    """What else was used, and what wasn't."""
    for sign, there in look.seen.items():
        yield f"{'seen' if there else 'looked for and not seen'}: {sign}"
    if look.earlier:
        gates = ", ".join(gate.value for gate in look.earlier)
        left = look.diagnosis.known.gates_left_out
        doubt = f" ({left} left out: no sound gauge reads so)" if left else ""
        yield f"gates passed before, as evidence: {gates}{doubt}"
    if look.unused:
        yield "not used, for the finder knows no such reading: " + ", ".join(look.unused)


def _step(room: Room, made: Setup, step: NextStep, at: tuple[str, _Asked]) -> StepShown:
    base, asked = at
    is_look = step.what in {sign.name for sign in diagnosing.known_faults(room.settings).signs}
    field = _field(made, step.what)
    person = room.person.uid if room.person else None
    meter = gate_checks.meter_for(room.book, field, person) if field is not None else None
    hidden: tuple[tuple[str, str], ...] = ()
    name = unit = ""
    if field is not None and meter is not None:
        name, unit = field.name, gate_checks.box_unit(room.book, meter, field)
        group = group_of(field)
        hidden = (
            (f"unit_{name}", unit),
            (f"meter_{group}", meter.uid),
            (f"drawn_{group}", meter.uid),
        )
    return StepShown(
        field.label if field is not None else step.what,
        f"{step.minutes:g} min",
        f"{step.bits:.2f} bit",
        step.needs,
        step.how,
        name,
        unit,
        hidden,
        field is not None and field.is_unplugged,
        "" if is_look or name else step.what,
        asked.url(base, ("seen", step.what)) if is_look else "",
        asked.url(base, ("unseen", step.what)) if is_look else "",
    )


def _field(made: Setup, what: str) -> GateField | None:
    """Field in which a reading is written down at the gate; None where it has none."""
    wanted = READING if what == "bridge" else what
    return next((field for field in made.every if field.what == wanted), None)
