"""The command line. Each command reads its arguments, calls one function and prints; nothing else."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.text import Text

from simkit.base.files import write_whole
from simkit.base.messages import (
    SHOWN_OF_A_KIND,
    BadInput,
    Finding,
    ScenarioFailed,
    in_short,
    refuse_to_replace,
    visible,
)

EXIT_BAD_INPUT = 2
EXIT_FAILED = 3
REPORTS = Path("reports")
DEMAND = "factor of the order book, in every year; default: plant.run.demand_factor, and in money the plant's years"
CHANGE = "change of an input, price or person, also of a row that an option adds"
MANY = ("--options", "--set", "--study")

app = typer.Typer(
    help="Discrete-event study kit for punching, forming and laser-cutting cells.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

PlantFolder = Annotated[Path, typer.Argument(metavar="PLANT", help="plant folder")]


@app.callback()
def root() -> None:
    """Keep ``simkit COMMAND`` the form of every call."""


@app.command()
def check(
    plant: PlantFolder,
    calendar: Annotated[bool, typer.Option("--calendar", help="show shifts, people and nights, hour by hour")] = False,
    weeks: Annotated[int, typer.Option(min=1, max=60, help="weeks of that calendar")] = 1,
    start: Annotated[str, typer.Option("--from", metavar="DATE", help="its first day; default: the run's first")] = "",
    options: Annotated[str, typer.Option(metavar="A+B", help="show that calendar with these options")] = "",
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="write that calendar as a picture to this page, as in week.html")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="list every finding, not the first of each kind")] = False,
) -> None:
    """Read and check a plant folder; print every finding as place, value, why, how to mend."""
    from simkit.desk.findings import further_findings, week_table
    from simkit.plant.reading import check_plant
    from simkit.plant.scenarios import make_scenario, parse_combination
    from simkit.process.findings import physics_notes
    from simkit.process.preview import calendar_preview, first_day
    from simkit.report.calendar_page import require_new_page, write_calendar_page
    from simkit.report.calendar_text import calendar_lines
    from simkit.report.cautions import beside

    if page:
        require_new_page(page)
    checked, findings = check_plant(plant)
    physics = physics_notes(checked) if checked is not None else ()
    further = further_findings(checked) if checked is not None else ()
    findings = (*findings, *further, *(note.finding for note in physics))
    console = Console(soft_wrap=True, highlight=False)
    for finding, more in in_short(findings, None if every else SHOWN_OF_A_KIND):
        console.print(finding_line(finding))
        if more:
            console.print(f"      and {more} more of this kind: simkit check --all")
    for line in beside(note.topic for note in physics):
        console.print(line, markup=False)
    errors = sum(finding.severity == "error" for finding in findings)
    sound = checked if not errors else None
    if sound is not None and (calendar or page):
        chosen = parse_combination(options)
        shown = make_scenario(sound, chosen).plant
        preview = calendar_preview(shown, first_day(start, shown), 7 * weeks)
        if calendar:
            for line in calendar_lines(preview):
                console.print(line, markup=False)
        if page:
            write_calendar_page(page, preview, shown.settings.name, chosen)
            console.print(f"{page}: calendar written as a page", markup=False)
    elif page:
        console.print(f"{page}: no calendar was written, since the plant has errors", markup=False)
    if sound is not None and sound.settings.run.source == "project":
        console.print(week_table(sound))
    console.print(summary(plant, errors, len(findings) - errors), markup=False)
    if errors:
        raise typer.Exit(EXIT_BAD_INPUT)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder to make")],
    example: Annotated[bool, typer.Option("--example", help="a small complete plant to copy from, invented")] = False,
) -> None:
    """Make a blank plant folder; refuses to write over anything."""
    from simkit.plant.writing import example_plant, new_plant

    if example:
        example_plant(folder)
        typer.echo(f"{folder}: small invented plant to copy from. Try: simkit check {folder}")
        return
    new_plant(folder)
    typer.echo(f"{folder}: blank plant folder made. Fill it in, then: simkit check {folder}")


@app.command()
def fit(
    plant: PlantFolder,
    replications: Annotated[int, typer.Option(min=2, help="repetitions of each comparison")] = 20,
    seed: Annotated[int | None, typer.Option(min=0, help="seed of all draws")] = None,
    notes: Annotated[
        list[str],
        typer.Option("--note", metavar="GROUP=WHY", help="why a factor may leave 0.6 to 1.6, as in stops=WHY"),
    ] = [],  # noqa: B006
    workers: Annotated[int | None, typer.Option(min=1, help="local processes; default: one per core")] = None,
) -> None:
    """Fit a plant to its log and observed weeks, validate it on those held back, and keep the verdict in its folder."""
    import simkit as sk
    from simkit.desk.console import fit_tables
    from simkit.plant.calibration_file import CALIBRATION_FILE

    refuse_to_replace(plant / CALIBRATION_FILE)
    told = dict(note.partition("=")[::2] for note in notes)
    found = sk.calibrate(
        sk.read_plant(plant), replications=replications, seed=seed, notes=told, workers=workers, say=typer.echo
    )
    for line in found.found.notes:
        typer.echo(visible(f"note  {line}"))
    for shown in fit_tables(found):
        Console().print(shown)
    typer.echo(f"{found.write()}: {found.verdict}")
    if not found.calibrated:
        raise typer.Exit(EXIT_BAD_INPUT)


@app.command()
def adopt(
    exports: Annotated[Path, typer.Argument(metavar="EXPORTS", help="folder of CSV and XLSX files, or one workbook")],
    into: Annotated[Path, typer.Option(metavar="DIR", help="plant folder to make")],
    mapping: Annotated[
        Path | None, typer.Option(metavar="FILE", help="how the exports are read; default: it is asked, and kept")
    ] = None,
) -> None:
    """Make a plant folder of messy exports; every row that the mapping does not settle is listed and left out."""
    from simkit.plant.adopting_mapping import read_mapping
    from simkit.plant.adopting_questions import ask_mapping
    from simkit.plant.adopting_write import adopt as adopt_exports
    from simkit.plant.adopting_write import adoption_lines

    asked = ask_mapping(exports, ask) if mapping is None else read_mapping(mapping)
    for line in adoption_lines(adopt_exports(exports, into, asked), into):
        typer.echo(visible(line))
    check(into)


@app.command("compile")
def compile_cell() -> None:
    """Compile the cell for this computer, once (about a minute): runs take half as long, and give the same numbers."""
    from simkit.base.compiled import compile_or_tell

    if not compile_or_tell():
        raise typer.Exit(EXIT_FAILED)


@app.command()
def workbook(
    plant: PlantFolder, file: Annotated[Path, typer.Argument(metavar="FILE", help="workbook to make, .xlsx")]
) -> None:
    """Write a plant folder as one workbook to fill in, its closed words as lists; adopt reads it back."""
    from simkit.plant.reading import read_plant
    from simkit.plant.workbook import write_workbook

    write_workbook(plant, read_plant(plant, calibrated=False), file)  # the tables as they were typed
    typer.echo(f"{file}: workbook written. Back to a folder: simkit adopt {file} --into DIR")


@app.command()
def notebooks(folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder to make")]) -> None:
    """Copy the notebooks into a folder of yours, with the demo plant beside them; refuses to write over anything."""
    from simkit.report.notebooks import copy_notebooks

    copied = copy_notebooks(folder)
    typer.echo(f"{folder}: {len(copied)} notebooks and the demo plant. Open them: jupyter lab {folder / 'studies'}")


@app.command()
def fields(
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="write to this file; .html gives a page")] = None,
) -> None:
    """Print the field reference: every file, column and key with unit, meaning, default and limits."""
    from simkit.experiment.eventcolumns import events_markdown
    from simkit.plant.reference import reference_markdown

    text = f"{reference_markdown()}\n{events_markdown()}"
    if out is None:
        typer.echo(text)
        return
    refuse_to_replace(out)
    if out.suffix == ".html":
        from nbconvert.filters.markdown import markdown2html

        head = "<!doctype html><html lang='en'><head><meta charset='utf-8'><title>Field reference</title></head><body>"
        text = f"{head}\n{markdown2html(text)}</body></html>\n"
    write_whole(out, text)
    typer.echo(f"{out}: field reference written")


@app.command()
def run(
    plant: PlantFolder,
    options: Annotated[list[str], typer.Option(metavar="A+B", help="combinations of options, as in A1 N1+N2")] = [],  # noqa: B006
    changes: Annotated[list[str], typer.Option("--set", metavar="PATH=VALUE", help=CHANGE)] = [],  # noqa: B006
    replications: Annotated[int | None, typer.Option(min=1, help="independent repetitions")] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="seed of all draws")] = None,
    weeks: Annotated[float | None, typer.Option(min=0.1, help="release weeks simulated")] = None,
    demand: Annotated[float | None, typer.Option(min=0.01, help=DEMAND)] = None,
    workers: Annotated[int | None, typer.Option(min=1, help="local processes; default: one per core")] = None,
    scheduler: Annotated[str, typer.Option(metavar="ADDRESS", help="a running Dask scheduler")] = "",
    json: Annotated[bool, typer.Option("--json", help="print one JSON object with every measure")] = False,
    events: Annotated[
        Path | None, typer.Option(metavar="FILE", help="write all that happens in the first replication to this CSV")
    ] = None,
    every: Annotated[bool, typer.Option("--every-replication", help="write that of all replications")] = False,
) -> None:
    """Simulate combinations of options beside today, all with the same orders and the same chances.

    With --set each stands beside its unchanged twin: changed today beside unchanged today.
    """
    import simkit as sk
    from simkit.desk.console import as_json, as_table, without_table
    from simkit.desk.requested_scenarios import asked_for, brought_by_changes, write_asked_events
    from simkit.plant.scenarios import parse_combination

    if events:
        refuse_to_replace(events)
    elif every:
        raise BadInput([Finding("--every-replication", "needs a file for the events", "Add --events FILE")])
    asked = asked_for(sk.read_plant(plant), list(map(parse_combination, options)), changes)
    for finding in brought_by_changes(asked):
        Console(stderr=True, soft_wrap=True, highlight=False).print(finding_line(finding))
    for note in asked.notes:
        typer.echo(note, err=True)
    if asked.in_vain and not json and not events:
        typer.echo(without_table(plant, changes))
        return
    study = sk.simulate(
        asked.scenarios, replications=replications, seed=seed, weeks=weeks,
        demand=asked.level if demand is None else demand, workers=workers, scheduler=scheduler, progress=not json,
    )  # fmt: skip
    if json:
        typer.echo(as_json(study, asked))
    else:
        Console().print(as_table(study, asked))
    if events:
        count = write_asked_events(events, study, every=every)
        typer.echo(f"{events}: {count} rows written; simkit fields says what they hold", err=True)


@app.command()
def report(
    plant: PlantFolder,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="folder of the report; default: reports/ and the plant's")
    ] = None,
    study: Annotated[list[str], typer.Option(metavar="NAME", help="pages to make; default: all")] = [],  # noqa: B006
    options: Annotated[
        list[str], typer.Option(metavar="A+B", help="sets that are asked about beside the choices, as in A7+C2")
    ] = [],  # noqa: B006
    changes: Annotated[list[str], typer.Option("--set", metavar="PATH=VALUE", help=CHANGE)] = [],  # noqa: B006
    replications: Annotated[int | None, typer.Option(min=1, help="independent repetitions")] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="seed of all draws")] = None,
    weeks: Annotated[float | None, typer.Option(min=0.1, help="release weeks simulated")] = None,
    demand: Annotated[float | None, typer.Option(min=0.01, help=DEMAND)] = None,
    workers: Annotated[int | None, typer.Option(min=1, help="local processes; default: one per core")] = None,
    pdf: Annotated[bool, typer.Option("--pdf/--no-pdf", help="one printable file of first page and choices")] = True,
    letter: Annotated[bool, typer.Option("--letter", help="print on Letter, not A4")] = False,
    compare: Annotated[
        Path | None, typer.Option(metavar="DIR", help="an earlier report: which inputs differ, which answers changed")
    ] = None,
) -> None:
    """Say what to do next: a first page with the decision, a page for each choice, the details, a workbook.

    What --set and --demand change holds for the whole report, before any option acts. Runs are kept in a folder that
    all commands and notebooks share: after a change of prices nothing is simulated again.
    """
    from simkit.desk.report_comparison import compared, require_report
    from simkit.desk.reporting import report as write_report

    out = out or REPORTS / plant.resolve().name
    if compare:
        require_report(compare)
    numbers: dict[str, Any] = {"replications": replications, "seed": seed, "weeks": weeks, "demand": demand}
    numbers |= {"workers": workers, "paper": ("Letter" if letter else "A4") if pdf else None}
    made = write_report(plant, out, study, options, changes, say=typer.echo, **numbers)
    for line in compared(out, compare) if compare else ():
        typer.echo(line)
    typer.echo(f"report: {out / 'index.html'}")
    raise typer.Exit(made.exit_code)


@app.command()
def audit(
    plant: PlantFolder,
    achieved: Annotated[Path, typer.Option(metavar="FILE", help="sheet of what was achieved, CSV")],
    form: Annotated[
        str, typer.Option("--form", metavar="SCENARIO", help="write the blank sheet of what was bought")
    ] = "",
    kept: Annotated[
        Path | None, typer.Option("--report", metavar="DIR", help="folder of the report that predicted")
    ] = None,
) -> None:
    """Compare predicted with achieved 3, 6 and 12 months after a purchase; --form writes the blank sheet first."""
    from simkit.desk.audits import audit_summary, audit_table, compare_form, write_form

    kept = kept or REPORTS / plant.resolve().name
    if form:
        rows = write_form(plant, kept, form, achieved)
        typer.echo(f"{achieved}: blank sheet of {rows} counts written. Fill in the column achieved, then run it again.")
        return
    study, lines = compare_form(plant, kept, achieved)
    Console().print(audit_table(study, lines))
    typer.echo(audit_summary(lines))


def ask(question: str, proposed: str, allowed: tuple[str, ...]) -> str:
    """Ask on the terminal until the answer is allowed; an end of the input is told as one, not as a stop."""
    while True:
        try:
            answer = str(typer.prompt(question, default=proposed, show_default=bool(proposed))).strip()
        except typer.Abort:
            mend = (
                "Answer on a terminal, or write the mapping: --mapping FILE, as in data/tarnholt_exports/mapping.toml"
            )
            raise BadInput([Finding("mapping", "is needed, and nobody answers", mend, value=question)]) from None
        if not allowed or answer in allowed:
            return answer
        typer.echo(f"not one of: {', '.join(filter(None, allowed))}", err=True)


def finding_line(finding: Finding) -> Text:
    """Return a finding as one line, coloured on a terminal."""
    style = "bold red" if finding.severity == "error" else "yellow"
    return Text.assemble((f"{finding.severity:5}", style), " ", str(finding))


def summary(plant: Path, errors: int, notes: int) -> str:
    """Return the last line of a check."""
    noted = f"{notes} note{'s' * (notes != 1)}"
    if errors:
        return f"{plant}: {errors} error{'s' * (errors != 1)}, {noted}. Nothing can run yet."
    return f"{plant}: clean, {noted if notes else 'no findings'}."


def _repeated(words: list[str]) -> list[str]:
    """Let a switch that may be repeated take several values: ``--options A B`` as ``--options A --options B``."""
    result: list[str] = []
    switch = ""
    for word in words:
        if word.startswith("-"):
            switch = word if word in MANY else ""
        elif switch and result[-1] != switch:
            result.append(switch)
        result.append(word)
    return result


def main() -> None:
    """Run the command line; a bad input is one message and exit 2, a run that breaks off one and exit 3."""
    try:
        app(_repeated(sys.argv[1:]))
    except (BadInput, ScenarioFailed) as error:
        typer.echo(str(error), err=True)
        sys.exit(EXIT_BAD_INPUT if isinstance(error, BadInput) else EXIT_FAILED)
    except OSError as error:
        where = visible(str(error.filename or "the computer"))
        typer.echo(f"{where}: {error.strerror or error}. Nothing more was done.", err=True)
        sys.exit(EXIT_FAILED)
    except MemoryError:
        typer.echo("The computer has not enough memory for a run of this size.", err=True)
        sys.exit(EXIT_FAILED)
    finally:
        gc.freeze()  # the process ends and frees all: to look through it for garbage takes a third of a second


if __name__ == "__main__":
    main()
