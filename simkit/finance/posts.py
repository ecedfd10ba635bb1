"""Posts: paid hours that options add, and whole posts that they let go. A scenario pays its own roster, always.

Late or refused orders and minimum attendance never change an amount: they say whether a scenario can be recommended.
"""

from __future__ import annotations

from collections.abc import Sequence

from simkit.finance.arrays import Value
from simkit.finance.ledger import Ledger
from simkit.finance.lines import CASH_RELEASING, NOT_MONETISED
from simkit.finance.roster import Post, Roster
from simkit.finance.timeline import Schedule


def added_posts(ledger: Ledger, today: Roster, option: Roster, use: Schedule) -> None:
    """Posts that come in addition, and longer weeks of today's people: at the overtime premium, or by invoice."""
    before, people = today.by_person, ledger.prices.people
    in_use = (use.in_use(ledger.years), "of the year in use")
    for post in option.posts:
        known = before.get(post.person_id)
        more = post.h_per_week - (known.h_per_week if known else 0.0)
        if more <= 0:
            continue
        rate = post.cost_per_week(people.night_premium) / post.h_per_week
        how = "by invoice" if post.agency else "with night hours at their premium"
        if known is not None and not post.agency:
            rate, how = post.rate_per_h * (1.0 + people.overtime_premium), "with overtime premium"
        _yearly(ledger, "posts_added", ((-more, "h/week more"), (rate, f"{ledger.unit}/h {how}")), in_use, post)


def posts_saved(ledger: Ledger, today: Roster, option: Roster, use: Schedule) -> None:
    """Whole posts and agency hours given up, per year after the ramp. Parts of an own post are hours without money."""
    (whole, parts), night = posts_given_up(today, option), ledger.prices.people.night_premium
    settled = (use.settled(ledger.years), "of the year, after the ramp")
    for post in whole:
        cost = (post.cost_per_week(night) / post.h_per_week, f"{ledger.unit}/h with night hours at their premium")
        _yearly(ledger, "posts", ((post.h_per_week, "h/week"), cost), settled, post)
    for post in parts:
        none = (0.0, "money: not a whole post, duties elsewhere")
        _yearly(ledger, "posts", ((post.h_per_week, "h/week"), none), settled, post, NOT_MONETISED)
    for post, less in agency_given_up(today, option):
        cost = (post.cost_per_week(night) / post.h_per_week, f"{ledger.unit}/h by invoice")
        _yearly(ledger, "agency", ((less, "h/week less"), cost), settled, post)


def _yearly(
    ledger: Ledger, line: str, weekly: Sequence[tuple[Value, str]], share: tuple[Value, str], post: Post,
    kind: str = CASH_RELEASING,
) -> None:  # fmt: skip
    wages = (ledger.level(line), "wage growth")
    factors = (*weekly, (ledger.finance.production_weeks, "weeks"), wages, share)
    ledger.yearly(line, factors, kind=kind, item=post.person_id)


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
