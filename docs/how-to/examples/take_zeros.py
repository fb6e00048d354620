"""Take the zero before the test from a quiet stretch of a recording.

python take_zeros.py my-campaign "zero" 2026-05-04T08:00:00+02:00 2026-05-04T08:02:00+02:00
"""

import sys
from datetime import datetime
from pathlib import Path

from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.services.zeros import everything as zeroing
from gaugewright.store.campaign import CampaignStore


def main() -> None:
    """Zeros of everything plugged in, from the named recording, between two instants."""
    folder, label, begins, ends = sys.argv[1:5]
    with CampaignStore.open(Path(folder), working_context()) as store:
        recording = store.labelled(Recording, label).uid
        zeros = zeroing.take_zeros(
            store,
            ZeroKind.BEFORE_TEST,
            (recording,),
            begins=datetime.fromisoformat(begins),
            ends=datetime.fromisoformat(ends),
        )
        print(f"{len(zeros.taken)} zeros taken")
        for uid, why in zeros.missed:
            print(f"none for {uid}: {why}")


if __name__ == "__main__":
    main()
