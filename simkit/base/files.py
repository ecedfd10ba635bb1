"""Files written whole or not at all, sources hashed, and texts that a spreadsheet program takes for no formulas."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
"""First characters of a text that spreadsheet programs work out as a formula."""


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file (text as UTF-8 with LF); its folder is made, and a reader finds the old file or the new one."""
    with whole_file(path) as part:
        part.write_bytes(content.encode() if isinstance(content, str) else content)


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file to write into, which takes the place of ``path`` once all of it is written; its folder is made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
    os.close(handle)
    try:
        yield Path(name)
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@lru_cache(maxsize=1)
def _umask() -> int:
    """What the computer keeps from others; it can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def no_formula(text: str) -> str:
    """Return the text with an apostrophe before it where a spreadsheet program would take it for a formula."""
    return f"'{text}" if text.startswith(FORMULA_MARKS) else text


def code_sha256(root: Path, folders: Iterable[str], beside: str) -> str:
    """Hash of the Python sources in these folders of ``root``, and of what ``beside`` them decides what they do."""
    digest = hashlib.sha256(beside.encode())
    for folder in folders:
        for path in sorted((root / folder).rglob("*.py")):
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()
