"""Answers to forms that a device may keep and send again: a page, or words for the script."""

import secrets
from http import HTTPStatus
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from gaugewright.errors import Faults, GaugewrightError
from gaugewright.web.faults import status_of

__all__ = ["fault_told", "is_kept", "new_key", "told"]


def new_key() -> str:
    """Key for a form drawn by the server, so that sending the page twice adds nothing."""
    return "page-" + secrets.token_urlsafe(18)


def is_kept(request: Request) -> bool:
    """Whether a device's queue sent this, which wants words rather than a page."""
    return request.headers.get("accept", "").startswith("application/json")


def told(sentence: str, status: int = HTTPStatus.OK, **more: Any) -> Response:
    """What became of a form, for the queue: one sentence and what goes with it."""
    return JSONResponse({"sentence": sentence, **more}, status_code=status)


def fault_told(error: GaugewrightError, **more: Any) -> Response:
    """Why a form wasn't taken in, for the queue: it is kept there and shown to the person."""
    faults = error.faults if isinstance(error, Faults) else (error,)
    return told("; ".join(str(one) for one in faults), status_of(error), **more)
