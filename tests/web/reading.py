"""What a person sees of a page: its words, its tables, its links."""

import re
from html import unescape
from html.parser import HTMLParser

__all__ = ["links", "rows", "words"]

_UNSEEN = {"script", "style", "svg", "title"}


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.links: list[tuple[str, str]] = []
        self.rows: list[list[str]] = []
        self._cell: list[str] | None = None
        self._skipping = 0
        self._link: list[str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in _UNSEEN:
            self._skipping += 1
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self._cell = []
        if tag == "a":
            self._link = []
            self.links.append((given.get("href") or "", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag in _UNSEEN:
            self._skipping -= 1
        if tag in ("td", "th") and self._cell is not None and self.rows:
            self.rows[-1].append(_plain("".join(self._cell)))
            self._cell = None
        if tag == "a" and self._link is not None:
            self.links[-1] = (self.links[-1][0], _plain("".join(self._link)))
            self._link = None

    def handle_data(self, data: str) -> None:
        if self._skipping:
            return
        self.words.append(data)
        for place in (self._cell, self._link):
            if place is not None:
                place.append(data)


def words(text: str) -> str:
    """Words of a page, with one blank between them."""
    return _plain(" ".join(_Page(text).words))


def links(text: str) -> list[tuple[str, str]]:
    """Address and words of every link."""
    return _Page(text).links


def rows(text: str) -> list[list[str]]:
    """Cells of every row of every table."""
    return _Page(text).rows


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", unescape(text)).strip()
