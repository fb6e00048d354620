"""One step at the bench, for a gauge or a batch: what to do, what to record, its clocks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry
from gaugewright.records.benching import MethodStep, StepKind
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.identity import uid_from_text
from gaugewright.records.proof import Method
from gaugewright.services.bench import written as bench
from gaugewright.services.bench.judged import LOG, judged_loss
from gaugewright.services.bench.methods import complete_methods, method_named, step_named
from gaugewright.services.bench.put_right import method_step, typed_before
from gaugewright.services.bench.step_words import step_words
from gaugewright.services.bench.typed import BenchSlip, key_of, meant
from gaugewright.services.bench.unread import UNREAD
from gaugewright.web import frame, rooms, sending, uploads
from gaugewright.web.bench_form import Filled, confirm_words, refused, step_page
from gaugewright.web.bench_shown import do_url, standings
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.bench_kept import NEW
from gaugewright.web.rooms import Room

__all__ = ["ChoosePage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class GaugeTick:
    """A gauge to be ticked: where it is, and how far it is by its method."""

    label: str
    place: str
    words: str
    is_ticked: bool


@dataclass(frozen=True, slots=True)
class StepChoice:
    """A method with the names of its steps."""

    label: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChoosePage:
    """Which step, by which method, for which gauges."""

    sheet: frame.Sheet
    action: str
    methods: tuple[StepChoice, ...]
    method: str
    step: str
    failure: str
    gauges: tuple[GaugeTick, ...]
    bench_url: str


@router.get("/c/{name}/bench/choose")
def choose(request: Request, method: str = "", step: str = "", bar: str = "") -> Response:
    """Choose method, step and gauges; ``bar`` ticks every gauge of one."""
    room = rooms.room(request)
    return frame.page(request, "bench_choose.html", _choose(room, method, step, bar=bar))


def _choose(room: Room, method: str, step: str, *, bar: str = "", failure: str = "") -> ChoosePage:
    ticks = []
    for one in standings(room):
        place = one.next_place
        of_bar = room.book.bar_of(one.gauge).record.label
        words = "all done" if place is None else f"next: {place.step.name}"
        if place is not None and place.why:
            words += f", {place.place.value}"
        is_next = place is not None and one.method.label == method and place.step.name == step
        ticks.append(GaugeTick(one.gauge.record.label, of_bar, words, is_next or of_bar == bar))
    methods = tuple(
        StepChoice(one.label, tuple(step.name for step in one.steps))
        for one in complete_methods(room.book)
    )
    sheet = frame.Sheet("Choose", "Choose", frame.room_block(room, "Choose a step"), "bench")
    action = room.url("bench/do")
    return ChoosePage(
        sheet, action, methods, method, step, failure, tuple(ticks), room.url("bench")
    )


@router.get("/c/{name}/bench/do")
def show(request: Request, method: str = "", step: str = "", both: str = "") -> Response:
    """Form of a step; ``both`` is method and step in one, as the choice sends them."""
    room = rooms.room(request)
    if both:
        method, _, step = both.partition(" / ")
    labels = request.query_params.getlist("gauge")
    if not labels:
        page = _choose(room, method, step, failure="Tick one gauge or more.")
        return frame.page(request, "bench_choose.html", page, status=422)
    typed = {n: text for n, text in request.query_params.items() if n.startswith("value:")}
    return _page(request, room, _place(room, method, step, labels), Filled(typed))


@router.get("/c/{name}/bench/kept/{uid}/right")
def put_right(request: Request, uid: str) -> Response:
    """Form of a step that was kept, filled in as it was, to put it right as a new version."""
    room = rooms.room(request)
    entry = _kept_step(room, uid)
    step = method_step(room.book, entry.record)
    if step is None or entry.record.method is None:
        do = "take it back, and write it down anew"
        raise InputError("method", "none that has this step now", "one by which it was done", do)
    batch = bench.batch_of(room.book, entry)
    labels = [room.book.label(one.record.gauge) for one in batch]
    place = _place(room, room.book.label(entry.record.method.uid), step.name, labels)
    typed = typed_before(room.store, room.book, batch, step, zone=room.zone, system=room.units)
    return _page(request, room, place, Filled(typed, instead=batch[0]))


def _kept_step(room: Room, uid: str) -> Entry[BenchStep]:
    try:
        return room.book.entry(uid_from_text(uid), BenchStep)
    except InputError as error:
        raise NotThere("step", uid, "one of this campaign") from error


def _place(
    room: Room, method: str, step: str, labels: Sequence[str]
) -> tuple[Method, MethodStep, tuple[Entry[Gauge], ...]]:
    try:
        made = method_named(room.book, method)
        gauges = tuple(room.book.labelled(Gauge, label) for label in dict.fromkeys(labels))
        return made, step_named(made, step), gauges
    except InputError as error:
        raise NotThere(error.name, str(error.value), error.allowed) from error


def _page(
    request: Request,
    room: Room,
    place: tuple[Method, MethodStep, Sequence[Entry[Gauge]]],
    filled: Filled,
) -> Response:
    now = room.store.context.now()
    context = step_page(room, *place, now=now, filled=filled)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if filled.error else HTTPStatus.OK
    return frame.page(request, "bench_step.html", context, status=status)


@router.get("/c/{name}/bench/loss")
def lost(request: Request) -> Response:
    """Steel lost by what is typed so far, gauge by gauge, in words for the script."""
    room = rooms.room(request)
    typed = {name: value for name, value in request.query_params.items() if value}
    labels = [label.strip() for label in typed.get("gauges", "").split(";") if label.strip()]
    _, step, gauges = _place(room, typed.get("method", ""), typed.get("step", ""), labels)
    if step.kind is not StepKind.SMOOTH:
        return PlainTextResponse("")
    told: dict[str, list[str]] = {}
    for gauge in gauges:
        try:
            words = judged_loss(room.book, gauge, step, typed, room.units)
        except InputError as error:
            words = str(error)
        if words:
            told.setdefault(words, []).append(gauge.record.label)
    # A line for each thing said, with all the gauges that it is said of.
    return PlainTextResponse("\n".join(f"{', '.join(of)}: {words}." for words, of in told.items()))


@router.post("/c/{name}/bench/do")
async def take(request: Request) -> Response:
    """Write a step down, once for its key; a probable slip is asked about first."""
    async with request.form() as form:  # closes the file that came with it
        typed = {name: value for name, value in form.items() if isinstance(value, str)}
        file = form.get("log_file")
        log = file if isinstance(file, UploadFile) else None
        return await run_in_threadpool(_taken, request, typed, log)


def _taken(request: Request, sent: Mapping[str, str], log: UploadFile | None) -> Response:
    room = rooms.room(request)
    typed = _gathered(sent)
    labels = [label.strip() for label in typed.get("gauges", "").split(";") if label.strip()]
    place = _place(room, typed.get("method", ""), typed.get("step", ""), labels)
    try:
        typed = _with_file(typed, log)
        room = rooms.room_to_write(request)
        kept = _kept(room, typed, sent)
    except GaugewrightError as error:
        if sending.is_kept(request):
            return _refused(room, place[1], typed, error)
        instead = typed.get("instead", "")
        before = _kept_step(room, instead) if instead else None
        return _page(request, room, place, Filled(typed, error, before))
    room = rooms.room(request)
    onward = room.url(f"bench/kept/{kept[0].uid}?said={NEW}")
    if sending.is_kept(request):
        words = " ".join(step_words(room.book, kept)).rstrip(".")
        return sending.told(words, next=onward, uid=kept[0].uid)
    return RedirectResponse(onward, status_code=303)


def _gathered(sent: Mapping[str, str]) -> dict[str, str]:
    """Fields as the service takes them: ticked supplies in one, the button pressed as an end."""
    typed = {name: value for name, value in sent.items() if not name.startswith("supply:")}
    ticked = [name.removeprefix("supply:") for name in sent if name.startswith("supply:")]
    typed["supplies"] = "; ".join(ticked)
    if sent.get("phase") == "done" and not typed.get("ended", "").strip():
        typed["ended"] = "now"
    return typed


def _with_file(typed: dict[str, str], log: UploadFile | None) -> dict[str, str]:
    """A recorder's file takes the place of an empty box.

    Raises
    ------
    InputError
        If it is no text, or something was typed as well.
    """
    try:
        text = uploads.text_of(log)
    except InputError as error:
        raise InputError(LOG, error.value, error.allowed, error.do) from error
    if not text:
        return typed
    key = key_of(LOG)
    if typed.get(key, "").strip() not in ("", text.strip()):
        raise InputError(LOG, "typed, and a file as well", "one of both", "empty the box")
    return {**typed, key: text}


def _kept(
    room: Room, typed: Mapping[str, str], sent: Mapping[str, str]
) -> tuple[Entry[BenchStep], ...]:
    key = sent.get("key", "")
    try:
        return bench.noted(room.store, typed, key=key)
    except BenchSlip as slip:
        if not sent.get("use"):
            raise
        # The key stands for what was typed first; what was meant is another form.
        mended = {**meant(typed, slip), UNREAD: "1"}
        return bench.noted(room.store, mended, key=key[:70] + "-meant")


def _refused(
    room: Room, step: MethodStep, typed: Mapping[str, str], error: GaugewrightError
) -> Response:
    if not isinstance(error, BenchSlip):
        told = refused(error, step, typed)
        at = [{"key": one.key, "sentence": frame.sentence(one.sentence)} for one in told]
        return sending.fault_told(error, at=at)
    labels = [label.strip() for label in typed.get("gauges", "").split(";")]
    url = do_url(room, typed.get("method", ""), typed.get("step", ""), labels)
    values = {name: text for name, text in typed.items() if name.startswith("value:") and text}
    url += "&" + urlencode(values) if values else ""
    asked = " and ".join(one.probable for one in error.questions if one.probable)
    at = [
        {"key": one.key, "sentence": frame.sentence(one.sentence)}
        for one in error.questions
        if one.key != UNREAD
    ]
    told_more = {"url": url, "asked": asked, "confirm": confirm_words(error), "asked_at": at}
    return sending.told(str(error), HTTPStatus.UNPROCESSABLE_ENTITY, **told_more)
