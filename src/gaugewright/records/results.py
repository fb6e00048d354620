"""What came out: correction chains as applied, results and the evidence they stand on."""

import math
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import check_finite, check_label

__all__ = ["BudgetInput", "Chain", "Evidence", "ParameterSource", "Result"]


@dataclass(frozen=True, slots=True)
class ParameterSource:
    """Where one parameter of a stage came from: a version of a record, and its basis."""

    stage: str
    parameter: str
    source: Ref | None
    basis: str
    words: str


@dataclass(frozen=True, slots=True)
class Chain:
    """The chain applied to one connection's readings; ``stages`` is canonical JSON of calc's."""

    label: str
    circuit: Uid
    connection: Uid
    stages: str
    sources: tuple[ParameterSource, ...]

    def __post_init__(self) -> None:
        check_label("label", self.label)


@dataclass(frozen=True, slots=True)
class BudgetInput:
    """One cause of a result's uncertainty, as it was when the result was worked out.

    ``input`` is empty for the noise of readings; ``value``, of the ``quantity`` named, is the best
    estimate of what the cause disturbs and None where it isn't one number; ``source`` is the
    version of the record it came from; ``degrees_of_freedom`` is None when unlimited;
    ``sensitivity`` is the change of the result per unit of the cause.
    """

    input: str
    meaning: str
    basis: str
    distribution: str
    standard_uncertainty: float
    sensitivity: float
    degrees_of_freedom: float | None = None
    value: float | None = None
    quantity: str = ""
    source: Ref | None = None

    def __post_init__(self) -> None:
        check_finite("sensitivity", self.sensitivity)
        if not 0 <= self.standard_uncertainty < math.inf:
            raise InputError("standard_uncertainty", self.standard_uncertainty, "0 or more")
        if self.degrees_of_freedom is not None and not self.degrees_of_freedom > 0:
            raise InputError("degrees_of_freedom", self.degrees_of_freedom, "a positive number")
        if self.value is not None:
            check_finite("value", self.value)


@dataclass(frozen=True, slots=True)
class Result:
    """A number somebody may rely on (SI): value, expanded uncertainty, coverage, main cause.

    ``budget`` holds every cause of the uncertainty, the largest first; it is empty in results
    written before budgets were kept, and in those without a value.
    """

    label: str
    quantity: str
    value: float | None
    expanded_uncertainty: float | None
    coverage: float
    unit: str
    criterion: str
    subjects: tuple[Uid, ...]
    chains: tuple[Ref, ...]
    question: Uid | None = None
    main_cause: str = ""
    zero: str = ""
    note: str = ""
    software: str = ""
    budget: tuple[BudgetInput, ...] = ()

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.value is not None:
            check_finite("value", self.value)
            if self.expanded_uncertainty is None:
                raise InputError("expanded_uncertainty", None, "given with every value")
        elif not self.note.strip():
            raise InputError("note", self.note, "why there is no value")


@dataclass(frozen=True, slots=True)
class Evidence:
    """Why a result or a state is believed: records it rests on, and how, in words."""

    of: Ref
    rests_on: tuple[Ref, ...]
    words: str
