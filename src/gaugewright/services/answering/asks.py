"""Which single questions can be asked without a campaign, and what each needs to know?

Plain words only, so that the command line can show them without reckoning anything.
"""

from dataclasses import dataclass, field

__all__ = ["SI_UNITS", "TOOLS", "Ask", "Option", "Tool"]

# As pages show them; written out here because looking them up would load numpy for every --help.
SI_UNITS = {
    "bridge_ratio": "mV/V",
    "completion_resistance": "Ω",
    "excitation": "V",
    "gauge_resistance": "Ω",
    "lead_resistance": "Ω",
    "power_density": "kW/m²",
    "resistance": "Ω",
    "shunt_resistance": "kΩ",
    "bonded_length": "mm",
    "covered_length": "mm",
    "covered_width": "mm",
    "diameter": "mm",
    "gauge_factor_slope": "×10⁻⁶/K",
    "misalignment": "°",
    "temperature_degc": "°C",
    "thermal_output": "µε",
    "transverse_sensitivity": "%",
    "distance": "mm",
    "flat_depth": "mm",
    "flat_width": "mm",
}


@dataclass(frozen=True, slots=True)
class Option:
    """One of the answers a choice may have."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing a tool asks.

    ``quantity`` tells the unit in which a bare number is read ("" for words, choices and plain
    numbers, which are in ``unit``); ``takes_doubt`` allows "value ± doubt". ``assumed`` is what
    is taken, and marked, where nothing was typed ("" leaves it out); ``is_needed`` refuses that.
    """

    name: str
    label: str
    quantity: str = ""
    hint: str = ""
    assumed: str = ""
    is_needed: bool = False
    takes_doubt: bool = True
    options: tuple[Option, ...] = ()
    unit: str = ""

    @property
    def option(self) -> str:
        """Name on the command line."""
        return "--" + self.name.replace("_", "-")


@dataclass(frozen=True, slots=True)
class Tool:
    """A question that is answered at once: its name, how it is asked, and what it needs."""

    name: str
    question: str
    about: str
    asks: tuple[Ask, ...]
    example: tuple[str, ...] = field(default=())


def _options(*pairs: tuple[str, str]) -> tuple[Option, ...]:
    return tuple(Option(value, words) for value, words in pairs)


_SHOWS = Ask(
    "shows",
    "The channel shows",
    hint="What the number on its display or in its file is.",
    assumed="ratio",
    options=_options(
        ("ratio", "output over excitation, mV/V"),
        ("strain", "strain, by the straight line 4r/k"),
        ("linearised", "strain, the bridge undone exactly"),
    ),
)
_SET_FACTOR = Ask(
    "set_gauge_factor",
    "Gauge factor set in the channel",
    "set_gauge_factor",
    "Needed where it shows strain, whatever the gauge's own is.",
    takes_doubt=False,
)
_GAUGE_FACTOR = Ask(
    "gauge_factor", "Gauge factor", "gauge_factor", "From the card, such as 2.08 ± 1 %.", "", True
)
_GAUGE_RESISTANCE = Ask(
    "gauge_resistance", "Gauge resistance", "gauge_resistance", "Of the grid alone.", "", True
)
_LEAD = Ask(
    "lead_resistance",
    "Resistance of one wire",
    "lead_resistance",
    "One way. Nothing typed means that wires are left out.",
    "0",
)

_SENSE = Ask(
    "sense",
    "Wires of a half or full bridge",
    hint="Plays no part for a quarter bridge.",
    assumed="no",
    options=_options(
        ("no", "excitation not sensed: three wires to a half bridge, four to a full one"),
        ("yes", "excitation sensed at the bridge: six wires"),
    ),
)
_POISSON = Ask(
    "poisson_ratio",
    "Poisson's ratio",
    "poisson_ratio",
    "Of the bar; 0.5 once it has yielded far.",
    "0.3 ± 0.02",
)
_BEYOND = (
    Ask(
        "temperature",
        "Temperature of the gauge",
        "temperature_degc",
        "At the reading, for its gauge factor. Nothing typed: that of the card.",
    ),
    Ask(
        "gauge_factor_temperature",
        "Gauge factor stated at",
        "temperature_degc",
        "On the card.",
        "23",
    ),
    Ask(
        "gauge_factor_slope",
        "Slope of the gauge factor",
        "gauge_factor_slope",
        "On the card; 1 % per 100 K is 100 × 10⁻⁶/K.",
        "0",
    ),
    Ask(
        "thermal_output",
        "Thermal output since the zero",
        "thermal_output",
        "From the card's curve: at this temperature less at that of the zero, the bar's own "
        "expansion included.",
        "0",
    ),
    Ask(
        "card_gauge_factor",
        "Gauge factor of that curve",
        "gauge_factor",
        "The curve is drawn for an instrument set to it.",
        "2",
        takes_doubt=False,
    ),
    Ask(
        "transverse_sensitivity",
        "Transverse sensitivity",
        "transverse_sensitivity",
        "On the card.",
        "0 ± 1",
    ),
    Ask(
        "calibration_poisson_ratio",
        "Poisson's ratio of the card",
        "calibration_poisson_ratio",
        "Of the beam its gauge factor was measured on.",
        "0.285",
        takes_doubt=False,
    ),
    Ask(
        "misalignment",
        "Angle between grid and bar",
        "misalignment",
        "Nobody sees less than a degree; a doubt without a meaning is a limit.",
        "0 ± 2",
    ),
    Ask(
        "large_strain_law",
        "Law at large strain",
        hint="Needed beyond 10 000 µε.",
        assumed="none",
        options=_options(
            ("none", "not declared"),
            ("constant-factor", "the gauge factor stays as it is"),
            ("constant-volume", "the grid keeps its volume"),
        ),
    ),
)

READING = Tool(
    "reading",
    "What does this reading mean?",
    "From the number on the display to the strain of the grid, exact for readings of any size.",
    (
        Ask(
            "reading",
            "Reading",
            "bridge_ratio",
            "As shown: mV/V, or µε where the channel shows strain.",
            "",
            True,
        ),
        Ask("zero", "Reading at the zero", "bridge_ratio", "In the same: mV/V, or µε.", "0"),
        _SHOWS,
        _SET_FACTOR,
        Ask(
            "circuit",
            "Circuit",
            assumed="three-wire",
            options=_options(
                ("three-wire", "quarter bridge, three wires"),
                ("two-wire", "quarter bridge, two wires"),
                ("half-bending", "half bridge, two sides of a bent bar"),
                ("half-poisson", "half bridge, along and across"),
                ("half-opposite", "two opposite arms, both along"),
                ("full-bending", "full bridge, bending"),
                ("full-axial", "full bridge, along and across"),
            ),
        ),
        _GAUGE_FACTOR,
        Ask(
            "gauge_resistance",
            "Gauge resistance",
            "gauge_resistance",
            "Of the grid alone; plays a part only beside its wires.",
            "120",
        ),
        _LEAD,
        _SENSE,
        _POISSON,
        *_BEYOND,
        Ask(
            "installation",
            "Scatter of installation",
            "",
            "Bond line and technique, one standard deviation.",
            "1.5",
            takes_doubt=False,
            unit="%",
        ),
    ),
    ("--reading", "2.5", "--gauge-factor", "2.08 +- 1 %", "--lead-resistance", "1.34"),
)

SHUNT = Tool(
    "shunt",
    "What should the calibration resistor show?",
    "The step to expect when a resistor of known value goes in, at each of the five places.",
    (
        Ask("shunt_resistance", "Calibration resistor", "shunt_resistance", "", "", True),
        Ask(
            "circuit",
            "Circuit",
            hint="Across arm 1 in all but the quarter bridge.",
            assumed="quarter",
            options=_options(
                ("quarter", "quarter bridge"),
                ("half-bending", "half bridge, two sides of a bent bar"),
                ("half-poisson", "half bridge, along and across"),
                ("half-opposite", "two opposite arms, both along"),
                ("full-bending", "full bridge, bending"),
                ("full-axial", "full bridge, along and across"),
            ),
        ),
        Ask(
            "resistor_at",
            "Resistor of a half or full bridge",
            hint="Plays no part for a quarter bridge.",
            assumed="bridge",
            options=_options(
                ("bridge", "across the arm itself"),
                ("terminals", "at the channel's own terminals, wires between"),
            ),
        ),
        Ask(
            "position",
            "Between which nodes",
            hint="T1 and T2 are the tabs, A to C the terminals of the channel.",
            assumed="unknown",
            options=_options(
                ("T1-T2", "T1 and T2: across the grid"),
                ("A-C", "terminals A and C"),
                ("A-B", "terminals A and B"),
                ("completion-B", "the completion, from the B node"),
                ("completion-C", "the completion, from the sense node C"),
                ("unknown", "nobody wrote it down"),
            ),
        ),
        _GAUGE_RESISTANCE,
        _GAUGE_FACTOR,
        _LEAD,
        Ask(
            "completion_resistance",
            "Completion",
            "completion_resistance",
            "Nothing typed means that it equals the gauge.",
        ),
        Ask(
            "wiring",
            "Wiring",
            assumed="three-wire",
            options=_options(("three-wire", "three wires"), ("two-wire", "two wires")),
        ),
        _SENSE,
        _POISSON,
        _SHOWS,
        _SET_FACTOR,
        Ask(
            "found",
            "Step that was found",
            "bridge_ratio",
            "As the channel showed it, with its sign: mV/V, or µε where it shows strain.",
        ),
    ),
    (
        *("--shunt-resistance", "59.88", "--gauge-resistance", "120", "--gauge-factor", "2"),
        *("--shows", "strain", "--set-gauge-factor", "2", "--position", "T1-T2"),
    ),
)

EXCITATION = Tool(
    "excitation",
    "What excitation can this grid bear?",
    "From the grid's size and the metal below it; the test at half excitation decides.",
    (
        _GAUGE_RESISTANCE,
        Ask("grid_length", "Length of the grid", "distance", "Without its end loops.", "", True),
        Ask("grid_width", "Width of the grid", "distance", "", "", True),
        Ask(
            "metal",
            "What is below it",
            assumed="bar",
            options=_options(
                ("bar", "solid steel, a reinforcing bar"),
                ("thin", "steel under 3 mm, or stainless"),
                ("aluminium", "thick aluminium or copper"),
                ("concrete", "concrete or plastic"),
                ("own", "a density of my own"),
            ),
        ),
        Ask("power_density", "Power per grid area", "power_density", "1 kW/m² is 1 mW/mm²."),
        Ask("excitation", "Excitation in use", "excitation", "To see what it does to this grid."),
        Ask("gauge_factor", "Gauge factor", "gauge_factor", "For the signal it gives.", "2"),
    ),
    ("--gauge-resistance", "120", "--grid-length", "3", "--grid-width", "1.5"),
)

FLAT = Tool(
    "flat",
    "What does this flat cost?",
    "What grinding takes from the bar: area, centre, stress at the gauge, and bond.",
    (
        Ask("diameter", "Diameter of the core", "diameter", "Ribs stand outside it.", "", True),
        Ask("flat_width", "Width of the flat", "flat_width", "Across the bar, as measured."),
        Ask("flat_depth", "Depth of the flat", "flat_depth", "Where the width wasn't measured."),
        Ask(
            "flats",
            "Flats",
            assumed="1",
            options=_options(("1", "one"), ("2", "two alike, opposite")),
        ),
        Ask("covered_length", "Length under protection", "covered_length", "Along the bar."),
        Ask(
            "covered_width",
            "Width under protection",
            "covered_width",
            "Round the bar; nothing typed means wrapped all round.",
        ),
        Ask("bonded_length", "Length in concrete", "bonded_length", "Over which the bar holds."),
    ),
    ("--diameter", "16", "--flat-width", "6 +- 0.2"),
)

LEADS = Tool(
    "leads",
    "What do these three resistances say?",
    "Wires and grid from the meter's readings between leads A, B and C, channel unplugged.",
    (
        Ask("pair_ab", "A to B", "resistance", "A number, open, or > 2000 MΩ.", "", True, False),
        Ask("pair_ac", "A to C", "resistance", "A number, open, or > 2000 MΩ.", "", True, False),
        Ask("pair_bc", "B to C", "resistance", "A number, open, or > 2000 MΩ.", "", True, False),
        Ask("digit", "Last digit of the meter", "resistance", "", "0.1", takes_doubt=False),
        Ask(
            "gain",
            "Limit of the meter's scale",
            "",
            "Of the reading, from its data sheet; shared by all three.",
            "0.5",
            takes_doubt=False,
            unit="%",
        ),
        Ask(
            "offset",
            "Limit of its zero",
            "resistance",
            "What is left after its probes were shorted; shared by all three.",
            "0.05",
            takes_doubt=False,
        ),
        Ask(
            "lead_spread",
            "How alike the wires are",
            "resistance",
            "Standard deviation of one wire from the others.",
            "0.02",
            takes_doubt=False,
        ),
        Ask("gauge_factor", "Gauge factor", "gauge_factor", "To say it in strain.", "2"),
    ),
    ("--pair-ab", "122.7", "--pair-ac", "122.7", "--pair-bc", "2.7"),
)

METER = Tool(
    "meter",
    "How good must the meter be?",
    "The digit and the scale a meter needs before its readings can judge what they are meant to.",
    (
        Ask(
            "task",
            "It must judge",
            assumed="wires",
            options=_options(
                ("wires", "whether two wires of a lead differ"),
                ("bonding", "whether bonding changed the resistance"),
                ("strain", "a change of strain"),
            ),
        ),
        Ask(
            "limit",
            "Limit to be judged",
            "",
            "In Ω for wires, in % of the resistance for bonding, in µε for strain.",
            takes_doubt=False,
        ),
        _GAUGE_RESISTANCE,
        Ask("gauge_factor", "Gauge factor", "gauge_factor", "For strain.", "2"),
        Ask(
            "share",
            "Uncertainty over limit",
            "",
            "How much of the limit the meter's doubt may take.",
            "33",
            takes_doubt=False,
            unit="%",
        ),
        Ask("digit", "Last digit of a meter at hand", "resistance", "", takes_doubt=False),
    ),
    ("--task", "wires", "--gauge-resistance", "120", "--digit", "0.1"),
)

TOOLS: dict[str, Tool] = {
    tool.name: tool for tool in (READING, SHUNT, EXCITATION, FLAT, LEADS, METER)
}
