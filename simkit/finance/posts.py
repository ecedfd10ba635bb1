"""Posts: paid hours that options add, and whole posts that they let go."""

from __future__ import annotations

from collections.abc import Callable

from simkit.finance.costs import cost_row
from simkit.finance.inputs import Prices, ScenarioTotals
from simkit.finance.lines import CASH_RELEASING, NOT_MONETISED, CashRow, Factor, price_level
from simkit.finance.roster import Post, Roster
from simkit.finance.timeline import Schedule
from simkit.plant.settings_money import Finance

GROWING_SHARE = 0.05
"""Share of replications with a growing backlog above which due dates are not met (common practice, no source)."""


def added_rows(
    scenario: ScenarioTotals, today: ScenarioTotals, prices: Prices, finance: Finance, use: Schedule, owner: str
) -> list[CashRow]:
    """Posts that come in addition, and longer weeks of today's people at the overtime premium."""
    rows, before = [], today.roster.by_person
    premium, unit = prices.people.overtime_premium, prices.currency
    for post in scenario.roster.posts:
        known = before.get(post.person_id)
        more = post.h_per_week - (known.h_per_week if known else 0.0)
        if more <= 0:
            continue
        if known is None:
            cost: tuple[Factor, ...] = (
                (-post.cost_per_week(prices.people.night_premium), f"{unit}/week for {more:.4g} h"),
            )
        else:
            cost = ((-more, "h/week more"), (post.rate_per_h * (1.0 + premium), f"{unit}/h with overtime premium"))
        rows += _yearly(scenario.name, "posts_added", cost, finance, use.in_use, owner, post.person_id)
    return rows


def _yearly(
    name: str, line: str, weekly: tuple[Factor, ...], finance: Finance, share: Callable[[int], float], owner: str,
    item: str,
) -> list[CashRow]:  # fmt: skip
    rows = []
    for year in range(1, finance.horizon_years + 1):
        wages = (price_level(finance, line, year), "wage growth")
        factors = (*weekly, (finance.production_weeks, "weeks"), wages, (share(year), "of the year in use"))
        rows.append(cost_row(name, year, line, factors, owner, item=item))
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


def late_problem(scenario: ScenarioTotals, factor: float, limit: float) -> str:
    """Why the roster does not meet due dates when simulated at a demand factor; raises KeyError without measures.

    Work that is refused, as a share of the hours needed, counts as late: a due date is not kept by saying no.
    """
    refused = scenario.per_week("unmet_h", factor) / scenario.per_week("hours_needed", factor)
    late, grows = scenario.per_week("late_share", factor) + refused, scenario.worst("backlog_grows", factor)
    if late > limit:
        return f"{100 * late:.3g} % of orders late or refused, limit {100 * limit:.3g} %"
    if grows > GROWING_SHARE:
        return f"backlog grows in {100 * grows:.3g} % of replications"
    return ""


def posts_rows(
    scenario: ScenarioTotals, today: ScenarioTotals, prices: Prices, finance: Finance, use: Schedule,
    factors: tuple[float, ...], owner: str, counted: bool,
) -> list[CashRow]:  # fmt: skip
    """Whole posts and agency hours given up, per year, if the reduced roster meets due dates at that year's demand.

    Otherwise, and for parts of an own post, the hours are shown with no money. ``factors`` is the highest demand in
    each of the years 1 on.
    """
    whole, parts = posts_given_up(today.roster, scenario.roster)
    agency = agency_given_up(today.roster, scenario.roster)
    if not counted or not (whole or parts or agency):
        return []
    fixed = roster_problem(today.roster, scenario.roster, prices.people.minimum_attendance)
    limit, unit, rows = prices.rules.late_share_limit, prices.currency, []
    for year, factor in enumerate(factors, 1):
        problem = fixed or late_problem(scenario, factor, limit)
        for post in (*whole, *parts):
            why = problem or ("" if post.whole else "not a whole post: duties elsewhere")
            basis: tuple[Factor, ...] = (
                (post.cost_per_week(prices.people.night_premium), f"{unit}/week for {post.h_per_week:.4g} h"),
                (finance.production_weeks, "weeks"), (price_level(finance, "posts", year), "wage growth"),
                (0.0 if why else use.settled(year), "of the year, after the ramp"),
            )  # fmt: skip
            kind = NOT_MONETISED if why else CASH_RELEASING
            rows.append(cost_row(scenario.name, year, "posts", basis, owner, kind=kind, item=post.person_id, note=why))
        for post, less in agency:
            cost = post.cost_per_week(prices.people.night_premium) / post.h_per_week
            basis = (
                (less, "h/week less"), (cost, f"{unit}/h by invoice"), (finance.production_weeks, "weeks"),
                (price_level(finance, "agency", year), "wage growth"),
                (0.0 if problem else use.settled(year), "of the year, after the ramp"),
            )  # fmt: skip
            kind = NOT_MONETISED if problem else CASH_RELEASING
            rows.append(
                cost_row(scenario.name, year, "agency", basis, owner, kind=kind, item=post.person_id, note=problem)
            )
    return rows
