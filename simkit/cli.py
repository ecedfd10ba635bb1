"""The command line. Each command reads its arguments, calls one function and prints; nothing else."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from simkit.base.messages import BadInput, Finding

EXIT_BAD_INPUT = 2

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
def check(plant: PlantFolder) -> None:
    """Read and check a plant folder; print every finding as place, value, why, how to mend."""
    from simkit.plant.reading import check_plant

    _, findings = check_plant(plant)
    console = Console(soft_wrap=True, highlight=False)
    for finding in findings:
        console.print(finding_line(finding))
    errors = sum(finding.severity == "error" for finding in findings)
    console.print(summary(plant, errors, len(findings) - errors), markup=False)
    if errors:
        raise typer.Exit(EXIT_BAD_INPUT)


@app.command()
def new(folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder to make")]) -> None:
    """Make a blank plant folder; refuses to write over anything."""
    from simkit.plant.writing import new_plant

    new_plant(folder)
    typer.echo(f"{folder}: blank plant folder made. Fill it in, then: simkit check {folder}")


@app.command()
def fields(
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="write to this file; .html gives a page")] = None,
) -> None:
    """Print the field reference: every file, column and key with unit, meaning, default and limits."""
    from simkit.plant.reference import reference_html, reference_markdown

    if out is None:
        typer.echo(reference_markdown())
        return
    if out.exists():
        raise BadInput([Finding(str(out), "exists, and nothing is written over", "Name a new file")])
    out.write_text(reference_html() if out.suffix == ".html" else reference_markdown(), encoding="utf-8")
    typer.echo(f"{out}: field reference written")


def finding_line(finding: Finding) -> Text:
    """Return a finding as one line, coloured on a terminal."""
    style = "bold red" if finding.severity == "error" else "yellow"
    return Text.assemble((f"{finding.severity:5}", style), " ", str(finding))


def summary(plant: Path, errors: int, notes: int) -> str:
    """Return the last line of a check."""
    if errors:
        return f"{plant}: {errors} error{'s' * (errors != 1)}, {notes} note{'s' * (notes != 1)}. Nothing can run yet."
    noted = f"{notes} note{'s' * (notes != 1)}" if notes else "no findings"
    return f"{plant}: clean, {noted}."


def main() -> None:
    """Run the command line; a bad input is one message on stderr and exit 2, without a traceback."""
    try:
        app()
    except BadInput as error:
        typer.echo(str(error), err=True)
        sys.exit(EXIT_BAD_INPUT)
