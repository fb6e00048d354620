"""Identity proved by touch from a recording and as typed, exchanged channels, and by leads."""

import importlib.util
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from gaugewright.cli import app
from gaugewright.errors import InputError
from gaugewright.records import proof
from gaugewright.records.electrical import BridgeCircuit, Channel, ChannelSetting, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identifying import Stimulus
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Person, Verdict
from gaugewright.records.specimen import Campaign
from gaugewright.records.stated import State
from gaugewright.services.campaign import campaigns, laboratory
from gaugewright.services.campaign.book import Book
from gaugewright.services.wiring import exchanging, identifying, identifying_leads
from gaugewright.services.wiring import typed as wiring_typed
from gaugewright.services.wiring.identifying import Identity
from gaugewright.services.wiring.identifying_typed import proved, proved_words
from gaugewright.settings import load
from gaugewright.store.campaign import CampaignStore
from tests.browser import forty_eight
from tools import repository

AT = "2026-05-04 08:02:00"
BEGINS = datetime(2026, 5, 4, 8, 0)  # noqa: DTZ001 - the wall clock of Rome, as recorders write it


def example() -> object:
    path = repository.ROOT / "docs" / "how-to" / "examples" / "enter_a_campaign.py"
    spec = importlib.util.spec_from_file_location("enter_a_campaign", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two gauges on one bar whose plugs were exchanged: column S1-T reads the lower gauge."""
    home = tmp_path_factory.mktemp("touch")
    record = Campaign("S1", "Pulled bar (invented)", "Europe/Rome", invented=True)
    defaults = laboratory.campaign_defaults(load({}, environment={}, user_folder=home))
    context = working_context()
    with CampaignStore.create(home / "mine", record, context, defaults=defaults) as store:
        example().enter(store)
    rng = np.random.default_rng(5)
    lines = ["Time;S1-T;S1-U;Load;Temp", "-;mV/V;mV/V;kN;°C"]
    for n in range(240):
        stamp = f"{BEGINS + timedelta(seconds=n):%d.%m.%Y %H:%M:%S}.000"
        upper = -0.012 * np.exp(-max(n - 60, 0) / 8) * (n >= 60)  # touched at 08:01:00
        lower = 0.009 * np.exp(-max(n - 150, 0) / 8) * (n >= 150)  # touched at 08:02:30
        read = np.array([0.1 + lower, -0.2 + upper]) + rng.normal(0, 5e-5, 2)
        texts = [f"{read[0]:.5f}", f"{read[1]:.5f}", "0.000", "21.0"]
        lines.append(";".join([stamp, *(text.replace(".", ",") for text in texts)]))
    (home / "touching.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    words = ["--label", "touching", "--recorder", "recorder", "--day-first", "--yes"]
    words += ["--zone", "Europe/Rome", "--stamps-within", "0.5"]
    done = CliRunner().invoke(
        app, ["import", str(home / "mine"), str(home / "touching.csv"), *words]
    )
    assert done.exit_code == 0, done.output
    return home / "mine"


@pytest.fixture
def store(folder: Path) -> Iterator[CampaignStore]:
    with CampaignStore.open(folder, working_context()) as opened:
        yield opened


def standing(store: CampaignStore) -> dict[str, Identity]:
    return {one.gauge.record.label: one for one in identifying.identities(Book.read(store))}


def test_plugs_that_were_exchanged_all_along_are_put_right_in_the_records(
    folder: Path, tmp_path: Path
) -> None:
    campaigns.copy(folder, tmp_path / "copy")
    with CampaignStore.open(tmp_path / "copy", working_context()) as store:
        with pytest.raises(InputError, match="touch both first"):
            exchanging.put_right(store, "S1-T", "S1-U")
        for gauge, moved in (("S1-T", "S1-U"), ("S1-U", "S1-T")):
            proved(store, {"gauge": gauge, "stimulus": "pressed", "moved": moved, "at": AT})
        before = {c.record.channel: c for c in Book.read(store).of(Connection)}
        assert exchanging.exchanged_pairs(Book.read(store)) == (("S1-T", "S1-U"),)
        kept = exchanging.put_right(store, "S1-U", "S1-T")
        book = Book.read(store)
        assert {one.state for one in standing(store).values()} == {State.SOUND}
        ones, others = (one.record for one in kept)
        assert ones.subject == before[others.channel].record.subject
        assert others.subject == before[ones.channel].record.subject
        assert {one.uid for one in kept} <= {c.uid for c in before.values()}  # zeros stay with them
        read = identifying.reads_gauge(book, standing(store)["S1-T"].gauge.uid, None)
        assert book.label(read.record.channel) == "S1-U"
        assert "exchanged, as their proofs of identity say" in kept[0].reason


def test_exchanged_plugs_are_found_by_touching_and_mended_by_touching_again(
    store: CampaignStore, folder: Path
) -> None:
    assert {one.state for one in standing(store).values()} == {State.NOT_YET}
    typed = {"stimulus": "touched", "recording": "touching"}
    first = typed | {
        "gauge": "S1-T",
        "begins": "2026-05-04 08:00:40",
        "ends": "2026-05-04 08:01:40",
    }
    kept = proved(store, first)
    assert [Book.read(store).label(uid) for uid in kept.record.moved] == ["S1-U"]
    assert kept.record.change == pytest.approx(0.012e-3, rel=0.3)
    assert standing(store)["S1-T"].state is State.REPAIR
    assert "touch S1-U too" in standing(store)["S1-T"].words
    second = ["--recording", "touching", "--from", "2026-05-04 08:02:10"]
    second += ["--to", "2026-05-04 08:03:20"]
    done = CliRunner().invoke(app, ["identity", str(folder), "--gauge", "S1-U", *second])
    assert "exchanged with S1-T" in done.output
    assert standing(store)["S1-T"].exchanged_with == "S1-U"
    assert proved_words(Book.read(store)).endswith("not where their labels say: S1-T, S1-U")
    at = "2026-05-04 09:00"
    for gauge in ("S1-T", "S1-U"):
        proved(store, {"gauge": gauge, "stimulus": "warmed", "moved": gauge, "at": at})
    assert {one.state for one in standing(store).values()} == {State.SOUND}
    assert proved_words(Book.read(store)) == "Identity proved for 2 of 2 gauges"
    book = Book.read(store)
    connection = identifying.reads_gauge(book, book.labelled(Gauge, "S1-T").uid, None)
    assert connection is not None
    wiring_typed.disconnected(store, "S1-T", {"at": "2026-05-04 10:00"})
    wiring_typed.connected(store, "S1-T", {"subject": "S1-T", "at": "2026-05-04 10:05"})
    again = standing(store)["S1-T"]
    assert again.state is State.WATCH
    assert "plugged anew since: compare its leads" in again.words


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"gauge": "S1-T", "stimulus": "kicked"}, "one of touched; warmed"),
        ({"gauge": "S1-T", "stimulus": "touched"}, "none if none did, or name a recording"),
        ({"gauge": "S1-T", "stimulus": "touched", "moved": "S1-X"}, "channels of this campaign"),
        ({"gauge": "S1-T", "stimulus": "touched", "recording": "touching"}, "a time of the hall"),
        (
            {"gauge": "S1-T", "stimulus": "touched", "moved": "none", "at": "2026-05-01 08:00"},
            "what moved is held against it",
        ),
        ({"gauge": "S1-T", "stimulus": "told by its leads"}, "two or more; read its leads again"),
    ],
)
def test_what_is_missing_is_said(store: CampaignStore, typed: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words):
        proved(store, typed)


def test_nothing_and_more_than_one_channel_that_moved_are_no_proof(store: CampaignStore) -> None:
    at = {"at": "2026-05-04 11:00", "stimulus": "pressed", "gauge": "S1-U"}
    proved(store, at | {"moved": "none"})
    assert standing(store)["S1-U"].words == "pressed: no channel moved, try again"
    proved(store, at | {"moved": "S1-U, S1-T", "at": "2026-05-04 11:01"})
    assert standing(store)["S1-U"].state is State.WATCH
    assert "but with S1-T" in standing(store)["S1-U"].words


@pytest.fixture
def cast(tmp_path: Path) -> Iterator[tuple[CampaignStore, forty_eight.Bench]]:
    """Forty-eight gauges read before and after the pour, each on a channel."""
    bench = forty_eight.made(tmp_path)
    # Two leads that differ by less than any meter could tell.
    twin = bench.of("B05-U")
    twin.grids, twin.wires = bench.of("B05-T").grids, bench.of("B05-T").wires
    bench.of("B02-T").grids, bench.of("B02-U").grids = (350.42,), (349.63,)
    # The same wires, warmer, and plugs of B02-T and B02-U exchanged after the pour.
    with CampaignStore.open(tmp_path / forty_eight.CAMPAIGN, working_context()) as opened:
        store = opened.as_person(opened.labelled(Person, "IE").uid)
        with store.several():
            connected(store)
            for gate, at, warm in ((Gate.BEFORE_POUR, 0, 20.0), (Gate.AFTER_POUR, 24, 31.0)):
                for label in bench.gauges:
                    other = {"B02-T": "B02-U", "B02-U": "B02-T"}.get(label, label)
                    wired = bench.of(other if gate is Gate.AFTER_POUR else label)
                    store.add(checked(store, label, gate, wired, (at, warm)))
        yield store, bench


def connected(store: CampaignStore) -> None:
    channels = iter(store.entries(Channel))
    for circuit in store.entries(BridgeCircuit):
        channel = next(channels)
        setting = next(s for s in store.entries(ChannelSetting) if s.record.channel == channel.uid)
        begins = datetime(2026, 3, 1, tzinfo=UTC)
        store.add(Connection(circuit.uid, channel.uid, setting.uid, begins))


def checked(
    store: CampaignStore,
    label: str,
    gate: Gate,
    wired: forty_eight.Wired,
    when: tuple[int, float],
) -> GateCheck:
    """Pairs as a hand meter reads them, copper warmed by 0.393 % a kelvin."""
    hours, warm = when
    at = datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(hours=hours)
    meter = next(m for m in store.entries(Meter) if m.record.label == "hand meter")
    pairs = {"quarter": ("A-B", "B-C"), "half": ("A-B", "A-C"), "full": ("P-N", "SP-SN")}
    warmer = 2 * 2.2 * 0.00393 * (warm - 20)
    readings = tuple(
        GateReading(
            what,
            value,
            Censor.EXACT,
            meter.uid,
            f"{value:.2f}",
            warm,
            at,
            at,
        )
        for what in pairs[wired.family]
        for value in (round(float(wired.reads(what)) + warmer, 2),)
    )
    gauge = store.labelled(Gauge, label).uid
    person = store.labelled(proof.Person, "IE").uid
    return GateCheck(gauge, gate, readings, Verdict.PASS, "as the test has it", (), person)


def test_leads_prove_a_gauge_only_where_no_other_reads_as_it_does(
    cast: tuple[CampaignStore, forty_eight.Bench],
) -> None:
    store, _ = cast
    book = Book.read(store)
    told = {
        label: identifying_leads.compared(book, book.labelled(Gauge, label))
        for label in ("B05-T", "B21-T", "B23-T")
    }
    assert "B05-U" in told["B05-T"].fits  # its twin can't be told from it
    with pytest.raises(InputError, match="can’t be told from it"):
        identifying_leads.by_leads(store, "B05-T")
    # The only full bridge: no other gauge has such pairs at all.
    kept, words = identifying_leads.by_leads(store, "B23-T")
    assert kept.record.stimulus is Stimulus.LEADS
    assert "no other gauge did" in words.sentence
    assert standing(store)["B23-T"].state is State.SOUND


def test_exchanged_leads_are_seen_where_their_grids_differ_enough(
    cast: tuple[CampaignStore, forty_eight.Bench],
) -> None:
    store, _ = cast
    book = Book.read(store)
    told = identifying_leads.compared(book, book.labelled(Gauge, "B02-T"))
    assert "B02-T" not in told.fits
    assert "not as B02-T read" in told.sentence
