"""Lines of a table that are no rows: totals, comments, repeated heads, and cells with signs that nobody can see."""

from __future__ import annotations

import re
import unicodedata

from simkit.base.messages import INVISIBLE

COMMENT = re.compile(r"#|//|--|/\*|<!--|;|%|!|\*|'")
TOTAL = re.compile(
    r"(?:(?:grand |sub[- ]?)?totals?|sums?|averages?|mean|(?:gesamt|zwischen)?summe|gesamt|somme|totale|suma)"
    r"\s*(?:[:=(\d].*|(?:of|for|all|orders|sheets|hours)\b.*)?",
    re.IGNORECASE,
)
REMARK = re.compile(
    r"end of \w+.*|page \d+.*|(?:notes?|remarks?|comments?)\s*[:=].*|\d+ (?:rows|records|lines)\b.*"
    r"|n/?a|nan|null|none|nil",
    re.IGNORECASE,
)
"""How exports and hand-kept lists end: common practice, no source."""


def stray(cells: tuple[str, ...], heads: tuple[str, ...]) -> str:
    """Why a line of a table is taken for no row, or nothing."""
    first = next(filter(None, cells), "")
    if cells == heads:
        return "repeats the heads"
    if COMMENT.match(first):
        return "looks like a comment"
    if TOTAL.fullmatch(first):
        return "looks like a total"
    return "looks like a remark" if REMARK.fullmatch(first) else ""


def unseen(text: str) -> str:
    """Why a text is refused for a control character or one without width in it, or nothing."""
    found = INVISIBLE.search(text)
    if found is None:
        return ""
    name = unicodedata.name(found[0], "control character").lower()
    return f"holds a sign that cannot be seen, U+{ord(found[0]):04X} ({name})"


def folded(text: str) -> str:
    """A text without what is easily mistaken: case, blanks and other forms of one letter."""
    return "".join(unicodedata.normalize("NFKC", text).casefold().split())
