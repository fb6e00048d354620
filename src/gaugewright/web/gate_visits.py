"""What was written down of a gauge at a gate: when, by whom, and whose second name is pending."""

from dataclasses import dataclass

from gaugewright.present.units_shown import ohm_signs
from gaugewright.records.proof import GateReading, Person
from gaugewright.services.gating.compare import checks_of
from gaugewright.services.gating.fields import Setup
from gaugewright.web import frame
from gaugewright.web.forms import Choice
from gaugewright.web.rooms import Room

__all__ = ["Visit", "visits_of"]


@dataclass(frozen=True, slots=True)
class Visit:
    """A check of this gate as it stands in the record; ``sign_uid`` where a name is pending.

    ``signers`` are those who may give it, each with a PIN of their own.
    """

    at: str
    who: str
    readings: str
    verdict: str
    sign_uid: str
    version: int
    signers: tuple[Choice, ...]
    signer: str


def visits_of(room: Room, made: Setup) -> tuple[Visit, ...]:
    """Checks of a gauge at a gate, the latest first."""
    found = []
    for entry in checks_of(room.book, made):
        check = entry.record
        if check.gate is not made.gate:
            continue
        who = room.book.label(check.person)
        is_pending = check.second_person is None
        if check.second_person is not None:
            who += f", {room.book.label(check.second_person)}"
        at = max(reading.measured for reading in check.readings)
        others = [one for one in room.book.of(Person) if one.uid != check.person]
        here = room.person.record.label if room.person and room.person in others else ""
        readings = ", ".join(_read(made, reading) for reading in check.readings)
        found.append(
            Visit(
                frame.instant_shown(at, room),
                who,
                readings,
                check.verdict.value,
                entry.uid if is_pending and others else "",
                entry.version,
                tuple(Choice(one.record.label, one.record.name) for one in others),
                here,
            )
        )
    return tuple(reversed(found))


def _read(made: Setup, reading: GateReading) -> str:
    label = next((f.label for f in made.fields if f.what == reading.what), reading.what)
    return f"{label} {ohm_signs(reading.typed).replace('-', '−')}"
