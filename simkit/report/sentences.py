"""The sentences that pages say of numbers, as functions of the numbers: one place, to be read as a list.

Those of single pages stand in the modules whose names begin alike. ``tests/report/test_sentences.py`` reads the answer
for extreme cases: nothing to do, all lose, one wins, cannot tell.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from simkit.analysis.flips import Flip
from simkit.analysis.verdicts import CANNOT_TELL, DO_IT, LOSES, NOT_NOW, NOTHING, WITH_SALES, Choice
from simkit.experiment.intervals import Estimate
from simkit.plant.settings import Settings
from simkit.report.columns import measure_name
from simkit.report.words import capitalised, figures, listing, number, plural, plus_minus, weeks_of, years

MEASURED, FITTED = "Times and rates", "Fitted to the plant"
"""What an answer rests on, as the pages of assumptions and of the calibration show it."""
MOST_NAMED = 3
"""Cases that a title names one by one."""


@dataclass(frozen=True)
class Paragraphs:
    """Paragraphs of a page's answer."""

    paragraphs: tuple[str, ...]

    @property
    def text(self) -> str:
        """All of it."""
        return "\n\n".join(self.paragraphs)

    def __str__(self) -> str:
        """Return the text."""
        return self.text

    def __repr__(self) -> str:
        """Return the answer in one line."""
        return f"<Answer: {self.paragraphs[0]}>"

    def _repr_markdown_(self) -> str:
        return self.text


def amount(value: float, currency: str = "") -> str:
    """Write money with three significant digits, as a plan knows it: 98,400 CU."""
    return f"{number(figures(value), 0)} {currency}".strip()


def worth_at_most(price: float | None) -> str:
    """The price at which a choice is worth nothing, in words where there is none; empty for what has no price."""
    if price is None:
        return "not even a gift"
    return "" if math.isnan(price) else "any price" if math.isinf(price) else amount(price)


def decision(
    choices: Sequence[Choice], package: Sequence[str], currency: str, numbers: Any, *, calibrated: bool = False
) -> Paragraphs:
    """What to do first, what not to buy, what is not decided, and how sure that is."""
    bought = [one for one in choices if one.kind != "low_capital"]
    parts = [
        _first(choices, package, currency, numbers),
        _to_buy(bought, currency),
        *_undecided(bought),
        _with_sales(choices, currency),
    ]
    return Paragraphs(tuple(part for part in [*parts, _how_sure(numbers, calibrated)] if part))


def _first(choices: Sequence[Choice], package: Sequence[str], currency: str, numbers: Any) -> str:
    whole = next((one for one in choices if package and one.name == "Package"), None)
    if whole is not None and not whole.value.tells:
        return (
            f"No cheap change clearly gains here. The best found is {listing(package)}, worth "
            f"{plus_minus(whole.value)} {currency}: the runs cannot tell that from nothing."
        )
    if whole is None:
        return _alone([one for one in choices if one.kind == "low_capital"], currency)
    freed = plus_minus(Estimate(-whole.hours_a_week.mean, whole.hours_a_week.half_width, whole.hours_a_week.n, "h"))
    many = len(package) > 1
    do = "Do first" if whole.word.verdict == DO_IT else "Best of the cheap changes"
    costs = f"{'Together they cost' if many else 'It costs'} {amount(whole.capital, currency)}"
    frees = f"{'free' if many else 'frees'} {freed} machine hours a week"
    back = f"The money is back after {years(whole.payback_years)}." if whole.capital else "Nothing is spent first."
    worth = f"{'They are worth' if many else 'It is worth'} {plus_minus(whole.value)} {currency}."
    return f"{do}: {listing(package)}. {costs} and {frees}. {back} {worth}"


def _alone(cheap: Sequence[Choice], currency: str) -> str:
    """The best cheap change where the search found no package; what it is worth was not chosen on these runs."""
    best = max((one for one in cheap if one.word.verdict == DO_IT), key=lambda one: one.value.mean, default=None)
    if best is None:
        return "No cheap change clearly gains here."
    costs = f"costs {amount(best.capital, currency)}" if best.capital else "costs nothing to buy"
    return f"Do first: {best.name}. It {costs} and is worth {plus_minus(best.value)} {currency}."


def _with_sales(choices: Sequence[Choice], currency: str) -> str:
    """What is worth more once the orders that it wins count; empty where that turns nothing."""
    won = [one for one in choices if one.with_sales > 0 and one.word.verdict in (CANNOT_TELL, NOT_NOW)]
    won = sorted((one for one in won if one.value.mean <= 0), key=lambda one: -one.with_sales)[:MOST_NAMED]
    if not won:
        return ""
    named = listing(f"{one.name} ({amount(one.with_sales)})" for one in won)
    return (
        "Freed hours also go into orders that today's cell would refuse. Their margin is in none of these values; "
        f"with it and with avoided cost these are worth more than nothing, in {currency}: {named}."
    )


def _to_buy(bought: Sequence[Choice], currency: str) -> str:
    wins = [one for one in bought if one.word.verdict == DO_IT]
    if wins:
        best = max(wins, key=lambda one: one.value.mean)
        return (
            f"Then buy: {best.name}. It costs {amount(best.capital, currency)} and is "
            f"worth {plus_minus(best.value)} {currency} on top."
        )
    lost = [one.name for one in bought if one.word.verdict in (LOSES, NOT_NOW)]
    if not bought:
        return ""
    if len(lost) == len(bought):
        return "Buy nothing now: every purchase and every other shift plan costs more here than it brings."
    lose = "loses" if len(lost) == 1 else "lose"
    return f"Buy no machine yet: {number(len(lost), 0)} of {plural(len(bought), 'further choice')} clearly {lose}."


def _undecided(bought: Sequence[Choice]) -> Iterable[str]:
    open_ = sorted((one for one in bought if one.word.verdict == CANNOT_TELL), key=lambda one: -one.value.mean)[:3]
    if open_:
        gains = "It gains in the model, which has not been fitted to this plant"
        why = gains if any(one.value.tells for one in open_) else "These runs are too few to tell"
        yield f"Not decided yet: {listing(one.name for one in open_)}. {why}."
    later = [
        one for one in bought if one.word.verdict == NOT_NOW and one.turn and one.word.why not in (WITH_SALES, NOTHING)
    ]
    if later:
        one = max(later, key=lambda one: one.value.mean)
        yield f"{capitalised(one.name)} becomes worth its price {one.turn}."


def _how_sure(numbers: Any, calibrated: bool) -> str:
    model = ", and on a model that met observed weeks of this plant that it had not seen"
    times = " and on times that have not been checked against observed weeks of this plant"
    runs = f"This rests on {plural(numbers.replications, 'run')} of {weeks_of(numbers.weeks)}"
    return f"{runs}{model if calibrated else times}."


def how_sure(numbers: Any, basis: Any, settings: Settings, *, calibrated: bool) -> list[dict[str, str]]:
    """What an answer rests on: four lines of a table."""
    defaults, rows = int(basis["default"].sum()), int(basis["all"].sum())
    guesses = int(basis["estimated"].sum()) + defaults
    fitted = "Yes, and it met the weeks that were kept back."
    sold_by = settings.options_sold_by or "not entered"
    found = {
        FITTED: fitted if calibrated else "No. Observed weeks and a log are what it takes: simkit fit.",
        "Runs": f"{plural(numbers.replications, 'run')} of {weeks_of(numbers.weeks)} a case.",
        MEASURED: f"{number(guesses, 0)} of {number(rows, 0)} are estimates or defaults, not measured.",
        "Who paid for this study": f"{settings.study_paid_by or 'Not entered'}; who sells the options: {sold_by}.",
    }
    return [{"rests_on": name, "how_it_stands": text} for name, text in found.items()]


def where_it_turns(turn: Flip | None, value: Estimate, with_sales: float = 0.0) -> str:
    """From where a choice pays, or up to where it does, in a clause that follows its name."""
    if turn is None or turn.value is None:
        if value.mean <= 0 < with_sales:
            return f"only with avoided cost and the orders it wins: {amount(with_sales)}"
        return "" if value.mean > 0 and value.tells else "nowhere in the ranges"
    above = (turn.value > turn.input.typical) == (value.mean <= 0)
    word = "from" if above else "up to"
    if turn.input.name == "demand":
        return f"{word} {number(100 * turn.value, 0)} % of today's orders"
    unit = f" {turn.input.unit}" if turn.input.unit not in ("", "1") else ""
    return f"{word} {number(turn.value)}{unit} of {turn.input.title}"


def differences(own: Any) -> str:
    """Title of a picture of paired differences of one measure: each where they are few, else how many are sure."""
    rows = own.to_dict("records")
    about = f"{capitalised(measure_name(rows[0]['measure']))} against {rows[0]['against']}"
    if len(rows) > MOST_NAMED:
        sure = sum(row["sign"] == "sure" for row in rows)
        return f"{about}: {number(sure, 0)} of {plural(len(rows), 'case')} clearly differ"
    gaps = [Estimate(row["mean"], row["half_width"], row["replications"], row["unit"]) for row in rows]
    named = [
        f"{row['scenario']} {plus_minus(gap, difference=True)} {gap.unit}" for row, gap in zip(rows, gaps, strict=True)
    ]
    return f"{about}: {', '.join(named)}"


def decision_table(count: int, shown: int, package: Sequence[str], currency: str) -> dict[str, str]:
    """Title and note of the table of choices."""
    rest = f" The other {number(count - shown, 0)} stand in the folded table below." if count > shown else ""
    beside = "There is no package: each choice is valued against today. "
    if package:
        on_top = "What is cheap is valued beside the rest of the package, all else on top of it"
        beside = f"Package: {listing(package)}. {on_top}. "
    note = (
        f"{beside}Hours are those at today's demand; the value follows the signed demand, year by year: net present "
        f"value of cash released, in {currency}. All ranges hold at once, with 95 % confidence in the runs.{rest}"
    )
    return {"title": "What each choice costs, brings and is worth, best first", "note": note}


def all_choices(signed: Sequence[float], simulated: Sequence[float]) -> dict[str, Any]:
    """Title and note of the table of every choice."""
    found: dict[str, Any] = {
        "title": "Every choice that was looked at, with the reason of its verdict", "folded": True,
    }  # fmt: skip
    if simulated[-1] > signed[-1]:
        found["note"] = (
            f"Demand above {number(100 * signed[-1], 0)} % of today's orders is simulated for the choices shown above "
            "and for those that nothing else turns."
        )
    return found


def doing_nothing(bought: Mapping[str, float], currency: str) -> str:
    """What stays as it is."""
    parts = [f"{amount(value, currency)} {name}" for name, value in bought.items() if value]
    return f"goes on paying {listing(parts)} a year" if parts else "nothing is bought for lack of time"
