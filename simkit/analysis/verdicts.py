"""What is said of a choice: do it, not now, cannot tell yet, loses. Rules of words over numbers that others made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy  # its heavy rooms load when they are first used

from simkit.analysis.flips import Flip
from simkit.analysis.option_sets import Options
from simkit.experiment.intervals import Estimate
from simkit.finance.riskinputs import paid_first
from simkit.finance.riskmodel import RiskModel

DO_IT, NOT_NOW, CANNOT_TELL, LOSES = "do it", "not now", "cannot tell yet", "loses"
NOTHING = "it changes nothing here"
WITH_SALES = "it loses as cash released, and pays with avoided cost and the orders that it wins"


@dataclass(frozen=True)
class ChoiceVerdict:
    """A verdict and its reason, a clause without a full stop."""

    verdict: str
    why: str

    @property
    def turned_by_nothing(self) -> bool:
        """Whether it surely loses and no input was found that turns it."""
        return self.verdict == LOSES or self.why == WITH_SALES


@dataclass(frozen=True)
class Choice:
    """One thing to decide on: ``scenario`` holds it, ``against`` is the same without it. Money in the plant's currency.

    ``kind`` names the kinds of its options, joined by ``+``. ``worth_at_most`` is None where not even a gift is worth
    it; ``turn`` says in words where it would turn. ``with_sales`` is the value with avoided cost and with the margin of
    orders that are refused otherwise: beside the value, never in it.
    """

    name: str
    options: Options
    scenario: str
    against: str
    kind: str
    capital: float
    hours_a_week: Estimate
    cash_a_year: float
    payback_years: float | None
    value: Estimate
    worth_at_most: float | None
    turn: str
    word: ChoiceVerdict
    with_sales: float = 0.0


def verdict(
    value: Estimate, kind: str, why_not: str, turn: Flip | None, *, calibrated: bool, with_sales: float = 0.0
) -> ChoiceVerdict:
    """Judge a choice by its value, what speaks against it, and the input that would turn it.

    Not sure of the sign: cannot tell. Surely worth something: do it, if nothing speaks against it and it is cheap or
    the model is calibrated. Surely a loss: not now where an input turns it within its own range or demand, or where the
    orders that it wins would pay for it, else loses.
    """
    if not value.mean and not value.half_width:
        return ChoiceVerdict(NOT_NOW, NOTHING)
    if not value.tells:
        return ChoiceVerdict(CANNOT_TELL, "its range from the runs holds gain and loss")
    if value.mean > 0:
        if why_not:
            return ChoiceVerdict(NOT_NOW, why_not)
        if kind == "low_capital" or calibrated:
            return ChoiceVerdict(DO_IT, "it clearly gains")
        return ChoiceVerdict(CANNOT_TELL, "it gains in the model, which has not been fitted to this plant")
    if turn is not None:
        return ChoiceVerdict(NOT_NOW, "it loses as things are, and would gain where an input turns it")
    if with_sales > 0:
        return ChoiceVerdict(NOT_NOW, WITH_SALES)
    return ChoiceVerdict(LOSES, "it loses whatever input moves within its range")


def turning(flips: tuple[Flip, ...]) -> Flip | None:
    """The flip that turns a choice: that of demand where it was simulated, else the nearest within an input's range."""
    demand = [flip for flip in flips if flip.value is not None and flip.input.name == "demand"]
    within = [flip for flip in flips if flip.within_range]
    return min(demand or within, key=lambda flip: flip.distance, default=None)


def worth_at_most(model: RiskModel, name: str, against: str, options: tuple[str, ...]) -> float | None:
    """What these options may cost together, all else as it is, for ``name`` to be worth what ``against`` is.

    Their prices, lines and bundle move in proportion. None: not even a gift is worth it. Infinite: no price is too
    high, for what a unit costs is won back. A choice without capital has no price to ask for: not a number.
    """
    prices = paid_first(model.plant.option_by_id[name] for name in options)
    capital = sum(prices.values())
    if not capital:
        return float("nan")

    def gain(factor: float) -> float:
        cases = {key: np.array([factor * price]) for key, price in prices.items()}
        return float(model.gain(cases, name, against)[0])

    free, quoted = gain(0.0), gain(1.0)
    if free <= 0:
        return None
    if quoted >= free:
        return float("inf")
    guess = free / (free - quoted)
    found = scipy.optimize.root_scalar(gain, x0=guess, x1=0.9 * guess, xtol=1e-6)
    return capital * float(found.root if found.converged else guess)
