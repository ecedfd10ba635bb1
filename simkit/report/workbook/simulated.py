"""The sheet of simulation results, and rows that read them at the demand of each year."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from simkit.experiment.glossary import describe
from simkit.finance.inputs import RATIOS, ScenarioTotals
from simkit.report.workbook.book import SIMULATED, Book
from simkit.report.workbook.expr import Expr, count, entry, if_, least, most, place_below, total
from simkit.report.workbook.grid import Series, Sheet, fixed, span

FIRST_LEVEL = 2
SINGLE = (
    "hours_needed",
    "inhouse_h",
    "overtime_h",
    "person_overrun_h",
    "subcontract_h",
    "unmet_h",
    "preparation_h",
    "programming_h",
    "care_by_others_h",
    "on_call_h",
    "sheets",
    "sheets_in_span",
    "parts",
    "parts_kg",
    "parts_scrapped",
    "parts_reworked",
    "energy_kwh",
    "gas_m3",
    "tools_reground",
    "tool_lives",
    "tools_broken",
    "late_share",
    "backlog_grows",
)
"""Measures that the money reads; those by material come in addition."""

NOT_WEEKLY = (*RATIOS, "backlog_grows")
GROWS = "backlog_grows"


@dataclass
class Block:
    """Where the results of one scenario stand: the demand levels, and a row of amounts per measure."""

    totals: ScenarioTotals
    levels: tuple[float, ...]
    level_row: int
    rows: dict[str, tuple[int, list[float]]] = field(default_factory=dict)

    def cells(self, measure: str) -> Expr:
        """Amounts of a measure at the levels."""
        row, values = self.rows[measure]
        return self._span(row, values)

    @property
    def level_cells(self) -> Expr:
        """The demand levels."""
        return self._span(self.level_row, list(self.levels))

    def _span(self, row: int, values: list[float]) -> Expr:
        return span(SIMULATED, (row, FIRST_LEVEL), (row, FIRST_LEVEL + len(values) - 1), values)


def simulated_sheet(book: Book, names: Iterable[str]) -> dict[str, Block]:
    """All simulated amounts that the money reads, by scenario; with one level it is written twice."""
    run = book.cash.study.run
    sheet = book.sheet(
        SIMULATED,
        "Simulation results",
        f"Static: not to be changed here. Run {book.run_id}; mean of "
        f"{run.replications} replications of {run.weeks:g} weeks, amounts a week of the released work; a new order "
        "book, shift or option needs a new run.",
        years=False,
    )
    most_levels = max(len(book.cash.totals[name].factors) for name in names)
    sheet.widths = {0: 58, 1: 15, **{FIRST_LEVEL + i: 14 for i in range(max(most_levels, 2))}}
    sheet.row("measure", "unit", "at the demand level above each block", look="head")
    blocks = {name: _block(book, sheet, book.cash.totals[name]) for name in names}
    values = [value for block in blocks.values() for _, row in block.rows.values() for value in row]
    last = sheet.next_row - 1
    width = FIRST_LEVEL + max(most_levels, 2) - 1
    levels = [value for block in blocks.values() for value in block.levels]
    everything = span(SIMULATED, (5, FIRST_LEVEL), (last, width), [*values, *levels])
    sheet.next_row += 1
    control = sheet.put(sheet.next_row, 2, total(everything), "number")
    sheet.put(sheet.next_row, 0, "Control total of this sheet")
    sheet.next_row += 1
    built = sheet.put(sheet.next_row, 2, control.value, "pasted")
    sheet.put(sheet.next_row, 0, "Control total as built")
    book.inputs["control"], book.inputs["control built"] = control, built
    return blocks


def _block(book: Book, sheet: Sheet, totals: ScenarioTotals) -> Block:
    sheet.next_row += 1
    sheet.row(f"{book.cash.study.named(totals.name)}: {book.cash.study.described(totals.name)}", look="section")
    levels = totals.factors if len(totals.factors) > 1 else totals.factors * 2
    row = sheet.row("Demand level", "factor", *levels, looks=("text", "unit", *["pasted_factor"] * len(levels)))
    block = Block(totals, levels, row)
    metals = book.prices.materials_of
    for measure in (*SINGLE, *(f"material_kg_{m}" for names in metals.values() for m in names)):
        if totals.has(measure) or measure.startswith("material_kg_"):
            _measure_row(sheet, block, measure)
    for metal, materials in metals.items():
        for measure in (f"scrap_kg_{metal}", f"lost_kg_{metal}"):
            if totals.has(measure) or measure.startswith("scrap"):
                _measure_row(sheet, block, measure)
        _sheets_row(sheet, block, metal, materials)
    return block


def _measure_row(sheet: Sheet, block: Block, measure: str) -> None:
    totals = block.totals
    known = totals.has(measure)
    if known and measure == GROWS:
        values = [totals.levels[level][measure] for level in block.levels]
    else:
        values = [totals.per_week(measure, level) if known else 0.0 for level in block.levels]
    unit = _unit(measure) if measure in NOT_WEEKLY else f"{_unit(measure)}/week"
    label = _meaning(measure)
    row = sheet.row(label, unit, *values, looks=("text", "unit", *["pasted"] * len(values)))
    block.rows[measure] = (row, values)


SHEETS = "sheets_kg_"
"""Sheet mass by metal, a sum made on the sheet of results."""


def _unit(measure: str) -> str:
    unit = "kg" if measure.startswith(SHEETS) else describe(measure).unit
    return "share" if unit == "1" else unit


def _meaning(measure: str) -> str:
    meaning = "sum over thicknesses" if measure.startswith(SHEETS) else describe(measure).meaning
    return f"{measure}: {meaning}"


def _sheets_row(sheet: Sheet, block: Block, metal: str, materials: Sequence[str]) -> None:
    """Sheet mass of a metal: the sum over its thicknesses, which stand under each other."""
    rows = [block.rows[f"material_kg_{name}"] for name in materials]
    row = sheet.row(_meaning(f"{SHEETS}{metal}"), "kg/week", looks=("text", "unit"))
    values = []
    for place in range(len(block.levels)):
        column = FIRST_LEVEL + place
        cells = span(SIMULATED, (rows[0][0], column), (rows[-1][0], column), [v[place] for _, v in rows], down=True)
        values.append(sheet.put(row, column, total(cells), "number2").value)
    block.rows[f"sheets_kg_{metal}"] = (row, values)


@dataclass
class Reader:
    """Reads a block at the demand of each year on a sheet of its own; rows are written when first asked for."""

    sheet: Sheet
    block: Block
    place: Series
    weight: Series
    read: dict[str, Series] = field(default_factory=dict)

    def has(self, measure: str) -> bool:
        """Whether the scenario knows the measure."""
        return measure in self.block.rows

    def __getitem__(self, measure: str) -> Series:
        return self.read[measure]

    def add(self, measure: str) -> None:
        """Write the row of a measure: linear between the simulated levels."""
        cells = self.block.cells(measure)
        unit = _unit(measure) if measure in NOT_WEEKLY else f"{_unit(measure)}/week"
        worst = measure == GROWS
        formula = self._worst(cells) if worst else self._between(cells)
        label = f"{measure}{' (the larger of both levels)' if worst else ''}"
        self.read[measure] = self.sheet.line(label, unit, formula, "number2")

    def _between(self, cells: Expr) -> Callable[[int], Expr]:
        place, weight = self.place, self.weight
        return lambda y: entry(cells, place[y]) * (1 - weight[y]) + entry(cells, place[y] + 1) * weight[y]

    def _worst(self, cells: Expr) -> Callable[[int], Expr]:
        place, weight = self.place, self.weight
        return lambda y: most(
            if_(weight[y] < 1, entry(cells, place[y]), 0), if_(weight[y] > 0, entry(cells, place[y] + 1), 0)
        )

    def at(self, label: str, unit: str, measure: str, factor: Expr) -> Expr:
        """A scalar: a measure at one demand factor."""
        levels, cells = self.block.level_cells, self.block.cells(measure)
        place = least(place_below(factor, levels), count(levels) - 1)
        low, high = entry(levels, place), entry(levels, place + 1)
        at = self.sheet.scalar(f"{label}: place of the level below", "place", place, "year")
        low, high = entry(levels, at), entry(levels, at + 1)
        share = self.sheet.scalar(
            f"{label}: weight of the level above", "share", if_(high > low, (factor - low) / (high - low), 0), "factor"
        )
        value = entry(cells, at) * (1 - share) + entry(cells, at + 1) * share
        return self.sheet.scalar(label, unit, value, "number2")


def reader(book: Book, sheet: Sheet, block: Block) -> Reader:
    """Rows that find each year's demand among the simulated levels; demand outside them fails a check."""
    levels, demand = block.level_cells, book.years["demand"]
    first, last = fixed_ends(block)
    sheet.heading("Demand among the simulated levels")
    read = sheet.line(
        "Demand read",
        "factor",
        lambda y: most(first, least(last, demand[y])),
        "factor",
        "nothing is extrapolated: see the checks",
    )
    place = sheet.line(
        "Place of the level below", "place", lambda y: least(place_below(read[y], levels), count(levels) - 1), "year"
    )
    weight = sheet.line(
        "Weight of the level above",
        "share",
        lambda y: if_(
            entry(levels, place[y] + 1) > entry(levels, place[y]),
            (read[y] - entry(levels, place[y])) / (entry(levels, place[y] + 1) - entry(levels, place[y])),
            0,
        ),
        "factor",
    )
    outside = sheet.line(
        "Demand outside the simulated levels",
        "1 or 0",
        lambda y: if_(read[y].is_(demand[y]), 0, 1),
        "year",
        summed=True,
    )
    if outside.sum is not None:
        book.check("Demand of all years lies within the simulated levels", outside.sum.is_(0), sheet.name)
    return Reader(sheet, block, place, weight)


def fixed_ends(block: Block) -> tuple[Expr, Expr]:
    """First and last level of a block."""
    last = FIRST_LEVEL + len(block.levels) - 1
    return (
        fixed(SIMULATED, block.level_row, FIRST_LEVEL, block.levels[0]),
        fixed(SIMULATED, block.level_row, last, block.levels[-1]),
    )
