"""The folder of a report: whose it is, what the report wrote into it, and what somebody changed since.

Its marker names the plant and holds a digest of each file that the report wrote. A folder of something else is
refused, and so is that of another plant; a file that somebody changed is kept under another name.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding

WITHDRAWN = (
    "<!doctype html><html lang='en'><meta charset='utf-8'><title>Withdrawn</title>"
    "<p>This page was made from other inputs. To make it again: simkit report. <a href='index.html'>Index</a></p>"
    "</html>\n"
)
"""What stands in the place of a page whose numbers hold no more."""
MARKER = ".study-report"
"""A folder that holds this file was made by the report and may be written to again."""
LOCK = ".study-report.lock"


def require_claimable(folder: Path, plant: str = "") -> None:
    """Refuse a folder that is not new, empty or a report of this plant. Raises BadInput; ``plant`` empty: any plant."""
    if folder.exists() and not folder.is_dir():
        raise BadInput([Finding(str(folder), "this is a file", "Name a folder")])
    foreign = folder.exists() and any(path.name != LOCK for path in folder.iterdir())
    if foreign and not (folder / MARKER).is_file():
        why = "the folder holds files that the report did not write, and nothing is written over"
        raise BadInput([Finding(str(folder), why, "Name a new or an empty folder")])
    owner = noted_in(folder / MARKER).get("plant", "")
    if plant and owner and owner != plant:
        why = f"the folder holds the report of '{owner}', and this plant is '{plant}'"
        raise BadInput([Finding(str(folder), why, "Name another folder with --out")])


def claim_folder(folder: Path, plant: str = "", say: Callable[[str], None] = print) -> None:
    """Make the folder ours, as :func:`require_claimable` allows.

    What somebody changed of the report's files is moved to another name, and said.
    """
    require_claimable(folder, plant)
    written = noted_in(folder / MARKER)
    for name, digest in written.get("files", {}).items():
        if (folder / name).is_file() and _digest(folder / name) != digest:
            say(f"{name} was changed since the report wrote it; it is kept as {_set_aside(folder / name).name}")
    _mark(folder, plant or written.get("plant", ""), written.get("files", {}))


def seal_folder(folder: Path, names: Iterable[str]) -> None:
    """Note what these files of a claimed folder hold now that the report has written them."""
    written = noted_in(folder / MARKER)
    now = {name: _digest(folder / name) for name in names if (folder / name).is_file()}
    _mark(folder, written.get("plant", ""), {**written.get("files", {}), **now})


def withdraw_pages(out_dir: Path, names: Iterable[str]) -> list[str]:
    """Empty pages that were made from other inputs, so that no link leads to old numbers; return which."""
    there = [name for name in names if (out_dir / name).is_file()]
    found = [name for name in there if (out_dir / name).read_text(encoding="utf-8") != WITHDRAWN]
    for page in found:
        write_whole(out_dir / page, WITHDRAWN)
    return found


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep a second report out of the folder for as long as the first one works there; BadInput for the second."""
    new = not folder.exists()
    if folder.exists() and not folder.is_dir():
        raise BadInput([Finding(str(folder), "this is a file", "Name a folder")])
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with FileLock(folder / LOCK, timeout=0):
            yield
    except Timeout as error:
        why = "another report is being written into this folder"
        raise BadInput([Finding(str(folder), why, "Wait for it, or name another folder")]) from error
    finally:
        if new and not any(path.name != LOCK for path in folder.iterdir()):
            (folder / LOCK).unlink(missing_ok=True)
            folder.rmdir()


def noted_in(path: Path) -> dict[str, Any]:
    """What a JSON file of a report notes; nothing where there is none or it cannot be read."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return content if isinstance(content, dict) else {}


def _mark(folder: Path, plant: str, files: dict[str, str]) -> None:
    what = "Written by the study report; files in this folder may be replaced."
    write_whole(folder / MARKER, json.dumps({"what": what, "plant": plant, "files": files}, indent=1) + "\n")


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _set_aside(path: Path) -> Path:
    number = 1
    while (kept := path.with_name(f"{path.stem}-changed-{number}{path.suffix}")).exists():
        number += 1
    return path.rename(kept)
