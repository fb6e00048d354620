"""A gauge read every hour for two years through text files with the hall's local stamps.

The first connection is pulled and remade after five months, which moves the reading by a contact;
a fortnight is missing later. The zone goes back one hour in October and forward in March.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from gaugewright.calc.seasons import YEAR
from gaugewright.records.electrical import Connection
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Clock
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.reading import readings
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.sources import delimited

ZONE = "Europe/Berlin"
FIRST = datetime(2026, 5, 10, tzinfo=UTC)
REMADE = datetime(2026, 10, 1, tzinfo=UTC)
AGAIN = datetime(2026, 10, 2, tzinfo=UTC)
LOST = (datetime(2027, 6, 1, tzinfo=UTC), datetime(2027, 6, 15, tzinfo=UTC))
LAST = datetime(2028, 5, 20, tzinfo=UTC)
LEVEL, YEARLY, STEP = 120e-6, 40e-6, 9e-6
TRANSFER = 4e-6  # bridge ratio, standard uncertainty: 8 µm/m at a gauge factor of 2
EXACT = Stated(0.0, 0.0, Meaning.LIMIT)


def mechanical(instants):
    """Strain at some instants without the step: a level and a yearly turn."""
    seconds = np.array([(instant - FIRST).total_seconds() for instant in instants])
    return LEVEL + YEARLY * np.cos(2 * np.pi * seconds / YEAR)


def air(instants):
    """Air at the gauge, warmest in July [°C]."""
    peak = datetime(2026, 7, 20, tzinfo=UTC)
    seconds = np.array([(instant - peak).total_seconds() for instant in instants])
    return 11 + 9 * np.cos(2 * np.pi * seconds / YEAR)


def hours(begins, ends):
    """Every hour from one instant up to another, without the fortnight that is missing."""
    count = int((ends - begins) / timedelta(hours=1))
    every = [begins + timedelta(hours=hour) for hour in range(count)]
    return [instant for instant in every if not LOST[0] <= instant < LOST[1]]


def write(path, instants, strain, divider):
    """Text with local stamps as a logger writes them, strain as mV/V."""
    local = [f"{one.astimezone(ZoneInfo(ZONE)):%Y-%m-%d %H:%M:%S}" for one in instants]
    columns = zip(local, divider(strain), air(instants), strict=True)
    rows = "".join(f"{stamp};{ratio:.9f};{warm:.3f}\n" for stamp, ratio, warm in columns)
    path.write_text("when;G-T;T\n;mV/V;°C\n" + rows, encoding="utf-8")
    return path


def lay_down(tiny, folder, divider):
    """Two files, two connections, one zero carried over; returns the tiny campaign."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, -30.0, 60.0, EXACT)
    card = replace(pack.record, thermal_output=curve)
    tiny.store.revise(pack.uid, pack.version, card, reason="typed in")
    first = tiny.store.entry(tiny.uid["connection G-T"])
    tiny.store.revise(first.uid, first.version, replace(first.record, ends=REMADE), reason="pulled")
    record = first.record
    again = tiny.add(
        "again", Connection(record.subject, record.channel, record.setting, AGAIN, plug="remade")
    )
    transfer = Stated(0.0, TRANSFER, Meaning.ONE_SIGMA, Basis.ASSUMED, "two contacts remade")
    zero = Zero(
        ZeroKind.BEFORE_TEST,
        first.uid,
        EXACT,
        Stated(20.0, 0.0, Meaning.LIMIT),
        FIRST,
        carried_to=(again,),
        transfer=transfer,
    )
    tiny.add("zero", zero)
    for label, begins, ends, step in (
        ("before", FIRST, REMADE, 0.0),
        ("after", AGAIN, LAST, STEP),
    ):
        instants = hours(begins, ends)
        path = write(folder / f"{label}.csv", instants, mechanical(instants) + step, divider)
        seen = delimited.understand(path)
        answers = {"zone": ZONE, "date_order": "yyyy-mm-dd hh:mm:ss"}
        asked = {question.field for question in seen.questions}
        layout = seen.layout(**{name: value for name, value in answers.items() if name in asked})
        known = tiny.uid.get("hall clock")
        brought = readings.bring_in(
            tiny.store,
            path,
            layout,
            label=label,
            instrument=tiny.uid["recorder"],
            clock=known or Clock("hall clock", ZONE, 1.0),
            joint=ByStamps(1.0, "set by radio"),
        )
        tiny.uid[label] = brought.entry.uid
        tiny.uid["hall clock"] = brought.entry.record.clock
    return tiny
