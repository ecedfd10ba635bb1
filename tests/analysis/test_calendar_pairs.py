"""Each bought option with each calendar option: what is simulated for it, and what stands beside it."""

from __future__ import annotations

import dataclasses

from simkit.analysis.calendar_pairs import CalendarPair, calendar_pairs, combinations_of_pairs
from simkit.plant.options import Range
from simkit.plant.plant import Plant
from simkit.plant.prices import without_prices
from tests.experiment.fake import option, plant_with_options


def plant_with_saturday(*more: object) -> Plant:
    """C1 needs A1 or A2, and B1; C2 needs nothing. A2 and A1 exclude each other."""
    plant = plant_with_options()
    return dataclasses.replace(plant, options=(*plant.options, option("C2", "calendar", 0.5), *more))


def pair_of(pairs: tuple[CalendarPair, ...], bought: str, calendar: str, on_package: bool = False) -> CalendarPair:
    (found,) = [p for p in pairs if (p.bought, p.calendar, p.on_package) == (bought, calendar, on_package)]
    return found


def test_every_bought_option_meets_every_calendar_option_alone_and_on_the_package() -> None:
    pairs = calendar_pairs(plant_with_saturday(), ("N1",))
    assert [(p.bought, p.calendar) for p in pairs if not p.on_package] == [
        ("A1", "C2"), ("A1", "C1"), ("A2", "C2"), ("A2", "C1"), ("B1", "C2"), ("B1", "C1"),
    ]  # fmt: skip
    assert len(pairs) == 12
    assert pair_of(pairs, "A1", "C2", on_package=True).options == ("N1", "A1", "C2")


def test_without_a_package_each_pair_stands_once() -> None:
    assert [p.on_package for p in calendar_pairs(plant_with_saturday())] == [False] * 6


def test_a_pair_that_needs_nothing_has_both_alone_beside_it() -> None:
    pair = pair_of(calendar_pairs(plant_with_saturday(), ("N1",)), "A1", "C2", on_package=True)
    assert pair.sets == (("N1",), ("N1", "A1"), ("N1", "C2"), ("N1", "A1", "C2"))


def test_a_calendar_option_stands_with_the_smallest_choice_that_holds_the_bought_one() -> None:
    pairs = calendar_pairs(plant_with_saturday())
    assert pair_of(pairs, "A2", "C1").options == ("A2", "B1", "C1")
    assert pair_of(pairs, "B1", "C1").options == ("A1", "B1", "C1"), "the cheaper variant A2 is not chosen"


def test_what_the_calendar_option_needs_has_no_worth_without_it() -> None:
    pair = pair_of(calendar_pairs(plant_with_saturday()), "A1", "C1")
    assert pair.needed
    assert pair.without_bought is None
    assert pair.sets == (("A1", "B1"), ("A1", "B1", "C1"))


def test_a_bought_option_that_is_not_needed_comes_on_top_of_what_is() -> None:
    pair = pair_of(calendar_pairs(plant_with_saturday(option("B2", "bought", 0.5))), "B2", "C1")
    assert (pair.options, pair.under, pair.needed) == (("A1", "B1", "C1", "B2"), ("A1", "B1"), False)
    assert pair.sets[2] == ("A1", "B1", "C1")


def test_a_pair_that_is_not_legal_says_why_and_simulates_nothing() -> None:
    pair = pair_of(calendar_pairs(plant_with_saturday(option("B2", "bought", 0.5, excludes=("B1",)))), "B2", "C1")
    assert "B1" in pair.refused
    assert (pair.options, pair.sets) == ((), ())


def test_needs_of_needs_come_with_it() -> None:
    """B3 needs B2; C3 needs B3 alone."""
    more = (
        option("B2", "bought", 0.5),
        option("B3", "bought", 0.6, needs=("B2",)),
        option("C3", "calendar", 0.7, needs=("B3",)),
    )
    pairs = calendar_pairs(plant_with_saturday(*more))
    assert pair_of(pairs, "A1", "C3").options == ("A1", "B2", "B3", "C3")
    assert pair_of(pairs, "B3", "C2").under == ("B2",)


def test_each_set_is_simulated_once() -> None:
    sets = combinations_of_pairs(calendar_pairs(plant_with_saturday(), ("N1",)))
    assert len(sets) == len(set(sets))
    assert sets[0] == ()
    assert ("A1", "B1", "C1") in sets


def test_of_choices_of_one_size_the_one_whose_dearest_is_cheapest_stands() -> None:
    """Dear one and cheap one (9 + 1) against two middling ones (6 + 5): the order of prices decides, not their sum."""
    priced = {"P1": 9.0, "P2": 1.0, "Q1": 6.0, "Q2": 5.0}
    plain = [option(name, "bought", 0.5, capital=Range(low=v, quoted=v, high=v)) for name, v in priced.items()]
    by_two = [option("W1", "bought", 0.5, needs=("P1", "P2")), option("W2", "bought", 0.5, needs=("Q1", "Q2"))]
    plant = plant_with_options()
    calendar = option("C9", "calendar", 0.5, needs=(("W1", "W2"),))
    plant = dataclasses.replace(plant, options=(*plant.options, *plain, *by_two, calendar))
    assert pair_of(calendar_pairs(plant), "B1", "C9").options == ("B1", "Q1", "Q2", "W2", "C9")
    assert calendar_pairs(without_prices(plant)) == calendar_pairs(plant)
