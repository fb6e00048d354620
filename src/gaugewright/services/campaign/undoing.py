"""Taking back what was just written: the journal keeps both, the lists show it as before."""

from typing import Any

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Ref
from gaugewright.records.proof import Signature
from gaugewright.store.campaign import CampaignStore

__all__ = ["undo"]

REASON = "taken back"


def undo(store: CampaignStore, written: Ref) -> Entry[Any]:
    """Take back one version of a record, if nobody has written a later one since.

    A new record is withdrawn; a change is followed by a version like the one before it.

    Raises
    ------
    StaleEdit
        If somebody changed the record since.
    InputError
        If it was a withdrawal: what is withdrawn is added anew instead. If it was a signature:
        nobody takes back somebody's word by a button.
    """
    history = store.history(written.uid)
    version = next((entry for entry in history if entry.version == written.version), None)
    if version is None:
        raise InputError("version", written.version, "one that was written")
    if version.withdrawn:
        raise InputError("entry", "a withdrawal", "an entry or a change", "add the record anew")
    if isinstance(version.record, Signature):
        raise InputError("entry", "a signature", "something else", "a signature stays on record")
    if version.version == 1:
        return store.withdraw(written.uid, 1, reason=REASON)
    before = next(entry for entry in history if entry.version == written.version - 1)
    reason = f"{REASON}: as in version {before.version}"
    return store.revise(written.uid, written.version, before.record, reason=reason)
