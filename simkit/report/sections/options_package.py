"""Sections on the best low-capital package: the set itself, its rival in hours, and how it was chosen."""

from __future__ import annotations

from simkit.analysis.package import SELECT_ON
from simkit.analysis.set_search import Trial
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.study import Study
from simkit.report.studydata import TODAY
from simkit.report.words import NO_BREAK, listing, number, percent, percent_plus_minus, plural, plus_minus

NO_CANDIDATES = "This plant lists no low-capital option, so there is no package."


def how_it_was_chosen(study: Study) -> tuple[Block, ...]:
    """The package beside the set with the fewest hours, and, folded, every step of the choice."""
    if not study.run.package_trail:
        return (paragraph(NO_CANDIDATES),)
    return (_two_sets(study), _steps(study))


def _two_sets(study: Study) -> Block:
    rival = study.run.fewest_hours
    names = dict.fromkeys(name for name in (study.package, rival) if study.has(name, NEEDED))
    chosen = "no option" if study.package == TODAY else study.described(study.package)
    title = f"The low-capital package, the set with the highest headline value, is {chosen}"
    if rival != study.package:
        saved = study.per_week(study.package, NEEDED).mean - study.per_week(rival, NEEDED).mean
        title += f"; {study.described(rival)} need {number(saved)}{NO_BREAK}h a week less and are worth less"
    columns = [
        "set", "what", "hours needed, h per week", "late orders, %", f"capital, {study.currency}",
        "named labour, h a year", "owner", "gain kept after a year",
    ]  # fmt: skip
    return table(title, columns, [_set_row(study, name) for name in names], words=[0, 5], note=(
        "One set for the whole path of signed demand. Hours and lateness on the report's own replications, mean ± "
        f"95 %, at demand {study.demand_factor:g}; what each is worth stands in the study of payback. Only sets that "
        "can be recommended compete; the set with the fewest hours is that of all sets tried."))  # fmt: skip


def _set_row(study: Study, name: str) -> Row:
    options = study.options_of(name)
    cells = (
        study.described(name),
        plus_minus(study.per_week(name, NEEDED)),
        percent_plus_minus(study.total(name, "late_share")),
        number(study.capital(name), 0),
        number(sum(option.yearly_labour_h for option in options), 0),
        listing(dict.fromkeys(option.owner or "not named" for option in options)),
        percent(min((option.persistence.quoted for option in options), default=1.0)),
    )
    return Row(study.named(name), cells, "total" if name == study.package else "")


def _steps(study: Study) -> Block:
    trail = study.run.package_trail
    tried = plural(len(trail), "step")
    columns = ["beside", "step", f"gain in value, {study.currency}", "why taken or not"]
    inner = table(f"{tried} tried on the way to the package", columns, [_step_row(one) for one in trail],
                  words=[0, 2], note=(
        f"Gain in headline net present value at quoted prices, paired, mean ± 95 %, from {SELECT_ON} replications that "
        "served the choice alone. Forward, the option with the largest gain whose interval excludes zero is added; an "
        "option that surely lost, or whose last gain is below the best, waits. Backward, a member goes whose removal "
        "loses nothing. Equal values go by capital, then by hours."))  # fmt: skip
    return Block("folded", {"summary": f"How the package was chosen: {tried}", "parts": [inner]}, inner.text)


def _step_row(one: Trial) -> Row:
    gain = "–"
    if one.gain is not None and one.half_width is not None:
        gain = plus_minus(Estimate(one.gain, one.half_width, SELECT_ON), 0, difference=True)
    cells = (f"{one.move} {'+'.join(one.changed)}", gain, one.why)
    return Row("+".join(one.package) or TODAY, cells, "total" if one.taken else "")
