"""People: who is at work on this device, which devices are in, and the PIN for signing."""


from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter()
