"""Two recorders followed at once: one campaign time, each with its own clock and rate."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import Instrument
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import Limit, Zero, ZeroKind
from gaugewright.records.readings import ReadingProfile
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.following import again as follow_again
from gaugewright.services.following import end as follow_end
from gaugewright.services.following.following import Follower
from gaugewright.services.following.shown import Settled
from gaugewright.services.following.stream import Source
from gaugewright.services.reading import readings
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.sources import delimited
from tests.services.conftest import BEGINS, exact

GRID, LEAD, FACTOR = 350.0, 3.5, 2.0
FORCE_PER_STRAIN = 200e9 * 200e-6
AHEAD_S = 3.0  # by which the second recorder's clock goes ahead of the hall's
HEADS = {"R": "Time,G-T\nUTC,(mV/V)\n", "S": "Time,G-U,P,T\nUTC,(mV/V),(kN),(°C)\n"}
RATES = {"R": 1, "S": 5}  # rows a second


def written(strain):
    """What a three-wire quarter bridge gives, by resistances and voltage division alone."""
    arm = GRID * (1 + FACTOR * strain) + LEAD
    return f"{1e3 * (arm / (arm + GRID + LEAD) - 0.5):.7f}"


def stamp(second):
    at: datetime = BEGINS + timedelta(seconds=second)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def rows(recorder, first, last, pull):
    """Rows between two instants of the hall; ``pull`` gives the strain at each."""
    made = []
    for n in range(first * RATES[recorder], last * RATES[recorder]):
        true = n / RATES[recorder]
        strain = pull(true)
        if recorder == "R":
            made.append(f"{stamp(true)},{written(strain)}\n")
        else:
            load = FORCE_PER_STRAIN * strain / 1e3
            made.append(f"{stamp(true + AHEAD_S)},{written(strain)},{load:.5f},20.00\n")
    return "".join(made)


def steady(second):
    return 1e-5 * second


def add(path: Path, text: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(text)


class Pace:
    """This machine's clock, which a test sets."""

    def __init__(self):
        self.second = 0.0

    def __call__(self):
        return BEGINS + timedelta(seconds=self.second)


def profile_of(store, tmp_path, recorder):
    sample = tmp_path / f"sample {recorder}.csv"
    sample.write_text(HEADS[recorder] + rows(recorder, 0, 40, steady))
    layout = delimited.understand(sample).layout(zone="UTC")
    text = canonical_text(layout.as_plain())
    profile = store.add(ReadingProfile(f"files of {recorder}", "delimited text", text))
    return sample, layout, profile


@pytest.fixture
def hall(tiny, tmp_path):
    """The pulled bar read by two recorders, one on either side; S has load and temperature too.

    The clock of S was joined on another day, when it went as far ahead as it does now.
    """
    store = tiny.store
    card = ThermalOutput((0.0, 0.0, 0.0, 0.0, 0.0), 2.0, 12e-6, 10.0, 40.0, exact(0.0))
    pack = store.entry(tiny.uid["pack"])
    changed = replace(pack.record, thermal_output=card)
    store.revise(pack.uid, pack.version, changed, reason="card found")
    for label in ("step over noise", "spike over noise"):
        store.add(Limit(label, label, 8.0, "1", "of this test"))
    second = tiny.add("S", Instrument("S", "invented", exact(1.0), 0.0, exact(0.0), True))
    for label in ("G-U", "P", "T"):
        channel = store.entry(tiny.uid[f"channel {label}"])
        moved = replace(channel.record, instrument=second)
        store.revise(channel.uid, channel.version, moved, reason="plugged over")
    for label in ("G-T", "G-U"):
        connection = tiny.uid[f"connection {label}"]
        store.add(Zero(ZeroKind.BEFORE_TEST, connection, exact(0.0), exact(20.0), BEGINS))
    _, _, tiny.one = profile_of(store, tmp_path, "R")
    sample, layout, tiny.other = profile_of(store, tmp_path, "S")
    brought = readings.bring_in(
        store, sample, layout, label="earlier", instrument=second, clock=tiny.uid["clock"],
        profile=tiny.other.uid, joint=ByStamps(0.0, "for the moment"),
    )  # fmt: skip
    known = brought.clock_map
    joined = replace(known.record, offset=exact(-AHEAD_S), method="by a radio clock beside it")
    store.revise(known.uid, known.version, joined, reason="held against a radio clock")
    tiny.files = {"R": tmp_path / "r.csv", "S": tmp_path / "s.csv"}
    return tiny


def follower_of(hall, pace):
    instrument = hall.store.entry(hall.uid["recorder"])
    follower = Follower(hall.store, hall.files["R"], hall.one, instrument=instrument, now=pace)
    follower.also(Source(hall.files["S"], hall.other))
    return follower


def begun(hall, last, pull=steady):
    for recorder, path in hall.files.items():
        add(path, HEADS[recorder] + rows(recorder, 0, last, pull))


def test_opposites_on_two_recorders_are_one_pair_at_one_time(hall) -> None:
    begun(hall, 60)
    pace = Pace()
    pace.second = 59.5
    live = follower_of(hall, pace).look()
    assert [(source.recorder, source.rows) for source in live.sources] == [("R", 60), ("S", 300)]
    assert live.rows == 360
    [tile] = live.tiles
    assert tile.label == "G-T with G-U"
    # R's last second is its row at 59 s; that of S goes from 58.8 s to 59.8 s.
    assert tile.strain == pytest.approx((59e-5 + 59.4e-5) / 2, abs=2e-9)
    assert tile.bending == pytest.approx((59e-5 - 59.4e-5) / 2, abs=2e-9)
    assert tile.trend == pytest.approx(1e-5, rel=0.01)
    assert live.load == pytest.approx(FORCE_PER_STRAIN * 59.4e-5, abs=0.1)
    assert not [words for words in live.told if "held" in words]  # T comes from the other file


def test_each_recorder_s_clock_stands_for_itself(hall) -> None:
    begun(hall, 60)
    pace = Pace()
    pace.second = 59.9
    one, other = follower_of(hall, pace).look().sources
    assert (one.is_clock_joined, other.is_clock_joined) == (False, True)
    assert one.behind == pytest.approx(0.9, abs=1e-3)
    assert other.behind == pytest.approx(0.1, abs=1e-3)
    assert "moved by -3.000 s" in other.clock


def test_a_hold_is_settled_when_gauges_of_both_stand_still(hall) -> None:
    def pull(second):
        wandering = 2e-9 * (int(second * 5) % 2)  # to the last digit the same, it would be frozen
        return 1e-5 * min(second, 30) + (wandering if second > 30 else 0.0)

    begun(hall, 130, pull)
    hold = follower_of(hall, Pace()).look().hold
    assert hold.verdict is Settled.SETTLED
    assert "all 2 gauges" in hold.words


def test_a_recorder_that_writes_nothing_is_told_and_its_numbers_are_called_old(hall) -> None:
    begun(hall, 40)
    pace = Pace()
    follower = follower_of(hall, pace)
    follower.look()
    for second in range(41, 60):
        pace.second = second
        add(hall.files["S"], rows("S", second - 1, second, steady))
        live = follower.look()
    kinds = [(n.kind, n.words) for n in live.notices]
    assert ("no new rows", "R: nothing new has come for 10 s") in kinds
    [tile] = live.tiles
    assert "R wrote nothing for" in tile.why
    assert tile.state is State.SOUND
    assert live.sources[1].rows == 59 * 5


def test_both_files_brought_in_are_what_was_followed(hall) -> None:
    begun(hall, 45)
    follower = follower_of(hall, Pace())
    add(hall.files["R"], rows("R", 45, 46, steady).rstrip("\n"))
    live = follower.last()
    assert [account.source for account in live.accounts] == [0, 1]
    for account in live.accounts:
        label = f"test, {follower.streams[account.source].label}"
        _, compared = follow_end.bring_whole_in(hall.store, follower, account, label=label)
        assert compared.is_same
        assert compared.imported == account.rows


def test_one_that_is_another_file_is_left_and_the_others_go_on(hall) -> None:
    add(hall.files["R"], HEADS["R"].replace("G-T", "G-X") + rows("R", 0, 40, steady))
    add(hall.files["S"], HEADS["S"] + rows("S", 0, 40, steady))
    follower = follower_of(hall, Pace())
    follower.look()
    add(hall.files["S"], rows("S", 40, 50, steady))
    live = follower.look()
    assert live.sources[1].rows == 250
    assert [tile.gauges for tile in live.tiles] == [("G-U",)]
    assert "R is no longer followed" in live.notices[0].words
    assert "columns of r.csv" in live.sources[0].standing


def test_a_leap_that_the_other_recorder_saw_is_the_specimen_s(hall) -> None:
    """The clock of R was never joined: what it saw can't be held against S, and that is said."""
    begun(hall, 60, lambda second: 1e-4 + 3e-8 * ((int(second * 5) * 7919) % 13))
    follower = follower_of(hall, Pace())
    follower.look()

    def jumped(second):
        jump = 5e-5 if second >= 75 else 0.0
        return 1e-4 + jump + 3e-8 * ((int(second * 5) * 7919) % 13)

    add(hall.files["S"], rows("S", 60, 120, jumped))
    add(hall.files["R"], rows("R", 60, 120, jumped))
    live = follower.look()
    # The load of S leapt with the gauge of S.
    assert not [n for n in live.notices if n.gauge == "G-U"]
    [notice] = [n for n in live.notices if n.gauge == "G-T"]
    assert "not asked: S, whose clock was never joined" in notice.words


def test_a_file_is_followed_once(hall) -> None:
    follower = follower_of(hall, Pace())
    with pytest.raises(InputError, match="isn't followed already"):
        follower.also(Source(hall.files["S"], hall.other))


def test_what_is_followed_is_known_again_until_a_person_stops_it(hall) -> None:
    follower = follower_of(hall, Pace())
    follow_again.keep(hall.store, follower.sources)
    book = Book.read(hall.store)
    again = follow_again.kept(hall.store, book)
    assert [source.place for source in again] == list(hall.files.values())
    assert [source.profile.uid for source in again] == [hall.one.uid, hall.other.uid]
    follow_again.forget(hall.store)
    assert follow_again.kept(hall.store, book) == ()
