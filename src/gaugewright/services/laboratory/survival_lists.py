"""Survival as lists: the life table, what the lost have in common, survival by exact times."""

import math

from gaugewright.present.numbers import fixed_text
from gaugewright.services.laboratory.survival import Curve, at_gates, common_losses, curve
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.services.showing.page import Page

__all__ = ["percent", "survival_lists"]


def survival_lists(page: Page) -> tuple[Listing, ...]:
    """Every list of survival."""
    return (_gates(page), _common(page), _times(page))


def percent(share: float) -> str:
    """A share or a chance in per cent, to a tenth."""
    return f"{fixed_text(100 * share, 1)}\N{NO-BREAK SPACE}%"


def _gates(page: Page) -> Listing:
    rows = tuple(
        (
            one.gate.value,
            one.exposed,
            one.passed,
            ", ".join(one.lost) or "none",
            one.undecided,
            one.repaired,
            percent(one.share),
            f"{percent(one.low)} to {percent(one.high)}",
            percent(one.since_first),
        )
        for one in at_gates(page.book)
    )
    return Listing(
        "gates",
        "Gate by gate",
        (
            Column("gate"),
            Column("came sound"),
            Column("passed"),
            Column("lost"),
            Column("can’t tell"),
            Column("repaired"),
            Column("came through"),
            Column("95 %"),
            Column("since the first"),
        ),
        rows,
        "The life table will stand here once gauges are checked at a gate.",
        "By the last verdict at each gate; exact binomial intervals, wide where few were there.",
    )


def _common(page: Page) -> Listing:
    rows = tuple(
        (
            one.name,
            one.kind,
            one.gauges,
            len(one.lost),
            f"{percent(one.low)} to {percent(one.high)}",
            ", ".join(one.lost),
        )
        for one in common_losses(page.book)
    )
    return Listing(
        "common",
        "What the lost share",
        (
            Column("name"),
            Column("is a"),
            Column("gauges"),
            Column("lost"),
            Column("share lost, 95 %"),
            Column("which"),
        ),
        rows,
        "No gauge is lost.",
        "Lost at a gate, or by a finding nobody rejected. Intervals that lie over one another "
        "tell no difference.",
    )


def _times(page: Page) -> Listing:
    found = curve(page)
    rows: list[tuple[Cell, ...]] = [
        (
            fixed_text(at / 60, 1),
            ", ".join(label for label, time in found.lost if time == at) or "none: seen sound",
            percent(share),
            "not defined" if math.isnan(low) else f"{percent(low)} to {percent(high)}",
        )
        for at, share, low, high in zip(
            found.times, found.survival, found.low, found.high, strict=True
        )
    ]
    return Listing(
        "times",
        "Through the test",
        (Column("minute"), Column("lost then"), Column("came through"), Column("95 %")),
        tuple(rows),
        f"No survival by exact times: {found.why}.",
        _about(page, found),
    )


def _about(page: Page, found: Curve) -> str:
    if found.begins is None:
        return ""
    words = f"{found.exposed} gauges, from the first load step, {page.moment(found.begins)}. "
    words += "Product-limit estimate; only losses whose moment is in a recording."
    left_out = f" Left out: {'; '.join(found.left_out)}." if found.left_out else ""
    return words + left_out
