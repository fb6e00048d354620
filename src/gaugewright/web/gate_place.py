"""A gauge at a gate as an address names them."""

from gaugewright.errors import InputError
from gaugewright.services.gating.fields import Setup, gate_named, gauge_named, setup
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["setup_named"]


def setup_named(room: Room, gate: str, gauge: str) -> Setup:
    """What a gauge is read with at a gate.

    Raises
    ------
    NotThere
        If there is no such gate or gauge.
    """
    try:
        return setup(room.book, gauge_named(room.book, gauge), gate_named(gate))
    except InputError as error:
        if error.name in ("gauge", "gate"):
            raise NotThere(error.name, str(error.value), error.allowed) from error
        raise
