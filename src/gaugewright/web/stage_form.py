"""The form on a gauge's page that turns a stage of its corrections on or off."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.errors import GaugewrightError
from gaugewright.records import Entry
from gaugewright.records.corrections import StageSwitch
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.services.deciding import stage_decisions
from gaugewright.web import rooms
from gaugewright.web.forms import Choice, Field, told_beside
from gaugewright.web.links import gauge_url
from gaugewright.web.pages.undo import Undo, offered

__all__ = ["DecidedRow", "StageForm", "decided", "stage_form"]

NUMBERS = (
    "One a line, only where the stage asks for it: initial_strain = -80 µm/m ± 10 µm/m. "
    "The refusal names what it needs."
)
_PLACES = {
    "set": "set",
    "reason": "reason",
    "numbers": "numbers",
    "beside": "beside",
    "decision": "set",
    "person": "",  # chosen on a page of its own
}
_FIELDS = ("stage", "set", "reason", "numbers", "beside")


@dataclass(frozen=True, slots=True)
class DecidedRow:
    """A decision as it stands: which stage, on or off, why, by whom and with what."""

    stage: str
    on: bool
    reason: str
    version: int
    person: str


@dataclass(frozen=True, slots=True)
class StageForm:
    """Decisions about the stages of one circuit, and the form for the next."""

    circuit: str
    action: str
    fields: tuple[Field, ...]
    rows: tuple[DecidedRow, ...]
    failure: str
    is_open: bool
    undo: Undo | None
    results_url: str


def decided(room: rooms.Room, circuit: Entry[BridgeCircuit], typed: Mapping[str, str]) -> str:
    """Write down what was typed; the uid of the decision.

    Raises
    ------
    InputError
        If it can't be, or the chain can't.
    """
    wish = stage_decisions.wish_from(room.book, typed, _lines(typed))
    return stage_decisions.decide(room.store, circuit, wish).uid


def _lines(typed: Mapping[str, str]) -> list[str]:
    return [line for line in typed.get("numbers", "").splitlines() if line.strip()]


def stage_form(
    room: rooms.Room,
    circuit: Entry[BridgeCircuit],
    gauge: str,
    typed: Mapping[str, str],
    error: GaugewrightError | None,
    just: str = "",
) -> StageForm:
    """What stands under the corrections of a gauge; ``just`` is a decision made a moment ago."""
    wrong, failure = told_beside(error, _FIELDS, _place)
    found = stage_decisions.decisions_of(room.book, circuit.uid)
    return StageForm(
        circuit.record.label,
        gauge_url(room, gauge) + "#decide",
        _fields(room, typed, wrong),
        tuple(_row(room, one) for one in found),
        failure,
        error is not None,
        _undo(room, found, gauge, just),
        room.url("results"),
    )


def _place(name: str) -> str:
    if name.startswith("numbers of") or ": " in name:
        return "numbers"
    if name.startswith("beside of"):
        return "beside"
    return _PLACES.get(name, "stage")


def _fields(
    room: rooms.Room, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    stages = tuple(Choice(name, name.rpartition("@")[0]) for name in stage_decisions.stage_words())
    sources = stage_decisions.sources_beside(room.book)
    beside = (Choice("", "nothing"), *(Choice(label, label) for label in sources))

    def one(name: str, label: str, choices: tuple[Choice, ...] = (), hint: str = "") -> Field:
        return Field(
            name,
            label,
            typed.get(name, ""),
            hint=hint,
            wrong=wrong.get(name, ""),
            choices=choices,
            is_long=name in ("reason", "numbers"),
        )

    return (
        one("stage", "Stage", stages),
        one("set", "Is to be", (Choice("off", "off"), Choice("on", "on"))),
        one("reason", "Because"),
        one("numbers", "Numbers it needs", hint=NUMBERS),
        one("beside", "Read beside it", beside),
    )


def _row(room: rooms.Room, entry: Entry[StageSwitch]) -> DecidedRow:
    record = entry.record
    person = room.book.label(entry.person) if entry.person else ""
    name = record.stage.rpartition("@")[0]
    return DecidedRow(name, record.on, record.reason, entry.version, person)


def _undo(
    room: rooms.Room, found: tuple[Entry[StageSwitch], ...], gauge: str, just: str
) -> Undo | None:
    entry = next((one for one in found if one.uid == just), None)
    if entry is None:
        return None
    name, word = entry.record.stage.rpartition("@")[0], "on" if entry.record.on else "off"
    back = gauge_url(room, gauge).removeprefix(room.url())
    return offered(room, f"{name} is to be {word}", entry.ref, back)
