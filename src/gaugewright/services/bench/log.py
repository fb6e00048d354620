"""A log of temperatures kept as it came, beside the step that it belongs to."""

import hashlib
from dataclasses import dataclass

from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import Uid
from gaugewright.store.campaign import CampaignStore

__all__ = ["FILE_NAME", "KeptLog", "kept_log"]

FILE_NAME = "temperature log.txt"


@dataclass(frozen=True, slots=True)
class KeptLog:
    """Text of a log and how many readings are in it."""

    text: str
    count: int

    @property
    def sha256(self) -> str:
        """Hash that its bytes are kept under."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()


def kept_log(store: CampaignStore, step: Uid, log: KeptLog) -> None:
    """Keep a log's bytes once, and with the step that it was handed in for."""
    folder = store.folder / "cache" / "logs"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{store.context.new_uid()}.txt"
    path.write_bytes(log.text.encode("utf-8"))
    try:
        sha256 = store.keep_original(path)
    finally:
        path.unlink()
    store.add(Attachment(step, sha256, FILE_NAME), reason="temperature log of a cure")
