"""What does a new laboratory do first, and which of it is done? Told by what is there."""

from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.services.campaign.campaigns import Summary
from gaugewright.settings import Settings

__all__ = ["FirstStep", "first_steps"]


@dataclass(frozen=True, slots=True)
class FirstStep:
    """A thing to do once: why, where in the app ("" for outside of it), whether it is done.

    One that ``can_wait`` is for whoever has a use for it: nothing hangs on it.
    """

    what: str
    why: str
    place: str
    link: str
    done: bool
    can_wait: bool = False


def first_steps(
    settings: Settings,
    campaigns: Sequence[Summary],
    *,
    is_somebody_at_work: bool,
    home: str = ".",
) -> tuple[FirstStep, ...]:
    """Steps in their order; ``campaigns`` of invented data don't count as own work.

    ``home`` is the folder that is served.

    ``place`` of a step inside a campaign is that of the laboratory's newest own one.
    """
    own = [one for one in campaigns if not one.invented and not one.problem]
    newest = max(own, key=lambda one: (one.last_entry is not None, one.last_entry), default=None)
    return (
        *_outside(bool(own), is_somebody_at_work),
        *_inside(own, newest),
        _laboratory(bool(settings["laboratory"]), home),
    )


def _outside(has_own: bool, is_somebody_at_work: bool) -> tuple[FirstStep, ...]:
    """Steps of the laboratory, before there is a campaign."""
    return (
        FirstStep(
            "Begin a campaign",
            "One folder for one piece of work; nothing of it is kept elsewhere. The demo, which "
            "is invented, doesn’t count.",
            "/new",
            "Begin a campaign",
            has_own,
        ),
        FirstStep(
            "Say who is at work",
            "What is written down carries a name. This device remembers it until changed.",
            "/people",
            "Who is at work?",
            is_somebody_at_work,
        ),
    )


def _inside(own: Sequence[Summary], newest: Summary | None) -> tuple[FirstStep, ...]:
    """Steps of the laboratory's newest own campaign, or the way to one."""
    inside = f"/c/{newest.folder.name}/" if newest else "/new"
    words = ("Open Plan", "Open Readings") if newest else ("Begin a campaign first",) * 2
    return (
        FirstStep(
            "Place the first gauge",
            "Pack card, bar, station, gauge: the plan asks for each in turn. Confirm the limits "
            "that are marked as not confirmed before they judge anything.",
            f"{inside}plan" if newest else inside,
            words[0],
            any(one.gauges for one in own),
        ),
        FirstStep(
            "Bring in the first recording",
            "Ten quiet minutes of any recorder do: they show whether channels, units and clock "
            "are understood, long before the day of the test.",
            f"{inside}readings" if newest else inside,
            words[1],
            any(one.recordings for one in own),
        ),
    )


def _laboratory(has_folder: bool, home: str) -> FirstStep:
    """The one step that can wait."""
    return FirstStep(
        "If several campaigns follow: name the laboratory’s own folder",
        "Optional, and at any time: nothing is lost without it. Packs on hand, meters, people, "
        "limits and methods are then kept in one place and copied into every campaign begun "
        "later; until then a campaign has the limits and methods shipped with the program. "
        "Stop with Ctrl+C, make an empty folder, and begin again with: gaugewright --set "
        f"laboratory=FOLDER serve {home}",
        "",
        "",
        has_folder,
        can_wait=True,
    )
