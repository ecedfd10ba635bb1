"""Sentences of the calibration: the verdict, the one mark of every page, what fails and what is likely behind it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simkit.plant.calibration_file import HIGHEST, LOWEST, REPLAY, Calibration, CalibrationStanding, Check, Multiplier
from simkit.plant.tables import ObservedWeek
from simkit.report import cautions
from simkit.report.words import capitalised, listing, number, plural, signed

USES = {"calibrate": "fitted on", "validate": "held back"}
"""What an observed week is for, in words."""
MODELS = {"first guess": "first guess", REPLAY: "calibrated"}
"""Models in words."""
NOT_COMPARED = "The observed weeks could not be compared"
FOLLOWS = "order delay"
"""What goes wrong where anything does: it is looked at last."""
UNNAMED = "which stops.csv does not name"
"""What the fit notes of stops in the log that have no cause in the plant."""
CAUSES: dict[str, tuple[str, str]] = {
    "sheets": (
        "The model loses time that the plant does not: a stop too often, a time too long, people missing.",
        "The model loses too little time: a cause of stops, a wait or a time is missing, or it has more people.",
    ),
    "set-up": (
        "Search, fit, first piece or fetch are too short, or a kind of set-up is missing.",
        "Search, fit, first piece or fetch are too long, or part of it is done while the machine runs.",
    ),
    "loading and pulling out": (
        "Loading or pulling out takes longer than entered, most of all for heavy sheets.",
        "Loading or pulling out takes less than entered, or a lifter or helper is missing in the model.",
    ),
    "process": (
        "Run times are longer than estimated, or other losses keep the model from running.",
        "Run times are shorter than estimated, or the model loses too little time elsewhere.",
    ),
    "stopped": (
        "A cause of stops is missing in stops.csv, or its rate or its repair is too low.",
        "A cause of stops strikes too often, is cleared too slowly, or the weeks held back were lucky.",
    ),
    "order delay": (
        "The model has more hours or people than the plant, or too little is lost.",
        "The model has fewer hours or people than the plant, or orders that went out are still in its queue.",
    ),
}
"""Likely causes by measure: of a simulated value that is too low, and of one that is too high (of sheets, in turn)."""


def mark(standing: CalibrationStanding | None) -> str:
    """The one line of every page that says how far its numbers are those of the plant."""
    if standing is None:
        return cautions.UNCALIBRATED
    if standing.state == "valid" and standing.found:
        tested = _deciding(standing.found.held_back(REPLAY))
        return (
            f"Calibrated: on observed weeks that it had not seen, the model met all {len(tested)} tolerances agreed "
            "beforehand."
        )
    if standing.state == "failed" and standing.found:
        return f"Uncalibrated: on observed weeks the model fails. {_failures(standing.found)} The first guess stands."
    return f"Uncalibrated: the calibration is out of date. {capitalised(standing.why)}. The first guess stands."


def _deciding(checks: Sequence[Check]) -> list[Check]:
    return [check for check in checks if check.tolerance > 0]


def _failures(found: Calibration) -> str:
    """Which measures fail, in sentences of one each."""
    bound = [one for one in found.multipliers if one.bound]
    asked = [f"{capitalised(one.name)} would need {number(one.wanted)} times what was entered." for one in bound]
    return " ".join([*asked, *(f"{capitalised(_missed(check))}." for check in found.failed)])


def _missed(check: Check) -> str:
    return f"{check.measure}: {number(check.simulated)} {check.unit} simulated, {number(check.observed)} observed"


def off(check: Check) -> str:
    """How far a simulated value lies off, in the unit of its tolerance, and whether that is too far."""
    by = f"{signed(check.difference, 1)} points" if check.unit == "%" else f"{signed(100 * check.difference, 0)} %"
    return by if check.holds else f"{by}: misses"


def tolerance(check: Check) -> str:
    """The tolerance in words."""
    if not check.tolerance:
        return "none agreed"
    return f"±{number(check.tolerance, 0)} points" if check.unit == "%" else f"±{number(100 * check.tolerance, 0)} %"


def answer(state: str, found: Calibration, weeks: Sequence[ObservedWeek], why: str) -> Iterator[str]:
    """What the observed weeks say of the model."""
    guess, judged = found.held_back("first guess"), found.held_back(REPLAY)
    if state == "valid":
        missed = [check for check in guess if not check.holds]
        tested = _deciding(judged)
        yield (
            f"The model is fitted to {plural(_count(weeks, 'calibrate'), 'observed week')} and was then tried on "
            f"{plural(_count(weeks, 'validate'), 'week')} that it had not seen. All {len(tested)} measures lie within "
            "the tolerances agreed beforehand."
        )
        yield _first_guess(missed, len(tested))
    elif state == "failed":
        yield f"This model is not yet the plant. {_failures(found)}"
        if found.failed:
            own = [check for check in found.failed if not check.measure.startswith(FOLLOWS)]
            worst = _worst(own or found.failed)
            yield f"Where to look first, for {worst.measure}: {likely_cause(worst, found.notes)}"
        yield "Until that is put right the first guess stands, and pages about options stay pale."
    elif state == "out of date":
        yield f"The calibration counts no longer: {why}. Fit again: simkit fit PLANT."
        yield "Until then the first guess stands, and pages about options stay pale. What follows compares that guess."
    else:
        yield "Nobody has fitted this model to the observed weeks yet. It takes one command: simkit fit PLANT."
    if state in ("never", "out of date") and guess:
        yield _first_guess([check for check in guess if not check.holds], len(_deciding(guess)))
    if not guess:
        yield f"{NOT_COMPARED}: {why}."


def _first_guess(missed: Sequence[Check], tested: int) -> str:
    if not missed:
        return "As first guessed it meets them all too; that is no calibration, but no bad sign."
    return f"As first guessed, {len(missed)} of {tested} measures miss. Farthest off: {_missed(_worst(missed))}."


def _worst(missed: Sequence[Check]) -> Check:
    return max(missed, key=lambda check: abs(check.difference) / check.tolerance)


def _count(weeks: Sequence[ObservedWeek], use: str) -> int:
    return sum(week.use == use for week in weeks)


def verdict(checks: Sequence[Check], judged: str) -> tuple[str, str]:
    """How many measures hold."""
    tested = _deciding(checks)
    hold = sum(check.holds for check in tested)
    of = "calibrated" if judged == REPLAY else "as first guessed"
    title = (
        f"On the weeks held back {len(tested) - hold} of {len(tested)} measures of the model, {of}, miss the tolerance"
    )
    if hold == len(tested):
        title = f"On the weeks held back all {len(tested)} measures of the model, {of}, lie within the tolerance"
    return title, (
        "All weeks held back together, with the orders in the sequence in which they were really made. Tolerances were "
        "agreed before anything was compared: sheets 5 %, set-up hours 10 %, shares of attended time 3 points, order "
        "delay 15 % (common practice, no source). Delay: hours of the shifts from the start of the day of release to "
        "the last sheet."
    )


def weeks(found: Calibration, judged: str) -> tuple[str, str]:
    """How many observed values of single weeks lie in the band."""
    own = [check for check in found.checks if check.run == judged and check.week]
    inside = sum(check.low <= check.observed <= check.high for check in own)
    of = "the calibrated model" if judged == REPLAY else "the first guess"
    title = f"{inside} of {len(own)} observed values of single weeks lie in the band of {of}"
    return title if own else NOT_COMPARED, (
        "Bar: 9 in 10 repetitions of the same week. So would be 9 in 10 dots if the model knew all that makes weeks "
        "differ; fewer say that the plant's weeks differ more. On the right of each panel the mean of the weeks held "
        "back, with the tolerance agreed: the verdict is about that mean."
    )


def likely_cause(check: Check, notes: Sequence[str] = ()) -> str:
    """Where to look first, by the measure that misses and to which side, with what the fit noted about it."""
    start = next((name for name in CAUSES if check.measure.startswith(name)), "")
    low, high = CAUSES.get(start, ("", ""))
    if start != "stopped" or check.difference > 0:
        return low if check.difference < 0 else high
    return " ".join([low, *(f"{capitalised(text)}." for text in notes if UNNAMED in text)])


def misses(count: int, run: str, state: str) -> tuple[str, str]:
    """What misses, of which model."""
    of = "As first guessed" if run != REPLAY else "Calibrated"
    if not count:
        return f"{of}, nothing misses on the weeks held back", ""
    now = "; calibrated, none does" if state == "valid" else ""
    title = f"{of}, {plural(count, 'measure')} of the weeks held back {'miss' if count > 1 else 'misses'}{now}"
    return title, "A likely cause is where to look first, by how such models usually miss (common practice, no source)."


def factor_note(one: Multiplier) -> str:
    """Why a factor is what it is."""
    if one.bound:
        return "the weeks ask for more than the bounds allow without a note"
    return "chance alone may ask for it" if one.value == 1 else ""


def factors(found: Sequence[Multiplier], state: str) -> tuple[str, str]:
    """Which groups are moved."""
    moved = [f"{one.name} times {number(one.value)}" for one in found if one.value != 1]
    title = f"What the log left open, the weeks settle: {listing(moved) if moved else 'no group has to move'}"
    none = "No factor is in force" if state in ("never", "out of date") else "No factor was asked for"
    return title if found else none, (
        "A factor multiplies all times, or rates, of its group. It is 1 where chance alone in so few weeks may ask for "
        f"another, and stays within {LOWEST:g} to {HIGHEST:g} without a note. The range, 95 %, is that of what the "
        "weeks ask for."
    )


def laws(found: Sequence[object], state: str) -> tuple[str, str]:
    """How many times and rates come from the plant's own log."""
    none = "No time or rate was fitted" if state not in ("never", "out of date") else "No fitted time is in force"
    title = f"Times and rates that come from the plant's own log or measurements: {len(found)}"
    note = "Low and high hold the mean, 95 %. Of the log only the weeks that were fitted on are read."
    return title if found else none, note


def left_title(count: int) -> str:
    """How much could not be told."""
    return f"{plural(count, 'thing')} that the log and the weeks could not tell" if count else "The fit noted nothing"


def row_name(path: str) -> str:
    """A row in words: 'elements[load|mass_kg>25]' reads 'load (mass_kg>25)'."""
    inside, _, field = path.partition("[")[2].partition("]")
    name, _, condition = inside.partition("|")
    words = name.replace("_", " ")
    words += {".rate": ", how often", ".repair_min": ", minutes"}.get(field, "")
    return f"{words} ({condition})" if condition else words
