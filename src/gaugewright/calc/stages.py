"""Finding a stage kind by its name."""

from functools import lru_cache

from gaugewright.calc.stage_kinds import StageKind
from gaugewright.calc.stages_calibrated import CALIBRATED_KINDS
from gaugewright.calc.stages_drift import DRIFT_KINDS
from gaugewright.calc.stages_electrical import ELECTRICAL_KINDS
from gaugewright.calc.stages_limits import LIMIT_KINDS
from gaugewright.calc.stages_mechanical import MECHANICAL_KINDS
from gaugewright.calc.stages_torsion import TORSION_KINDS
from gaugewright.errors import InputError

__all__ = ["KINDS", "kind_named"]

KINDS: dict[str, StageKind] = {
    kind.name: kind
    for kind in (
        *ELECTRICAL_KINDS,
        *LIMIT_KINDS,
        *MECHANICAL_KINDS,
        *DRIFT_KINDS,
        *TORSION_KINDS,
        *CALIBRATED_KINDS,
    )
}


@lru_cache(maxsize=256)
def kind_named(name: str) -> StageKind:
    """The stage kind of that name and number.

    Parameters
    ----------
    name : str
        Such as ``quarter bridge@1``.

    Raises
    ------
    InputError
        If this version knows no such kind.

    Examples
    --------
    >>> kind_named("quarter bridge@1").slot
    'bridge'
    """
    if name not in KINDS:
        raise InputError(
            "kind",
            name,
            "one of " + "; ".join(sorted(KINDS)),
            "a chain with a kind of a later version needs that version",
        )
    return KINDS[name]
