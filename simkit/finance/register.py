"""The benefits register: which budget moves, by how much, on what evidence, whose, and from when."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from simkit.finance.lines import COST, LINES
from simkit.plant.settings_money import BudgetLine


def register_of(frame: pd.DataFrame, budget_lines: Sequence[BudgetLine]) -> pd.DataFrame:
    """Per scenario, line and class of benefit the sum over years, budget line, evidence and owner.

    ``frame`` is that of a cash-flow table. ``account``, ``budget_owner`` and ``falls_from`` are the plant's own budget
    of the line, empty where none is named; ``first_year`` is the first year with an amount, 0 if there is none.
    """
    keys = ["scenario", "line", "benefit_class", "owner"]
    benefits = frame[~frame["benefit_class"].isin([COST])]
    table = benefits.groupby(keys, sort=False, as_index=False).agg({"amount": "sum"})
    table["title"] = [LINES[line].title for line in table["line"]]
    table["budget_line"] = [LINES[line].budget for line in table["line"]]
    table["evidence"] = [LINES[line].evidence for line in table["line"]]
    named = {entry.line: entry for entry in budget_lines}
    found = [named.get(line) for line in table["line"]]
    table["account"] = [entry.account if entry else "" for entry in found]
    table["budget_owner"] = [entry.owner if entry else "" for entry in found]
    table["falls_from"] = [str(entry.falls_from or "") if entry else "" for entry in found]
    first = benefits[benefits["amount"] != 0].groupby(keys)["year"].min()
    table["first_year"] = [int(first.get(tuple(row[key] for key in keys), 0)) for _, row in table.iterrows()]
    return table
