"""A rendered page of a notebook as its reader meets it: words, tables and figures that are not folded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from bs4 import BeautifulSoup

import simkit as sk
from simkit.report.notebooks import studies_folder

BUDGET = {"words": 2500, "tables": 6, "figures": 5}
"""What a page shows at most."""


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

    def lacks(self, sentences: Iterable[str]) -> list[str]:
        """Which of some sentences the page does not have."""
        return [sentence for sentence in sentences if not self.says(sentence)]

    @property
    def over_budget(self) -> dict[str, int]:
        """What the page shows more of than it may."""
        return {what: count for what, most in BUDGET.items() if (count := getattr(self, what)) > most}


def page_of(name: str, folder: Path, **given: object) -> Seen:
    """Render a page of the studies into a folder and read it."""
    return seen(sk.render(studies_folder() / f"{name}.ipynb", folder / f"{name}.html", **given))


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
