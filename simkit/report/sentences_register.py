"""Sentences of the register of assumptions: what rests on guesses, and what to find out next."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.report.words import figures, listing, number, percent, plural

TIME, STOP, FAULT, CARE, MARKED = "time", "stop", "wrong load", "upkeep", "marks"
PRICE = "price or term"
"""What an input is of."""
BY_OPTION = "set by an option"
"""What a time rests on that an option replaces."""
NOBODY = "nobody"
NOTHING_NEXT = "No guess that could be measured moves the value"
BASIS_NOTE = (
    "Guesses are estimates, defaults and times that an option sets. What an input moves: the distance between the "
    "values of the case with that input alone at its low and at its high. The share is by value moved, not by how many "
    "inputs there are."
)


def words(name: str) -> str:
    """A code as words."""
    return name.replace("_", " ")


def not_valued() -> str:
    """Why there is nothing to rank."""
    return "No case is valued here: name options to see which input moves their value"


def register_title(count: int, guessed: int, share: float, case: str) -> str:
    """How many inputs are guesses, and how much of the answer rests on them."""
    head = f"{guessed} of {plural(count, 'input')} are guesses"
    return head if share != share else f"{head}; they carry {percent(share)} of what moves the value of {case}"


def register_note(ranked: int, fixed: int, currency: str, *, calibrated: bool) -> str:
    """What the register ranks, and what it leaves without a rank."""
    if not ranked:
        return not_valued()
    note = (
        f"Moves: {currency} between the values of the case at low and at high. {ranked} inputs are ranked. Times with "
        "a range and no rank move less: range times how often the book meets it. "
        f"{plural(fixed, 'input')} have no range, so nobody knows what they move: enter low and high. Share of the "
        "variance: of the sampled values, the input alone."
    )
    fitted = " Set-up times carry a factor that observed weeks gave; each by itself stays as it was entered."
    return note + (fitted if calibrated else "")


def basis_title(share: float, case: str) -> str:
    """How much of the answer rests on guesses."""
    return not_valued() if share != share else f"{percent(share)} of what moves the value of {case} rests on guesses"


def next_title(titles: Sequence[str], low: float, high: float, left: float, currency: str) -> str:
    """What to find out, and what it would bring."""
    now, then = (number(figures(width, 2), 0) for width in (high - low, (high - low) * left))
    these = {1: "this", 2: "these two", 3: "these three"}.get(len(titles), "these")
    brings = f"It would narrow the value, 8 cases in 10, from {now} to about {then} {currency} wide"
    return f"Measure {these} next: {listing(titles)}. {brings}"


def next_note(case: str, future: float) -> str:
    """How it is worked out, and what nobody can measure."""
    return (
        f"Of the guesses behind {case}. Range left: width of the range of values once this input and those above are "
        "known exactly, at best; by the share of the variance that they explain together in the samples, correlations "
        f"included. Demand, growth, residual value and ramp only time tells: {percent(future)} of the variance."
    )
