"""Single questions answered without a campaign: each with number, doubt, assumptions, drawing."""

from collections.abc import Callable, Mapping

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System
from gaugewright.services.answering import excitation as answer_excitation
from gaugewright.services.answering import flat as answer_flat
from gaugewright.services.answering import leads as answer_leads
from gaugewright.services.answering import meter as answer_meter
from gaugewright.services.answering import reading as answer_reading
from gaugewright.services.answering import shunt as answer_shunt
from gaugewright.services.answering.asks import TOOLS
from gaugewright.services.answering.parts import Answer

__all__ = ["answered"]

_ANSWERS: dict[str, Callable[[Mapping[str, str], System], Answer]] = {
    "reading": answer_reading.answer,
    "shunt": answer_shunt.answer,
    "excitation": answer_excitation.answer,
    "flat": answer_flat.answer,
    "leads": answer_leads.answer,
    "meter": answer_meter.answer,
}


def answered(tool: str, typed: Mapping[str, str], system: System = "si") -> Answer:
    """Answer of one tool to what a person typed; ``system`` is the units shown and taken.

    Raises
    ------
    InputError
        If there is no such tool, or what was typed can't be used.
    Faults
        If several things can't.
    """
    if tool not in _ANSWERS:
        raise InputError("question", tool, "one of " + ", ".join(TOOLS))
    return _ANSWERS[tool](typed, system)
