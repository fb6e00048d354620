"""Each question of a plan: resolution against what is asked, chance after losses, proposals."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

from gaugewright.calc.answer_chance import Needed
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid, new_uid_at
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.answers import PlannedAnswer, expanded
from gaugewright.services.plan.answers_more import planned_answer
from gaugewright.services.plan.book import PlanChoice, planned_book, planned_limit
from gaugewright.services.plan.gains import Gain, Tried, gains_of
from gaugewright.services.plan.losses import Losses, chance_of, losses_of
from gaugewright.services.plan.places import ProposedStations, proposed_stations, standing_stations
from gaugewright.services.plan.strains import PlannedReadings
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = ["ENOUGH", "MARKS", "SHORT", "THIN", "UNTOLD", "PlannedQuestion", "PlannedQuestions"]

ENOUGH, THIN, SHORT, UNTOLD = "enough", "thin", "short", "not told"
# The mark that stands beside a standing, wherever it is shown.
MARKS = {
    ENOUGH: State.SOUND,
    THIN: State.WATCH,
    SHORT: State.DOUBTFUL,
    UNTOLD: State.NOT_YET,
}


@dataclass(frozen=True, slots=True, eq=False)
class PlannedQuestion:
    """A question with its answer in advance.

    ``chance`` is that of every part, ``any_chance`` that of one part at least; ``proposed`` are
    stations for a question that names none, ``answer`` then speaks of these.
    """

    answer: PlannedAnswer
    standing: str
    why: str
    chance: float | None
    any_chance: float | None
    gains: tuple[Gain, ...]
    proposed: ProposedStations | None

    @property
    def question(self) -> Entry[Question]:
        """Question itself."""
        return self.answer.question

    @property
    def predicted(self) -> float | None:
        """Value of the worst part; None where it is only a level."""
        worst = self.answer.worst
        return None if worst is None else float(worst.value.value.reshape(-1)[0])


class PlannedQuestions:
    """Questions of a campaign's plan, with the losses and assumptions they share."""

    def __init__(
        self,
        store: CampaignStore,
        book: Book,
        *,
        settings: Settings | None = None,
        choice: PlanChoice | None = None,
    ) -> None:
        self.store = store
        self.book = book
        self.choice = choice or PlanChoice()
        self.readings = PlannedReadings(planned_book(store, book, self.choice))
        self.losses: Losses = losses_of(settings, book)
        self._every: tuple[PlannedQuestion, ...] | None = None

    @property
    def assumed(self) -> tuple[str, ...]:
        """What stands in where nothing is recorded."""
        return self.readings.plan.assumed

    @cached_property
    def whole(self) -> PlannedReadings:
        """The plan with every station that is proposed for a question which names none."""
        more: dict[tuple[Uid, float, float], tuple[Uid, object]] = {}
        known = standing_stations(self.book)
        for question in self.book.of(Question):
            if question.record.stations:
                continue
            for station in proposed_stations(self.book, question).stations:
                if (station.bar, station.label) in known:
                    continue
                place = (station.bar, station.distance_planned, station.angle_planned)
                more.setdefault(place, (new_uid_at(3, len(more)), station))
        if not more:
            return self.readings
        choice = replace(self.choice, more=(*self.choice.more, *more.values()))
        return PlannedReadings(planned_book(self.store, self.book, choice), self.readings)

    def every(self) -> tuple[PlannedQuestion, ...]:
        """All questions in their order, worked out once."""
        if self._every is None:
            self._every = tuple(self.one(entry) for entry in self.book.of(Question))
        return self._every

    def one(self, question: Entry[Question], *, gains: bool = True) -> PlannedQuestion:
        """One question; what it asks at stations of its own, or at proposed ones."""
        proposed = None
        choice, readings = self.choice, self.readings
        if not question.record.stations:
            proposed = proposed_stations(self.book, question)
            if proposed.stations:
                choice = self._with(question, proposed)
                plan = planned_book(self.store, self.book, choice)
                readings = PlannedReadings(plan, self.readings)
        answer = planned_answer(readings, readings.book.entry(question.uid, Question))
        tried = Tried(self.store, self.book, readings, choice, answer, self.losses)
        chance = self._chance(readings, answer)
        standing, why = self._standing(answer, chance)
        return PlannedQuestion(
            answer,
            standing,
            why,
            chance,
            self._chance(readings, answer, whole=False),
            gains_of(tried) if gains else (),
            proposed,
        )

    def _with(self, question: Entry[Question], proposed: ProposedStations) -> PlanChoice:
        """The plan with stations proposed for a question."""
        known = standing_stations(self.book)
        more: list[tuple[Uid, object]] = []
        uids: list[Uid] = []
        for number, station in enumerate(proposed.stations):
            there = known.get((station.bar, station.label))
            uids.append(new_uid_at(2, number) if there is None else there.uid)
            more += [(uids[-1], station)] if there is None else []
        asked = replace(question.record, stations=tuple(uids))
        return replace(
            self.choice,
            more=(*self.choice.more, *more),
            changed={**self.choice.changed, question.uid: asked},
        )

    def _chance(
        self, readings: PlannedReadings, answer: PlannedAnswer, *, whole: bool = True
    ) -> float | None:
        if answer.needed is None:
            return None
        needed = answer.needed if whole else Needed(1, answer.needed.parts)
        try:
            return chance_of(readings.plan, answer, self.losses, needed=needed)
        except (InputError, Faults):
            return None  # more fates in common than can be gone through: told beside it

    def _standing(self, answer: PlannedAnswer, chance: float | None) -> tuple[str, str]:
        """Word for a question, and the number that decided on it."""
        if not answer.parts:
            return UNTOLD, answer.why
        least = planned_limit(self.book, "planned chance, least")
        enough = planned_limit(self.book, "planned margin, least")
        if answer.margin < 1:
            return SHORT, f"the uncertainty is {1 / answer.margin:.2g} times what is asked for"
        if chance is not None and chance < least / 2:
            return SHORT, f"the chance is below half of {least:.2g}"
        if chance is not None and chance < least:
            return THIN, f"the chance is below {least:.2g}"
        if answer.margin < enough:
            return THIN, f"less than {enough:.2g} times better than asked for"
        if math.isnan(answer.margin):
            return ENOUGH, "no uncertainty is asked for; the chance is enough"
        return ENOUGH, "uncertainty and chance are enough"

    def nearest(self, planned: PlannedQuestion) -> str:
        """The nearest plan that would do for a question that stands short: proposal or less asked.

        "" for a question that doesn't.
        """
        answer = planned.answer
        if planned.standing != SHORT or not answer.parts:
            return ""
        wanted, least = (
            answer.question.record.wanted,
            planned_limit(self.book, "planned chance, least"),
        )
        fits = [
            gain
            for gain in planned.gains
            if (wanted is None or gain.resolution <= wanted)
            and (gain.chance is None or gain.chance >= least / 2)
        ]
        if fits:
            return f"nearest that would do: {fits[0].words}"
        if planned.gains and wanted is not None and answer.margin < 1:
            best = min(planned.gains, key=lambda gain: gain.resolution)
            return f"no single step is enough; the nearest: {best.words}"
        if planned.gains:
            best = max(planned.gains, key=lambda gain: gain.chance or 0.0)
            return f"no single step is enough; the nearest: {best.words}"
        return f"ask for less: {expanded(answer.parts[0].value):.3g} can be had"
