"""The drawing of a gauge's leads at the meter, with what the verdict says of them."""

from gaugewright.calc import conformity
from gaugewright.present.gate_drawing import leads_at_meter
from gaugewright.services.gating.fields import Setup
from gaugewright.services.gating.judge import Judgement

__all__ = ["drawing"]

_TABS: dict[tuple[str, ...], tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]] = {
    ("A-B",): (("A", "B"), (("A",), ("B",))),
    ("A-B", "B-C"): (("A", "B", "C"), (("A",), ("B", "C"))),
    ("A-B", "A-D"): (("A", "D", "B", "C"), (("A", "D"), ("B", "C"))),
    ("A-B", "A-C"): (("A", "C", "B"), (("A",), ("C",), ("B",))),
    ("A-B", "C-D"): (("A", "B", "C", "D"), (("A",), ("B",), ("C",), ("D",))),
    ("P-N", "SP-SN"): (("P", "S+", "N", "S−"), (("P",), ("S+",), ("N",), ("S−",))),
    ("P-N", "P-KP"): (
        ("P", "K+", "S+", "N", "K−", "S−"),
        (("P", "K+"), ("S+",), ("N", "K−"), ("S−",)),
    ),
}
# Grids of a drawing by the places of its tabs, where they don't simply follow each other.
_GRIDS = {
    ("A", "B", "C", "D"): ((0, 1), (2, 3)),
    ("P", "S+", "N", "S−"): ((0, 1), (1, 2), (2, 3), (0, 3)),
    ("P", "K+", "S+", "N", "K−", "S−"): ((0, 1), (1, 2), (2, 3), (0, 3)),
}


def drawing(made: Setup, found: Judgement | None) -> str:
    """Leads at the meter; a lead that the verdict speaks of is drawn as the one to work on."""
    pairs = {field.what for field in made.fields}
    leads: tuple[str, ...] = ("1", "2")
    tabs: tuple[tuple[str, ...], ...] = (("1",), ("2",))
    for known, drawn in _TABS.items():
        if set(known) <= pairs:
            leads, tabs = drawn
    if {"A-B", "A-C"} <= pairs and "D-B" not in pairs:
        is_half = made.active_grids > 1
        leads, tabs = _TABS["A-B", "A-C"] if is_half else _TABS["A-B", "B-C"]
    spoken = (
        [line.sentence for line in found.lines if line.outcome == conformity.OUTSIDE]
        if found
        else []
    )
    bad = [lead for lead in leads if any(words.startswith(f"lead {lead} has") for words in spoken)]
    words: dict[str, str] = {}
    if bad:
        about = next(w for w in spoken if w.startswith(f"lead {bad[0]} has"))
        words = {bad[0]: about.partition(" more than")[0].partition(" has ")[2]}
        words = {lead: f"+{text}" for lead, text in words.items() if text}
    told = "Leads at the meter: " + ", ".join(leads)
    return leads_at_meter(leads, tabs, words, told, grids=_GRIDS.get(leads, ()), bad=bad[:1])
