"""Files of a cash flow for a controller: the workbook with one live case, and every amount as a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simkit.base.aside import own_folder
from simkit.base.files import no_formula, write_whole
from simkit.base.messages import BadInput, Finding
from simkit.report.workbook import Content, write_workbook

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow

WORKBOOK, TABLE = "workbook.xlsx", "money.csv"
RUN_DIGITS = 16
AS_COMPARISON = "no: read all amounts as a comparison"


def write_files(cash: CashFlow, folder: str | Path, *, replace: bool = False) -> tuple[Path, Path]:
    """Write ``workbook.xlsx`` (change an amount and all measures follow) and ``money.csv`` (every amount).

    Into a folder, which is made; return where they are. Raises BadInput where another file of that name
    stands, unless they may ``replace`` it.
    """
    if not cash.flow.prices.options:
        why = "the plant has no option, so that there is no price to change"
        raise BadInput([Finding("money.write", why, "Add one to options.toml; cash.lines holds all amounts")])
    paths = Path(folder) / WORKBOOK, Path(folder) / TABLE
    with own_folder() as aside:
        write_workbook(content_of(cash), aside / WORKBOOK)
        made = (aside / WORKBOOK).read_bytes(), as_csv(cash).encode()
    other = [path for path, own in zip(paths, made, strict=True) if path.exists() and path.read_bytes() != own]
    if other and not replace:
        why = "holds something else, and nothing is written over"
        raise BadInput(Finding(str(path), why, "Move it away, or name another folder") for path in other)
    for path, own in zip(paths, made, strict=True):
        write_whole(path, own)
    return paths


def as_csv(cash: CashFlow) -> str:
    """Every amount of all scenarios as a table in text, nothing in it a formula."""
    frame = cash.lines
    texts = {name: frame[name].map(no_formula) for name in ("scenario", "basis", "owner", "item")}
    return frame.assign(**texts).to_csv(index=False, lineterminator="\n")


def content_of(cash: CashFlow) -> Content:
    """What the workbook holds: prices in force, totals, amounts, measures, and how the run was made."""
    numbers = cash.study.numbers
    facts = {
        "runs": f"{numbers.replications}", "weeks of a run": f"{numbers.weeks:g}",
        "demand levels": ", ".join(f"{level:g}" for level in cash.study.results.demand_factors),
        "calibrated on observed weeks": "yes" if cash.study.plant.calibrated else AS_COMPARISON,
        **{f"changed in {one.name}": "; ".join(one.changes) for one in cash.study.scenarios if one.changes},
    }  # fmt: skip
    run_id = f"{cash.study.stamp[:RUN_DIGITS]}, seed {numbers.seed}"
    return Content(cash.plant, cash.totals, cash.flow, cash.results, run_id, facts, cash.study.plant.marks)
