"""What a workbook is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from simkit.finance.cashflow import CashFlow
from simkit.finance.evaluate import MoneyResult
from simkit.finance.inputs import ScenarioTotals
from simkit.plant.plant import Plant
from simkit.report.words import listing


@dataclass(frozen=True)
class Content:
    """A cash flow with the plant's prices, the simulated totals (today's first) and the measures of every case.

    ``run_id`` names the run, ``facts`` say in words how it was made, ``marks`` are warnings that stand on top.
    """

    plant: Plant
    totals: Mapping[str, ScenarioTotals]
    flow: CashFlow
    results: Mapping[str, MoneyResult]
    run_id: str
    facts: Mapping[str, str]
    marks: tuple[str, ...] = ()

    def described(self, name: str) -> str:
        """Options of a case in words."""
        held = self.totals[name].option_ids
        return listing(self.flow.prices.options[one].name for one in held) if held else "no option: changed inputs"
