"""An archive is opened by other hands, tampered with in every way we could think of, and proved."""

import csv
import json
import shutil
from datetime import UTC, date, datetime
from pathlib import Path

import polars as pl
import pytest

from gaugewright.errors import FileError, InputError, StoreError
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Event, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.services.packing import archive
from gaugewright.services.packing import verify as archive_verify
from gaugewright.store import bag, journal
from gaugewright.store.campaign import CampaignStore
from tests.store import invented

JOURNAL = Path("data/records/journal.jsonl")


@pytest.fixture(scope="module")
def campaign(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archived") / "campaign"
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        return store.copy_to(folder)


@pytest.fixture(scope="module")
def made(campaign: Path) -> Path:
    """The archive as a folder; a test that changes it works on a copy."""
    with CampaignStore.open(campaign, working_context()) as store:
        return archive.make(store, out=campaign.parent / "bag", licence="CC0-1.0")


@pytest.fixture
def copy(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "copy"))


def named(proof: archive_verify.Proof, what: str) -> archive_verify.Check:
    (check,) = [check for check in proof.checks if check.what == what]
    return check


def resealed(folder: Path, texts: list[str] | None = None) -> None:
    """Seal anew, as somebody would who knows how; with a journal written anew, its head too."""
    told = bag.info(folder)
    if texts is not None:
        (folder / JOURNAL).write_text("\n".join(texts) + "\n", encoding="utf-8")
        head = journal.START
        for text in texts:
            head = journal.chained(head, text)
        path = folder / "data/records/head.json"
        path.write_text(json.dumps({"seq": len(texts), "sha256": head}), encoding="utf-8")
        told["Journal-Head"] = f"{len(texts)} {head}"
    kept = {n: w for n, w in told.items() if n not in ("Payload-Oxum", "Bagging-Date")}
    bag.seal(folder, kept, day=date(2026, 1, 1))


def texts_of(folder: Path) -> list[str]:
    return (folder / JOURNAL).read_text(encoding="utf-8").splitlines()


def changed(texts: list[str], kind: str, change) -> list[str]:
    """Journal with the last record of a kind changed, wherever it stands."""
    found = [n for n, text in enumerate(texts) if json.loads(text)["kind"] == kind]
    told = json.loads(texts[found[-1]])
    change(told["record"])
    text = json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return [*texts[: found[-1]], text, *texts[found[-1] + 1 :]]


@pytest.mark.full
def test_it_holds_to_the_bit_on_the_machine_that_made_it(campaign: Path, made: Path) -> None:
    proof = archive_verify.verify(made)
    assert [fault for check in proof.checks for fault in check.faults] == []
    assert proof.outcome == "bit-identical"
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        many = len(store.entries(Result))
    assert named(proof, "results").told.startswith(f"{many} results found again")
    assert many > 40
    with pytest.raises(InputError, match="head"):
        archive_verify.verify(made, head="not one")


def test_a_printed_head_is_found_in_the_journal_and_another_isnt(made: Path) -> None:
    told = json.loads((made / "data/records/head.json").read_text(encoding="utf-8"))
    assert archive_verify.verify(made, head=told["sha256"][:8].upper(), quick=True).holds
    proof = archive_verify.verify(made, head="0123456789", quick=True)
    assert not proof.holds
    assert "no entry of this journal" in named(proof, "journal").faults[0]


@pytest.mark.parametrize("place", ["originals", "readings", "tables", "handover"])
def test_one_flipped_bit_is_found_wherever_it_is(copy: Path, place: str) -> None:
    path = sorted(p for p in (copy / "data" / place).rglob("*") if p.is_file())[-1]
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    faults = named(archive_verify.verify(copy, quick=True), "files").faults
    assert len(faults) == 1
    assert path.name in faults[0]
    assert "has been changed" in faults[0]


def test_a_file_too_many_and_a_file_too_few_are_found(copy: Path) -> None:
    (copy / "data/tables/results.csv").unlink()
    (copy / "data/tables/extra.csv").write_text("a\n", encoding="utf-8")
    (copy / "data/way-out").symlink_to("/etc")
    faults = " ".join(named(archive_verify.verify(copy, quick=True), "files").faults)
    assert "results.csv is missing" in faults
    assert "extra.csv was put in after the sealing" in faults
    assert "way-out is a link" in faults


def test_an_edited_record_is_found_even_when_everything_is_sealed_again(copy: Path) -> None:
    path = copy / "data/records/gauge-pack.json"
    packs = json.loads(path.read_text(encoding="utf-8"))
    packs[0]["record"]["gauge_factor"]["value"] += 0.01
    path.write_text(json.dumps(packs), encoding="utf-8")
    resealed(copy)
    proof = archive_verify.verify(copy, quick=True)
    assert named(proof, "files").holds
    assert named(proof, "records").faults == (
        f"gauge pack {packs[0]['uid']} isn't what the journal tells",
    )


def test_a_record_written_before_it_had_a_field_still_is_what_the_journal_tells(copy: Path) -> None:
    path = copy / "data/records/gauge-pack.json"
    packs = json.loads(path.read_text(encoding="utf-8"))
    assert packs[0]["record"].pop("matched_expansion") is None
    path.write_text(json.dumps(packs), encoding="utf-8")
    resealed(copy)
    assert named(archive_verify.verify(copy, quick=True), "records").holds


def test_a_journal_written_anew_has_another_head_than_report_and_paper(
    made: Path, copy: Path
) -> None:
    printed = json.loads((made / "data/records/head.json").read_text(encoding="utf-8"))["sha256"]

    def nicer(record: dict) -> None:
        record["reason"] = "looked fine"

    texts = changed(texts_of(copy), "gate check", nicer)
    resealed(copy, texts)
    checks = copy / "data/records/gate-check.json"
    told = json.loads(checks.read_text(encoding="utf-8"))
    told[-1]["record"]["reason"] = "looked fine"
    checks.write_text(json.dumps(told), encoding="utf-8")
    resealed(copy)
    proof = archive_verify.verify(copy, head=printed, quick=True)
    assert named(proof, "files").holds
    faults = " ".join(named(proof, "journal").faults)
    assert "handover/report-" in faults
    assert "the head you typed" in faults


@pytest.mark.full
def test_a_changed_parameter_gives_other_chains_and_numbers(copy: Path) -> None:
    def shifted(record: dict) -> None:
        record["gauge_factor"]["value"] *= 1.0001

    resealed(copy, changed(texts_of(copy), "gauge pack", shifted))
    proof = archive_verify.verify(copy)
    assert proof.outcome == "differs"
    assert not named(proof, "chains").holds
    assert any("value kept" in fault for fault in named(proof, "results").faults)


@pytest.mark.full
def test_a_changed_chain_is_not_the_one_that_the_records_give(copy: Path) -> None:
    def factor(record: dict) -> None:
        stages = json.loads(record["stages"])
        text = json.dumps(stages, sort_keys=True, separators=(",", ":"))
        record["stages"] = text.replace("2.", "3.", 1)

    texts = changed(texts_of(copy), "chain", factor)
    resealed(copy, texts)
    proof = archive_verify.verify(copy)
    assert not named(proof, "chains").holds


@pytest.mark.full
def test_a_table_or_a_text_that_was_edited_and_sealed_again_is_found(copy: Path) -> None:
    table = copy / "data/tables/results.csv"
    table.write_bytes(table.read_bytes().replace(b"bar force", b"bar FORCE", 1))
    text = next((copy / "data/strain").rglob("strain.csv"))
    rows = text.read_bytes()
    other = b"8" if rows[-3:-2] == b"9" else b"9"
    text.write_bytes(rows[:-3] + other + rows[-2:])
    resealed(copy)
    proof = archive_verify.verify(copy)
    assert named(proof, "files").holds
    assert named(proof, "tables").faults == ("tables/results.csv isn't what the records give",)
    assert "strain.csv says something else" in named(proof, "strain").faults[0]


def test_a_raw_byte_that_was_changed_and_sealed_again_isnt_the_file_the_journal_tells(
    copy: Path,
) -> None:
    path = sorted((copy / "data/originals").glob("*.csv"))[0]
    content = bytearray(path.read_bytes())
    content[-3] = ord("7") if content[-3] != ord("7") else ord("8")
    path.write_bytes(content)
    resealed(copy)
    with pytest.raises(StoreError, match="isn't the file that the journal tells of"):
        archive_verify.reopened(copy, copy.parent / "again", working_context())
    assert not (copy.parent / "again").exists()


def test_opened_again_it_is_the_campaign_with_all_of_its_history(
    campaign: Path, made: Path, tmp_path: Path
) -> None:
    with (
        archive_verify.reopened(made, tmp_path / "again", working_context()) as again,
        CampaignStore.open(campaign, working_context(), read_only=True) as first,
    ):
        head = json.loads((made / "data/records/head.json").read_text(encoding="utf-8"))
        assert again.head().sha256 == head["sha256"]
        assert again.problems() == ()
        texts = [entry.text for entry in first.journal()]
        assert [entry.text for entry in again.journal()] == texts[: again.head().seq]
        assert again.entries(Result) == first.entries(Result)
        assert again.entries(Chain) == first.entries(Chain)


def test_a_recording_that_was_withdrawn_is_in_it_for_the_journal_tells_of_it(
    tmp_path: Path,
) -> None:
    received = tmp_path / "received.csv"
    received.write_bytes(b"Time;G1\r\n0;1\r\n")
    with invented.filled_store(tmp_path / "campaign", received) as store:
        for entry in store.entries(Recording):
            store.withdraw(entry.uid, entry.version, reason="brought in twice")
        out = archive.make(store, out=tmp_path / "bag", licence="CC0-1.0", report=False)
    with archive_verify.reopened(out, tmp_path / "again", working_context()) as again:
        assert again.problems() == ()


def test_it_is_told_in_the_journal_and_never_written_over(campaign: Path, made: Path) -> None:
    with CampaignStore.open(campaign, working_context()) as store:
        told = [e.record.text for e in store.entries(Event) if e.record.kind == archive.KIND]
        assert told
        assert told[0].startswith("bag, journal head")
        with pytest.raises(InputError, match="never written over"):
            archive.make(store, out=made, licence="CC0-1.0")
        with pytest.raises(InputError, match="licence"):
            archive.make(store, out=made.parent / "other", licence=" ")
        with pytest.raises(InputError, match="folder of --out"):
            archive.make(store, out=made / "none" / "other", licence="CC0-1.0")


def test_a_broken_archive_is_refused_with_the_place(copy: Path, tmp_path: Path) -> None:
    (copy / JOURNAL).unlink()
    with pytest.raises(FileError, match=r"journal\.jsonl"):
        archive_verify.verify(copy)
    with pytest.raises(FileError, match="isn't whole"):
        archive_verify.reopened(copy, tmp_path / "again", working_context())
    with pytest.raises(FileError, match="isn't there"):
        archive_verify.verify(tmp_path / "nothing.zip")


def test_tables_have_the_store_s_numbers_in_both_forms(campaign: Path, made: Path) -> None:
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        results = {entry.uid: entry.record for entry in store.entries(Result)}
    with (made / "data/tables/results.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["uid"]: row for row in csv.DictReader(file)}
    frame = pl.read_parquet(made / "data/tables/results.parquet")
    assert rows.keys() == results.keys() == set(frame["uid"])
    for uid, row in rows.items():
        value = results[uid].value
        assert row["value"] == ("" if value is None else repr(value))
        assert frame.filter(pl.col("uid") == uid)["value"].item() == value


def test_strain_stands_beside_its_time_in_both_forms(made: Path) -> None:
    place = next(path for path in sorted((made / "data/strain").iterdir()))
    kept = pl.concat([pl.read_parquet(path) for path in sorted(place.glob("*.parquet"))])
    text = pl.read_csv(place / "strain.csv", try_parse_dates=True)
    assert text.height == kept.height
    assert kept["time_utc"].dtype == pl.Datetime("us", "UTC")
    first = datetime.fromisoformat(str(text["time_utc"][0])).replace(tzinfo=UTC)
    assert first == kept["time_utc"][0]
    name = next(name for name in kept.columns if name.startswith("strain_"))
    assert text[name].cast(pl.Float32).equals(kept[name], null_equal=True)


@pytest.mark.full
def test_other_hands_find_nothing_wrong(made: Path) -> None:
    """Checked by the packages of BagIt, RO-Crate and the table schemas themselves."""
    import bagit
    from frictionless import validate
    from rocrate.rocrate import ROCrate

    assert bagit.Bag(str(made)).is_valid()
    crate = ROCrate(str(made / "data"))
    assert crate.root_dataset["license"] is not None
    report = validate(str(made / "data/datapackage.json"))
    assert report.valid, report.flatten(["rowNumber", "fieldName", "note"])[:5]
