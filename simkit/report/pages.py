"""Executed notebooks become pages: own template, no code, no script, nothing from outside the file."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import nbformat
from markupsafe import Markup, escape
from nbconvert import HTMLExporter
from papermill import PapermillExecutionError
from traitlets.config import Config

from simkit.base.files import write_whole
from simkit.report import cautions
from simkit.report.exhibits import HTML, PNG, SVG, TEMPLATES, environment
from simkit.report.nightstudy import read_by_nights
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.timestudy import read_by_times
from simkit.report.words import number

ERROR_TAG = "papermill-error-cell-tag"
WITHDRAWN = (
    "<!doctype html><html lang='en'><meta charset='utf-8'><title>Withdrawn</title>"
    "<p>This page was made from other inputs. To make it again: simkit report. <a href='index.html'>Index</a></p>"
    "</html>\n"
)
"""What stands in the place of a page whose numbers hold no more."""
HIDDEN_TAGS = ("remove-cell", "parameters", "injected-parameters", ERROR_TAG)
LONGEST_ERROR = 1200
MONEY, WORKBOOK = "money.csv", "workbook.xlsx"
"""Files beside the pages that belong to the study of money."""

FILES = {
    "payback": (
        {"href": WORKBOOK, "name": "Workbook with live formulas", "about": "change prices, wages, demand and terms"},
        {"href": MONEY, "name": "Cash-flow table", "about": "every amount with its basis"},
    )
}
"""Files that a study's page and the index link to, by study."""


@dataclass(frozen=True)
class Failure:
    """Where a study stopped: number of the cell in the notebook (from 1), heading above it, first line, error."""

    cell: int
    heading: str
    source: str
    error: str

    @classmethod
    def of(cls, notebook: Any, error: PapermillExecutionError) -> Failure:
        """Find the cell of an error in the notebook as its author knows it, without the injected cell."""
        source = str(error.source)
        index = next((i for i, cell in enumerate(notebook.cells) if cell.source == source), error.cell_index)
        return cls(
            index + 1,
            _heading_above(notebook, index),
            _first_line(source),
            f"{error.ename}: {error.evalue}"[:LONGEST_ERROR],
        )


@dataclass(frozen=True)
class RenderedStudy:
    """A study's page: its question, its answer, and where and why it stopped if it failed."""

    name: str
    title: str
    page: Path
    answer: str
    failure: Failure | None = None


@dataclass(frozen=True)
class PageFacts:
    """What every page says about where its numbers come from."""

    plant: str
    stamp: tuple[tuple[str, str], ...]
    marks: tuple[str, ...]
    funding: str
    inputs: str
    read_by: Mapping[str, str]
    """Per study a hash of just the inputs that it reads, so that a page changes only with what it shows."""

    @classmethod
    def of(cls, study: Study) -> PageFacts:
        """Take the facts from the plant's settings and the run card."""
        settings, run = study.plant.settings, study.run
        stamp = (
            ("Date of the data", settings.as_of.isoformat()),
            ("Seed", str(run.seed)),
            ("Replications", str(run.replications)),
            ("Weeks simulated", number(run.weeks, 0)),
            ("Kit version", version("simkit")),
            ("Python", platform.python_version()),
        )
        physics = study.physics(study.scenarios)
        shown = [line for line in physics if line.split()[0] in (TODAY, study.package)]
        capital = [f"{name} {study.capital(name)!r}" for name in study.scenarios]
        money = sorted(run.money_hashes.items())
        return cls(
            settings.name,
            stamp,
            study.marks,
            _funding(settings.study_paid_by, settings.options_sold_by),
            run.inputs_sha256[:16] or "not recorded",
            {
                "today": _digest(shown),
                "options": _digest(physics, capital, run.package_trail),
                "nights": _digest(read_by_nights(study)),
                "times": _digest(read_by_times(study)),
                "payback": _digest(physics, money),
            },
        )

    def stamp_of(self, study: str = "") -> tuple[tuple[str, str], ...]:
        """The stamp of a study's page, or of the index, which names all inputs."""
        inputs = self.read_by.get(study, self.inputs)
        return (("Inputs read (SHA-256)" if study else "Inputs (SHA-256)", inputs), *self.stamp)


def _digest(*parts: Sequence[Any]) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]


def read_notebook(path: Path) -> Any:
    """Read a notebook file."""
    return nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]


def title_of(notebook: Path) -> str:
    """Return the question a notebook asks: its first heading."""
    cells = read_notebook(notebook).cells
    lines = (line for cell in cells if cell.cell_type == "markdown" for line in cell.source.splitlines())
    return next((line[2:].strip() for line in lines if line.startswith("# ")), notebook.stem)


def answer_of(notebook: Any) -> str:
    """Return the sentence in the answer box of an executed notebook, or an empty text."""
    for output in _outputs(notebook):
        answer = output.get("metadata", {}).get(HTML, {}).get("answer")
        if answer:
            return str(answer)
    return ""


def write_page(
    page: Path,
    notebook: Any,
    name: str,
    facts: PageFacts,
    titles: Mapping[str, str],
    failure: Failure | None = None,
) -> Failure | None:
    """Write a study's page; a figure without a description is a failure of the study as well."""
    failure = failure or _undescribed_figure(notebook)
    links = [{"href": "index.html", "name": "Index", "here": False}]
    links += [{"href": f"{other}.html", "name": other.capitalize(), "here": other == name} for other in titles]
    content = {
        "title": titles[name],
        "plant": facts.plant,
        "links": links,
        "marks": facts.marks,
        "files": () if failure else FILES.get(name, ()),
        "failure": asdict(failure) if failure else None,
        "caution": cautions.STANDING,
        "stamp": facts.stamp_of(name),
    }
    write_whole(page, page_of(notebook, content))
    return failure


def kept_pages(out_dir: Path, titles: Mapping[str, str], facts: PageFacts) -> Iterator[RenderedStudy]:
    """Pages of these studies that an earlier report made whole from the very inputs that count now."""
    for name, title in titles.items():
        page, executed = out_dir / f"{name}.html", out_dir / "notebooks" / f"{name}.ipynb"
        if not (page.is_file() and executed.is_file()):
            continue
        text = page.read_text(encoding="utf-8")
        shown = [*(value for _, value in facts.stamp_of(name)), *map(str, map(escape, facts.marks))]
        if all(value in text for value in shown) and (answer := answer_of(read_notebook(executed))):
            yield RenderedStudy(name, title, page, answer)


def page_of(notebook: Any, content: Mapping[str, Any]) -> str:
    """The page of an executed notebook without its code; ``content`` is what the template ``study`` asks for."""
    html, _ = _exporter().from_notebook_node(notebook, resources={"study": content})
    return str(html)


def withdraw_pages(out_dir: Path, names: Iterable[str]) -> list[str]:
    """Empty pages that were made from other inputs, so that no link leads to old numbers; return which."""
    there = [name for name in names if (out_dir / name).is_file()]
    found = [name for name in there if (out_dir / name).read_text(encoding="utf-8") != WITHDRAWN]
    for page in found:
        write_whole(out_dir / page, WITHDRAWN)
    return found


def write_index(path: Path, rendered: Sequence[RenderedStudy], facts: PageFacts) -> None:
    """Write the page that links the studies, each with its answer."""
    studies = [
        {
            "href": s.page.name,
            "title": s.title,
            "answer": s.answer,
            "failure": s.failure,
            "files": FILES.get(s.name, ()),
        }
        for s in rendered
    ]
    style = (TEMPLATES / "study" / "static" / "study.css").read_text(encoding="utf-8")
    text = environment().get_template("index.html.j2").render(
        plant=facts.plant,
        marks=facts.marks,
        studies=studies,
        stamp=facts.stamp_of(),
        funding=facts.funding,
        caution=cautions.STANDING,
        money_caution=cautions.MONEY,
        css=Markup(style),
    )  # fmt: skip
    write_whole(path, text)


def _exporter() -> HTMLExporter:
    config = Config()
    config.TagRemovePreprocessor.enabled = True
    config.TagRemovePreprocessor.remove_cell_tags = HIDDEN_TAGS
    return HTMLExporter(  # type: ignore[no-untyped-call]
        config=config,
        template_name="study",
        extra_template_basedirs=[str(TEMPLATES)],
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        embed_images=True,
    )


def _outputs(notebook: Any) -> list[Any]:
    return [output for cell in notebook.cells for output in cell.get("outputs", ())]


def _undescribed_figure(notebook: Any) -> Failure | None:
    for index, cell in enumerate(notebook.cells):
        for output in cell.get("outputs", ()):
            kinds = {SVG, PNG} & set(output.get("data", {}))
            if any(not output.metadata.get(kind, {}).get("alt") for kind in kinds):
                heading = _heading_above(notebook, index)
                return Failure(index + 1, heading, _first_line(cell.source), "a figure has no description in words")
    return None


def _heading_above(notebook: Any, index: int) -> str:
    cells = reversed(notebook.cells[: index + 1])
    lines = (line for c in cells if c.cell_type == "markdown" for line in reversed(c.source.splitlines()))
    return next((f"under “{line.lstrip('# ')}”" for line in lines if line.startswith("#")), "before the first heading")


def _first_line(source: str) -> str:
    return next((line for line in source.splitlines() if line.strip()), "")


def _funding(paid_by: str, sold_by: str) -> str:
    if not paid_by and not sold_by:
        return "Who paid for this study and who sells the options was not entered in plant.toml."
    return f"Study paid for by: {paid_by or 'not entered'}. Options sold by: {sold_by or 'not entered'}."
