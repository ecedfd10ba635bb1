"""What lies in a plant folder and is not read: an error where its name resembles one that is, else a note."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches
from pathlib import Path

from simkit.base.messages import Finding
from simkit.plant.drafts import note

MOST_ALIKE = 0.8
"""Two names with this share of common letters are taken for one that is mistyped (common practice, no source)."""
DOCUMENTS = (".pdf", ".docx", ".doc", ".md", ".html", ".png", ".jpg", ".jpeg", ".svg", ".dxf", ".ipynb", ".py")
"""Endings of what is kept beside the tables to be read by people; such a file is taken for no table."""
OF_PROGRAMS = (".", "~$", "thumbs.db", "desktop.ini")
"""How names of the files begin that programs leave behind, as while a table is open."""
COPY = re.compile(r"(?:[\s_.()\d-]|copy.*|kopie.*|new|neu|old|alt|bak|backup|final|v\d)*", re.IGNORECASE)
COPY_OF = re.compile(r"(?:(?:copy|kopie)[ _-](?:of|von)|new|neu|old|alt|bak|backup)[ _-]", re.IGNORECASE)


def unread_files(folder: Path, known: Iterable[str], named: set[str]) -> tuple[list[Finding], set[str]]:
    """Tell what is not read in a folder whose ``known`` files are read, and the value files that tables ``name``.

    Also return which of the known files other names seem to stand for.
    """
    known = list(known)
    findings: list[Finding] = []
    others, misnamed = [], set()
    for path in sorted(folder.iterdir()):
        if path.name in known or path.name in named:
            continue
        meant = _meant(path, known)
        if meant is None:
            others.append(path.name)
            continue
        mend = f"Rename it to {meant} if it is meant, else move it out of the folder"
        misnamed.add(meant)
        findings.append(Finding(path.name, f"is not read, though its name resembles {meant}", mend))
    if others:
        what = "file is" if len(others) == 1 else "files are"
        why = f"{len(others)} {what} not read: {', '.join(others)}"
        findings.append(note(str(folder.name), why, "Nothing to do, unless a table or a value file should read it"))
    return findings, misnamed


def _meant(path: Path, known: list[str]) -> str | None:
    """Return the file that a name may stand for, or None."""
    name = path.name.strip().casefold()
    if name.startswith(OF_PROGRAMS) or name.endswith(DOCUMENTS) or (path.is_dir() and not path.suffix):
        return None
    stems = {Path(one).stem: one for one in known}
    stem = COPY_OF.sub("", name).split(".")[0].strip()
    near = [one for one in stems if stem.startswith(one) and COPY.fullmatch(stem[len(one) :])]
    near = near or get_close_matches(stem, stems, n=1, cutoff=MOST_ALIKE)
    return stems[near[0]] if near else None
