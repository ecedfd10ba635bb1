"""Posts: paid hours that options add, and whole posts that they let go. A scenario pays its own roster, always.

Late or refused orders and minimum attendance never change an amount: they say whether a scenario can be recommended.
"""

from __future__ import annotations

from collections.abc import Callable

from simkit.finance.costs import cost_row
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import CASH_RELEASING, NOT_MONETISED, CashRow, Factor, price_level
from simkit.finance.roster import Post, Roster
from simkit.finance.timeline import Schedule
from simkit.plant.settings_money import Finance


def added_rows(
    scenario: ScenarioTotals, today: ScenarioTotals, prices: Prices, finance: Finance, use: Schedule, owner: str
) -> list[CashRow]:
    """Posts that come in addition, and longer weeks of today's people: at the overtime premium, or by invoice."""
    rows, before, people = [], today.roster.by_person, prices.people
    for post in scenario.roster.posts:
        known = before.get(post.person_id)
        more = post.h_per_week - (known.h_per_week if known else 0.0)
        if more <= 0:
            continue
        rate = post.cost_per_week(people.night_premium) / post.h_per_week
        how = "by invoice" if post.agency else "with night hours at their premium"
        if known is not None and not post.agency:
            rate, how = post.rate_per_h * (1.0 + people.overtime_premium), "with overtime premium"
        weekly = ((-more, "h/week more"), (rate, f"{prices.currency}/h {how}"))
        rows += _yearly(scenario.name, "posts_added", weekly, finance, use.in_use, "of the year in use", owner,
                        post.person_id)  # fmt: skip
    return rows


def posts_rows(
    scenario: ScenarioTotals, today: ScenarioTotals, prices: Prices, finance: Finance, use: Schedule, owner: str
) -> list[CashRow]:
    """Whole posts and agency hours given up, per year after the ramp. Parts of an own post are hours without money."""
    whole, parts = posts_given_up(today.roster, scenario.roster)
    rows, night = [], prices.people.night_premium
    after_ramp = "of the year, after the ramp"
    for post in whole:
        weekly: tuple[Factor, ...] = (
            (post.h_per_week, "h/week"),
            (post.cost_per_week(night) / post.h_per_week, f"{prices.currency}/h with night hours at their premium"),
        )
        rows += _yearly(scenario.name, "posts", weekly, finance, use.settled, after_ramp, owner, post.person_id)
    for post in parts:
        none = ((post.h_per_week, "h/week"), (0.0, "money: not a whole post, duties elsewhere"))
        rows += _yearly(scenario.name, "posts", none, finance, use.settled, after_ramp, owner, post.person_id,
                        NOT_MONETISED)  # fmt: skip
    for post, less in agency_given_up(today.roster, scenario.roster):
        cost = post.cost_per_week(night) / post.h_per_week
        weekly = ((less, "h/week less"), (cost, f"{prices.currency}/h by invoice"))
        rows += _yearly(scenario.name, "agency", weekly, finance, use.settled, after_ramp, owner, post.person_id)
    return rows


def _yearly(
    name: str, line: str, weekly: tuple[Factor, ...], finance: Finance, share: Callable[[int], float], what: str,
    owner: str, item: str, kind: str = CASH_RELEASING,
) -> list[CashRow]:  # fmt: skip
    rows = []
    for year in range(1, finance.horizon_years + 1):
        wages = (price_level(finance, line, year), "wage growth")
        factors = (*weekly, (finance.production_weeks, "weeks"), wages, (share(year), what))
        rows.append(cost_row(name, year, line, factors, owner, kind=kind, item=item))
    return rows


def posts_given_up(today: Roster, option: Roster) -> tuple[tuple[Post, ...], tuple[Post, ...]]:
    """Posts of today that the option does not have: whole ones, and those with duties elsewhere."""
    gone = [
        post
        for post in today.posts
        if post.person_id not in option.by_person and post.h_per_week > 0 and not post.agency
    ]
    return tuple(post for post in gone if post.whole), tuple(post for post in gone if not post.whole)


def agency_given_up(today: Roster, option: Roster) -> tuple[tuple[Post, float], ...]:
    """Agency posts of today with the hours a week that the option does not need; parts of a post count here."""
    found = []
    for post in today.posts:
        kept = option.by_person.get(post.person_id)
        less = post.h_per_week - (kept.h_per_week if kept else 0.0)
        if post.agency and less > 0:
            found.append((post, less))
    return tuple(found)


def roster_problem(today: Roster, option: Roster, minimum_attendance: int) -> str:
    """Why a reduced roster cannot be kept: too few people in a shift it still works, or a skill nobody covers."""
    for shift in {post.shift for post in option.posts}:
        present = sum(post.shift == shift for post in option.posts)
        if present < min(minimum_attendance, sum(post.shift == shift for post in today.posts)):
            return f"only {present} in shift {shift}, minimum {minimum_attendance}"
    lost = {s for post in today.posts for s in post.skills} - {s for post in option.posts for s in post.skills}
    return f"nobody left for {', '.join(sorted(lost))}" if lost else ""
