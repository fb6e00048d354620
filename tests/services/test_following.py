"""A test followed while its file is written: every row once, by the chain, told in time."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import Limit, Zero, ZeroKind
from gaugewright.records.readings import ReadingProfile
from gaugewright.records.stated import Meaning, State, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.following import again as follow_again
from gaugewright.services.following import end as follow_end
from gaugewright.services.following.following import Follower
from gaugewright.services.following.shown import Settled, Yield
from gaugewright.services.following.thread import FollowThread
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.services.strain.strains import Desk
from gaugewright.sources import delimited

BEGINS = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
HEAD = "Time,G-T,G-U,P,T\nUTC,(mV/V),(mV/V),(kN),(°C)\n"
GRID, LEAD, FACTOR = 350.0, 3.5, 2.0
FORCE_PER_STRAIN = 200e9 * 200e-6
YIELDS_AT = 500e6 / 200e9


def exact(value):
    return Stated(value, 0.0, Meaning.LIMIT)


def written(strain):
    """What a three-wire quarter bridge gives, by resistances and voltage division alone."""
    arm = GRID * (1 + FACTOR * strain) + LEAD
    return 1e3 * (arm / (arm + GRID + LEAD) - 0.5)


def stamp(second):
    return (
        (BEGINS + timedelta(seconds=second))
        .isoformat(timespec="milliseconds")
        .replace("+00:00", "Z")
    )


def line(second, top, under, *, noise=0.0):
    """One row: strains of both sides [1]; the load is what their mean asks for, in kN."""
    texts = [
        text if isinstance(text, str) else f"{written(text + noise):.7f}" for text in (top, under)
    ]
    sides = [side for side in (top, under) if not isinstance(side, str)]
    load = FORCE_PER_STRAIN * (sum(sides) / len(sides) if sides else 0.0) / 1e3
    return f"{stamp(second)},{texts[0]},{texts[1]},{load:.4f},20.00\n"


@pytest.fixture
def followed(tiny, tmp_path):
    """The pulled bar with zeros, limits and a profile of its recorder's files."""
    card = ThermalOutput((0.0, 0.0, 0.0, 0.0, 0.0), 2.0, 12e-6, 10.0, 40.0, exact(0.0))
    pack = tiny.store.entry(tiny.uid["pack"])
    tiny.store.revise(
        pack.uid, pack.version, replace(pack.record, thermal_output=card), reason="card found"
    )
    for label, value in (("step over noise", 8.0), ("spike over noise", 8.0)):
        tiny.store.add(Limit(label, label, value, "1", "of this test"))
    for label in ("G-T", "G-U"):
        tiny.store.add(
            Zero(
                ZeroKind.BEFORE_TEST,
                tiny.uid[f"connection {label}"],
                exact(0.0),
                exact(20.0),
                BEGINS,
            )
        )
    sample = tmp_path / "sample.csv"
    sample.write_text(HEAD + "".join(line(n, 1e-5 * n, 1e-5 * n) for n in range(40)))
    layout = delimited.understand(sample).layout(zone="UTC")
    tiny.profile = tiny.store.add(
        ReadingProfile("files of R", "delimited text", canonical_text(layout.as_plain()))
    )
    tiny.instrument = tiny.store.entry(tiny.uid["recorder"])
    tiny.file = tmp_path / "live.csv"
    return tiny


class Pace:
    """This machine's clock, which a test sets."""

    def __init__(self):
        self.second = 0.0

    def __call__(self):
        return BEGINS + timedelta(seconds=self.second)


def follower_of(tiny, place=None, now=None):
    return Follower(
        tiny.store,
        place or tiny.file,
        tiny.profile,
        instrument=tiny.instrument,
        now=now or Pace(),
    )


def add(path: Path, text: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(text)


def ramp(seconds, per_second=1e-5, *, bending=0.0, rate=1, first=0):
    """Rows of a pull; the top side takes more by ``bending`` times the strain."""
    rows = []
    for n in range(first * rate, seconds * rate):
        strain = per_second * n / rate
        rows.append(line(n / rate, strain * (1 + bending), strain * (1 - bending)))
    return "".join(rows)


def test_strain_load_and_bending_are_what_was_put_in(followed) -> None:
    add(followed.file, HEAD + ramp(60, bending=0.1))
    live = follower_of(followed).look()
    assert (live.rows, live.reported) == (60, 0)
    [tile] = live.tiles
    assert tile.label == "G-T with G-U"
    assert tile.strain == pytest.approx(59e-5, abs=2e-9)
    assert abs(tile.bending) == pytest.approx(0.1 * 59e-5, abs=2e-9)
    assert live.load == pytest.approx(FORCE_PER_STRAIN * 59e-5, abs=1.0)
    assert tile.trend == pytest.approx(1e-5, rel=0.01)
    assert tile.share == pytest.approx(1.1 * 59e-5 / YIELDS_AT, rel=1e-4)
    assert tile.watch is Yield.BELOW


@pytest.mark.parametrize("pieces", [1, 7, 90])
def test_however_the_rows_come_the_account_is_the_same(followed, pieces) -> None:
    text = HEAD + ramp(80)
    follower = follower_of(followed)
    size = -(-len(text) // pieces)
    for begin in range(0, len(text), size):
        add(followed.file, text[begin : begin + size])
        live = follower.look()
    [account] = live.accounts
    assert account.rows == 80
    add(followed.file.with_name("whole.csv"), text)
    whole = follower_of(followed, followed.file.with_name("whole.csv")).look()
    assert whole.accounts[0].sha256 == account.sha256
    assert [tile.strain for tile in whole.tiles] == [tile.strain for tile in live.tiles]


def test_the_whole_file_brought_in_is_what_was_followed_and_reduces_to_it(followed) -> None:
    add(followed.file, HEAD + ramp(200, bending=0.1))
    follower = follower_of(followed)
    live = follower.look()
    brought, compared = follow_end.bring_whole_in(
        followed.store,
        follower,
        live.accounts[0],
        label="test",
        joint=ByStamps(0.0, "set by radio"),
    )
    assert (compared.followed, compared.imported, compared.is_same) == (200, 200, True)
    assert brought.clock_map is not None
    desk = Desk(followed.store, Book.read(followed.store))
    circuit = desk.book.entry(followed.uid["circuit G-T"], BridgeCircuit)
    reduced = desk.strain(circuit, ZeroKind.BEFORE_TEST).strain
    kept = follower.streams[0].rows.value.last()
    place = next(w.place for w in follower.streams[0].rows.wired.wires if w.subject == circuit.uid)
    # Temperature is one number throughout, so that holding it at the newest row changes nothing.
    assert np.array_equal(kept[:, place], reduced)


def test_rows_written_afterwards_are_told_and_other_numbers_are_noticed(followed) -> None:
    add(followed.file, HEAD + ramp(50))
    follower = follower_of(followed)
    account = follower.look().accounts[0]
    add(followed.file, ramp(55, first=50))
    brought, compared = follow_end.bring_whole_in(followed.store, follower, account, label="test")
    assert compared.is_same
    assert "5 more" in compared.words
    other = replace(account, sha256="0" * 64)
    assert not follow_end.compared(followed.store, brought.entry, other).is_same


def test_yield_is_approached_then_passed_with_its_doubt(followed) -> None:
    pace = Pace()
    follower = follower_of(followed, now=pace)
    add(followed.file, HEAD)
    seen = []
    for second in range(0, 300, 5):
        add(followed.file, ramp(second + 5, first=second))
        seen.append((1e-5 * (second + 4), follower.look().tiles[0].watch))
    near = [strain for strain, watch in seen if watch is Yield.NEAR]
    passed = [strain for strain, watch in seen if watch is Yield.PASSED]
    # Nothing is doubted in this campaign: the watch turns exactly at the strain at yield.
    assert min(near) == pytest.approx(0.8 * YIELDS_AT, abs=6e-5)
    assert min(passed) == pytest.approx(YIELDS_AT, abs=1.1e-4)
    assert min(passed) > YIELDS_AT
    kinds = [notice.kind for notice in follower.look().notices]
    assert kinds.count("passed yield") == 1
    assert kinds.count("approaching yield") == 1


def test_once_passed_it_stays_passed_when_the_load_goes(followed) -> None:
    follower = follower_of(followed)
    add(followed.file, HEAD + ramp(280))
    follower.look()
    add(followed.file, "".join(line(280 + n, 1e-3, 1e-3) for n in range(30)))
    assert follower.look().tiles[0].watch is Yield.PASSED


def test_a_hold_is_judged_moving_then_settled(followed) -> None:
    follower = follower_of(followed)
    add(followed.file, HEAD + ramp(100))
    assert follower.look().hold.verdict is Settled.MOVING
    # The step was 990 µε: it creeps by 60 µε a minute first, then not at all.
    for n in range(100, 160):
        creep = 1e-6 * (n - 100)
        text = line(n, 99e-5 + creep, 99e-5 + creep).split(",")
        add(followed.file, ",".join([*text[:3], "39.6000", text[4]]))
    creeping = follower.look().hold
    assert creeping.verdict is Settled.NOT_YET
    assert "+60.0 µε a minute" in creeping.words
    for n in range(160, 400):
        at_rest = 105e-5 + 2e-9 * (n % 2)  # to the last digit the same, it would be frozen
        text = line(n, at_rest, at_rest).split(",")
        add(followed.file, ",".join([*text[:3], "39.6000", text[4]]))
    hold = follower.look().hold
    assert hold.verdict is Settled.SETTLED
    assert hold.load == pytest.approx(39600.0, abs=1.0)


def noisy(first, last, top=None):
    """Rows at rest with noise of 1 µε, of which ``top`` may be given instead."""
    rng = np.random.default_rng(first)
    rows = []
    for n in range(first, last):
        one, other = 1e-4 + 1e-6 * rng.standard_normal(2)
        rows.append(line(n, one if top is None else top, other))
    return "".join(rows)


@pytest.mark.parametrize(
    ("cell", "kind"), [("OVERRANGE", "over range"), ("", "no reading"), (5e-4, "frozen")]
)
def test_a_lost_gauge_is_told_once_and_its_partner_goes_on_alone(followed, cell, kind) -> None:
    follower = follower_of(followed)
    add(followed.file, HEAD + noisy(0, 60))
    assert not follower.look().notices
    for first in range(60, 180, 20):
        add(followed.file, noisy(first, first + 20, top=cell))
        live = follower.look()
    [notice] = [notice for notice in live.notices if notice.is_loss]
    assert (notice.gauge, notice.kind) == ("G-T", kind)
    [tile] = live.tiles
    assert tile.state is State.LOST
    assert "G-U alone" in tile.why
    assert tile.bending is None
    assert tile.strain == pytest.approx(1e-4, abs=5e-6)
    add(followed.file, noisy(180, 200))
    assert "reads again" in [notice.kind for notice in follower.look().notices]


def test_a_step_of_one_gauge_alone_is_told_and_one_of_both_is_not(followed) -> None:
    rng = np.random.default_rng(1)

    def rows(alone):
        made = []
        for n, (a, b, c) in enumerate(rng.standard_normal((300, 3))):
            jump = 4e-5 * (n >= 150)
            text = line(n, 1e-4 + jump + 1e-6 * a, 1e-4 + (0 if alone else jump) + 1e-6 * b)
            cells = text.split(",")
            made.append(",".join([*cells[:3], f"{4 + 0.01 * c:.4f}", cells[4]]))
        return "".join(made)

    add(followed.file, HEAD + rows(alone=True))
    told = [(n.gauge, n.kind) for n in follower_of(followed).look().notices]
    assert told == [("G-T", "lone step")]
    other = followed.file.with_name("other.csv")
    add(other, HEAD + rows(alone=False))
    assert not follower_of(followed, other).look().notices


def test_a_file_begun_anew_away_or_quiet_is_told_and_followed_on(followed) -> None:
    pace = Pace()
    follower = follower_of(followed, now=pace)
    assert follower.look().sources[0].standing.startswith("out of reach")
    add(followed.file, HEAD + ramp(40))
    assert follower.look().rows == 40
    pace.second = 15.0
    assert follower.look().notices[0].kind == "no new rows"
    aside = followed.file.rename(followed.file.with_name("aside"))
    assert follower.look().sources[0].standing.startswith("out of reach")
    aside.rename(followed.file)
    add(followed.file, ramp(50, first=40))
    back = follower.look()
    assert (back.rows, back.notices[0].kind) == (50, "goes on")
    followed.file.write_text(HEAD + ramp(10))
    follower.look()
    live = follower.look()
    assert [(a.rows, a.is_whole) for a in live.accounts] == [(50, False), (10, True)]
    with pytest.raises(InputError, match="begun anew"):
        follow_end.bring_whole_in(followed.store, follower, live.accounts[0], label="gone")


def test_the_newest_file_of_a_folder_is_followed_and_the_one_before_ended(
    followed, tmp_path
) -> None:
    folder = tmp_path / "recorder"
    folder.mkdir()
    follower = follower_of(followed, folder)
    assert follower.look().sources[0].standing == "no file in this folder yet"
    add(folder / "a.csv", HEAD + ramp(30))
    assert follower.look().sources[0].file == "a.csv"
    add(folder / "a.csv", ramp(35, first=30).rstrip("\n"))  # its last line has no end
    add(folder / "b.csv", HEAD + ramp(60, first=35))
    live = follower.look()
    assert live.sources[0].file == "b.csv"
    assert [(Path(a.path).name, a.rows) for a in live.accounts] == [("a.csv", 35), ("b.csv", 25)]


def test_two_files_that_came_between_two_looks_are_both_followed(followed, tmp_path) -> None:
    folder = tmp_path / "recorder"
    folder.mkdir()
    add(folder / "old.csv", HEAD + ramp(10))
    os.utime(folder / "old.csv", (1, 1))
    add(folder / "a.csv", HEAD + ramp(30))
    follower = follower_of(followed, folder)
    assert follower.look().sources[0].file == "a.csv"
    for place, (name, first, last) in enumerate((("b.csv", 30, 50), ("c.csv", 50, 75))):
        add(folder / name, HEAD + ramp(last, first=first))
        os.utime(folder / name, (2e9 + place, 2e9 + place))
    for _ in range(3):
        live = follower.look()
    rows = [(Path(a.path).name, a.rows) for a in live.accounts]
    assert rows == [("a.csv", 30), ("b.csv", 20), ("c.csv", 25)]


def test_begun_again_it_begins_with_the_file_it_began_with(followed, tmp_path) -> None:
    folder = tmp_path / "recorder"
    folder.mkdir()
    for place, name in enumerate(("old.csv", "a.csv")):
        add(folder / name, HEAD + ramp(20))
        os.utime(folder / name, (1e9 + place, 1e9 + place))
    follower = follower_of(followed, folder)
    follower.look()
    add(folder / "b.csv", HEAD + ramp(30, first=20))
    follower.look()
    follow_again.keep(followed.store, follower.sources)
    [kept] = follow_again.kept(followed.store, follower.book)
    again = Follower(
        followed.store,
        kept.place,
        kept.profile,
        instrument=followed.instrument,
        older=kept.older,
        now=Pace(),
    )
    for _ in range(2):
        live = again.look()
    assert [(Path(a.path).name, a.rows) for a in live.accounts] == [("a.csv", 20), ("b.csv", 10)]


def test_a_connection_remade_meanwhile_is_taken_from_its_instant_on(followed) -> None:
    """Rows read through a plug that was pulled belong to no gauge."""
    follower = follower_of(followed)
    add(followed.file, HEAD + ramp(30))
    follower.look()
    known = followed.store.entry(followed.uid["connection G-T"])
    ended = replace(known.record, ends=BEGINS + timedelta(seconds=40))
    followed.store.revise(known.uid, known.version, ended, reason="plug pulled")
    follower._records_at = -1e9  # as if some seconds had gone by
    add(followed.file, ramp(60, first=30))
    [tile] = follower.look().tiles
    assert tile.gauges == ("G-U",)


def test_latency_is_by_the_rows_own_time(followed) -> None:
    pace = Pace()
    add(followed.file, HEAD + ramp(31))
    pace.second = 30.4
    live = follower_of(followed, now=pace).look()
    assert live.sources[0].behind == pytest.approx(0.4, abs=1e-3)
    assert "never joined" in live.sources[0].clock


def test_other_columns_than_confirmed_are_refused(followed) -> None:
    add(followed.file, HEAD.replace("G-U", "G-X") + ramp(40))
    with pytest.raises(InputError, match="columns of live"):
        follower_of(followed).look()


def test_an_unknown_recorder_is_asked_for(followed) -> None:
    with pytest.raises(InputError, match="recorder of profile"):
        Follower(followed.store, followed.file, followed.profile)


def test_the_thread_stops_cleanly_with_everything_read(followed) -> None:
    add(followed.file, HEAD + ramp(20))
    thread = FollowThread(follower_of(followed), every=0.2)
    thread.start()
    assert thread.first(20).rows == 20
    add(followed.file, ramp(25, first=20).rstrip("\n"))
    live = thread.stop()
    assert not thread.goes_on
    assert live.rows == 25
    assert thread.failure == ""


def test_a_thread_that_meets_another_file_ends_with_the_sentence(followed) -> None:
    add(followed.file, HEAD.replace("G-U", "G-X") + ramp(40))
    thread = FollowThread(follower_of(followed), every=0.2)
    thread.start()
    assert thread.first(20) is None
    thread.stop()
    assert "columns of live.csv" in thread.failure


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_a_fault_of_ours_ends_says_so(followed, monkeypatch) -> None:
    def broken(_: Follower) -> None:
        raise RuntimeError("of this test")

    add(followed.file, HEAD + ramp(20))
    thread = FollowThread(follower_of(followed), every=0.2)
    monkeypatch.setattr(Follower, "look", broken)
    thread.start()
    assert thread.first(20) is None
    thread.stop()
    assert "fault of this program" in thread.failure


@pytest.mark.parametrize("every", [0.0, 0.1, 61.0, float("nan")])
def test_how_often_is_bounded(followed, every) -> None:
    with pytest.raises(InputError, match="every"):
        FollowThread(follower_of(followed), every=every)
