"""The same number is the same wherever a report shows it: tables, pictures, text, files beside the pages, workbook."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import openpyxl
import pandas as pd
import pytest

HEADLINE = ("cash_releasing", "one_time", "cost")
LOSSES = ("cost_avoided", "capacity")
"""Classes that stand beside the headline; where one is a loss in a year, the headline bears it."""
WEEK_H = 168.0


class Pair(NamedTuple):
    """A number found in two places, and where."""

    where: str
    left: float
    right: float


def tables(folder: Path, page: str, *columns: str) -> list[pd.DataFrame]:
    """Tables beside a page that have these columns."""
    read = [pd.read_csv(path, keep_default_na=False) for path in sorted(folder.glob(f"{page}-????????.csv"))]
    return [table for table in read if set(columns) <= set(table.columns)]


def pairs(folder: Path) -> Iterator[Pair]:
    """Every number of a report that stands in two places or more."""
    choices = pd.read_csv(folder / "choices.csv").set_index("choice")
    money = pd.read_csv(folder / "money.csv", keep_default_na=False)
    yield from _first_page(folder, choices)
    yield from _cash_by_year(folder, money)
    for page in sorted((folder / "scenarios").glob("*.html")):
        yield from _choice_page(folder, page, choices)
    yield from _money_page(folder, choices)
    yield from _workbook(folder)


def _first_page(folder: Path, choices: pd.DataFrame) -> Iterator[Pair]:
    numbers = list(choices.select_dtypes("number").columns)
    for table in tables(folder, "index", "choice", "npv"):
        for row in table.to_dict("records"):
            for name in set(numbers) & set(table.columns):
                yield Pair(f"index, {row['choice']}, {name}", float(row[name]), choices.at[row["choice"], name])


def _headline_by_year(money: pd.DataFrame) -> dict[tuple[str, int], float]:
    by_class = money.groupby(["scenario", "year", "benefit_class"])["amount"].sum().unstack(fill_value=0.0)
    found = by_class.reindex(columns=[*HEADLINE, *LOSSES], fill_value=0.0)
    return (found[[*HEADLINE]].sum(axis=1) + found[[*LOSSES]].clip(upper=0.0).sum(axis=1)).to_dict()


def _cash_by_year(folder: Path, money: pd.DataFrame) -> Iterator[Pair]:
    """Cash by year on each page against the sum of the lines in money.csv."""
    known = _headline_by_year(money)
    for path in [folder / "money", *(page.with_suffix("") for page in (folder / "scenarios").glob("*.html"))]:
        for table in tables(path.parent, path.name, "scenario", "year", "cash", "cumulative"):
            cumulative: dict[str, float] = {}
            for row in table.to_dict("records"):
                name, year = row["scenario"], int(row["year"])
                name = name if (name, year) in known else f"Package + {name}"
                if (name, 0) in known:
                    yield Pair(f"{path.name}, cash of {name}, {year}", row["cash"], known.get((name, year), 0.0))
                cumulative[name] = cumulative.get(name, 0.0) + row["cash"]
                yield Pair(f"{path.name}, cumulative cash of {name}, {year}", row["cumulative"], cumulative[name])


def _choice_page(folder: Path, page: Path, choices: pd.DataFrame) -> Iterator[Pair]:
    """Waterfall and hours of a choice against the first page, and text against the first page's value."""
    text = html.unescape(page.read_text(encoding="utf-8"))
    name = re.search(r"<h1[^>]*>(.*?): what is it worth", text, re.DOTALL)[1]
    for table in tables(page.parent, page.stem, "step", "amount", "is_sum"):
        sums = table["is_sum"].astype(str) == "True"
        yield Pair(f"{page.stem}, headline", table[sums]["amount"].iloc[0], choices.at[name, "npv"])
        before = table.index[sums][0]
        yield Pair(f"{page.stem}, steps", table["amount"][:before].sum(), choices.at[name, "npv"])
    for table in tables(page.parent, page.stem, "state", "Today"):
        for case in [column for column in table.columns if column not in ("state", "Unnamed: 0")]:
            yield Pair(f"{page.stem}, a week of {case}", table[case].sum(), WEEK_H)
        split = table.set_index("state")
        for known in tables(folder, "index", "state", "hours_per_week"):
            for row in known[known["scenario"].isin(["Today", "Package"])].to_dict("records"):
                if row["scenario"] in split and row["state"] in split.index:
                    yield Pair(f"{page.stem}, {row['state']}", split.at[row["state"], row["scenario"]],
                               row["hours_per_week"])  # fmt: skip


def _money_page(folder: Path, choices: pd.DataFrame) -> Iterator[Pair]:
    values: dict[str, set[float]] = {}
    for table in tables(folder, "money", "scenario", "npv"):
        if not {"demand", "input", "best_so_far"} & set(table.columns):
            for row in table.to_dict("records"):
                values.setdefault(row["scenario"], set()).add(float(row["npv"]))
    for table in tables(folder, "money", "terms"):
        for name in table.columns[2:]:
            values.setdefault(name, set()).add(float(table[name].iloc[0]))
    package = choices["npv"].get("Package", 0.0)
    for name, found in values.items():
        alone = name.removeprefix("Package + ")
        for value in found:
            if name == "Package":
                yield Pair("money, the package", value, package)
            elif alone in choices.index and name != alone:
                yield Pair(f"money, {alone} on top", value - package, choices.at[alone, "npv"])


def _workbook(folder: Path) -> Iterator[Pair]:
    """Values of the workbook's summary, as written, against those discounted from money.csv."""
    book = openpyxl.load_workbook(folder / "workbook.xlsx", data_only=True)
    rows = [[cell.value for cell in row] for row in book["Summary"].iter_rows()]
    inputs = {str(row[0].value): row for row in book["Inputs"].iter_rows()}
    rate = next(float(row[3].value) for title, row in inputs.items() if title.lower().startswith("discount rate"))
    worth: dict[str, float] = {}
    for (name, year), amount in _headline_by_year(pd.read_csv(folder / "money.csv", keep_default_na=False)).items():
        worth[name] = worth.get(name, 0.0) + amount / (1 + rate) ** year
    for row in rows:
        if row and row[0] in worth:
            yield Pair(f"workbook, {row[0]}", float(row[3]), worth[row[0]])


def differing(found: list[Pair]) -> list[Pair]:
    """Those that are not the same number."""
    return [pair for pair in found if pair.left != pytest.approx(pair.right, rel=1e-9, abs=1e-6, nan_ok=True)]


def test_every_number_is_the_same_in_all_places(rendering):
    found = list(pairs(rendering.out_dir))
    assert len(found) > 150
    assert differing(found) == []


def test_a_number_that_differs_is_found():
    assert differing([Pair("here", 1.0, 1.0), Pair("there", 1.0, 1.001)]) == [Pair("there", 1.0, 1.001)]
