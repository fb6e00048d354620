"""What came out: correction chains as applied, results and the evidence they stand on."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import check_finite, check_label

__all__ = ["Chain", "Evidence", "ParameterSource", "Result"]


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
class Result:
    """A number somebody may rely on (SI): value, expanded uncertainty, coverage, main cause."""

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
