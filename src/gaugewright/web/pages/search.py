"""Search by label: a gauge, bar, channel or recording by what people call it."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter()
