"""Measures on the sheet of a scenario: values, paybacks, rates, and what it is worth at most."""

from __future__ import annotations

from simkit.report.workbook.book import Book
from simkit.report.workbook.expr import (
    Expr,
    as_expr,
    both,
    if_,
    if_error,
    internal_rate,
    is_number,
    least,
    most,
    payment,
    sum_product,
    total,
)
from simkit.report.workbook.grid import Series, Sheet, stacked
from simkit.report.workbook.option_sheet import OptionSheet
from simkit.report.workbook.rates import RateRow

NOT_PAID = "does not pay back within "
NOTHING = "nothing to pay back"
NO_RATE = "no internal rate"
SEVERAL_RATES = "several rates: use the net present value"
NO_LIMIT = "no limit: what a unit of capital costs is won back by its tax relief and residual"
LOSS_TEXT = "not by formula: this loss rule needs a new run"
WORTHLESS = "worth nothing: it loses even without any capital"


def measures(book: Book, made: OptionSheet, rate_row: RateRow) -> None:
    """Write all measures of a scenario; the headline's are those of the first figure."""
    sheet, found, unit = made.sheet, made.measures, book.currency
    factor, head, wait = book.years["factor"], made.figures["headline"], book.input("wait")
    sheet.heading("Measures", "of the headline unless said otherwise")
    assert made.taxed is not None
    paid = sum_product(made.taxed.capital.all * book.years["deflator"].all)
    found["capital"] = made.capital = sheet.scalar("Capital", unit, paid, "money", "positive here")
    titles = {
        "headline": "Net present value",
        "with_avoided": "... with avoided cost",
        "with_signed_sales": "... with signed sales",
    }
    for name, title in titles.items():
        flows = made.figures[name].all
        found[f"npv {name}"] = sheet.scalar(title, unit, sum_product(flows * factor.all), "total_money")
    for kind, row in made.classes.items():
        found[f"npv {kind}"] = sheet.scalar(
            f"of which class {kind.replace('_', ' ')}", unit, sum_product(row.all * factor.all), "money"
        )
    simple, made.cumulative = paybacks(book, sheet, "Payback from the first payment", head, wait=wait)
    found["payback"] = simple
    late = if_(is_number(simple), most(simple - (made.start - wait), 0), simple)
    found["payback_from_acceptance"] = sheet.scalar("Payback from the start of use", "years", late, "years")
    found["discounted_payback"] = paybacks(book, sheet, "Discounted payback", head, discount=True, wait=wait)[0]
    _rates(book, made, rate_row)
    value = found["npv headline"]
    found["equivalent_annual_value"] = sheet.scalar(
        "Equivalent annual value",
        f"{unit}/year",
        -payment(book.input("discount_rate"), book.input("horizon"), value),
        "money",
    )
    found["profitability_index"] = sheet.scalar(
        "Net present value per unit of capital",
        "ratio",
        if_(made.capital > 0, value / made.capital, "no capital"),
        "factor",
    )
    _break_even(book, made)


def paybacks(
    book: Book, sheet: Sheet, title: str, flows: Series, *, discount: bool = False, wait: Expr | None = None
) -> tuple[Expr, Series]:
    """First time the cumulative flow is not negative again, linear within the year; words if there is none.

    Counted from the first payment where that waits for ``wait`` years. Returns the time and the row of the
    cumulative flow.
    """
    unit, year, tolerance = book.currency, book.years["year"], book.input("tolerance")
    steps = flows
    if discount:
        factor = book.years["from_first"]
        steps = sheet.line("Discounted headline", unit, lambda y: flows[y] * factor[y], "money", summed=True)
    cumulative = sheet.run(
        f"Cumulative{', discounted' if discount else ''}", unit, lambda y, so_far: so_far + steps[y], "money"
    )
    below = sheet.run(
        "Below zero now or before", "1 or 0", lambda y, so_far: if_(cumulative[y] < -tolerance, 1, so_far), "year"
    )
    back = sheet.run(
        "Paid back now or before",
        "1 or 0",
        lambda y, so_far: if_(both(below.before(y) > 0, cumulative[y] >= -tolerance), 1, so_far),
        "year",
    )
    crossing = sheet.line(
        "Years until then, in the year it happens",
        "years",
        lambda y: if_(back[y] > back.before(y), year[y] - cumulative[y] / if_(steps[y].is_(0), 1, steps[y]), 0),
        "years0",
    )
    years, horizon = total(crossing.all), book.input("horizon")
    if wait is not None:
        years, horizon = years - wait, horizon - wait
    never = as_expr(NOT_PAID).joined(horizon).joined(" years")
    state = if_(total(below.all).is_(0), NOTHING, if_(cumulative.last < -tolerance, never, years))
    return sheet.scalar(title, "years", state, "years"), cumulative


def _rates(book: Book, made: OptionSheet, row: RateRow) -> None:
    """Internal rate where it is unique, in words otherwise; modified rate with the discount rate on both sides."""
    sheet, found, head = made.sheet, made.measures, made.figures["headline"]
    found["irr"] = sheet.scalar(
        "Internal rate of return (see the sheet of rates)", "a year", rate_in_words(book, row, head), "percent2"
    )
    end, rate, horizon = book.years["end_factor"], book.input("discount_rate"), book.input("horizon")
    received = sheet.line("Received", book.currency, lambda y: most(head[y], 0), "money", summed=True)
    paid = sheet.line("Paid", book.currency, lambda y: least(head[y], 0), "money", summed=True)
    get, give = sum_product(received.all * end.all), sum_product(paid.all * end.all)
    get_cell = sheet.scalar("Received, at present value (year ends)", book.currency, get, "money")
    give_cell = sheet.scalar("Paid, at present value (year ends)", book.currency, give, "money")
    ratio = if_(give_cell < 0, get_cell / -give_cell, 0)
    two_signs = both(get_cell > 0, give_cell < 0)
    found["mirr"] = sheet.scalar(
        "Modified internal rate, both rates the discount rate",
        "a year",
        if_(two_signs, ratio ** (1 / horizon) * (1 + rate) - 1, "no modified rate: all flows have one sign"),
        "percent2",
    )


def rate_in_words(book: Book, row: RateRow, flows: Series) -> Expr:
    """Internal rate of flows: by IRR for year-end flows, otherwise as found on the sheet of rates."""
    yearly = if_error(internal_rate(flows.all, row.guess), row.refined)
    one = if_(book.input("timing").is_(1), yearly, row.refined)
    return if_(row.count.is_(0), NO_RATE, if_(row.count > 1, SEVERAL_RATES, one))


def _break_even(book: Book, made: OptionSheet) -> None:
    """Most that may be paid for a value of zero: grants, replacement, residual and tax relief move with the capital."""
    sheet, found, unit, factor = made.sheet, made.measures, book.currency, book.years["factor"]
    tax, residual, taxed, deflator = book.input("tax_rate"), made.residual, made.taxed, book.years["deflator"]
    assert taxed is not None
    tied = sheet.line(
        "Cash that grows with the capital, after tax", unit,
        lambda y: (taxed.relief[y] - taxed.bought[y] + stacked(residual, y) * (1 - tax)) * deflator[y], "money",
        summed=True,
    )  # fmt: skip
    tied_value = sheet.scalar("... at present value", unit, sum_product(tied.all * factor.all), "money")
    has_capital = made.capital > 0
    one = sheet.scalar("Present cost of one unit of capital, as if paid", "unit",
                       -sum_product(taxed.unit.all * factor.all), "factor")  # fmt: skip
    per_unit = sheet.scalar("Present cost of one unit of capital", "unit",
                            if_(has_capital, -tied_value / made.capital, one), "factor")  # fmt: skip
    rest = sheet.scalar("Worth without capital", unit, found["npv headline"] - if_(has_capital, tied_value, 0), "money")
    worth = if_(rest < 0, WORTHLESS, if_(per_unit > 0, rest / per_unit, NO_LIMIT))
    formula = sheet.scalar("Worth at most, where losses relieve tax at once", unit,
                           if_(book.input("losses").is_(1), worth, LOSS_TEXT), "money")  # fmt: skip
    found["break_even_capital"] = _with_run_value(book, made, formula)


def _with_run_value(book: Book, made: OptionSheet, formula: Expr) -> Expr:
    """The formula, or the run's value where losses wait or are lost: it then follows from a search, not a formula."""
    if book.cash.cashflow.finance.losses == "used_at_once":
        return formula
    known = book.cash.results[made.name].break_even_capital
    shown = known.text if known.capital is None else known.capital
    book.paste("worth at most on the sheets of cases", "where losses wait or are lost it follows from a search")
    return made.sheet.scalar("Worth at most, pasted from the run", book.currency, shown, "pasted_money", "static")
