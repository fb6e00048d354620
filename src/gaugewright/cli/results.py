"""The command group that prints one result at a time as a table: results."""

from typing import Protocol

import typer

from gaugewright.cli import (
    results_bar,
    results_budget,
    results_calibration,
    results_coupon,
    results_cycles,
    results_evidence,
    results_gauge,
    results_long,
    results_rosette,
    results_section,
    results_specimen,
    results_steel,
    results_twice,
)

__all__ = ["add_to"]


class Part(Protocol):
    """A module with commands of this group."""

    def add_to(self, app: typer.Typer) -> None:
        """Give its commands their names."""


# One line a module, in the order of the job; each has its own add_to.
PARTS: tuple[Part, ...] = (
    results_budget,
    results_evidence,
    results_calibration,
    results_gauge,
    results_long,
    results_bar,
    results_rosette,
    results_coupon,
    results_cycles,
    results_specimen,
    results_steel,
    results_section,
    results_twice,
)


def add_to(app: typer.Typer) -> None:
    """Add the group and every command in it."""
    group = typer.Typer(
        help="One result as a table: of a gauge, a bar, a section, a rosette, ...",
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    for part in PARTS:
        part.add_to(group)
    app.add_typer(group, name="results")
