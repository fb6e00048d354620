"""A campaign's survival, counted and added to the laboratory's own, once for each campaign."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import FileError, InputError
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge, Protection
from gaugewright.records.identity import Uid, instant_text
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.records.proof import Verdict
from gaugewright.records.specimen import Specimen
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory.survival import fates, groups_of, in_test, lost_gauges
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.settings import Settings
from gaugewright.store import kept_lines
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "FILE",
    "TEST",
    "Count",
    "Counted",
    "InCompany",
    "counted",
    "laboratory_folder",
    "publish",
    "published",
]

FILE = "survival.jsonl"
# The stage after the last gate: from the first load step to the end of the last.
TEST = "test"
NO_COVER = "no protection on record"


@dataclass(frozen=True, slots=True)
class Count:
    """Gauges alike in specimen, kind and cover at one stage: a gate, or the test.

    ``undecided`` are those whose meter could not tell: they count neither way.
    """

    stage: str
    specimen: str
    gauge: str
    protection: str
    passed: int
    lost: int
    undecided: int
    repaired: int


@dataclass(frozen=True, slots=True)
class InCompany:
    """Groups of two gauges or more that share a bundle, bar, pack or batch.

    ``wholly_lost`` lost every gauge they had left at one stage, two or more; ``losses`` are all
    gauges lost of such groups, ``together`` those lost at one stage with another of their group.
    """

    kind: str
    groups: int
    wholly_lost: int
    losses: int
    together: int


@dataclass(frozen=True, slots=True)
class Counted:
    """One campaign's survival as it was counted at a moment of its journal."""

    campaign: Uid
    label: str
    counted: str
    journal_head: str
    counts: tuple[Count, ...]
    in_company: tuple[InCompany, ...]


def counted(store: CampaignStore) -> Counted:
    """Survival of a campaign, ready to be added to the laboratory's.

    Raises
    ------
    InputError
        If no gauge was checked at a gate yet.
    """
    book = Book.read(store)
    stages = _stages(Page.of(Desk(store, book)))
    if not stages:
        raise InputError(
            "gates of the campaign", "none", "one or more with a verdict", "check gauges first"
        )
    return Counted(
        store.campaign.uid,
        store.campaign.record.label,
        instant_text(store.context.now()),
        store.head().sha256,
        _counts(book, stages),
        _in_company(book, stages),
    )


def publish(store: CampaignStore, settings: Settings) -> tuple[Counted, Path]:
    """Add a campaign's survival to the laboratory's folder and say where it stands.

    Published again, the newer count takes the place of the older when it is read: a campaign
    counts once. Nothing is taken out of the file.

    Raises
    ------
    InputError
        If no laboratory is set, the campaign is invented, or nothing of it can be counted.
    FileError
        If the laboratory's folder isn't there, or what stands in its file was changed.
    """
    folder = laboratory_folder(settings)
    if store.campaign.record.invented:
        raise InputError(
            f"campaign {store.campaign.record.label}",
            "invented",
            "a real one: the laboratory's survival is what it counted itself",
        )
    found = counted(store)
    kept_lines.add_line(folder / FILE, to_plain(found))
    return found, folder / FILE


def published(settings: Settings) -> tuple[Counted, ...]:
    """Every campaign that was published, each as it was counted last, in order of publishing.

    Raises
    ------
    InputError
        If no laboratory is set.
    FileError
        Naming the line of its file that was changed or can't be read.
    """
    path = laboratory_folder(settings) / FILE
    latest: dict[Uid, Counted] = {}
    for number, told in enumerate(kept_lines.lines(path), start=1):
        try:
            found: Counted = from_plain(Counted, told)
        except InputError as error:
            raise FileError(path, str(error), line=number) from error
        latest.pop(found.campaign, None)
        latest[found.campaign] = found
    return tuple(latest.values())


def laboratory_folder(settings: Settings) -> Path:
    """Folder of the laboratory.

    Raises
    ------
    InputError
        If the setting is empty.
    """
    if not settings["laboratory"]:
        raise InputError(
            "setting laboratory",
            "",
            "the laboratory's own folder",
            "set it: gaugewright --set laboratory=FOLDER, or in settings.toml",
        )
    return Path(settings["laboratory"])


@dataclass(frozen=True, slots=True)
class _Stage:
    """What became of every gauge exposed to a gate or the test."""

    name: str
    passed: frozenset[Uid]
    lost: frozenset[Uid]
    undecided: frozenset[Uid]
    repaired: frozenset[Uid]

    def every(self) -> Iterable[tuple[str, Uid]]:
        """Each gauge beside what became of it, in words of ``Count``."""
        for fate in ("passed", "lost", "undecided", "repaired"):
            yield from ((fate, uid) for uid in sorted(getattr(self, fate)))


def _stages(page: Page) -> tuple[_Stage, ...]:
    found = []
    for gate, at_it in fates(page.book):
        by_verdict = {
            verdict: frozenset(uid for uid, fate in at_it.items() if fate.verdict is verdict)
            for verdict in Verdict
        }
        found.append(
            _Stage(
                gate.value,
                by_verdict[Verdict.PASS],
                by_verdict[Verdict.FAIL],
                by_verdict[Verdict.CANNOT_TELL],
                frozenset(uid for uid, fate in at_it.items() if fate.repaired),
            )
        )
    dead = frozenset(uid for stage in found for uid in stage.lost)
    test = in_test(page)
    if found and test.begins is not None:
        # A loss needs no exact time to be counted as one of the test, unless it came after it.
        lost = frozenset(gauge.uid for gauge in lost_gauges(page.book)) - dead - test.later
        found.append(
            _Stage(TEST, frozenset(test.exposed) - dead - lost, lost, frozenset(), frozenset())
        )
    return tuple(found)


def _counts(book: Book, stages: tuple[_Stage, ...]) -> tuple[Count, ...]:
    alike = {gauge.uid: _alike(book, gauge) for gauge in book.of(Gauge)}
    cells: dict[tuple[str, tuple[str, str, str]], Counter[str]] = {}
    for stage in stages:
        for fate, uid in stage.every():
            if uid in alike:
                cells.setdefault((stage.name, alike[uid]), Counter())[fate] += 1
    return tuple(
        Count(name, *kinds, cell["passed"], cell["lost"], cell["undecided"], cell["repaired"])
        for (name, kinds), cell in cells.items()
    )


def _alike(book: Book, gauge: Entry[Gauge]) -> tuple[str, str, str]:
    """Specimen, kind of gauge and cover: what makes gauges alike in what they come through."""
    specimen = book.entry(book.bar_of(gauge).record.specimen, Specimen).record
    pack = book.pack_of(gauge).record
    grid = f"{1e3 * pack.grid_length:g} mm, {pack.gauge_resistance.value:g} ohm"
    covers = [one for one in book.of(Protection) if one.record.gauge == gauge.uid]
    cover = ", ".join(covers[-1].record.layers) if covers else NO_COVER
    return specimen.kind.value, grid, cover


def _in_company(book: Book, stages: tuple[_Stage, ...]) -> tuple[InCompany, ...]:
    groups: dict[tuple[str, str], set[Uid]] = {}
    for gauge in book.of(Gauge):
        for key in groups_of(book, gauge):
            groups.setdefault(key, set()).add(gauge.uid)
    kinds = dict.fromkeys(kind for kind, _ in groups)
    return tuple(
        _of_kind(kind, [g for (other, _), g in groups.items() if other == kind], stages)
        for kind in kinds
    )


def _of_kind(kind: str, groups: list[set[Uid]], stages: tuple[_Stage, ...]) -> InCompany:
    at_any = {uid for stage in stages for uid in stage.passed | stage.lost}
    of_many = [group & at_any for group in groups if len(group & at_any) > 1]
    wholly, losses, together = 0, 0, 0
    for group in of_many:
        is_whole = False
        for stage in stages:
            lost, there = group & stage.lost, group & (stage.passed | stage.lost)
            losses += len(lost)
            if len(lost) > 1:
                together += len(lost)
                is_whole = is_whole or lost == there
        wholly += is_whole
    return InCompany(kind, len(of_many), wholly, losses, together)
