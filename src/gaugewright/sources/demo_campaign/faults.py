"""Which gauges of the demo are bad, what became of them, and from when.

This is part of the truth. The records and raw files never say it; they only show it.
"""

from dataclasses import dataclass

from gaugewright.sources.demo_campaign.protocol import DAYS

__all__ = ["CRUSHED", "DAMP", "FADING", "OPENED", "REMADE", "Story", "stories"]

OPENED = "L2-M-U"  # its foil tears when the steel has stretched this far
CRUSHED = "L3-R6-S"  # its cable was crushed under the vibrator during the pour
FADING = "L1-M-T"  # it comes off its bar bit by bit and goes on reading
DAMP = "L3-R2-S"  # water found its way in after the pour
REMADE = "L4-M-T"  # its plug was pulled and put back between zero and test

OPENED_AT_STRAIN = 0.0065
FADING_FROM_STRAIN = 0.0007
FADING_TO_STRAIN = 0.0032
FADING_SHARE = 0.68  # share of the strain still felt when the fading is complete
CRUSH_OHM = (0.04, 0.9)  # A to B and B to C where the cable was crushed
CRUSH_PLACE = 0.82
DAMP_LEAK_OHM = (0.7e8, 1.1e8)  # from each tab to the bar


@dataclass(frozen=True, slots=True)
class Story:
    """What is wrong with one gauge: its state in the end, and why, in words."""

    gauge: str
    state: str
    since: str
    why: str


def stories() -> tuple[Story, ...]:
    """Every gauge that isn't sound."""
    return (
        Story(
            OPENED,
            "lost",
            "during the test",
            f"foil tore at a mechanical strain of {OPENED_AT_STRAIN}: open grid, over range",
        ),
        Story(
            CRUSHED,
            "lost",
            DAYS.pour.isoformat(),
            f"cable crushed during the pour: A to B {CRUSH_OHM[0]} Ω, B to C {CRUSH_OHM[1]} Ω,"
            f" at {CRUSH_PLACE} of the cable from the plug",
        ),
        Story(
            FADING,
            "doubtful",
            "during the test",
            f"adhesive lets go between {FADING_FROM_STRAIN} and {FADING_TO_STRAIN}: "
            f"feels {FADING_SHARE} of the strain in the end",
        ),
        Story(
            DAMP,
            "watch",
            DAYS.pour.isoformat(),
            f"leaks of {DAMP_LEAK_OHM[0]:.3g} and {DAMP_LEAK_OHM[1]:.3g} Ω to the bar",
        ),
    )
