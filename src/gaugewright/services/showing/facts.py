"""Lines of a card: what is known, in which words, and from where."""

from dataclasses import dataclass

from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.showing.page import Page

__all__ = ["Fact", "stated_fact"]

_MEANINGS = {
    Meaning.ONE_SIGMA: "k = 1",
    Meaning.TWO_SIGMA: "k = 2",
    Meaning.THREE_SIGMA: "k = 3",
    Meaning.LIMIT: "limit",
    Meaning.TRIANGULAR: "limit, triangular",
    Meaning.UNKNOWN: "its meaning not stated",
}


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of a card; ``assumed`` marks a value that nobody measured or stated."""

    term: str
    words: str
    source: str = ""
    assumed: bool = False


def stated_fact(page: Page, term: str, quantity: str, stated: Stated) -> Fact:
    """A stated value with what its plus-minus means and where it came from."""
    shown = page.stated(quantity, stated)
    words = shown.text
    if shown.plus_minus:
        words += f", {_MEANINGS[stated.meaning]}"
    return Fact(term, words, stated.source, stated.basis is Basis.ASSUMED)
