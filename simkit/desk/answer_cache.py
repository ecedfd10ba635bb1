"""Answers that take long to find, kept beside the runs: who asks the same again reads them.

An answer is found again by all that decides it and by the kit's own code, so that a changed input, price, rule or
number never meets an old one.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

from simkit.experiment.cache import ROOMS_THAT_SHAPE_ANSWERS, code_hash, keep_whole, read_whole

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Question(Generic[Answer]):
    """What is asked: ``about`` is all that decides the answer apart from the code, each as one text.

    ``shape`` is the frozen dataclass of the answer, ``folder`` where answers are kept (None: nowhere).
    """

    about: tuple[Any, ...]
    shape: type[Answer]
    folder: Path | None

    def known(self) -> Answer | None:
        """The answer that was found before, or None."""
        content = read_whole(self._path(self.folder)) if self.folder else None
        return None if content is None else TypeAdapter(self.shape).validate_python(json.loads(content))

    def keep(self, found: Answer) -> Answer:
        """Keep an answer, where there is a folder for it, and return it."""
        if self.folder:
            keep_whole(self._path(self.folder), json.dumps(dataclasses.asdict(found)).encode())  # type: ignore[call-overload]
        return found

    def _path(self, folder: Path) -> Path:
        text = f"{self.shape.__qualname__} {self.about} {code_hash(ROOMS_THAT_SHAPE_ANSWERS)}"
        digest = hashlib.sha256(text.encode()).hexdigest()
        return folder / digest[:2] / f"{digest}.answer"
