"""The house as a picture in text, drawn from the imports: who knows whom, and how big each package is.

``python -m tests.house_picture`` writes it into DEVELOPERS.md, between two marks. A test holds the two together: names
and arrows exactly, sizes to a tenth, so that not every line that is written asks for a new picture.
"""

from __future__ import annotations

import re
from collections import defaultdict

from tests.house import ORDER, ROOT, SOURCES, at_run_time, imported, module_name, room, tree_of

BEGIN, END = "<!-- drawn by: python -m tests.house_picture -->", "<!-- end of the drawing -->"
DOCUMENT = ROOT / "DEVELOPERS.md"


def known_by() -> dict[str, set[str]]:
    """The other packages that each one imports, but for the type checker."""
    found: dict[str, set[str]] = defaultdict(set)
    for path in SOURCES:
        name = module_name(path)
        for target in imported(at_run_time(tree_of(path)), name, path.name == "__init__.py"):
            if room(name) and room(target):
                found[room(name)].add(room(target))
    return {name: found[name] - {name} for name in ORDER}


def sizes() -> dict[str, tuple[int, int]]:
    """Modules and lines of each package; empty modules are not counted."""
    found = dict.fromkeys(ORDER, (0, 0))
    for path in SOURCES:
        name, lines = room(module_name(path)), len(path.read_text(encoding="utf-8").splitlines())
        if name and lines:
            found[name] = (found[name][0] + 1, found[name][1] + lines)
    return found


def drawing(known: dict[str, set[str]], size: dict[str, tuple[int, int]]) -> str:
    """One line a package: modules, lines to the hundred, and an arrow from each package that it knows."""
    lines = ["modules  lines  package       knows"]
    for name in ORDER:
        modules, count = size[name]
        knows = " ".join(other if other in known[name] else " " * len(other) for other in ORDER[:-1]).rstrip()
        lines.append(f"{modules:7} {round(count, -2):6}  {name:11}{' <- ' + knows if knows else ''}".rstrip())
    return "\n".join(lines)


def drawn() -> str:
    """The picture of the house as it is."""
    return drawing(known_by(), sizes())


def picture_in(text: str) -> str:
    """The picture that stands in a document."""
    found = re.search(re.escape(BEGIN) + r"\n```\n(.*?)\n```\n" + re.escape(END), text, re.DOTALL)
    if found is None:
        raise ValueError(f"no picture between '{BEGIN}' and '{END}'")
    return found[1]


def differences(shown: str, real: str) -> list[str]:
    """Lines whose names or arrows differ, or whose sizes are more than a tenth (and one) apart."""
    lines, truth = shown.splitlines(), real.splitlines()
    if len(lines) != len(truth):
        return [f"{len(lines)} lines instead of {len(truth)}"]
    return [a for a, b in zip(lines, truth, strict=True) if not _alike(a, b)]


def _alike(shown: str, real: str) -> bool:
    numbers = re.compile(r"\d+")
    pairs = zip(map(int, numbers.findall(shown)), map(int, numbers.findall(real)), strict=False)
    words = [re.sub(r"^[\s\d]+", "", line) for line in (shown, real)]
    return words[0] == words[1] and all(abs(a - b) <= max(1, b / 10) for a, b in pairs)


def main() -> None:
    """Draw the house into its document."""
    text = DOCUMENT.read_text(encoding="utf-8")
    picture = drawn()
    DOCUMENT.write_text(text.replace(picture_in(text), picture), encoding="utf-8")
    print(picture)


if __name__ == "__main__":
    main()
