"""A plant folder to break, and short ways to break it and to read what is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from simkit.plant.reading import check_plant
from tests.small_plant import write_small_plant


class Folder:
    """A written plant folder that a test breaks on purpose."""

    def __init__(self, path: Path) -> None:
        self.path = write_small_plant(path)

    def change(self, name: str, old: str, new: str) -> Folder:
        """Replace the first ``old`` in a file, which must be there."""
        text = (self.path / name).read_text(encoding="utf-8")
        assert old in text, f"{old!r} is not in {name}:\n{text}"
        (self.path / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        return self

    def append(self, name: str, text: str) -> Folder:
        """Add text to the end of a file, which is made if it is not there."""
        path = self.path / name
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(before + text, encoding="utf-8")
        return self

    def messages(self, severity: str = "error") -> list[str]:
        """Return the findings of one severity as text."""
        plant, findings = check_plant(self.path)
        errors = [finding for finding in findings if finding.severity == "error"]
        assert (plant is None) == bool(errors)
        return [str(finding) for finding in findings if finding.severity == severity]

    def only(self, severity: str = "error") -> str:
        """Return the one finding of this severity."""
        messages = self.messages(severity)
        assert len(messages) == 1, "\n".join(messages)
        return messages[0]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path / "plant")
