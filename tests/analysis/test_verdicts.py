"""What is said of a choice: four words by stated rules, and the price at which a choice is worth nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simkit.analysis.flips import Flip
from simkit.analysis.verdicts import CANNOT_TELL, DO_IT, LOSES, NOT_NOW, turning, verdict, worth_at_most
from simkit.experiment.intervals import Estimate
from simkit.finance.riskinputs import RiskInput


def flip(name, typical, at, low=None, high=None):
    one = RiskInput(
        name, name, "", low or 0.9 * typical, typical, high or 1.1 * typical, "quoted", "", "", "triangular"
    )
    return Flip(one, at, 0.0, 3.0 * typical)


GAINS, LOSS, OPEN = (Estimate(mean, 10.0, 6, "CU") for mean in (50.0, -50.0, 5.0))
PRICE = flip("subcontract", 115.0, 120.0)


@pytest.mark.parametrize(
    ("value", "kind", "why_not", "turn", "calibrated", "word"),
    [
        (GAINS, "low_capital", "", None, False, DO_IT),
        (GAINS, "bought", "", None, False, CANNOT_TELL),
        (GAINS, "bought", "", None, True, DO_IT),
        (GAINS, "low_capital", "more orders are late", None, True, NOT_NOW),
        (OPEN, "low_capital", "", None, True, CANNOT_TELL),
        (OPEN, "bought", "", PRICE, True, CANNOT_TELL),
        (LOSS, "bought", "", PRICE, True, NOT_NOW),
        (LOSS, "low_capital", "", None, False, LOSES),
    ],
)
def test_the_four_words(value, kind, why_not, turn, calibrated, word):
    assert verdict(value, kind, why_not, turn, calibrated=calibrated).verdict == word


def test_what_changes_nothing_is_not_undecided():
    same = verdict(Estimate(0.0, 0.0, 6, "CU"), "low_capital", "", None, calibrated=True)
    assert (same.verdict, same.why) == (NOT_NOW, "it changes nothing here")


def test_a_loss_that_the_orders_it_wins_would_pay_is_not_for_ever():
    loss = Estimate(-90.0, 10.0, 6, "CU")
    assert verdict(loss, "bought", "", None, calibrated=True, with_sales=5.0).verdict == NOT_NOW
    assert verdict(loss, "bought", "", None, calibrated=True, with_sales=-5.0).verdict == LOSES


def test_demand_turns_before_prices_and_a_price_only_within_its_range():
    demand, far = flip("demand", 1.25, 1.6), flip("energy", 0.19, 0.5)
    assert turning((PRICE, demand, far)) is demand
    assert turning((far, PRICE)) is PRICE
    assert turning((far, flip("gas", 0.2, None))) is None


class Linear:
    """A stand-in of the model: worth 300 without its price, and 0.8 of the price less."""

    class plant:
        class option:
            id, kind, bundle_adjustment, capital_lines = "A", "bought", 0.0, ()

            class capital:
                quoted = 500.0

        option_by_id = {"A": option}  # noqa: RUF012

    def __init__(self, free, share=0.8):
        self.free, self.share = free, share

    def gain(self, changes, name, against=""):
        return np.asarray(self.free - self.share * changes["capital A"])


def test_worth_at_most_is_the_price_at_which_nothing_is_left():
    assert worth_at_most(Linear(300.0), "x", "", ("A",)) == pytest.approx(375.0)
    assert worth_at_most(Linear(-1.0), "x", "", ("A",)) is None
    assert worth_at_most(Linear(1.0, -0.1), "x", "", ("A",)) == math.inf
