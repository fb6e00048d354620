"""How a failure is shown: one sentence, as a fragment where a part was asked, else as a page."""

import os
import sys
import tempfile
import traceback
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import cast

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from gaugewright import __version__
from gaugewright.errors import Faults, FileError, GaugewrightError, InputError, StoreError
from gaugewright.web import frame
from gaugewright.web.guard import HEADERS
from gaugewright.web.not_there import NotThere

__all__ = ["FaultPage", "add_to"]


@dataclass(frozen=True, slots=True)
class FaultPage:
    """What went wrong, in words; ``others`` are faults found in the same pass."""

    sheet: frame.Sheet
    headline: str
    sentence: str
    others: tuple[str, ...] = ()


def add_to(app: FastAPI) -> None:
    """Give an app its handlers."""
    app.add_exception_handler(GaugewrightError, _told)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _incomplete)
    app.add_exception_handler(Exception, _our_fault)


def status_of(error: GaugewrightError) -> int:
    """HTTP status that says whose fault it is."""
    if isinstance(error, NotThere):
        return HTTPStatus.NOT_FOUND
    if isinstance(error, StoreError):
        return HTTPStatus.CONFLICT
    if isinstance(error, InputError | FileError | Faults):
        return HTTPStatus.UNPROCESSABLE_ENTITY
    return HTTPStatus.BAD_REQUEST


def _told(request: Request, error: Exception) -> Response:
    error = cast("GaugewrightError", error)  # what the handler was registered for
    status = status_of(error)
    if isinstance(error, Faults):
        others = tuple(str(fault) for fault in error.faults)
        return _page(request, status, f"{error.what}: {len(others)} to mend", "", others)
    headline = "This isn't here" if status == HTTPStatus.NOT_FOUND else "This can't be done so"
    return _page(request, status, headline, str(error))


def _refused(request: Request, error: Exception) -> Response:
    error = cast("HTTPException", error)  # what the handler was registered for
    if error.status_code == HTTPStatus.NOT_FOUND:
        sentence = f"There is no page at {request.url.path}; go on from the list of campaigns"
        return _page(request, error.status_code, "This isn't here", sentence)
    return _page(request, error.status_code, "This can't be done so", str(error.detail))


def _incomplete(request: Request, error: Exception) -> Response:
    error = cast("RequestValidationError", error)  # what the handler was registered for
    others = tuple(
        f"{'.'.join(str(part) for part in fault['loc'][1:]) or 'form'}: {fault['msg']}"
        for fault in error.errors()
    )
    return _page(request, 422, "The form isn't complete", "", others)


def _our_fault(request: Request, error: Exception) -> Response:
    """Say that the fault is ours and keep what mends it in a file."""
    handle, name = tempfile.mkstemp(prefix="gaugewright-fault-", suffix=".txt", text=True)
    with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as file:
        file.write(f"gaugewright {__version__}, {request.method} {request.url.path}\n\n")
        file.writelines(traceback.format_exception(error))
    sentence = (
        f"gaugewright has a fault ({type(error).__name__}); nothing half-done was kept. What is "
        f"needed to mend it is in {Path(name)}: please send it to whoever looks after the program"
    )
    sys.stderr.write(sentence + "\n")  # whoever started the app may not be who sees the page
    response = _page(request, 500, "The fault is ours", sentence)
    response.headers.update(HEADERS)  # this answer is made outside the guard
    return response


def _page(
    request: Request, status: int, headline: str, sentence: str, others: tuple[str, ...] = ()
) -> Response:
    context = FaultPage(
        sheet=frame.Sheet(title=headline, name="Fault", block=frame.plain_block("Fault")),
        headline=headline,
        sentence=sentence,
        others=others,
    )
    return frame.page(request, "fault.html", context, part="_fault.html", status=status)
