"""Several programs at once: no write is lost and the journal never forks."""

import subprocess
import sys
from pathlib import Path

from gaugewright.records.specimen import Question
from gaugewright.store.campaign import CampaignStore
from tests.store import invented

ROOT = Path(__file__).parents[2]
TURNS = 15
WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from gaugewright.errors import StaleEdit
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Question
from gaugewright.store.campaign import CampaignStore

folder, name, turns = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
with CampaignStore.open(folder, working_context()) as store:
    for turn in range(turns):
        store.add(Question(f"{name} {turn}", "Who asks?", "strain"))
        while True:
            counter = store.labelled(Question, "counter")
            more = replace(counter.record, text=str(int(counter.record.text) + 1))
            try:
                store.revise(counter.uid, counter.version, more, reason=f"counted by {name}")
            except StaleEdit:
                continue
            break
"""


def test_four_writers_at_once(tmp_path: Path) -> None:
    folder = tmp_path / "campaign"
    with invented.new_store(folder) as store:
        store.add(invented.question("counter", "0"))
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder), name, str(TURNS)],
            cwd=ROOT,
            stderr=subprocess.PIPE,
        )
        for name in ("a", "b", "c", "d")
    ]
    for writer in writers:
        _, told = writer.communicate(timeout=55)
        assert writer.returncode == 0, told.decode()
    with CampaignStore.open(folder, invented.context()) as store:
        assert store.problems() == ()
        counter = store.labelled(Question, "counter")
        assert int(counter.record.text) == 4 * TURNS
        assert counter.version == 4 * TURNS + 1
        assert len(store.entries(Question)) == 4 * TURNS + 1
        assert store.head().seq == 2 + 8 * TURNS
