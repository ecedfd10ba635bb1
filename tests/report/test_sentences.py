"""The decision in words, for the cases that a reader may meet: each is read whole here, as on the first page."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from simkit.analysis.flips import Flip
from simkit.analysis.verdicts import CANNOT_TELL, DO_IT, LOSES, NOT_NOW, Choice, ChoiceVerdict
from simkit.experiment.intervals import Estimate
from simkit.finance.riskinputs import RiskInput
from simkit.report.sentences import amount, decision, doing_nothing, where_it_turns, worth_at_most

NUMBERS = SimpleNamespace(replications=6, weeks=12.0, level=1.0)
SURE = "This rests on 6 runs of 12 weeks and on times that have not been checked against observed weeks of this plant."


def choice(name, value, half_width, word, kind="bought", capital=80000.0, turn="", options=("A",), sales=0.0):
    hours = Estimate(-5.03, 0.42, 6, "h")
    return Choice(
        name, options, name, "Package", kind, capital, hours, 9000.0, 2.1, Estimate(value, half_width, 6, "CU"), 5e4,
        turn, ChoiceVerdict(word, "why"), sales,
    )  # fmt: skip


PACKAGE = choice("Package", 98429.0, 30574.0, DO_IT, "low_capital", 6500.0, options=("N1", "N2"))
NAMES = ("Grouped sequence", "Setup cart")
FIRST = (
    "Do first: Grouped sequence and Setup cart. Together they cost 6,500 CU and free 5.0 ± 0.4 machine hours a week. "
    "The money is back after 2.1\u00a0years. They are worth 98,000 ± 31,000 CU."
)


@pytest.mark.parametrize(
    ("choices", "package", "said"),
    [
        ((), (), ["No cheap change clearly gains here."]),
        (
            (choice("Package", 47914.0, 18713.0, DO_IT, "low_capital", 1000.0, options=("N18",)),),
            ("Fewer tabs",),
            ["Do first: Fewer tabs. It costs 1,000 CU and frees 5.0 ± 0.4 machine hours a week. The money is back "
             "after 2.1\u00a0years. It is worth 48,000 ± 19,000 CU."],
        ),
        (
            (choice("Sheet loader", -9000.0, 500.0, LOSES), choice("Tool magazine", -8000.0, 500.0, LOSES)),
            (),
            ["No cheap change clearly gains here.",
             "Buy nothing now: every purchase and every other shift plan costs more here than it brings."],
        ),
        (
            (PACKAGE, choice("Sheet loader", 40210.0, 5100.0, DO_IT), choice("Tool magazine", -8000.0, 500.0, LOSES)),
            NAMES,
            [FIRST, "Then buy: Sheet loader. It costs 80,000 CU and is worth 40,200 ± 5,100 CU on top."],
        ),
        (
            (PACKAGE, choice("Sheet loader", 1000.0, 5100.0, CANNOT_TELL), choice("Tool magazine", -8e3, 50.0, LOSES)),
            NAMES,
            [FIRST, "Buy no machine yet: 1 of 2 further choices clearly loses.",
             "Not decided yet: Sheet loader. These runs are too few to tell."],
        ),
        (
            (PACKAGE, choice("Sheet loader", -900.0, 51.0, NOT_NOW, turn="from 130 % of today's orders")),
            NAMES,
            [FIRST, "Buy nothing now: every purchase and every other shift plan costs more here than it brings.",
             "Sheet loader becomes worth its price from 130 % of today's orders."],
        ),
        (
            (choice("Package", 3200.0, 5400.0, CANNOT_TELL, "low_capital", 500.0, options=("N11",)),),
            ("Planned eviction",),
            ["No cheap change clearly gains here. The best found is Planned eviction, worth 3,200 ± 5,400 CU: the runs "
             "cannot tell that from nothing."],
        ),
        (
            (choice("Setup cart", 5142.0, 3577.0, DO_IT, "low_capital", 5500.0),
             choice("Sheet loader", -92000.0, 12000.0, NOT_NOW, sales=54108.0),
             choice("Tool magazine", -190000.0, 9000.0, LOSES, sales=-16000.0)),
            (),
            ["Do first: Setup cart. It costs 5,500 CU and is worth 5,100 ± 3,600 CU.",
             "Buy nothing now: every purchase and every other shift plan costs more here than it brings.",
             "Freed hours also go into orders that today's cell would refuse. Their margin is in none of these values; "
             "with it and with avoided cost these are worth more than nothing, in CU: Sheet loader (54,100)."],
        ),
    ],
    ids=["nothing to do", "one cheap change", "all lose", "one wins", "cannot tell", "not now", "unsure package",
         "orders refused today"],
)  # fmt: skip
def test_the_answer_of_extreme_cases(choices, package, said):
    found = decision(choices, package, "CU", NUMBERS)
    assert list(found.paragraphs) == [*said, SURE]


def flip(name, typical, at, unit=""):
    return Flip(RiskInput(name, name, unit, 0.9 * typical, typical, 1.1 * typical, "", "", "", "triangular"), at, 0, 9)


@pytest.mark.parametrize(
    ("turn", "value", "text"),
    [
        (flip("demand", 1.25, 1.4), -5.0, "from 140 % of today's orders"),
        (flip("demand", 1.25, 1.1), 5.0, "from 110 % of today's orders"),
        (flip("subcontract", 115.0, 121.0, "CU/h"), -5.0, "from 121 CU/h of subcontract"),
        (flip("subcontract", 115.0, 109.0, "CU/h"), -5.0, "up to 109 CU/h of subcontract"),
        (None, -5.0, "nowhere in the ranges"),
        (None, 5.0, ""),
    ],
)
def test_where_a_choice_turns(turn, value, text):
    assert where_it_turns(turn, Estimate(value, 1.0, 6, "CU")) == text


def test_a_loss_turns_with_the_orders_it_wins_where_no_input_turns_it():
    loss = Estimate(-92000.0, 12000.0, 6, "CU")
    assert where_it_turns(None, loss, 54108.0) == "only with avoided cost and the orders it wins: 54,100"
    assert where_it_turns(flip("demand", 1.0, 1.3, "1"), loss, 54108.0).startswith("from 130 %")


def test_amounts_have_three_digits_and_nothing_spent_is_said():
    assert amount(98429.0, "CU") == "98,400 CU"
    assert amount(0.0, "CU") == "0 CU"
    assert doing_nothing({"overtime": 0.0}, "CU") == "nothing is bought for lack of time"
    assert (
        doing_nothing({"overtime": 12345.0, "subcontracting": 0.0}, "CU") == "goes on paying 12,300 CU overtime a year"
    )


@pytest.mark.parametrize(
    ("price", "text"), [(None, "not even a gift"), (math.nan, ""), (math.inf, "any price"), (33712.0, "33,700")]
)
def test_what_a_choice_is_worth_at_most(price, text):
    assert worth_at_most(price) == text
