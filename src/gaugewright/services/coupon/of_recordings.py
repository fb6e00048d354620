"""Which recording is the test of which coupon: columns found, size typed, kept as a record."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import System
from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.coupons import CouponTest
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Clock, ReadingProfile, Recording, RecordingColumn
from gaugewright.records.specimen import Material
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading import layouts, readings
from gaugewright.services.work.typed_values import stated_typed
from gaugewright.sources import delimited
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "ASKS",
    "Ask",
    "columns_of",
    "coupon_typed",
    "kept_test",
    "not_yet_kept",
    "read_columns",
    "recording_of",
]

_FORCES = ("force", "stress")
_STRAINS = ("strain", "length")


@dataclass(frozen=True, slots=True)
class Ask:
    """A value that a person may type: its name, the quantity it is, and what it means."""

    name: str
    quantity: str
    help: str


# In the order in which a person knows them: the piece, the machine, the evaluation.
ASKS: tuple[Ask, ...] = (
    Ask("diameter", "diameter", 'Of a round coupon, with its doubt: "10.02 ± 0.02 mm (limit)".'),
    Ask("width", "diameter", "Of a flat coupon, with its doubt; --thickness too."),
    Ask("thickness", "diameter", "Of a flat coupon, with its doubt."),
    Ask("area", "area", "Original area, where it was measured otherwise: by weighing, say."),
    Ask("gauge_length", "diameter", "Of the extensometer, where it writes an extension."),
    Ask("marked_length", "diameter", "Between the marks before the test, for elongation A."),
    Ask("final_length", "diameter", "Between the marks after fracture, pieces put together."),
    Ask("modulus", "elastic_modulus", "From another test, where this record gives none."),
)


def recording_of(store: CampaignStore, what: str) -> Entry[Recording]:
    """Recording by its label, or a file of the coupon's own that is brought in now.

    Raises
    ------
    InputError
        If it is neither, or the file leaves a question open: then it must be imported first.
    FileError
        If the file can't be read.
    """
    for entry in store.entries(Recording):
        if entry.record.label == what:
            return entry
    path = Path(what)
    if not path.is_file():
        known = listed([entry.record.label for entry in store.entries(Recording)]) or "none yet"
        allowed = f"a file, or a recording of this campaign: {known}"
        raise InputError("recording or file", what, allowed)
    seen = layouts.understood(path)
    asked = layouts.open_questions(seen, {}, {})
    if asked:
        fields = ", ".join(question.field for question in asked)
        do = "answer with: gaugewright import, then name the recording instead of the file"
        raise InputError(f"questions about {path.name}", f"open for {fields}", "answered", do)
    layout = layouts.confirmed(seen, {}, {})
    label = path.stem
    clock = readings.clock_for(
        store, f"clock of {label}", layout, resolution=layouts.resolution_of(seen, layout)
    )
    return readings.import_file(
        store, path, layout, label=label, instrument=None, clock=_entered(store, clock)
    )


def _entered(store: CampaignStore, clock: Uid | Clock) -> Uid:
    return store.add(clock).uid if isinstance(clock, Clock) else clock


def columns_of(recording: Entry[Recording], force: str = "", strain: str = "") -> tuple[str, str]:
    """Columns of force and of strain: those named, or the only ones of their kind.

    Raises
    ------
    InputError
        If a named column isn't there, or several could be meant.
    """
    found_force = _column(recording, force, "force_column", _FORCES)
    return found_force.name, _column(recording, strain, "strain_column", _STRAINS).name


def _column(
    recording: Entry[Recording], named: str, what: str, kinds: tuple[str, ...]
) -> RecordingColumn:
    columns = [column for column in recording.record.columns if column.role == "value"]
    if named:
        for column in columns:
            if column.name == named and _unit(column).dimension in kinds:
                return column
        fit = [c.name for c in columns if _kind(c) in kinds]
        raise InputError(what, named, f"a column of {' or '.join(kinds)}: {listed(fit) or 'none'}")
    for kind in kinds:
        fit = [column.name for column in columns if _kind(column) == kind]
        if len(fit) == 1:
            return next(column for column in columns if column.name == fit[0])
        if len(fit) > 1:
            raise InputError(what, listed(fit), "one column", "name the one that is meant")
    allowed = f"in the recording, in a unit of {' or '.join(kinds)}"
    raise InputError(f"{what} of {recording.record.label}", "none", allowed, "import it again")


def _kind(column: RecordingColumn) -> str:
    unit = parse_unit(column.unit) if column.unit else None
    return unit.dimension if unit else ""


def _unit(column: RecordingColumn) -> Unit:
    unit = parse_unit(column.unit) if column.unit else None
    if unit is None:
        allowed = "stated: import the file again and say it"
        raise InputError(f"unit of column {column.name}", column.unit, allowed)
    return unit


def read_columns(
    store: CampaignStore, book: Book, test: CouponTest
) -> tuple[FloatArray, FloatArray, bool]:
    """Force and strain of a test as read, tension positive, and whether the first is a stress.

    Raises
    ------
    InputError
        If a column isn't in the recording, or an extension has no gauge length.
    """
    recording = book.entry(test.recording, Recording)
    signs = _signs(book, recording)
    made = []
    for name, what, kinds in (
        (test.force_column, "force_column", _FORCES),
        (test.strain_column, "strain_column", _STRAINS),
    ):
        column = _column(recording, name, what, kinds)
        values = to_si(store.readings(recording.uid).values(column.field), _unit(column))
        made.append(-values if signs.get(name) == "compression" else values)
    force, strain = made
    is_stress = _kind(_column(recording, test.force_column, "force_column", _FORCES)) == "stress"
    if _kind(_column(recording, test.strain_column, "strain_column", _STRAINS)) == "length":
        if test.gauge_length is None:
            do = "state the extensometer's gauge length"
            raise InputError("gauge_length", None, "given where a column is an extension", do)
        strain = strain / test.gauge_length.value
    return force, strain, is_stress


def _signs(book: Book, recording: Entry[Recording]) -> dict[str, str]:
    """What a positive number of each column means, as it was confirmed at import."""
    profile = book.entry(recording.record.profile, ReadingProfile)
    layout = delimited.Layout.from_plain(json.loads(profile.record.layout))
    return {column.name: column.sign for column in layout.columns}


def coupon_typed(
    recording: Entry[Recording],
    typed: Mapping[str, str],
    system: System = "si",
    *,
    label: str = "",
    columns: tuple[str, str] = ("", ""),
    material: Entry[Material] | None = None,
) -> CouponTest:
    """Test from what was typed: ``ASKS`` by name, and the words of the machine's certificates.

    ``force_class`` and ``extensometer_class`` are classes of ISO 7500-1 and ISO 9513: their
    number is the limit of relative error in per cent (from memory). ``elastic_from`` and
    ``elastic_to`` bound the elastic line.

    Raises
    ------
    InputError
        If a value can't be read or a column can't be told.
    """
    force, strain = columns_of(recording, *columns)
    given = {
        ask.name: stated_typed(ask.name, typed[ask.name], ask.quantity, system)
        for ask in ASKS
        if typed.get(ask.name, "").strip()
    }
    bounds = {
        name: quantity_typed(f"elastic_{end}", typed[f"elastic_{end}"], "stress", system)
        for name, end in (("lowest_stress", "from"), ("highest_stress", "to"))
        if typed.get(f"elastic_{end}", "").strip()
    }
    return CouponTest(
        label=label or recording.record.label,
        recording=recording.uid,
        force_column=force,
        strain_column=strain,
        force_scale=_scale("force_class", typed, "ISO 7500-1"),
        strain_scale=_scale("extensometer_class", typed, "ISO 9513"),
        lowest_stress=bounds.get("lowest_stress"),
        highest_stress=bounds.get("highest_stress"),
        material=material.uid if material else None,
        note=typed.get("note", ""),
        **given,
    )


def _scale(name: str, typed: Mapping[str, str], standard: str) -> Stated:
    """True value over reading: 1, within the class of the certificate, if one was typed."""
    text = typed.get(name, "").strip()
    if not text:
        return Stated(1.0, basis=Basis.ASSUMED, source="no certificate stated")
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not 0 < number <= 5:
        raise InputError(name, text, "a class such as 0.5 or 1", "look at the certificate")
    source = f"class {text} of {standard}: relative error within {text} % (from memory)"
    return Stated(1.0, number / 100, Meaning.LIMIT, Basis.STATED, source)


def not_yet_kept(store: CampaignStore, test: CouponTest) -> Entry[CouponTest]:
    """Test as an entry that isn't in the store: evaluated first, kept when that works."""
    return Entry(Uid("test"), 0, store.context.now(), None, "", False, test)


def kept_test(store: CampaignStore, test: CouponTest) -> Entry[CouponTest]:
    """Test in the store: a new version where its label is known and something changed."""
    for entry in store.entries(CouponTest):
        if entry.record.label == test.label:
            if entry.record == test:
                return entry
            return store.revise(entry.uid, entry.version, test, reason="coupon stated again")
    return store.add(test, reason="coupon stated")
