"""A notebook run with given parameters and written as a page without code."""

from __future__ import annotations

import ast
import hashlib
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import nbformat

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding, ScenarioFailed, nearest
from simkit.base.temporary import own_folder
from simkit.desk.plants import Plant, as_overrides, read_plant
from simkit.plant.hashes import with_changes
from simkit.report import cautions
from simkit.report.exhibits import CSV, HTML, PNG, SVG
from simkit.report.frames import CSV_PLACE
from simkit.report.notebooks import Failure, execute, kernels_by_themselves, page_of, read_notebook, title_of

STARTUP = "from simkit.desk.page_display import show_as_page\nshow_as_page()\n"
"""What a kernel runs first whose notebook becomes a page. It loads what draws; who only writes pages does not."""
SAID = "answer"
"""Tag of the cells whose outputs come first on a page."""
PARAMETERS, LEFT_OUT = "parameters", {"panel", "quick"}
"""Tags of cells: what is set from outside, and what is for a person at the notebook and left out of a page."""
FOLDERS = ("plant", "plant_folder")
"""Parameters that name a folder: a relative one is looked for from where the caller stands."""
OPTIONS = "options"
"""The parameter of pages about options: they stay pale while the model is not calibrated."""
PAGES = "pages"
"""The parameter in which a report tells a notebook where other pages are."""
WIDGET = "application/vnd.jupyter.widget-view+json"
HEADING = re.compile(r"^# .*$", re.MULTILINE)
SEAL = re.compile(r"<!-- written by the study kit: ([0-9a-f]{64}) -->\n$")


@dataclass(frozen=True)
class PageFrame:
    """What stands around a page's content: its title (else the notebook's), where it leads, whose page it is."""

    title: str = ""
    links: tuple[Mapping[str, Any], ...] = ()
    files: tuple[Mapping[str, str], ...] = ()
    marks: tuple[str, ...] | None = None
    """None: those of the plant."""
    calibrated: bool | None = None
    """Whether its plant is; None: as the plant that the notebook reads."""


def render(notebook: str | Path, out: str | Path, **parameters: Any) -> Path:
    """Run a notebook with these parameters and write its page, without code, to ``out``; return where it is.

    Parameters are strict: a name that the notebook's parameters cell does not set is refused with the nearest known
    one, and so is a value of another type than there (a whole number is accepted for a decimal one; None there takes
    anything). Nothing runs before that. The page begins with the cell that is tagged ``answer``, says which notebook
    and parameters made it, and has its long tables beside it as CSV. An existing file is replaced only if it is a page
    of the kit that nobody has changed.

    Raises BadInput with every problem, and ScenarioFailed if a cell fails: the page then names the cell.
    """
    source, page = Path(notebook), Path(out)
    given = checked_parameters(source, parameters)
    _require_ours(page)
    with kernels_by_themselves(STARTUP) as kernel:
        failure = write_rendered(source, page, given, kernel, PageFrame())
    if failure:
        raise ScenarioFailed(f"{source.name}: cell {failure.cell}, {failure.heading}: {failure.error}")
    return page


def write_rendered(
    source: Path, page: Path, given: Mapping[str, Any], kernel: Mapping[str, Any], frame: PageFrame
) -> Failure | None:
    """Run a notebook with checked parameters and write its page; return where it failed."""
    with own_folder() as folder:
        work, executed = folder / source.name, folder / "executed.ipynb"
        write_whole(work, nbformat.writes(_without_panels(source)))  # type: ignore[no-untyped-call]
        stand = {**kernel, "resources": {"metadata": {"path": str(source.resolve().parent)}}}
        failure = execute(work, executed, given, stand)
        content = read_notebook(executed)
    page.parent.mkdir(parents=True, exist_ok=True)
    for cell in content.cells:
        _without_leftovers(cell)
        _describe_figures(cell)
    if frame.title:
        head = content.cells[0]
        head.source = HEADING.sub(lambda _: f"# {_as_text(frame.title)}", head.source, count=1)
    content.cells = _answer_first(content.cells)
    _write_tables(content, page)
    text = page_of(content, _facts(source, given, failure, frame))
    write_whole(page, f"{text}<!-- written by the study kit: {_digest(text)} -->\n")
    return failure


def _as_text(name: str) -> str:
    """A name in Markdown that is text and nothing else."""
    return re.sub(r"[^\w\s]", lambda mark: f"&#{ord(mark[0])};", name)


def _without_panels(source: Path) -> Any:
    """The notebook without the cells that are for a person's hand."""
    content = read_notebook(source)
    content.cells = [cell for cell in content.cells if not LEFT_OUT & set(cell.metadata.get("tags", ()))]
    return content


def checked_parameters(source: Path, parameters: Mapping[str, Any]) -> dict[str, Any]:
    """The parameters as the notebook takes them. Raises BadInput with every problem."""
    if not source.is_file():
        raise BadInput([Finding(str(source), "there is no such notebook", "Name a file that ends in .ipynb")])
    known = known_parameters(source)
    parameters = {name: str(value) if isinstance(value, Path) else value for name, value in parameters.items()}
    findings = [finding for name, value in parameters.items() for finding in _problems(source.name, name, value, known)]
    if findings:
        raise BadInput(findings)
    return {name: _placed(name, value) for name, value in parameters.items()}


def known_parameters(source: Path) -> dict[str, Any]:
    """Names and values that the parameters cell sets; a value that is no literal is None."""
    cells = [cell for cell in read_notebook(source).cells if PARAMETERS in cell.metadata.get("tags", ())]
    if not cells:
        mend = "Tag the cell that sets the parameters with 'parameters'"
        raise BadInput([Finding(source.name, "has no parameters cell", mend)])
    found: dict[str, Any] = {}
    for statement in ast.parse(cells[0].source).body:
        if isinstance(statement, ast.Assign | ast.AnnAssign) and statement.value is not None:
            targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
            found |= {target.id: _literal(statement.value) for target in targets if isinstance(target, ast.Name)}
    return found


def _literal(node: ast.expr) -> Any:
    try:
        return ast.literal_eval(node)
    except ValueError:
        return None


def _problems(place: str, name: str, value: Any, known: Mapping[str, Any]) -> Iterator[Finding]:
    if name not in known:
        yield Finding(place, "has no parameter of this name", nearest(name, known), value=name)
        return
    wanted = known[name]
    kinds: tuple[type, ...] = (list, tuple) if isinstance(wanted, list | tuple) else (type(wanted),)
    kinds = (int, float) if isinstance(wanted, float) else kinds
    fits = wanted is None or (isinstance(value, kinds) and isinstance(value, bool) == isinstance(wanted, bool))
    if not fits:
        why = f"a {kinds[-1].__name__} is needed, this is a {type(value).__name__}"
        yield Finding(place, why, f"Write one, as in {wanted!r}", column=name, value=repr(value))
    elif isinstance(value, float) and not math.isfinite(value):
        yield Finding(place, "is not a finite number", "Write a finite number", column=name, value=repr(value))


def _placed(name: str, value: Any) -> Any:
    """A value as the kernel takes it: a folder in full, for the notebook stands elsewhere."""
    if name in FOLDERS and isinstance(value, str):
        return str(Path(value).resolve())
    return list(value) if isinstance(value, tuple) else value


def _require_ours(page: Path) -> None:
    """Refuse to replace a file that is no page of the kit, or one that somebody has changed."""
    if page.parent.exists() and not page.parent.is_dir():
        raise BadInput([Finding(str(page.parent), "this is a file", "Name a folder")])
    if not page.exists():
        return
    text = page.read_text(encoding="utf-8", errors="replace") if page.is_file() else ""
    seal = SEAL.search(text)
    if not seal or _digest(text[: seal.start()]) != seal[1]:
        why = "exists and is not a page as the kit wrote it; nothing is written over"
        raise BadInput([Finding(str(page), why, "Name another file")])


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _without_leftovers(cell: Any) -> None:
    """Drop what lives only as long as its kernel, and what says nothing to a reader: bars of progress, empty text."""
    if cell.cell_type == "code":
        cell.outputs = [output for output in cell.outputs if _says_something(output)]


def _says_something(output: Any) -> bool:
    if output.output_type == "stream":
        return bool(output.name == "stdout")
    data = output.get("data", {"other": True})
    return WIDGET not in data and bool(data.get(HTML) or str(data.get("text/plain", "-")).strip() or len(data) > 1)


def _answer_first(cells: list[Any]) -> list[Any]:
    """The cells with those of the answer behind the title; their headings, tagged alike, fall away."""
    said = [cell for cell in cells if SAID in cell.metadata.get("tags", ())]
    others = [cell for cell in cells if cell not in said]
    return [*others[:1], *(cell for cell in said if cell.cell_type == "code"), *others[1:]]


def _write_tables(content: Any, page: Path) -> None:
    """Write the folded tables beside the page as CSV, and let the page lead to them."""
    for cell in content.cells:
        for output in cell.get("outputs", ()):
            table = output.get("data", {}).pop(CSV, None)
            html = output.get("data", {}).get(HTML, "")
            if table is None or CSV_PLACE not in html:
                continue
            name = f"{page.stem}-{hashlib.sha256(html.encode()).hexdigest()[:8]}.csv"
            write_whole(page.parent / name, table)
            output["data"][HTML] = html.replace(CSV_PLACE, name)


def _describe_figures(cell: Any) -> None:
    """Give a picture that is none of matplotlib's a description: the line that made it."""
    lines = [line for line in cell.source.splitlines() if line.strip()]
    for output in cell.get("outputs", ()):
        for kind in {SVG, PNG} & set(output.get("data", {})):
            about = output.metadata.setdefault(kind, {})
            about.setdefault("alt", f"Picture of: {lines[-1].strip()}" if lines else "Picture")


def _facts(source: Path, given: Mapping[str, Any], failure: Failure | None, frame: PageFrame) -> dict[str, Any]:
    """What the page's frame says: warnings, the cell that failed, and which notebook and parameters made it."""
    plant, changes = _plant_of(source, given), as_overrides(given.get("changes") or {})
    about = (("Date of the data", plant.inputs.settings.as_of.isoformat()),
             ("Inputs (SHA-256)", with_changes(plant.inputs_sha256, changes)[:16])) if plant else ()  # fmt: skip
    told = {
        name: Path(value).name if name in FOLDERS else repr(value) for name, value in given.items() if name != PAGES
    }
    calibrated = frame.calibrated if frame.calibrated is not None else plant is not None and plant.calibrated
    named = (("Notebook", source.name), *((f"Parameter {name}", text) for name, text in told.items()))
    return {
        "title": frame.title or title_of(source),
        "plant": plant.name if plant else source.stem.replace("_", " "),
        "links": frame.links,
        "marks": frame.marks if frame.marks is not None else plant.marks if plant else (cautions.UNCALIBRATED,),
        "calibrated": calibrated,
        "pale": not calibrated and OPTIONS in known_parameters(source),
        "files": frame.files,
        "failure": asdict(failure) if failure else None,
        "caution": cautions.STANDING,
        "stamp": (*about, *named, ("Kit version", version("simkit"))),
    }


def _plant_of(source: Path, given: Mapping[str, Any]) -> Plant | None:
    """The plant that the notebook reads, if it names one that is there."""
    named = given.get("plant", known_parameters(source).get("plant"))
    folder = source.resolve().parent / str(named)
    return read_plant(folder) if named and (folder / "plant.toml").is_file() else None
