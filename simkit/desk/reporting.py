"""A report: the first page, a page for each choice worth reading, the comparison, the details, and files beside them.

Every page is a notebook of ``studies/`` that is run with parameters; the report finds the package, chooses what gets a
page, and hands both to the notebooks. Runs are kept, so that a page simulates only what nobody has yet.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from simkit.base.files import write_whole
from simkit.base.messages import BadInput, Finding, nearest
from simkit.desk.audits import write_kept
from simkit.desk.pdf import Paper, write_pdf
from simkit.desk.plants import Plant, as_overrides, read_plant
from simkit.desk.recommending import FITTED, PACKAGE, TRUST, Decision, recommend
from simkit.desk.rendering import STARTUP, PageFrame, checked_parameters, known_parameters, write_rendered
from simkit.desk.report_comparison import write_compared
from simkit.experiment.cache import ROOMS_THAT_SHAPE_ANSWERS, code_hash
from simkit.finance.guards import require_sound_money
from simkit.plant.changes import idle_changes, moved_ranges, options_that_add
from simkit.plant.edits import literal
from simkit.report.folder import alone_in, claim_folder, noted_in, require_claimable, seal_folder, withdraw_pages
from simkit.report.notebooks import Failure, Kernel, kept_kernels, studies_folder
from simkit.report.words import capitalised, listing

FIRST, COMPARE, SCENARIO = "decide", "compare", "scenario"
CALIBRATE = "calibrate"
DETAILS = ("today", "tools", "parts", "nights", "times", "money", CALIBRATE, "trust")
NAMES = {
    **{name: name.capitalize() for name in DETAILS},
    FIRST: "Decision",
    COMPARE: "Compare",
    CALIBRATE: "Calibration",
}
VALUED = ("money", "trust")
"""Pages of details that compare the cases on top of the package."""
LED_TO = {"trust": TRUST, CALIBRATE: FITTED}
"""Pages of details that the first page leads to, and the line that does."""
SLOW = ("tools", "times", "money", "nights", "parts")
"""Pages that are begun before the other details: with the longest last, half of the computer would wait for it."""
KERNELS = 2
MOST_CASES = 6
"""Cases on the page of money beside the package: more lines than that no figure carries."""
FAILED = 3
PRINTED, ON_PAPER = "report.pdf", (FIRST, SCENARIO)
"""The printable file, and the notebooks whose pages it holds."""
NOTED = "pages.json"
"""Names the pages that reports wrote into a folder, and the key of each."""
FILES = (
    {"href": "workbook.xlsx", "name": "Workbook with live formulas", "about": "change prices, wages, demand and terms"},
    {"href": "money.csv", "name": "Cash-flow table", "about": "every amount with its basis"},
)
TOOL_LOADING, PART_UNLOADING = "plant.magazine", "plant.removal"


@dataclass(frozen=True)
class Page:
    """A page of a report: the notebook that makes it, its file, its parameters and its title (else the notebook's)."""

    notebook: str
    file: str
    parameters: Mapping[str, Any]
    title: str = ""

    @property
    def name(self) -> str:
        """What a person calls it."""
        return self.title or NAMES.get(self.notebook, self.notebook)


@dataclass(frozen=True)
class Report:
    """What was written, and the pages that stopped with the cell where they did."""

    folder: Path
    pages: tuple[Page, ...]
    failed: Mapping[str, Failure]

    @property
    def exit_code(self) -> int:
        """0, or 3 if a page failed."""
        return FAILED if self.failed else 0


def report(
    plant_folder: str | Path,
    out: str | Path,
    studies: Sequence[str] = (),
    options: Sequence[str] = (),
    changes: Sequence[str] = (),
    *,
    say: Callable[[str], None] = print,
    progress: bool = True,
    paper: Paper | None = "A4",
    **numbers: Any,
) -> Report:
    """Write the report of a plant into a folder that is new, empty or holds a report of this plant.

    ``studies`` names the pages to make (all by default), ``options`` sets that are asked about, as in ``A1+A5b``,
    ``changes`` are ``path=value`` for the whole plant; ``numbers`` are replications, weeks, demand, seed and workers as
    in :func:`simkit.simulate`. ``paper`` is that of the PDF of first page and choices, None for none. A page that fails
    names its cell, and the others are made. Raises BadInput before anything is written.
    """
    _require_names(studies)
    folder, plant = Path(out), read_plant(plant_folder)
    require_sound_money(plant.inputs)
    with alone_in(folder), contextlib.ExitStack() as stack:
        require_claimable(folder, plant.name)
        given = dict(_parsed(change) for change in changes)
        kernels = stack.enter_context(kept_kernels(KERNELS, studies_folder(), STARTUP))
        for note in (*idle_changes(plant.inputs, changes), *moved_ranges(plant.inputs, changes)):
            say(note)
        decision = recommend(plant, options, changes=given, progress=progress, **numbers)
        say(f"package: {listing(decision.package_names) if decision.package else 'no cheap change'}")
        claim_folder(folder, plant.name, say)
        every = [_with_its_changes(page, plant) for page in pages_of(decision, given, numbers)]
        made = [page for page in every if not studies or page.notebook in studies]
        key = _key(plant, changes, numbers)
        held = _held(folder, key)
        linked = [page for page in every if page in made or page.file in held]
        files: list[str] = []

        def beside() -> None:
            files.extend(path.name for path in decision.cash.write(folder, replace=True))
            files.extend(write_kept(folder, decision.study, tuple(changes)))
            files.extend(write_compared(folder, decision, tuple(changes)))

        def on_paper() -> None:
            files.extend(_printed(folder, every, linked, paper, say) if paper else ())

        leading = [_leading_to(page, linked) for page in made]
        failed = _write_pages(kernels, plant, folder, leading, linked, changes, say, beside, on_paper)
        new = {page.file for page in made}
        withdrawn = withdraw_pages(folder, [name for name in noted_in(folder / NOTED) if name not in {*new, *held}])
        for name in withdrawn:
            say(f"{name}: was made from other inputs and is withdrawn; simkit report makes it again")
        write_whole(folder / NOTED, json.dumps({**dict.fromkeys(sorted({*held, *new}), key)}, indent=1) + "\n")
        seal_folder(folder, [*new, *files, *withdrawn, NOTED])
    return Report(folder, tuple(made), failed)


def _leading_to(page: Page, linked: Sequence[Page]) -> Page:
    """The first page with addresses of those pages alone that are there; the others as they are."""
    if page.notebook != FIRST:
        return page
    led = [other for other in linked if other.title or other.notebook in LED_TO]
    places = {other.title or LED_TO[other.notebook]: other.file for other in led}
    return dataclasses.replace(page, parameters={**page.parameters, "pages": places})


def _printed(
    folder: Path, pages: Sequence[Page], linked: Sequence[Page], paper: Paper, say: Callable[[str], None]
) -> tuple[str, ...]:
    """Print the first page and those of the choices into one file, where all of them hold."""
    shown = [page for page in pages if page.notebook in ON_PAPER]
    if not all(page in linked for page in shown):
        return ()
    problem = write_pdf([folder / page.file for page in shown], folder / PRINTED, paper)
    say(problem or f"PDF: {PRINTED}")
    return () if problem else (PRINTED,)


def _key(plant: Plant, changes: Sequence[str], numbers: Mapping[str, Any]) -> str:
    """What the pages of one report share: inputs, changes, numbers and the kit's own code."""
    run = sorted((name, value) for name, value in numbers.items() if name != "workers")
    code = code_hash(ROOMS_THAT_SHAPE_ANSWERS)
    return hashlib.sha256(repr((plant.inputs_sha256, tuple(changes), run, code)).encode()).hexdigest()[:16]


def _held(folder: Path, key: str) -> set[str]:
    """Pages of an earlier report that were made from the very inputs that count now."""
    return {name for name, own in noted_in(folder / NOTED).items() if own == key and (folder / name).is_file()}


def _require_names(studies: Sequence[str]) -> None:
    known = (FIRST, COMPARE, SCENARIO, *DETAILS)
    unknown = [name for name in studies if name not in known]
    if unknown:
        raise BadInput(
            Finding("studies", "there is no such page", nearest(name, known), value=name) for name in unknown
        )


def _parsed(change: str) -> tuple[str, Any]:
    """``path=value`` as a path and a value of its own type."""
    path, equals, text = change.partition("=")
    if not equals:
        raise BadInput([Finding("--set", "has no '='", "Write path=value", value=change)])
    return path.strip(), literal(text.strip())


def pages_of(decision: Decision, changes: Mapping[str, Any], numbers: Mapping[str, Any]) -> Iterator[Page]:
    """Every page of a report in the order of its links, with its parameters."""
    plant = decision.plant
    run = {name: value for name, value in numbers.items() if name != "workers" and value is not None}
    common = {"plant": str(plant.folder), "changes": dict(changes), **run}
    scenarios = list(_scenario_pages(decision, common))
    asked = ["+".join(options) for options in decision.asked]
    yield Page(FIRST, "index.html", {**common, "options": asked})
    if compared := _compared(plant):
        yield Page(COMPARE, "compare.html", {**common, "options": compared})
    for name in DETAILS:
        source = studies_folder() / f"{name}.ipynb"
        wanted = {**common, "package": list(decision.package)}
        known = known_parameters(source) if source.is_file() else {}
        if name in VALUED:
            wanted |= {
                "options": _cases(decision),
                "among": len(decision.cash.results),
                "levels": list(decision.study.results.demand_factors),
            }
        if "plant" in known and (name != CALIBRATE or plant.inputs.observed):
            yield Page(name, f"{name}.html", {key: value for key, value in wanted.items() if key in known})
    yield from scenarios


def _with_its_changes(page: Page, plant: Plant) -> Page:
    """A page without the changes of rows that only options add which it does not look at."""
    asked = page.parameters.get("options", ())
    sets = asked.values() if isinstance(asked, Mapping) else (asked,)
    looked_at = {one for options in (*sets, page.parameters.get("package", ())) for one in options}
    if page.notebook == FIRST or "changes" not in page.parameters:
        return page
    own = {
        path: value
        for (path, value), text in zip(
            page.parameters["changes"].items(), as_overrides(page.parameters["changes"]), strict=True
        )
        if not (names := options_that_add(plant.inputs, text)) or looked_at & set(names)
    }
    return dataclasses.replace(page, parameters={**page.parameters, "changes": own})


def _scenario_pages(decision: Decision, common: Mapping[str, Any]) -> Iterator[Page]:
    """A page for each choice of the first page that is bought, changes the shifts or was asked about."""
    shown = set(decision.table()["choice"])
    for choice in decision.choices:
        cheap = choice.kind == "low_capital"
        if choice.name in shown and choice.name != PACKAGE and (not cheap or choice.options in decision.asked):
            before = list(decision.study.scenario(choice.against).options)
            among = len(decision.cash.results)
            parameters = {**common, "options": list(choice.options), "package": before, "among": among}
            yield Page(SCENARIO, f"scenarios/{_slug(choice.name)}.html", parameters, choice.name)


def _cases(decision: Decision) -> dict[str, list[str]]:
    """What the page of money compares on top of the package: of the first page, the best that cost something."""
    by_name = {
        choice.name: choice
        for choice in decision.choices
        if choice.capital and not set(choice.options) <= set(decision.package)
        and set(decision.study.scenario(choice.scenario).options) == {*decision.package, *choice.options}
    }  # fmt: skip
    shown = [by_name[name] for name in decision.table()["choice"] if name in by_name]
    return {choice.name: list(choice.options) for choice in shown[:MOST_CASES]}


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "choice"


def _compared(plant: Plant) -> dict[str, list[str]]:
    """Automatic tool loading, part unloading and both, by the plant's first options that edit them."""
    found: dict[str, list[str]] = {}
    for start in (TOOL_LOADING, PART_UNLOADING):
        option = next((one for one in plant.inputs.options if any(e.path.startswith(start) for e in one.edits)), None)
        if option is not None:
            found[capitalised(option.called)] = [option.id]
    if len(found) > 1:
        found["Both"] = [name for options in found.values() for name in options]
    return found


def _write_pages(
    kernels: SimpleQueue[Kernel],
    plant: Plant,
    folder: Path,
    pages: Sequence[Page],
    linked: Sequence[Page],
    changes: Sequence[str],
    say: Callable[[str], None],
    beside: Callable[[], None],
    on_paper: Callable[[], None],
) -> dict[str, Failure]:
    """Run the notebooks, one a kernel at a time, and write their pages; return those that failed.

    What stands ``beside`` them is written meanwhile, and what is printed ``on_paper`` as soon as its pages are there.
    """
    marks = plant.marks
    if changes:
        marks = (f"Changed for this report: {listing(changes)}. The plant's files hold other values.", *marks)
    failed: dict[str, Failure] = {}

    def one(page: Page) -> None:
        source = studies_folder() / f"{page.notebook}.ipynb"
        title = f"{page.title}: what is it worth here, on top of the cheap changes?" if page.title else ""
        files = FILES if page.notebook == "money" else ()
        frame = PageFrame(title, _links(page, linked), files, marks, plant.calibrated)
        kernel = kernels.get()
        try:
            given = checked_parameters(source, page.parameters)
            failure = write_rendered(source, folder / page.file, given, kernel.ready(source.parent), frame)
        finally:
            kernels.put(kernel)
        say(f"{page.name}: {f'failed in cell {failure.cell}, {failure.error}' if failure else page.file}")
        if failure:
            failed[page.file] = failure

    with ThreadPoolExecutor(KERNELS) as pool:
        first = [pool.submit(one, page) for page in pages if page.notebook in ON_PAPER]
        unprinted = (page for page in pages if page.notebook not in ON_PAPER)
        details = sorted(unprinted, key=lambda page: (*SLOW, page.notebook).index(page.notebook))
        others = [pool.submit(one, page) for page in details]
        try:
            beside()
            for page in first:
                page.result()
            on_paper()
            for page in others:
                page.result()
        finally:
            for page in (*first, *others):
                page.cancel()
    return failed


def _links(page: Page, pages: Sequence[Page]) -> tuple[dict[str, Any], ...]:
    """What a page leads to: the first page, the comparison and the details."""
    up = "../" * page.file.count("/")
    shown = [other for other in pages if other.notebook != SCENARIO]
    return tuple({"href": up + other.file, "name": other.name, "here": other.file == page.file} for other in shown)
