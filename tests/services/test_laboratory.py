"""What a laboratory brings: shipped limits with their source, its own in their place."""

from datetime import date
from pathlib import Path

import pytest

from gaugewright import settings
from gaugewright.errors import Faults, FileError
from gaugewright.quantities import QUANTITIES
from gaugewright.records import label_of
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Limit, Meter, Method, Person
from gaugewright.records.specimen import Campaign, Material
from gaugewright.services.campaign import laboratory
from gaugewright.services.campaign.laboratory import campaign_defaults, shipped_records
from gaugewright.store.campaign import CampaignStore


def in_force(folder: Path | None = None) -> settings.Settings:
    typed = {"laboratory": str(folder)} if folder else {}
    return settings.load(typed, environment={}, user_folder=Path("no such folder"))


def limits(records: tuple[object, ...]) -> dict[str, Limit]:
    return {record.label: record for record in records if isinstance(record, Limit)}


def test_shipped_limits_and_methods_are_read_and_say_where_they_come_from() -> None:
    records = shipped_records()
    assert {type(record) for record in records} == {Limit, Method}
    for record in records:
        assert isinstance(record, Limit | Method)
        assert record.source.startswith(("common practice, no source", "choice of", "derived: "))
        assert record.unverified or record.source.startswith("derived: ")
    assert all(limit.meaning for limit in limits(records).values())


def test_shipped_limits_of_known_quantities_are_in_their_units() -> None:
    wrong = [
        limit.label
        for limit in limits(shipped_records()).values()
        if limit.quantity in QUANTITIES and QUANTITIES[limit.quantity].unit != limit.unit
    ]
    assert wrong == []


def test_limits_that_stand_in_order_do() -> None:
    # Typed by hand in ohm, µm/m over time and shares: a slip of a power of ten shows here.
    value = {label: limit.value for label, limit in limits(shipped_records()).items()}
    insulation = ["bonded", "wired", "before pour", "after pour", "to be watched", "that condemns"]
    steps = [value[f"insulation {which}"] for which in insulation]
    assert steps == sorted(steps, reverse=True)
    assert steps[3] == 100e6
    assert value["drift, short static test"] * 3600 == pytest.approx(5e-6, rel=1e-3)
    assert value["drift, bond and tension stiffening"] * 3600 == pytest.approx(2e-6, rel=1e-3)
    assert value["area lost, aim"] < value["area lost, with a note"] < 0.1
    assert value["bonding humidity, lowest"] < value["bonding humidity, highest"] < 1
    assert value["misalignment at bonding"] == pytest.approx(2 * 3.14159265 / 180, rel=1e-3)


def test_without_a_laboratory_a_campaign_takes_what_is_shipped() -> None:
    assert campaign_defaults(in_force()) == shipped_records()


def test_a_laboratory_overrides_by_label_and_adds_its_own(tmp_path: Path) -> None:
    (tmp_path / "limits.toml").write_text(
        """
[[limit]]
label = "insulation after pour"
quantity = "insulation_resistance"
value = 5e8
unit = "ohm"
source = "own records of forty beams (invented)"
unverified = false

[[limit]]
label = "our own"
quantity = "strain"
value = 1
unit = "1"
source = "house rule (invented)"
"""
    )
    (tmp_path / "people.toml").write_text(
        '[[person]]\nlabel = "NB"\nname = "Nora Beispiel (invented)"\nrole = "technician"\n'
    )
    (tmp_path / "meters.toml").write_text(
        '[[meter]]\nlabel = "hand meter"\nunit = "ohm"\nerror_share = 0.002\nerror_fixed = 0.02\n'
    )
    (tmp_path / "packs.toml").write_text(
        """
[[pack]]
label = "pack 1"
lot = "invented"
gauge_resistance = { value = 120.0, plus_minus = 0.3, meaning = "limit" }
gauge_factor = { value = 2.08, plus_minus = 0.02, meaning = "k=2" }
transverse_sensitivity = { value = 0.004 }
grid_length = 0.005
grid_width = 0.0016
expires = 2027-06-30
"""
    )
    (tmp_path / "materials.toml").write_text(
        """
[[material]]
label = "bar steel"
law = "elastic"
elastic_modulus = { value = 200e9 }
thermal_expansion = { value = 12e-6 }
poisson_ratio = { value = 0.3 }
"""
    )
    records = campaign_defaults(in_force(tmp_path))
    shipped = limits(shipped_records())
    found = limits(records)
    assert found["insulation after pour"].value == 5e8
    assert not found["insulation after pour"].unverified
    assert found["our own"].value == 1.0
    assert set(found) == set(shipped) | {"our own"}
    own = [record for record in records if not isinstance(record, Limit | Method)]
    assert [(type(record), label_of(record)) for record in own] == [
        (Person, "NB"),
        (Meter, "hand meter"),
        (GaugePack, "pack 1"),
        (Material, "bar steel"),
    ]
    assert own[2].expires == date(2027, 6, 30)


def test_a_campaign_keeps_its_limits_when_the_laboratory_changes_its_own(tmp_path: Path) -> None:
    laboratory_folder = tmp_path / "laboratory"
    laboratory_folder.mkdir()
    path = laboratory_folder / "people.toml"
    path.write_text('[[person]]\nlabel = "NB"\nname = "Nora Beispiel (invented)"\n')
    campaign = Campaign("INV-1", "Invented beam", "UTC", invented=True)
    with CampaignStore.create(
        tmp_path / "campaign",
        campaign,
        working_context(),
        defaults=campaign_defaults(in_force(laboratory_folder)),
    ) as store:
        path.unlink()
        assert store.labelled(Person, "NB").record.name == "Nora Beispiel (invented)"
        assert len(store.entries(Limit)) == len(limits(shipped_records()))
        assert store.labelled(Limit, "installation scatter").version == 1


def test_all_that_is_wrong_is_told_at_once_with_file_table_and_field(tmp_path: Path) -> None:
    (tmp_path / "people.toml").write_text(
        '[[person]]\nlabel = "NB"\n\n[[person]]\nlabel = "X"\nname = "X"\nage = 40\n'
    )
    (tmp_path / "limits.toml").write_text('[[limit]]\nlabel = "l"\nvalue = "much"\n')
    (tmp_path / "meters.toml").write_text("[[meter]\n")
    (tmp_path / "methods.toml").write_text('[[way]]\nlabel = "w"\n')
    with pytest.raises(Faults) as caught:
        campaign_defaults(in_force(tmp_path))
    told = "\n".join(str(fault) for fault in caught.value.faults)
    assert len(caught.value.faults) == 5
    assert "people.toml: [[person]] number 1, NB: Person.name is not given" in told
    assert "people.toml: [[person]] number 2, X: Person field is 'age'" in told
    assert "limits.toml: [[limit]] number 1, l: Limit." in told
    assert "meters.toml: isn't readable as TOML" in told
    assert "methods.toml: has something else than [[method]]; found 'way'" in told


def test_a_label_used_twice_in_a_file_is_refused(tmp_path: Path) -> None:
    row = '[[person]]\nlabel = "NB"\nname = "Nora Beispiel (invented)"\n'
    (tmp_path / "people.toml").write_text(row + row)
    with pytest.raises(Faults, match="NB: this label is there twice"):
        laboratory.laboratory_records(tmp_path)


def test_a_laboratory_folder_that_is_gone_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="isn't a folder; correct the setting laboratory"):
        campaign_defaults(in_force(tmp_path / "gone"))
