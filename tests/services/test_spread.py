"""Strain worked out elsewhere is the same to the last bit, and a lost worker loses nothing."""

import os
import shutil
import signal

import pytest

from gaugewright.errors import InputError, MissingExtraError, StoreError
from gaugewright.extras import needs
from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain
from gaugewright.services.campaign.book import Book
from gaugewright.services.strain import strain_files
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work.spread import Cluster, Processes
from gaugewright.store.campaign import CampaignStore


def chained(store):
    """Connections that a chain could be built for."""
    return frozenset(entry.record.connection for entry in store.entries(Chain))


def strains(folder, spread=None):
    """Bytes of every file of strain, by name, worked out anew."""
    shutil.rmtree(folder / "cache" / "derived", ignore_errors=True)
    found = {}
    with CampaignStore.open(folder, working_context()) as store:
        desk = Desk(store, Book.read(store))
        for recording in desk.book.of(Recording):
            key = strain_files.write_strains(
                desk, recording, ZeroKind.BEFORE_TEST, connections=chained(store), spread=spread
            )
            place = store.derived(key) if key else None
            for path in sorted(place.iterdir()) if place else ():
                found[f"{recording.record.label}/{path.name}"] = path.read_bytes()
    assert found
    return found


@pytest.fixture
def campaign(demo_campaign, tmp_path):
    return shutil.copytree(demo_campaign, tmp_path / "copy")


def doubled(number):
    return 2 * number


def failing(number):
    raise InputError("number", number, "another")


@pytest.mark.long
def test_processes_give_the_same_bits(campaign):
    assert strains(campaign, Processes(2)) == strains(campaign)


def test_results_come_in_order_and_a_fault_is_told():
    assert list(Processes(2).each(doubled, range(20))) == list(range(0, 40, 2))
    with pytest.raises(InputError, match="another"):
        list(Processes(1).each(failing, [1]))
    with pytest.raises(InputError, match="1 or more processes"):
        Processes(0)


def test_a_worker_that_sees_other_records_refuses(campaign):
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        recording, connections = store.entries(Recording)[0].uid, chained(store)
    zero = ZeroKind.BEFORE_TEST
    task = strain_files.Task(str(campaign), recording, zero, connections, "strain-other")
    with pytest.raises(StoreError, match="other records"):
        strain_files._worked_out((task, 0, 9))


@pytest.fixture
def local_cluster():
    try:
        distributed = needs("distributed", extra="cluster", to="work on several machines")
    except MissingExtraError as missing:
        pytest.skip(str(missing))
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True
    ) as cluster:
        yield cluster


@pytest.mark.full
def test_a_cluster_gives_the_same_bits(campaign, local_cluster):
    spread = Cluster(local_cluster.scheduler_address)
    try:
        assert strains(campaign, spread) == strains(campaign)
    finally:
        spread.close()


class Killing:
    """A cluster of which two workers are killed while they work out strain."""

    def __init__(self, cluster, at):
        self.cluster, self.at = cluster, at
        self.killed, self.results = [], 0

    def each(self, work, things):
        """The cluster's results, with a worker killed before some of them are fetched."""
        for frame in self.cluster.each(work, things):
            self.results += 1
            if self.results in self.at:
                workers = self.cluster._client.run(os.getpid)
                busy = self.cluster._client.processing()
                most = max(workers, key=lambda name: len(busy.get(name, ())))
                os.kill(workers[most], signal.SIGKILL)
                self.killed.append(workers[most])
            yield frame


@pytest.mark.soak
@pytest.mark.timeout(600)
def test_workers_killed_over_blocks_of_strain_change_no_bit(campaign, local_cluster, monkeypatch):
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", 64)  # many blocks, so that some are lost
    spread = Killing(Cluster(local_cluster.scheduler_address), at=(3, 12, 25))
    try:
        by_cluster = strains(campaign, spread)
    finally:
        spread.cluster.close()
    assert len(set(spread.killed)) == 3
    assert spread.results > 25
    assert by_cluster == strains(campaign)
