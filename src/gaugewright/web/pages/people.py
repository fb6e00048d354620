"""People: who is at work on this device, which devices are in, and the PIN for signing."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import segno
from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.proof import Person
from gaugewright.services.laboratory import people as service
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field
from gaugewright.web.guard import Door
from gaugewright.web.people import CODE_LASTS_S, Device, People, Someone
from gaugewright.web.rooms import Rooms

__all__ = ["DeviceRow", "PairPage", "PairingCode", "PeoplePage", "PersonRow", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class PersonRow:
    """Somebody who can be chosen."""

    label: str
    name: str
    role: str
    has_pin: bool
    is_here: bool


@dataclass(frozen=True, slots=True)
class DeviceRow:
    """A device that is in."""

    mark: str
    name: str
    person: str
    paired: str
    is_this: bool


@dataclass(frozen=True, slots=True)
class PairingCode:
    """A code that lets one more device in, and the address it is typed at."""

    code: str
    minutes: int
    person: str
    address: str
    is_lan: bool
    qr_path: str
    qr_side: int


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """Everything about people and devices."""

    sheet: frame.Sheet
    lead: str
    people: tuple[PersonRow, ...]
    new_fields: tuple[Field, ...]
    pin_fields: tuple[Field, ...]
    has_pin: bool
    here: str
    devices: tuple[DeviceRow, ...]
    pairing: PairingCode | None
    is_lan: bool
    failure: str


@dataclass(frozen=True, slots=True)
class PairPage:
    """The page a device that isn't in sees."""

    sheet: frame.Sheet
    fields: tuple[Field, ...]
    failure: str


@router.get("/people")
def show(request: Request) -> Response:
    """People and devices."""
    return _page(request)


@router.post("/people/choose")
def choose(request: Request, label: str = Form("")) -> Response:
    """Let somebody be at work on this device."""
    known = {someone.label: someone for someone in _known(request)}
    if label not in known:
        raise InputError("person", label, "one of: " + (", ".join(known) or "nobody yet"))
    _people(request).choose(rooms.device(request), known[label])
    return RedirectResponse("/people", status_code=303)


@router.post("/people/new")
def enter(
    request: Request, label: str = Form(""), name: str = Form(""), role: str = Form("")
) -> Response:
    """Somebody new: entered in a campaign with the first thing they write in it."""
    typed = {"label": label, "name": name, "role": role}
    try:
        person = Person(label=label.strip(), name=name.strip(), role=role.strip())
        if any(someone.label == person.label for someone in _known(request)):
            raise InputError("label", person.label, "one that nobody has yet", "choose that person")
    except GaugewrightError as error:
        return _page(request, typed=typed, error=error)
    someone = Someone(person.label, person.name, person.role)
    _people(request).choose(rooms.device(request), someone)
    return RedirectResponse("/people", status_code=303)


@router.post("/people/pin")
def set_pin(request: Request, pin: str = Form(""), old: str = Form("")) -> Response:
    """Set the PIN of the person at work here."""
    person = rooms.device(request).person
    try:
        if person is None:
            raise InputError("person", "not chosen", "who is at work on this device")
        _people(request).set_pin(person.label, pin, old=old)
    except GaugewrightError as error:
        return _page(request, error=error)
    return RedirectResponse("/people", status_code=303)


@router.post("/people/pair")
def show_code(request: Request, label: str = Form("")) -> Response:
    """Show a code for one more device, with the person who will be at work on it."""
    person = next((one for one in _known(request) if one.label == label), None)
    code = _people(request).new_code(person)
    return _page(request, pairing=_pairing(request, code, person))


@router.post("/people/forget")
def forget(request: Request, mark: str = Form("")) -> Response:
    """Unpair a device."""
    _people(request).forget_device(mark)
    return RedirectResponse("/people", status_code=303)


@router.get("/pair")
def pair_form(request: Request, code: str = "") -> Response:
    """The form for a device that isn't in."""
    return _pair_page(request, code, "")


@router.post("/pair")
def pair(request: Request, code: str = Form(""), device: str = Form("")) -> Response:
    """Let a device in by a code."""
    people = _people(request)
    door: Door = request.app.state.door
    try:
        secret = people.pair_by_code(code, device.strip() or "a device without a name")
    except GaugewrightError as error:
        return _pair_page(request, code, device, error)
    response = RedirectResponse("/", status_code=303)
    door.give_cookie(response, secret)
    return response


def _people(request: Request) -> People:
    found: People = request.app.state.people
    return found


def _known(request: Request) -> tuple[Someone, ...]:
    """People of the laboratory, of every campaign, and those at work on paired devices."""
    found: Rooms = request.app.state.rooms
    records = [*service.of_laboratory(request.app.state.settings), *found.people()]
    known = {one.label: Someone(one.label, one.name, one.role) for one in reversed(records)}
    for device in _people(request).devices():
        if device.person is not None:
            known.setdefault(device.person.label, device.person)
    return tuple(sorted(known.values(), key=lambda one: one.name.casefold()))


def _page(
    request: Request,
    *,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
    pairing: PairingCode | None = None,
) -> Response:
    device = rooms.device(request)
    people = _people(request)
    here = people.device_by_mark(device.mark) or device
    label = here.person.label if here.person else ""
    context = PeoplePage(
        sheet=frame.Sheet("People", "People", frame.plain_block("People")),
        lead=_lead(here),
        people=tuple(
            PersonRow(one.label, one.name, one.role, people.has_pin(one.label), one.label == label)
            for one in _known(request)
        ),
        new_fields=_marked(_new_fields(), typed or {}, error),
        pin_fields=_pin_fields(people.has_pin(label), error),
        has_pin=people.has_pin(label),
        here=here.person.name if here.person else "",
        devices=tuple(_device_row(one, one.mark == device.mark) for one in people.devices()),
        pairing=pairing,
        is_lan=request.app.state.lan,
        failure=str(error) if error is not None and not _has_field(error) else "",
    )
    return frame.page(request, "people.html", context, status=422 if error else 200)


def _pair_page(
    request: Request, code: str, device: str, error: GaugewrightError | None = None
) -> Response:
    fields = (
        Field("code", "Code", hint="A paired device shows one under People, for five minutes."),
        Field("device", "Name of this device", hint="Such as: tablet at the north frame."),
    )
    at_field = error is not None and getattr(error, "name", "") == "code"
    context = PairPage(
        sheet=frame.Sheet("Pair this device", "Pairing", frame.plain_block("Pairing")),
        fields=_marked(fields, {"code": code, "device": device}, error),
        failure=str(error) if error is not None and not at_field else "",
    )
    return frame.page(request, "pair.html", context, status=422 if error else 200)


def _new_fields() -> tuple[Field, ...]:
    return (
        Field(
            "label", "Initials", hint="Two or three letters, such as AB; they stand in the journal."
        ),
        Field("name", "Name"),
        Field("role", "Role", hint="Such as: bonds and wires. May be left out."),
    )


def _pin_fields(has_pin: bool, error: GaugewrightError | None) -> tuple[Field, ...]:
    at = getattr(error, "name", "")
    wrong = str(error) if error is not None and at.startswith("PIN") else ""
    is_old = at.startswith("PIN of")
    pin = Field(
        "pin",
        "New PIN",
        kind="password",
        hint="4 to 12 digits. It is asked for when you sign, never to look.",
        wrong="" if is_old else wrong,
    )
    old = Field("old", "PIN until now", kind="password", wrong=wrong if is_old else "")
    return (old, pin) if has_pin else (pin,)


def _has_field(error: GaugewrightError) -> bool:
    name = getattr(error, "name", "")
    return name in ("label", "name", "role") or name.startswith("PIN")


def _marked(
    fields: tuple[Field, ...], typed: dict[str, str], error: GaugewrightError | None
) -> tuple[Field, ...]:
    at = getattr(error, "name", "")
    return tuple(
        replace(
            field,
            value=typed.get(field.name, ""),
            wrong=str(error) if error is not None and field.name == at else "",
        )
        for field in fields
    )


def _device_row(device: Device, is_this: bool) -> DeviceRow:
    paired = datetime.fromtimestamp(device.paired, tz=UTC)
    person = device.person.name if device.person else ""
    when = f"{paired.day} {paired:%B %Y, %H:%M} UTC"
    return DeviceRow(device.mark, device.name, person, when, is_this)


def _pairing(request: Request, code: str, person: Someone | None) -> PairingCode:
    """Code as text and, where other devices can reach this one, as a QR picture of the address."""
    lan: str = request.app.state.lan_address
    address = f"{lan or request.base_url}".rstrip("/") + "/pair"
    qr = segno.make(f"{address}?code={code}", error="m", micro=False)
    border = 4
    path = "".join(
        f"M{column + border} {row + border}h1v1h-1z"
        for row, line in enumerate(qr.matrix)
        for column, dark in enumerate(line)
        if dark
    )
    side = len(qr.matrix) + 2 * border
    shown = f"{code[:4]} {code[4:]}"
    minutes = int(CODE_LASTS_S // 60)
    name = person.name if person else ""
    return PairingCode(shown, minutes, name, address, bool(lan), path, side)


def _lead(device: Device) -> str:
    if device.person is None:
        return "Nobody is named on this device yet; whatever is written down needs a name."
    return f"{device.person.name} is at work on this device."
