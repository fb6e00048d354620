"""The pages that look closely at one kind of result, as the results page names them."""

from collections.abc import Callable
from dataclasses import dataclass

from gaugewright.records.coupons import CouponTest
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.member import Member
from gaugewright.records.proof import Limit, Zero
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain
from gaugewright.services.campaign.book import Book
from gaugewright.web.rooms import Room

__all__ = ["PARTS", "Part", "PartLink", "part_links"]


@dataclass(frozen=True, slots=True)
class Part:
    """A page or a group of pages: its name, what it shows, where it begins, and for whom.

    ``applies`` tells whether a campaign has what the page needs; a page that doesn't apply isn't
    named, so nobody is sent to an empty sheet.
    """

    name: str
    sentence: str
    url: Callable[[Room], str]
    applies: Callable[[Book], bool]


@dataclass(frozen=True, slots=True)
class PartLink:
    """A part as the results page names it."""

    name: str
    sentence: str
    url: str


# One line a page, in the order in which a person asks: the gauge, then what several give together.
PARTS: tuple[Part, ...] = (
    Part(
        "Gauge",
        "Strain against load and time, with cracking, yield, loops and holds marked.",
        lambda room: room.url("results/gauges"),
        lambda book: bool(book.of(Chain)),
    ),
    Part(
        "Cracking and yield",
        "The load of each at every gauge, by every criterion; first gauge and last.",
        lambda room: room.url("results/events"),
        lambda book: bool(book.of(Chain)),
    ),
    Part(
        "Over months",
        "Segments, gaps and clocks of a long record; season and temperature fitted beside it.",
        lambda room: room.url("results/long"),
        lambda book: bool(book.of(Zero)),
    ),
    Part(
        "Recorded twice",
        "Gain and offset between two channels of one quantity, and how their clocks stand.",
        lambda room: room.url("results/twice"),
        lambda book: bool(book.of(Recording)),
    ),
    Part(
        "Calibrated bars",
        "Newtons per reading of bars loaded against a known force, with terms and budget.",
        lambda room: room.url("results/calibrations"),
        lambda book: bool(book.of(BridgeCircuit)),
    ),
    Part(
        "Cycles",
        "How often a gauge's bar was loaded, by how much, and what that used of its fatigue life.",
        lambda room: room.url("results/cycles"),
        lambda book: bool(book.of(Chain)),
    ),
    Part(
        "Coupons",
        "Curves of the metal's own test pieces: modulus, strengths, and what was refused.",
        lambda room: room.url("results/coupons"),
        lambda book: bool(book.of(CouponTest)),
    ),
    Part(
        "Section",
        "Strain plane, neutral axis and moment closure; each gauge beside its prediction.",
        lambda room: room.url("results/sections"),
        lambda book: bool(book.of(Chain)) and bool(book.of(Member)),
    ),
    Part(
        "Limits and assumptions",
        "What verdicts are held to, what nobody measured, and which numbers that reaches.",
        lambda room: room.url("limits"),
        lambda book: bool(book.of(Limit)),
    ),
    Part(
        "Along bars",
        "Strain, force, bond stress and slip along a bar, lost stations marked, moment by moment.",
        lambda room: room.url("results/bars"),
        lambda book: bool(book.of(Chain)),
    ),
    Part(
        "Rosettes",
        "Principal strains and stresses with their axes, Mohr’s circle, and both over the test.",
        lambda room: room.url("results/rosettes"),
        lambda book: any(gauge.record.group for gauge in book.of(Gauge)),
    ),
)


def part_links(room: Room) -> tuple[PartLink, ...]:
    """Parts that apply to a campaign."""
    return tuple(
        PartLink(part.name, part.sentence, part.url(room))
        for part in PARTS
        if part.applies(room.book)
    )
