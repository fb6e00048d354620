"""Where a campaign must not be written, and why."""

from pathlib import Path

import pytest

from gaugewright.errors import StoreError
from gaugewright.store import folders
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.folders import Mount, mounts_from_text, trouble_with
from tests.store import invented

TABLE = r"""
/dev/sda1 / ext4 rw,relatime 0 0
server:/export /srv/shared nfs4 rw,vers=4.2 0 0
//server/share /mnt/hall\040data cifs rw 0 0
/dev/sdb1 /srv/shared/local ext4 rw 0 0
me@host: /srv/me/far fuse.sshfs rw 0 0
C:\134 /mnt/c 9p rw 0 0
tmpfs /dev/shm tmpfs rw 0 0
"""


@pytest.mark.parametrize(
    ("folder", "words"),
    [
        ("/srv/shared/campaign", "a network folder (nfs4 at /srv/shared)"),
        ("/mnt/hall data/campaign", "a network folder (cifs at /mnt/hall data)"),
        ("/srv/me/far/away/campaign", "a network folder (fuse.sshfs at /srv/me/far)"),
        (
            "/mnt/c/campaign",
            "a folder shared between a virtual machine and its host (9p at /mnt/c)",
        ),
        ("/srv/shared/local/campaign", ""),
        ("/srv/sharedbyname/campaign", ""),
        ("/srv/me/campaign", ""),
    ],
)
def test_the_nearest_mount_decides(folder: str, words: str) -> None:
    assert trouble_with(Path(folder), mounts_from_text(TABLE)) == words


def test_the_last_of_two_mounts_at_one_place_counts() -> None:
    mounted = [Mount(Path("/data"), "ext4"), Mount(Path("/data"), "nfs")]
    assert trouble_with(Path("/data/c"), mounted).startswith("a network folder")
    assert trouble_with(Path("/data/c"), mounted[::-1]) == ""


def test_a_machine_that_tells_no_mounts_is_trusted(tmp_path: Path) -> None:
    assert trouble_with(tmp_path, ()) == ""


@pytest.mark.parametrize(
    "mark", [".sync_4f2a91.db", "._sync_0bd1.db", ".sync", ".stfolder", ".filesync.log"]
)
def test_a_folder_kept_in_step_with_other_machines_is_known_by_its_marks(
    tmp_path: Path, mark: str
) -> None:
    (tmp_path / mark).touch()
    assert "keeps in step" in trouble_with(tmp_path / "a" / "campaign", ())


@pytest.mark.parametrize("name", ["sync.db", ".profile", "synchrotron.csv", ".async_notes.txt"])
def test_other_names_are_no_marks(tmp_path: Path, name: str) -> None:
    (tmp_path / name).touch()
    assert trouble_with(tmp_path / "campaign", ()) == ""


def test_such_a_folder_is_refused_for_writing_and_may_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    monkeypatch.setattr(folders, "mounts", lambda: (Mount(tmp_path.resolve(), "nfs"),))
    with pytest.raises(StoreError, match=r"a network folder .* own disk and hand on copies"):
        invented.new_store(tmp_path / "new")
    with pytest.raises(StoreError, match="a network folder"):
        CampaignStore.open(folder, invented.context(days=1))
    assert not (tmp_path / "new").exists()
    with CampaignStore.open(folder, invented.context(days=1), read_only=True) as reader:
        assert reader.problems() == ()
