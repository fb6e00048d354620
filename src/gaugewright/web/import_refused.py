"""A file that couldn't be understood: its first lines, and how it may be read, stated in place."""

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus

from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import FileError, GaugewrightError
from gaugewright.services.reading import arrival_trial
from gaugewright.services.reading.arrivals import Arrival
from gaugewright.web import frame, import_form
from gaugewright.web.forms import Field
from gaugewright.web.rooms import Room

__all__ = ["RefusedPage", "fitting_words", "refused_page"]


@dataclass(frozen=True, slots=True)
class RefusedPage:
    """Why a waiting file couldn't be understood, and the fields that may mend it."""

    sheet: frame.Sheet
    name: str
    action: str
    discard_action: str
    failure: str
    fitting: tuple[tuple[str, str], ...]
    lines: tuple[tuple[int, str], ...]
    fields: tuple[Field, ...]
    kept: tuple[tuple[str, str], ...]


def refused_page(
    request: Request, room: Room, one: Arrival, typed: Mapping[str, str], error: GaugewrightError
) -> Response:
    """Page of a file that isn't understood; everything typed before stays typed."""
    at = str(getattr(error, "name", "")).partition(" of ")[0]
    words = fitting_words(room, one)
    fields = import_form.structure_fields(typed, at, str(error), words)
    shown = {field.name for field in fields}
    kept = ((name, text) for name, text in typed.items() if name not in (*shown, "do"))
    context = RefusedPage(
        sheet=frame.Sheet(one.name, "Import", frame.room_block(room, one.name), step="readings"),
        name=one.name,
        action=room.url(f"import/{one.uid}"),
        discard_action=room.url(f"import/{one.uid}/discard"),
        failure=str(error),
        fitting=words,
        lines=tuple(enumerate(arrival_trial.beginning(room.store, one), start=1)),
        fields=fields,
        kept=tuple(kept),
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY
    return frame.page(request, "import_refused.html", context, status=status)


def fitting_words(room: Room, one: Arrival) -> tuple[tuple[str, str], ...]:
    """Importers that fit a file, each with why; which of them fit equally well is said."""
    try:
        found = arrival_trial.fitting(room.store, one)
    except FileError:
        return ()
    best = [each for each in found if each.score == found[0].score]
    return tuple(
        (each.label, f"{each.reason}; fits as well as another" if tied else each.reason)
        for each in found
        for tied in (each in best and len(best) > 1,)
    )
