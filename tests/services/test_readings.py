"""Files brought in: every line accounted for, fields named with their units, all or nothing."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from gaugewright.errors import FileError, InputError
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.readings import Clock, Recording
from gaugewright.records.specimen import Campaign
from gaugewright.services.reading import layouts, readings
from gaugewright.sources import stream
from gaugewright.sources.delimited import Clock as FileClock
from gaugewright.sources.delimited import Column, Layout
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def store(tmp_path: Path) -> CampaignStore:
    campaign = Campaign("c", "Campaign", "UTC")
    return CampaignStore.create(tmp_path / "campaign", campaign, working_context())


def layout(*columns: Column) -> Layout:
    clock = FileClock("elapsed", (0,), unit="s")
    return Layout((Column("t", "time", "s"), *columns), ",", clock, first_data_row=2)


SIMPLE = layout(Column("Load", unit="kN"), Column("SG 1", unit="µm/m"))


def clock_of(store: CampaignStore) -> Uid:
    return store.add(Clock("recorder", "", 0.1)).uid


@given(
    rows=st.lists(
        st.tuples(
            st.floats(-1e6, 1e6, allow_nan=False),
            st.one_of(st.floats(-1e6, 1e6, allow_nan=False), st.sampled_from(["OVERRANGE", "--"])),
            st.booleans(),
        ),
        min_size=1,
        max_size=60,
    )
)
@hypothesis_settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_line_is_a_row_kept_or_a_row_reported_and_every_number_is_as_written(
    rows: list[tuple[float, float | str, bool]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("rows")
    lines = [
        f"{n},{load!r},{gauge if isinstance(gauge, str) else repr(gauge)}" if whole else "cut"
        for n, (load, gauge, whole) in enumerate(rows)
    ]
    path = folder / "raw.csv"
    path.write_text("t,Load,SG 1\n" + "\n".join(lines) + "\n")
    kept = [(n, *row[:2]) for n, row in enumerate(rows) if row[2]]
    campaign = Campaign("c", "Campaign", "UTC")
    with CampaignStore.create(folder / "campaign", campaign, working_context()) as store:
        where = {"label": "raw", "instrument": None, "clock": clock_of(store)}
        if not kept:
            before = store.head()
            with pytest.raises(FileError, match="no row could be kept"):
                readings.import_file(store, path, SIMPLE, **where)  # type: ignore[arg-type]
            assert store.head() == before
            return
        entry = readings.import_file(store, path, SIMPLE, **where)  # type: ignore[arg-type]
        assert entry.record.rows == len(kept)
        assert entry.record.rows + entry.record.rows_reported == len(rows)
        found = store.readings(entry.uid)
        assert found.values("load_kn").tolist() == [load for _, load, _ in kept]
        gauges = found.values("sg_1_um_per_m")
        words = [isinstance(gauge, str) for _, _, gauge in kept]
        assert np.isnan(gauges).tolist() == words
        assert sum(mark.count for mark in entry.record.marks) == sum(words)
        assert store.problems() == ()


def test_a_row_without_a_time_keeps_its_numbers(store: CampaignStore, tmp_path: Path) -> None:
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n0.0,1,2\n,3,4\n0.2,5,6\n")
    clock = clock_of(store)
    entry = readings.import_file(store, path, SIMPLE, label="a", instrument=None, clock=clock)
    found = store.readings(entry.uid)
    assert found.values("load_kn").tolist() == [1.0, 3.0, 5.0]
    assert np.isnan(found.elapsed_s()).tolist() == [False, True, False]
    assert found.elapsed_s()[2] == pytest.approx(0.2)


def test_progress_counts_the_bytes_of_the_file(store: CampaignStore, tmp_path: Path) -> None:
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n0.0,1,2\n")
    said: list[tuple[int, int, str]] = []
    readings.import_file(
        store,
        path,
        SIMPLE,
        label="a",
        instrument=None,
        clock=clock_of(store),
        progress=lambda *told: said.append(told),
    )
    size = path.stat().st_size
    read = [one for one in said if one[2] == "reading raw.csv [bytes]"]
    assert read == [(size, size, "reading raw.csv [bytes]")]
    assert [one[2] for one in said[-2:]] == [
        "looking whether raw.csv changed meanwhile",
        "keeping raw.csv as received",
    ]


LINES = [f"{n / 10:.1f},{n},{2 * n}\n" for n in range(400)]
STOPS = ("reading raw.csv [bytes]", "looking whether raw.csv", "keeping raw.csv")


class StoppedError(Exception):
    """A person doesn't want to wait."""


def test_bytes_told_are_those_of_whole_lines_read_so_far(
    store: CampaignStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stream, "PIECE_BYTES", 1000)
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n" + "".join(LINES))
    ends = np.cumsum([len(line) for line in ["t,Load,SG 1\n", *LINES]]).tolist()
    said: list[int] = []
    readings.import_file(
        store,
        path,
        SIMPLE,
        label="a",
        instrument=None,
        clock=clock_of(store),
        progress=lambda done, total, what: said.append(done) if "bytes" in what else None,
    )
    assert len(said) >= ends[-1] // 1000
    assert all(after - before <= 1000 for before, after in pairwise(said))
    assert said == sorted(set(said) & set(ends))  # each once, rising, and each where a line ends
    assert said[-1] == ends[-1]


@pytest.mark.parametrize("where", STOPS)
def test_an_import_that_is_stopped_leaves_nothing_and_can_be_done_again(
    where: str, store: CampaignStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stream, "PIECE_BYTES", 1000)
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n" + "".join(LINES))
    before, seen = store.head(), []

    def stop(done: int, total: int, what: str) -> None:
        seen.append(what)
        if what.startswith(where) and len(seen) > 3:
            raise StoppedError

    told = {"label": "a", "instrument": None, "clock": Clock("new", "", 0.1)}
    with pytest.raises(StoppedError):
        readings.bring_in(store, path, SIMPLE, progress=stop, **told)  # type: ignore[arg-type]
    assert store.head() == before
    assert store.entries(Recording) == store.entries(Clock) == ()
    kept = [p for name in ("incoming", "readings", "originals") for p in files(store, name)]
    assert kept == []
    brought = readings.bring_in(store, path, SIMPLE, **told)  # type: ignore[arg-type]
    assert brought.entry.record.rows == len(LINES)


def files(store: CampaignStore, name: str) -> list[Path]:
    """What lies in a folder of the campaign but its locks."""
    return [path for path in (store.folder / name).rglob("*") if path.suffix != ".lock"]


def test_a_file_that_grows_while_it_is_read_is_refused_whole(
    store: CampaignStore, tmp_path: Path
) -> None:
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n0.0,1,2\n")
    clock = clock_of(store)
    before = store.head()

    def grow(done: int, total: int, what: str) -> None:
        if path.stat().st_size == total:
            with path.open("a") as file:
                file.write("0.1,3,4\n")

    with pytest.raises(FileError, match="changed while it was read"):
        readings.import_file(
            store, path, SIMPLE, label="a", instrument=None, clock=clock, progress=grow
        )
    assert store.head() == before
    assert store.entries(Recording) == ()
    assert store.problems() == ()


@pytest.mark.parametrize("what", ["instrument", "clock", "profile"])
def test_a_uid_of_another_kind_is_refused_by_name(
    what: str, store: CampaignStore, tmp_path: Path
) -> None:
    path = tmp_path / "raw.csv"
    path.write_text("t,Load,SG 1\n0.0,1,2\n")
    uids = {"instrument": None, "clock": clock_of(store), "profile": None}
    uids[what] = store.campaign.uid
    told = {"instrument": "recorder"}.get(what, f"(?i){what}")
    before = store.head()
    with pytest.raises(InputError, match=told):
        readings.import_file(store, path, SIMPLE, label="a", **uids)  # type: ignore[arg-type]
    assert store.head() == before


def test_fields_end_in_their_unit_and_differ_where_names_do_not() -> None:
    columns = layouts.fields_of(
        layout(
            Column("SG-1", unit="µm/m"),
            Column("sg 1", unit="µm/m"),
            Column("R", unit="mV/V"),
            Column("Ω loop", unit="Ω"),
            Column("Temp", unit="°C"),
            Column("note", "text"),
            Column("gap", "empty"),
            Column("1", unit="%"),
        )
    )
    assert [column.field for column in columns] == [
        "t_s",
        "sg_1_um_per_m",
        "sg_1_um_per_m_2",
        "r_mv_per_v",
        "ohm_loop_ohm",
        "temp_degc",
        "note",
        "column_1_percent",
    ]


@given(st.lists(st.text(min_size=1, max_size=12).filter(str.strip), unique=True, max_size=12))
def test_fields_are_plain_and_never_the_same(names: list[str]) -> None:
    columns = [Column(f"{name} ") for name in names]  # "t" is the time's own name
    fields = [column.field for column in layouts.fields_of(layout(*columns))]
    assert len(set(fields)) == len(fields) == len(names) + 1
    assert all(field.isascii() and field.isidentifier() for field in fields)
