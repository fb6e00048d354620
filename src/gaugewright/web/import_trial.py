"""What a trial reading of a waiting file tells, before anything of it is brought in."""

from dataclasses import dataclass

from gaugewright.services.reading import arrival_trial
from gaugewright.services.reading.arrivals import Arrival
from gaugewright.sources.delimited import Layout
from gaugewright.web.recording_words import count
from gaugewright.web.rooms import Room

__all__ = ["TrialShown", "trial_shown"]


@dataclass(frozen=True, slots=True)
class TrialShown:
    """What a trial reading told: what is troubling, and the first lines that are no rows.

    ``told`` goes with the form, so that what was shown is what is agreed to.
    """

    lead: str
    troubles: tuple[str, ...]
    problems: tuple[tuple[str, str, str], ...]
    more: str
    told: str


def trial_shown(room: Room, one: Arrival, layout: Layout) -> TrialShown:
    """A file read once without keeping anything.

    Raises
    ------
    GaugewrightError
        As reading it does.
    """
    trial = arrival_trial.tried(room.store, one, layout)
    through = "all rows" if trial.is_whole else f"the first {count(trial.rows)} rows"
    lead = f"Tried without keeping anything: {through} read, {count(trial.problem_count)} "
    lead += "line that is no row." if trial.problem_count == 1 else "lines that are no rows."
    left = trial.problem_count - len(trial.problems)
    return TrialShown(
        lead,
        trial.troubles,
        tuple((f"line {each.line}", each.text, each.what) for each in trial.problems),
        f"and {count(left)} more" if left > 0 else "",
        "; ".join(trial.troubles),
    )
