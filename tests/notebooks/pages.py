"""A rendered page of a notebook as its reader meets it: words, tables and figures that are not folded."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from bs4 import BeautifulSoup


@dataclass(frozen=True)
class Seen:
    """What a page shows without a click, and all its text."""

    words: int
    tables: int
    figures: int
    text: str

    def says(self, sentence: str) -> bool:
        """Whether the page has a sentence, whatever its spaces are."""
        return " ".join(sentence.split()) in self.text


def seen(page: Path) -> Seen:
    """Read a page."""
    root = BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser")
    for hidden in root.find_all(["style", "head"]):
        hidden.decompose()
    every = _text(root)
    for folded in root.find_all("details"):
        folded.decompose()
    return Seen(len(_text(root).split()), len(root.find_all("table")), len(root.find_all("img")), every)


def _text(root: BeautifulSoup) -> str:
    return " ".join(root.get_text(" ").split())
