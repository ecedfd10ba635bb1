"""The register of published values: complete rows, and none missing for a public formula."""

from __future__ import annotations

import importlib
import inspect
from collections import Counter
from dataclasses import replace

import pytest

from tests.house import ROOT, named
from tests.published.rows import Row

FORMULA_MODULES = (
    "simkit.base.gauges",
    "simkit.base.units",
    "simkit.experiment.intervals",
    "simkit.finance.depreciation",
    "simkit.finance.learning",
    "simkit.finance.measures",
    "simkit.process.gasflow",
    "simkit.process.lasercut",
    "simkit.process.lifting",
    "simkit.process.motion",
    "simkit.process.punching",
)
"""Modules whose public functions are formulas: each needs a row."""

FORMULAS = (
    "simkit.analysis.laws_fitted.fit_law",
    "simkit.analysis.laws_fitted.rate_interval",
    "simkit.analysis.log_times.ratio_of_sums",
    "simkit.analysis.night_tables.expected_run_h",
    "simkit.analysis.sheet_times.observations_needed",
    "simkit.base.laws.Law",
    "simkit.base.laws.weibull_shape",
    "simkit.finance.benefits.released_share",
    "simkit.finance.risklaws.quantiles",
    "simkit.finance.risksummary.expected_shortfall",
    "simkit.finance.financing.lease_flows",
    "simkit.finance.financing.level_payment",
    "simkit.finance.financing.loan_flows",
    "simkit.finance.financing.loan_of",
    "simkit.finance.ratios.adjusted_rate",
    "simkit.finance.ratios.benefit_cost_ratio",
    "simkit.finance.ratios.imputed_interest",
    "simkit.finance.ratios.savings_to_investment",
    "simkit.finance.ratios.static_measures",
    "simkit.finance.ratios.yearly_write_off",
    "simkit.finance.tax.taxes",
    "simkit.finance.timeline.growth",
    "simkit.finance.timeline.replacement_times",
    "simkit.process.cutcheck.check_speed",
    "simkit.process.drawntimes.sheet_time_s",
    "simkit.process.runningpower.draw_kw",
    "simkit.process.runningpower.mean_running_kw",
    "simkit.process.sheetnotes.printed_densities",
    "simkit.process.slugs.figure_area_mm2",
    "simkit.tooling.lives.failure_worth",
)
"""Formulas of other modules."""


def published_modules() -> dict[str, list[Row]]:
    """Rows of each module of ``tests/published`` that has any, by path."""
    found = {}
    for path in sorted((ROOT / "tests" / "published").glob("test_*.py")):
        rows = getattr(importlib.import_module(f"tests.published.{path.stem}"), "PUBLISHED", None)
        if rows is not None:
            found[named(path)] = list(rows)
    return found


def public_functions(module: str) -> set[str]:
    """Full names of the public functions that a module defines itself."""
    members = inspect.getmembers(importlib.import_module(module), inspect.isfunction)
    return {
        f"{module}.{name}" for name, function in members if not name.startswith("_") and function.__module__ == module
    }


def lacking(functions: set[str], rows: list[Row]) -> list[str]:
    """Functions without a row."""
    return sorted(functions - {row.function for row in rows})


def incomplete(row: Row) -> list[str]:
    """What is wrong with a row, other than its value."""
    texts = ("id", "function", "tolerance_reason", "source")
    found = [f"{name} is empty" for name in texts if not getattr(row, name).strip()]
    if not row.tolerance >= 0:
        found.append("tolerance is negative")
    module, _, name = row.function.rpartition(".")
    if not module.startswith(("simkit.", "tests.tooling.")) or name.startswith("_"):
        found.append(f"{row.function} is no public function of the kit or of its yardstick")
    return found


ROWS = [row for rows in published_modules().values() for row in rows]


@pytest.mark.parametrize("module", FORMULA_MODULES)
def test_every_public_formula_has_a_row(module):
    assert lacking(public_functions(module), ROWS) == []


def test_every_listed_formula_has_a_row():
    assert lacking(set(FORMULAS), ROWS) == []


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_row_is_complete(row):
    assert incomplete(row) == []
    assert callable(row.target())


def test_row_names_are_unique():
    assert [name for name, count in Counter(row.id for row in ROWS).items() if count > 1] == []


@pytest.mark.parametrize("module", published_modules())
def test_listed_rows_are_checked(module):
    assert ".check()" in (ROOT / module).read_text(encoding="utf-8")


# ---- the checks themselves can fail ----

GOOD = Row("x", "simkit.base.units.hours", {"seconds": 3600.0}, 1.0, "h", 0.0, "exact by definition", "worked by hand")


def test_a_wrong_value_is_seen():
    GOOD.check()
    with pytest.raises(AssertionError, match="worked by hand"):
        replace(GOOD, expected=1.001).check()


def test_a_missing_source_and_a_missing_row_are_seen():
    assert incomplete(GOOD) == []
    assert incomplete(replace(GOOD, source=" ", tolerance=-1.0)) == ["source is empty", "tolerance is negative"]
    assert "simkit.base.units.on_grid" in lacking(public_functions("simkit.base.units"), [GOOD])


SAID = "above 3.0: highly stressful for many workers in the view of some experts"
WORDS = Row("w", "simkit.process.lifting.index_in_words", {"index": 9.0}, SAID, "words", 0.0, "words", "by hand")


def test_words_are_compared_as_they_stand():
    WORDS.check()
    for other in (replace(WORDS, expected="above 3.0"), replace(WORDS, tolerance=1.0)):
        with pytest.raises(AssertionError, match=r"^w: "):
            other.check()
    by_character = replace(WORDS, read=lambda text: (text[:5], text[6:9]))
    replace(by_character, expected=("above", "3.0")).check()
    with pytest.raises(AssertionError):
        replace(by_character, expected=("above", "4.0")).check()
    replace(WORDS, read=lambda text: {"said": text[:5]}, expected={"said": "above"}).check()
