"""Tables of the load: book, observed and simulated weeks side by side, what each demand asks, and what goes out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simkit.analysis.capacity import Capacity, practical_capacity
from simkit.base.vocabulary import WEEKDAYS
from simkit.cell.orders import IN_HOUSE, REFUSED, SUBCONTRACT
from simkit.desk.amounts import HALF, per_week, rows_per_week, with_half
from simkit.desk.shown import titled
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.ordermeasures import DAYS_TO_DUE
from simkit.process.bookweeks import book_weeks
from simkit.report import sentences_cell as say

if TYPE_CHECKING:
    from simkit.desk.study import Study

CASH = {"overtime_h": "overtime_h", "subcontract_h": "given_out_h", "unmet_h": "refused_h"}
"""What meets the hours that the shifts do not give: measure, and the column it stands in."""


def load_table(study: Study, scenario: str) -> pd.DataFrame:
    """A mean week of the book, of the observed weeks and of the simulation."""
    plant, level = study.plant.inputs, study.numbers.level
    weeks, seen = book_weeks(plant), plant.observed
    book = np.mean([(week.planned_h, week.orders, week.sheets) for week in weeks], axis=0) * level
    hours = [row.setup_h + row.handling_h + row.process_h + row.stopped_h for row in seen]
    frame = pd.DataFrame([
        _load(study, scenario, "machine hours", NEEDED, book[0], hours),
        _load(study, scenario, "orders", "orders_finished", book[1], [row.orders_finished for row in seen]),
        _load(study, scenario, "sheets", "sheets", book[2], [row.sheets for row in seen]),
        _load(study, scenario, "attended hours", "attended_h", np.nan, [row.attended_h for row in seen]),
    ])  # fmt: skip
    shown = frame if seen else frame.drop(columns="observed")
    first = frame.iloc[0]
    title = say.load(first["book"], first["observed"], first["simulated"])
    return titled(shown, title, say.load_note(len(weeks), len(seen), level))


def _load(
    study: Study, scenario: str, name: str, measure: str, book: float, seen: Sequence[float]
) -> dict[str, str | float]:
    observed = float(np.mean(seen)) if seen else np.nan
    simulated = with_half("simulated", per_week(study, scenario, measure))
    return {"in_a_week": name, "book": book, "observed": observed, **simulated}


def demand_table(study: Study, of: str) -> pd.DataFrame:
    """Hours needed and attended a week at each simulated demand, how the rest is met, and whether the book is made."""
    limit = study.plant.inputs.settings.rules.late_share_limit
    found = {name: practical_capacity(study.results.selected([name]), name, limit) for name in study.names}
    rows = [row for name, capacity in found.items() for row in _levels(study, name, capacity, limit)]
    now = next(row for row in rows if row["scenario"] == of and row["demand"] == study.numbers.level)
    elsewhere = now["given_out_h_per_week"] + now["refused_h_per_week"]
    title = say.makes_the_book(of, now["makes_the_book"], elsewhere, found[of])
    return titled(pd.DataFrame(rows), title, say.demand_note(limit))


def _levels(study: Study, name: str, capacity: Capacity, limit: float) -> Iterator[dict[str, Any]]:
    for level in capacity.levels:
        at = level.demand_factor
        measures = {"needed_h": NEEDED, "attended_h": "attended_h", **{c: m for m, c in CASH.items()}}
        known = {column: per_week(study, name, measure, level=at) for column, measure in measures.items()}
        amounts = {k: v for column, found in known.items() for k, v in with_half(f"{column}_per_week", found).items()}
        yield {
            "scenario": name, "demand": at, **amounts, **_unattended(study, name, at),
            **with_half("late_or_refused_share", level.late),
            "makes_the_book": say.verdict(
                level.fits(limit) if level.surely(limit) else None, known["overtime_h"],
                per_week(study, name, "subcontract_h", "unmet_h", level=at),
            ),
        }  # fmt: skip


def _unattended(study: Study, name: str, demand: float) -> dict[str, float]:
    """Hours worked at night, where some scenario of the study has nights."""
    if not any(study.results.raw(each, "nights", demand).any() for each in study.names):
        return {}
    return with_half("unattended_h_per_week", per_week(study, name, UNATTENDED, level=demand))


def gone_table(study: Study, scenario: str) -> pd.DataFrame:
    """Orders that the planner's rule gave out or refused: hours a week by weekday of the decision and days to due."""
    orders = study.orders(scenario, study.numbers.replications)
    gone = orders[orders["fate"] != IN_HOUSE]
    gone = gone.assign(orders=1.0, given_out_h=gone["invoice_h"].where(gone["fate"] == SUBCONTRACT, 0.0),
                       refused_h=gone["invoice_h"].where(gone["fate"] == REFUSED, 0.0))  # fmt: skip
    names = {day: f"decided on {day}" for day in WEEKDAYS}
    bands = [say.days_to_due(*days) for days in DAYS_TO_DUE.values()]
    edges = [-np.inf, *(high for _, high in DAYS_TO_DUE.values())]
    early = pd.cut(gone["days_to_due"], edges, labels=bands).astype(object)
    amounts = ["orders", "given_out_h", "refused_h"]
    parts = [rows_per_week(study, scenario, gone.assign(when=when), ["when"], amounts)
             for when in (gone["gone_on"].map(names), early)]  # fmt: skip
    order = [*names.values(), *bands]
    frame = pd.concat(parts).sort_values("when", key=lambda column: column.map(order.index), ignore_index=True)
    out, refused = (per_week(study, scenario, name) for name in ("subcontract_h", "unmet_h"))
    late = per_week(study, scenario, "late_share")
    shown = frame.drop(columns=f"orders_per_week{HALF}")
    return titled(shown, say.gone(out, refused, late), say.gone_note(len(order) - len(frame)))
