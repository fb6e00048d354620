"""How well an importer fits a file."""

from dataclasses import dataclass

from gaugewright.errors import InputError

__all__ = ["Match"]


@dataclass(frozen=True, slots=True)
class Match:
    """How well an importer fits a file, 0 (not at all) to 1 (certainly), and why."""

    score: float
    reason: str

    def __post_init__(self) -> None:
        if not 0 <= self.score <= 1:
            raise InputError("score", self.score, "from 0 to 1")
        if not self.reason.strip():
            raise InputError("reason", self.reason, "a sentence")
