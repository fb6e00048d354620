"""Everything that leaves a campaign, in one go: report, sheets, files, and a proved archive."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import StoreError
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import report as handover
from gaugewright.services.packing import archive
from gaugewright.services.packing import verify as archive_verify
from gaugewright.services.packing.analyst_files import analyst_files
from gaugewright.services.packing.verify import Proof
from gaugewright.services.sheets import sheets
from gaugewright.store.campaign import CampaignStore

__all__ = ["HandedOver", "everything"]


@dataclass(frozen=True, slots=True)
class HandedOver:
    """What was written, and how the archive was proved."""

    written: tuple[Path, ...]
    proof: Proof


def everything(
    store: CampaignStore,
    out: Path,
    *,
    licence: str,
    progress: Callable[[int, int, str], None] | None = None,
) -> HandedOver:
    """Write report, sheets, the analyst's files and an archive into a folder, and prove it.

    The report and the sheets are in the campaign's own folder too, and in the archive.

    Raises
    ------
    InputError
        If the campaign has no gauge, no licence is named, or the folder has an archive already.
    StoreError
        If the archive doesn't give its own numbers again: results are older than the records.
    """
    handover.refuse_without_gauges(Book.read(store))
    out.mkdir(parents=True, exist_ok=True)
    tell = progress or (lambda done, total, what: None)
    tell(0, 4, "report")
    report = handover.report(store)
    tell(1, 4, "sheets")
    own = sheets.sheets(store)
    copies = [Path(shutil.copyfile(path, out / path.name)) for path in (report, *own)]
    tell(2, 4, "the analyst's files and the archive")
    files = analyst_files(store, out / "analyst.zip", licence=licence)
    made = archive.make(store, out=out / "archive.zip", licence=licence, report=False)
    tell(3, 4, "proving the archive")
    proof = archive_verify.verify(made)
    if not proof.holds:
        first = next(fault for check in proof.checks for fault in check.faults)
        raise StoreError(
            f"{made} doesn't give its own numbers again ({first}); reduce the campaign anew, then "
            "hand it over"
        )
    tell(4, 4, "handed over")
    return HandedOver((*copies, files, made), proof)
