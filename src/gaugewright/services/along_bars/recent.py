"""Bars somebody looks at just now, a moment worked out once while records stay as they are."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

from gaugewright.records import Entry
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Bar
from gaugewright.services.along_bars.profiles import BarProfile, bar_profile
from gaugewright.services.along_bars.slip import Averages, PredictedAt, averages, predicted_along
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading.moments import Moment
from gaugewright.services.strain.strains import Desk

__all__ = ["averages_kept", "predicted_kept", "profile_kept"]

T = TypeVar("T")
# Some moments of a bar or two, that a person goes to and fro between.
_MOST = 24


@dataclass(slots=True)
class _Recent:
    """What was worked out last, by what was asked; nothing in it is as long as a record."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    kept: OrderedDict[tuple[object, ...], Any] = field(default_factory=OrderedDict)


def profile_kept(
    desk: Desk, bar: Entry[Bar], moment: Moment, zero: ZeroKind, *, half_width: float | None = None
) -> BarProfile:
    """``bar_profile``, from a moment ago or worked out now.

    Raises
    ------
    InputError
        As ``bar_profile`` does.
    """
    asked = ("profile", bar.uid, moment.first, moment.last, zero, half_width)
    return _kept(
        desk.book, asked, lambda: bar_profile(desk, bar, moment, zero, half_width=half_width)
    )


def predicted_kept(desk: Desk, profile: BarProfile) -> tuple[PredictedAt, ...]:
    """``predicted_along``, from a moment ago or worked out now."""
    at = (profile.moment.first, profile.moment.last)
    asked = ("predicted", profile.bar.uid, at, profile.zero)
    return _kept(desk.book, asked, lambda: predicted_along(desk, profile))


def averages_kept(desk: Desk, bar: Entry[Bar], moment: Moment, **over: Any) -> Averages:
    """``averages``, from a moment ago or worked out now.

    Raises
    ------
    InputError
        As ``averages`` does.
    """
    asked = ("averages", bar.uid, moment.first, moment.last, *sorted(over.items()))
    return _kept(desk.book, asked, lambda: averages(desk, bar, moment, **over))


def _kept(book: Book, asked: tuple[object, ...], work_out: Callable[[], T]) -> T:
    recent = book.once("bars looked at", lambda _: _Recent())
    with recent.lock:
        if asked not in recent.kept:
            recent.kept[asked] = work_out()
            while len(recent.kept) > _MOST:
                recent.kept.popitem(last=False)
        recent.kept.move_to_end(asked)
        return cast("T", recent.kept[asked])
