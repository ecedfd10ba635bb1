"""The search for a set on boards made by hand: every value is known, so the best set is too."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from simkit.analysis.option_sets import Options
from simkit.analysis.set_search import search
from simkit.experiment.intervals import Estimate, t_interval

LUCK = np.array([-1.0, 1.0, 2.0, -2.0])


class HandBoard:
    """Values by set: a mean, and optionally how far it goes with the luck of four replications."""

    def __init__(
        self, worth: Callable[[Options], float], unsure: Mapping[Options, float] | None = None, **rules: Any
    ) -> None:
        self.worth, self.unsure = worth, unsure or {}
        self.illegal: Callable[[Options], str] = rules.get("illegal", lambda _: "")
        self.unfit: Callable[[Options], str] = rules.get("unfit", lambda _: "")
        self.costs: Mapping[Options, tuple[float, float]] = rules.get("costs", {})
        self.known: list[Options] = [()]

    def add(self, sets: Iterable[Options]) -> None:
        for options in sets:
            assert not self.illegal(options)
            self.known += [options] if options not in self.known else []

    def why_illegal(self, options: Options) -> str:
        return self.illegal(options)

    def why_not(self, options: Options) -> str:
        return self.unfit(options)

    def score(self, options: Options) -> float:
        assert options in self.known
        return self.worth(options) if options else 0.0

    def gain(self, options: Options, against: Options) -> Estimate:
        apart = self.unsure.get(options, 0.0) - self.unsure.get(against, 0.0)
        return t_interval(self.score(options) - self.score(against) + apart * LUCK)

    def cost(self, options: Options) -> tuple[float, float]:
        return self.costs.get(options, (0.0, 0.0))


def summed(values: Mapping[str, float], **together: float) -> Callable[[Options], float]:
    """Each option's own value, and what pairs (``AB``) are worth beyond the sum."""

    def worth(options: Options) -> float:
        pairs = ("".join(sorted(pair)) for pair in combinations(options, 2))
        return sum(values[name] for name in options) + sum(together.get(pair, 0.0) for pair in pairs)

    return worth


def found_on(board: HandBoard, names: str) -> Options:
    return search(board, tuple(names))


def test_steps_take_what_gains_most_and_leave_what_loses() -> None:
    board = HandBoard(summed({"A": 10.0, "B": 25.0, "C": -4.0}))
    found = found_on(board, "ABC")
    assert found == ("A", "B")


def test_backward_mends_what_forward_alone_gets_wrong() -> None:
    """A looks best alone, but B and C together do all that it does: with both, A loses 16."""
    worth = summed({"A": 50.0, "B": 40.0, "C": 45.0}, AB=-33.0, AC=-33.0)
    board = HandBoard(worth)
    found = found_on(board, "ABC")
    assert worth(("A", "B", "C")) - worth(("B", "C")) == -16.0
    assert found == ("B", "C")


def test_after_a_member_went_another_may_come() -> None:
    """D is worth something only where A is not."""
    board = HandBoard(summed({"A": 50.0, "B": 40.0, "C": 45.0, "D": 9.0}, AB=-33.0, AC=-33.0, AD=-20.0))
    assert found_on(board, "ABCD") == ("B", "C", "D")


def test_a_gain_of_nil_is_not_taken() -> None:
    found = found_on(HandBoard(summed({"A": 10.0, "B": 0.0})), "AB")
    assert found == ("A",)


def test_the_last_digits_of_a_double_are_no_gain() -> None:
    found = found_on(HandBoard(lambda options: 1e-9 * len(options)), "A")
    assert found == ()


def test_a_gain_whose_interval_holds_zero_is_not_taken() -> None:
    """Half-width of 4 values -1, 1, 2, -2 times 8: 3.18 x 8 x 1.826 / 2 = 23.2, more than the 20 gained."""
    board = HandBoard(summed({"A": 20.0, "B": 10.0}), unsure={("A",): 8.0, ("A", "B"): 8.0})
    found = found_on(board, "AB")
    assert found == ("B",)


def test_a_member_that_adds_nothing_any_more_goes() -> None:
    board = HandBoard(summed({"A": 30.0, "B": 20.0, "C": 15.0}, AB=-15.0, AC=-15.0, BC=5.0))
    found = found_on(board, "ABC")
    assert found == ("B", "C")


@pytest.mark.parametrize(
    ("costs", "found"),
    [
        ({("A",): (9.0, 1.0), ("B",): (5.0, 2.0)}, ("B",)),
        ({("A",): (5.0, 3.0), ("B",): (5.0, 2.0)}, ("B",)),
        ({("A",): (5.0, 2.0), ("B",): (5.0, 2.0)}, ("A",)),
    ],
)
def test_ties_go_by_capital_then_by_hours_then_by_order(costs: Any, found: Options) -> None:
    """Values that differ in the last digits of a double are equal."""
    values = {"A": 0.1 + 0.2, "B": 0.3}
    board = HandBoard(
        summed(values), costs=costs, illegal=lambda options: "they exclude each other" if len(options) > 1 else ""
    )
    assert search(board, ("A", "B")) == found


def test_only_sets_that_can_be_recommended_compete() -> None:
    """A brings most and refuses orders; C helps only beside it."""
    board = HandBoard(
        summed({"A": 90.0, "B": 10.0, "C": -1.0}, AC=50.0), unfit=lambda s: "refuses orders" if "A" in s else ""
    )
    found = found_on(board, "ABC")
    assert found == ("B",)


def test_a_member_stays_where_the_rest_cannot_be_recommended_or_is_not_legal() -> None:
    """Without A the rest refuses orders; C needs B."""

    def illegal(options: Options) -> str:
        return "C needs B" if "C" in options and "B" not in options else ""

    board = HandBoard(
        summed({"A": 20.0, "B": 15.0, "C": 30.0}, AB=-8.0, AC=-25.0), illegal=illegal,
        unfit=lambda s: "refuses orders" if s and "A" not in s else "",
    )  # fmt: skip
    found = found_on(board, "ABC")
    assert found == ("A", "B", "C")


def test_a_smaller_set_that_was_simulated_for_another_reason_wins_if_it_is_as_good() -> None:
    """B alone is worth most, but not surely; nothing that lies one member below A, B and C is."""
    values = {("A",): 20.0, ("B",): 30.0, ("C",): 1.0, ("A", "B"): 25.0, ("A", "C"): 21.0, ("B", "C"): 22.0,
              ("A", "B", "C"): 28.0}  # fmt: skip
    found = found_on(HandBoard(values.__getitem__, unsure={("B",): 20.0}), "ABC")
    assert found == ("B",)


def test_what_can_no_longer_be_the_best_waits_and_what_surely_lost_is_not_tried_again() -> None:
    board = HandBoard(summed({"A": 40.0, "B": 30.0, "C": 5.0, "D": -9.0}))
    found_on(board, "ABCD")
    assert board.known.index(("A", "C")) > board.known.index(("A", "B", "C")), "its last gain was below that of B"
    assert [options for options in board.known if "D" in options] == [("D",)]


def test_what_gains_little_alone_and_much_together_is_found_from_the_large_set() -> None:
    """A alone is no sure gain, nor B: together they are worth 60. C and D add nothing to them, and go at once."""
    worth = summed({"A": 5.0, "B": 5.0, "C": -0.5, "D": -1.0, "E": 20.0}, AB=50.0)
    unsure = {("A",): 8.0, ("B",): 8.0, ("A", "E"): 8.0, ("B", "E"): 8.0}
    assert search(HandBoard(worth, unsure), tuple("ABCDE")) == ("E",)
    board = HandBoard(worth, unsure)
    assert search(board, tuple("ABCDE"), lambda: tuple("ABCDE")) == ("A", "B", "E")
    assert board.gain(tuple("ABCDE"), ("E",)).mean == 58.5
    assert ("A", "B", "D", "E") in board.known, "one member left out at a time"
    assert board.known.index(("A", "B", "E")) < 16, "and then C and D at once"


@pytest.mark.parametrize(
    ("large", "unsure", "unfit"),
    [("ABE", 60.0, ""), ("ABE", 0.0, "late"), ("E", 0.0, ""), ("", 0.0, "")],
    ids=["not surely better", "not recommendable", "no more than was found", "none"],
)
def test_the_large_set_is_left_where_it_does_not_surely_win(large: str, unsure: float, unfit: str) -> None:
    board = HandBoard(
        summed({"A": -1.0, "B": -1.0, "E": 20.0}, AB=50.0), {tuple("ABE"): unsure},
        unfit=lambda options: unfit if options == tuple("ABE") else "",
    )  # fmt: skip
    assert search(board, tuple("ABE"), lambda: tuple(large)) == ("E",)


@pytest.mark.parametrize("seed", range(30))
def test_no_subset_that_was_run_is_worth_more_than_what_was_found(seed: int) -> None:
    """Random values of all sets of five options, ties among them: the set found beats every subset of it that was run,
    no member can go without a loss, and nothing that was tried beside it surely gains."""
    generator = np.random.default_rng(seed)
    names = tuple("ABCDE")
    sets = [options for size in range(1, 6) for options in combinations(names, size)]
    values = {options: float(generator.integers(-20, 60)) for options in sets}
    unsure = {options: float(generator.integers(0, 10)) for options in sets}
    board = HandBoard(values.__getitem__, unsure, unfit=lambda s: "late" if values.get(s, 0) % 7 == 1 else "")
    found = search(board, names, lambda: names)
    assert not board.why_not(found)
    if board.gain(names, found).tells and not board.why_not(names):
        assert board.score(names) <= board.score(found)
    for options in board.known:
        if set(options) < set(found) and not board.why_not(options):
            assert board.score(options) < board.score(found)
    for name in found:
        assert tuple(other for other in found if other != name) in board.known
    beside = [options for options in board.known if set(found) < set(options) and len(options) == len(found) + 1]
    gains = {options: board.gain(options, found) for options in beside if not board.why_not(options)}
    assert not any(gain.tells and gain.mean > 0 for gain in gains.values())
