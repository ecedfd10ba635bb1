"""Every amount can be read back from its basis: the numbers before the first semicolon, parentheses left out."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest

from simkit.finance.cashflow import build_cashflow
from simkit.finance.lines import LINES
from simkit.finance.roster import Post, Roster
from simkit.plant.options import CapitalLine, OnceLine, ShareRange, YearlyLine
from simkit.plant.settings_money import DemandYear
from tests.finance.hand import BOUGHT, CHEAP, hand_plant, table, today, totals
from tests.finance.rebuilt_cases import PLANT, ROSTER, SCENARIOS, SMALLER, TODAY
from tests.finance.test_cashflow import priced


def in_basis(row):
    text = re.sub(r"\([^)]*\)", "", row.basis).split(";")[0]
    return math.prod(float(piece.split()[0]) for piece in text.split(" x "))


def changed(**finance):
    """The plant of the rebuilt cases with other settings of the cash-flow table."""
    settings = PLANT.settings
    other = settings.finance.model_validate({**settings.finance.model_dump(), **finance})
    return dataclasses.replace(PLANT, settings=settings.model_copy(update={"finance": other}))


REAL = {"rate_basis": "real", "growth_basis": "real", "inflation": 0.02}
SEASONS = {"season": ((23.5, 0.9), (23.5, 1.1))}
TABLES = {
    "as in the demo": {}, "real": REAL, "seasons": SEASONS, "losses carried forward": {"losses": "carried_forward"},
    "waiting": {"start_after_years": 2}, "paid in stages": {"payments_at": (0.0, 0.9, 1.0)},
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_the_product_of_the_factors_is_the_amount(name):
    before, *after = (dataclasses.replace(one, levels={0.9: one.levels[1.0], **one.levels})
                      for one in (TODAY, *(one for one, _ in SCENARIOS.values())))  # fmt: skip
    rows = build_cashflow(changed(**TABLES[name]), before, after).rows
    assert len({row.line for row in rows if row.amount}) >= 20
    for row in rows:
        assert in_basis(row) == pytest.approx(row.amount, rel=1e-9, abs=1e-9), row


def test_every_line_can_be_read_back():
    """What the demo's kinds of options do not move: grants, bundles, stock, single amounts, agency, rework, calls."""
    agency = Post("AG-1", "early", ("load",), 40.0, 20.0, agency=True)
    before = Roster((*ROSTER.posts[:4], agency), "early", 14.5)
    yearly = tuple(
        YearlyLine.model_validate({"line": f"{budget}; 2 x a year", "quoted": 100.0, "budget": budget})
        for budget in ("service", "software", "spares", "insurance", "standing_energy")
    )
    odd = CapitalLine(line="crane 2 x; with rails", quoted=900.0)
    device = priced(BOUGHT, grant_share=0.1, life_years=2.0, yearly_lines=yearly, capital_lines=(odd,),
                    working_capital=500.0, stop_days=1.0, lead_weeks=20.0)  # fmt: skip
    second = priced(BOUGHT.model_copy(update={"id": "A4"}), bundle_adjustment=700.0)
    cart = priced(CHEAP, capital=900.0, persistence=ShareRange(low=0.5, quoted=0.8, high=1.0), yearly_labour_h=5.0,
                  once=(OnceLine(line="shelf stock; 3 x 4", amount=50.0, year=0, what="stock"),
                        OnceLine(line="found; 2 x 20", amount=40.0, year=2)))  # fmt: skip
    plant = hand_plant(device, second, cart, tax_rate=0.25, residual_share=0.1, training=100.0,
                       losses="carried_forward", wage_growth=0.03, price_growth=0.02, ramp_start=0.5, ramp_months=9,
                       demand=(DemandYear(from_year=1, factor=1.0),), horizon_years=4)  # fmt: skip
    money = plant.settings.money.model_copy(update={"rework_cost_per_part": 1.5})
    plant = dataclasses.replace(plant, settings=plant.settings.model_copy(update={"money": money}))
    busy = {f"busy_h_{post.person_id}": 35.0 for post in (*before.posts, *SMALLER.posts)}
    use = {"parts_kg": 100.0, "parts": 50.0, "parts_reworked": 5.0, "on_call_h": 1.0, "energy_kwh": 50.0, **busy}
    more = {**use, "overtime_h": 1.0, "on_call_h": 3.0, "parts_reworked": 2.0, "unmet_h": 9.0}
    after = totals("s", ("A1", "A4", "N2"), SMALLER, **more)
    found = table(plant, today(before, **use), after).rows
    real = build_cashflow(changed(**REAL), TODAY, [one for one, _ in SCENARIOS.values()]).rows
    for row in found:
        assert in_basis(row) == pytest.approx(row.amount, rel=1e-9, abs=1e-9), row
    assert set(LINES) - {row.line for row in (*found, *real) if row.amount} == {"hours_only", "regrinds"}
