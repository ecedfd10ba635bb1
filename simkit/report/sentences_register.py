"""Sentences of the register of assumptions: what rests on guesses, and what to find out next."""

from __future__ import annotations

from collections.abc import Sequence

from simkit.report.words import figures, listing, number, percent, plural

TIME, STOP, FAULT, UPKEEP, MARKED = "time", "stop", "wrong load", "upkeep", "marks"
PRICE = "price or term"
"""What an input is of."""
BY_OPTION = "set by an option"
"""What a time rests on that an option replaces."""
NOBODY = "nobody"
NOT_VALUED = "No case is valued here: name options to see which input moves their value"
NOTHING_NEXT = "No guess that could be measured moves the value"


def words(name: str) -> str:
    """A code as words."""
    return name.replace("_", " ")


def register(
    count: int, guessed: int, share: float, case: str, ranked: int, fixed: int, currency: str, *, calibrated: bool
) -> tuple[str, str]:
    """How many inputs are guesses and how much of the answer rests on them; what is ranked, and what is not."""
    head = f"{guessed} of {plural(count, 'input')} are guesses"
    title = head if share != share else f"{head}; they carry {percent(share)} of what moves the value of {case}"
    fitted = " Set-up times carry a factor that observed weeks gave; each by itself stays as it was entered."
    return title, NOT_VALUED if not ranked else (
        f"Moves: {currency} between the values of the case at low and at high. {ranked} inputs are ranked. Times with "
        "a range and no rank move less: range times how often the book meets it. "
        f"{plural(fixed, 'input')} have no range, so nobody knows what they move: enter low and high. Share of the "
        f"variance: of the sampled values, the input alone.{fitted if calibrated else ''}"
    )


def basis(share: float, case: str) -> tuple[str, str]:
    """How much of the answer rests on guesses."""
    title = f"{percent(share)} of what moves the value of {case} rests on guesses"
    return NOT_VALUED if share != share else title, (
        "Guesses are estimates, defaults and times that an option sets. What an input moves: the distance between the "
        "values of the case with that input alone at its low and at its high. The share is by value moved, not by how "
        "many inputs there are."
    )


def measure_next(
    case: str, titles: Sequence[str], low: float, high: float, left: float, future: float, currency: str
) -> tuple[str, str]:
    """What to find out, and what it would bring; how it is worked out, and what nobody can measure."""
    now, then = (number(figures(width, 2), 0) for width in (high - low, (high - low) * left))
    these = {1: "this", 2: "these two", 3: "these three"}.get(len(titles), "these")
    brings = f"It would narrow the value, 8 cases in 10, from {now} to about {then} {currency} wide"
    return f"Measure {these} next: {listing(titles)}. {brings}", (
        f"Of the guesses behind {case}. Range left: width of the range of values once this input and those above are "
        "known exactly, at best; by the share of the variance that they explain together in the samples, correlations "
        f"included. Demand, growth, residual value and ramp only time tells: {percent(future)} of the variance."
    )
