"""What does a report hold? Presented strings and drawings only: nothing here computes.

The template gets this as JSON. User text stays data all the way, so nothing typed by a person can
become a command of the typesetting language.
"""

import dataclasses
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.present.numbers import Shown
from gaugewright.report.parts import Figure, Part

__all__ = [
    "Answer",
    "Beside",
    "BudgetRow",
    "BudgetTable",
    "ChainTable",
    "FileRow",
    "FindingRow",
    "GateRow",
    "Gates",
    "GaugeRow",
    "InputRow",
    "Parameter",
    "ProvenanceRow",
    "RegisterRow",
    "ReportDocument",
    "SignatureRow",
    "StageRow",
    "TitleBlock",
    "YieldRow",
    "as_plain",
]

STATES = ("sound", "watch", "repair", "doubtful", "lost", "not yet")


@dataclass(frozen=True, slots=True)
class Beside:
    """Another number that answers the same question, and what it belongs to."""

    what: str
    number: Shown


@dataclass(frozen=True, slots=True)
class Answer:
    """A question of the campaign and what came out; ``number`` is None with the reason told.

    ``standing`` is safe, fewer gauges or at risk by the gauges it can rest on, and ``state`` the
    mark that goes with it. ``wanted`` says how well it was asked for, and whether that is reached.
    """

    question: str
    sentence: str
    state: str
    number: Shown | None = None
    main_cause: str = ""
    would_reduce: str = ""
    rests_on: str = ""
    wanted: str = ""
    beside: tuple[Beside, ...] = ()
    standing: str = ""
    gauges: str = ""
    id: str = ""

    def __post_init__(self) -> None:
        _check_state(self.state)
        if not self.sentence.strip():
            raise InputError("answer", self.sentence, "a sentence, also when there is no number")


@dataclass(frozen=True, slots=True)
class GaugeRow:
    """One gauge as built."""

    label: str
    state: str
    place: str
    side: str
    kind: str
    gauge_factor: Shown
    resistance: Shown
    lot: str = ""
    channel: str = ""

    def __post_init__(self) -> None:
        _check_state(self.state)


@dataclass(frozen=True, slots=True)
class GateRow:
    """A gauge's verdict at each gate, one word or less a cell, and remarks."""

    gauge: str
    verdicts: tuple[str, ...]
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Gates:
    """The gates' names and what each gauge got there."""

    names: tuple[str, ...] = ()
    rows: tuple[GateRow, ...] = ()

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.verdicts) != len(self.names):
                raise InputError(
                    f"verdicts of {row.gauge}", len(row.verdicts), f"{len(self.names)}, one a gate"
                )


@dataclass(frozen=True, slots=True)
class Parameter:
    """A value a correction used, and where it came from; assumed ones are marked."""

    name: str
    number: Shown
    basis: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class StageRow:
    """A correction in its place in the order: on or off, why, and with which values."""

    name: str
    on: bool
    reason: str
    parameters: tuple[Parameter, ...] = ()


@dataclass(frozen=True, slots=True)
class ChainTable:
    """One chain of corrections, the gauges it was applied to, and the zeros that stand in it."""

    label: str
    gauges: str
    stages: tuple[StageRow, ...]
    zero: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One cause of a number's uncertainty; ``half`` is what ± becomes when it is halved.

    ``contribution`` and ``half`` are in the unit of the number.
    """

    meaning: str
    of: str
    basis: str
    sensitivity: str
    contribution: str
    share: str
    half: str


@dataclass(frozen=True, slots=True)
class BudgetTable:
    """What one number's uncertainty is made of, the largest cause first.

    ``terms`` tells standard uncertainty, degrees of freedom and coverage; ``rest`` is the share
    of the causes too small to be listed, "" where all are.
    """

    name: str
    number: Shown
    terms: str
    rows: tuple[BudgetRow, ...]
    rest: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class InputRow:
    """An input of the numbers: best value, how well it is known, and the record it came from."""

    name: str
    of: str
    value: str
    uncertainty: str
    distribution: str
    freedom: str
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class YieldRow:
    """Load at the onset of yield by one criterion, or why there is none."""

    gauge: str
    state: str
    criterion: str
    load: Shown | None = None
    strain: Shown | None = None
    main_cause: str = ""
    note: str = ""
    id: str = ""

    def __post_init__(self) -> None:
        _check_state(self.state)
        if self.load is None and not self.note.strip():
            raise InputError(f"yield of {self.gauge}", None, "a load, or a note why there is none")


@dataclass(frozen=True, slots=True)
class FindingRow:
    """Something that looked wrong, the number and limit behind it, and who decided what."""

    gauge: str
    sentence: str
    evidence: str
    limit: str
    decision: str


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """A gauge that is doubtful or lost, since when and why."""

    gauge: str
    state: str
    since: str
    reason: str

    def __post_init__(self) -> None:
        _check_state(self.state)


@dataclass(frozen=True, slots=True)
class FileRow:
    """A file as received: every row is kept or reported."""

    name: str
    sha256: str
    rows: str
    kept: str
    reported: str


@dataclass(frozen=True, slots=True)
class ProvenanceRow:
    """One fact of where the numbers come from; ``exact`` text is set letter by letter."""

    what: str
    value: str
    exact: bool = False


@dataclass(frozen=True, slots=True)
class SignatureRow:
    """Somebody's word for the results: name, statement, when, journal head, and if it holds."""

    name: str
    statement: str
    signed: str
    head: str
    stands: str

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.statement.strip():
            raise InputError("signature", self.name, "a name and a statement")


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What a single sheet must say of itself, in the order it is printed."""

    what: str
    sheet: str
    sign_and_units: str
    zero: str
    coverage: str
    chain: str
    data_check: str
    drawn: str


@dataclass(frozen=True, slots=True)
class ReportDocument:
    """A whole report. Empty parts are printed as empty, with a sentence that says so."""

    title: str
    campaign: str
    laboratory: str
    invented: bool
    prepared: str
    prepared_epoch: int
    software: str
    lead: str
    answers: tuple[Answer, ...]
    title_block: TitleBlock
    gauges: tuple[GaugeRow, ...] = ()
    gates: Gates = Gates()
    corrections: tuple[ChainTable, ...] = ()
    figures: tuple[Figure, ...] = ()
    yields: tuple[YieldRow, ...] = ()
    budgets: tuple[BudgetTable, ...] = ()
    inputs: tuple[InputRow, ...] = ()
    budgets_elsewhere: str = ""
    findings: tuple[FindingRow, ...] = ()
    register: tuple[RegisterRow, ...] = ()
    cautions: tuple[str, ...] = ()
    files: tuple[FileRow, ...] = ()
    provenance: tuple[ProvenanceRow, ...] = ()
    signatures: tuple[SignatureRow, ...] = ()
    installed: tuple[Part, ...] = ()
    seen: tuple[Part, ...] = ()
    instruments: tuple[Part, ...] = ()
    journal_head: str = ""

    def __post_init__(self) -> None:
        if not self.title.strip():
            raise InputError("title", self.title, "a title")
        if self.prepared_epoch < 0:
            raise InputError("prepared_epoch", self.prepared_epoch, "seconds since 1970, 0 or more")


def as_plain(value: object) -> Any:
    """JSON value of a document or a part of it: dataclasses become objects, tuples lists.

    Raises
    ------
    InputError
        For a type a document may not hold: numbers must be presented before they come here.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [as_plain(item) for item in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    raise InputError("part of a document", type(value).__name__, "text, yes or no, or a tuple")


def _check_state(state: str) -> None:
    if state not in STATES:
        raise InputError("state", state, "one of " + ", ".join(STATES))
