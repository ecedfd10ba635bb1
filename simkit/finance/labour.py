"""Labour, the same in both directions: what the work of people costs beyond the hours they are paid for anyway.

A group is the people of one shift and the same skills. Their paid hours are the roster's, net of breaks and absence;
their load is what they are busy in a mean week. Hours moved to or freed from people inside the plant's utilisation
limit cost and release nothing. What exceeds it costs overtime up to its cap, then whole posts. Every scenario pays
its own excess, so that a change and its reverse are worth the same with opposite signs.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from simkit.base.vocabulary import ON_CALL
from simkit.finance.benefits import Gain, Pair, Spending
from simkit.finance.casearrays import PerCase, whole_up
from simkit.finance.inputs import Prices, WeeklyAmounts
from simkit.finance.ledger import Factor, Ledger
from simkit.finance.lines import CASH_RELEASING, NOT_MONETISED
from simkit.finance.roster import Post, Roster
from simkit.finance.timeline import Schedule

Group = tuple[str, tuple[str, ...]]
"""Shift and skills, in the order of their names."""

BUSY = "busy_h_"


@dataclass(frozen=True, eq=False)
class Excess:
    """A group's labour beyond its limit in a mean week: hours of overtime at a price, and posts at a weekly cost."""

    overtime: Spending
    posts: PerCase
    post_per_week: PerCase


def groups_of(roster: Roster) -> dict[Group, tuple[Post, ...]]:
    """Posts by group. People on call are paid by the call and belong to none."""
    found: dict[Group, tuple[Post, ...]] = {}
    for post in roster.posts:
        if post.shift != ON_CALL:
            key = (post.shift, tuple(sorted(post.skills)))
            found[key] = (*found.get(key, ()), post)
    return found


def excess_of(posts: tuple[Post, ...], load_h: PerCase, prices: Prices) -> Excess:
    """What a group's load costs beyond the limit of its paid hours.

    The first hours of the excess, up to the plant's cap of overtime, are paid with the premium; the rest needs whole
    posts, each of the mean paid hours and cost of the group, of which the limit can be used.
    """
    paid_h = sum(post.present_h_per_week for post in posts)
    beyond = np.maximum(0.0, load_h - prices.people.utilisation_limit * paid_h)
    rate = sum(post.rate_per_h * post.h_per_week for post in posts) / sum(post.h_per_week for post in posts)
    room = prices.people.utilisation_limit * paid_h / len(posts)
    by_overtime = np.minimum(beyond, prices.rules.overtime_cap_h_per_week)
    cost = sum(post.cost_per_week(prices.people.night_premium) for post in posts) / len(posts)
    overtime = Spending(by_overtime, rate * (1.0 + prices.people.overtime_premium))
    return Excess(overtime, whole_up((beyond - by_overtime) / room), cost)


NONE = Excess(Spending(0.0, 0.0), 0.0, 0.0)


def labour_gains(pair: Pair) -> Iterator[Gain]:
    """Less overtime and fewer posts beyond the limit, group by group, and work of people not on the roster."""
    today, option = (_excesses(weekly, pair.prices) for weekly in (pair.before, pair.after))
    for group in dict.fromkeys((*today, *option)):
        yield from _group_gains(pair, group_name(group), today.get(group, NONE), option.get(group, NONE))
    yield from _by_others(pair)


def group_name(group: Group) -> str:
    """A group in words."""
    return f"{group[0]}: {', '.join(skill.replace('_', ' ') for skill in group[1])}"


def _excesses(weekly: WeeklyAmounts, prices: Prices) -> dict[Group, Excess]:
    """Excess of every group of a scenario that is paid for hours; none where busy hours were not measured.

    Raises ``KeyError`` where only some people's are known.
    """
    groups = groups_of(weekly.totals.roster)
    groups = {key: posts for key, posts in groups.items() if sum(p.h_per_week for p in posts) > 0}
    if not any(weekly.has(BUSY + post.person_id) for posts in groups.values() for post in posts):
        return {}
    return {
        key: excess_of(posts, sum(weekly(BUSY + post.person_id) for post in posts), prices)
        for key, posts in groups.items()
    }


def _group_gains(pair: Pair, name: str, today: Excess, option: Excess) -> Iterator[Gain]:
    """Overtime and posts beyond the limit, today less with the option; nothing in years in which neither has any."""
    before, after = _same_price(today.overtime, option.overtime)
    gain = pair.less_spent("labour_overtime", before, after, "beyond the limit", "with premium", item=name)
    yield dataclasses.replace(gain, years=(before.hours > 0) | (after.hours > 0))
    less = today.posts * today.post_per_week - option.posts * option.post_per_week
    seen = f"{pair.prices.currency}/week of posts ({{:g}} today, {{:g}} with it)"
    fewer = Factor(less, seen, (today.posts, option.posts))
    yield Gain("labour_posts", (fewer, pair.weeks_factor), name, years=(today.posts > 0) | (option.posts > 0))


def _same_price(first: Spending, second: Spending) -> tuple[Spending, Spending]:
    """Two spendings, the one of a group that is not there at the other's price."""
    return (
        Spending(0.0, second.price) if first is NONE.overtime else first,
        Spending(0.0, first.price) if second is NONE.overtime else second,
    )


def _by_others(pair: Pair) -> Iterator[Gain]:
    """Work of people who are not on the roster, paid as it is asked for; a call from the ring of the telephone."""
    money, night = pair.prices.money, 1.0 + pair.prices.people.night_premium
    for measure, skill, rate in (
        ("preparation_h", "preparation", money.setter_rate_per_h),
        ("programming_h", "programming", money.programmer_rate_per_h),
        ("care_by_others_h", "", money.operator_rate_per_h),
        ("on_call_h", "", money.operator_rate_per_h * night),
    ):
        if not pair.knows(measure):
            continue
        before, after = (
            Spending(weekly(measure) * (not any(skill in post.skills for post in weekly.totals.roster.posts)), rate)
            for weekly in (pair.before, pair.after)
        )
        words = measure.removesuffix("_h").replace("_", " ")
        gain = pair.less_spent("labour_by_others", before, after, words, "as asked", item=words)
        yield dataclasses.replace(gain, years=(before.hours != 0) | (after.hours != 0))


# --- paid hours that come and go ---


def added_posts(ledger: Ledger, today: Roster, option: Roster, use: Schedule) -> None:
    """Posts that come in addition, and longer weeks of today's people: at the overtime premium, or by invoice."""
    people, in_use = ledger.prices.people, (use.in_use(ledger.years), "of the year in use")
    for post in option.posts:
        more = post.h_per_week - today.h_per_week(post.person_id)
        if more <= 0:
            continue
        rate, how = post.rate_with_nights(people.night_premium), "with night hours at their premium"
        if post.agency:
            how = "by invoice"
        elif post.person_id in today.by_person:
            rate, how = post.rate_per_h * (1.0 + people.overtime_premium), "with overtime premium"
        _yearly(ledger, "posts_added", post, (-more, "h/week more"), (rate, f"{ledger.unit}/h {how}"), in_use)


def posts_saved(ledger: Ledger, today: Roster, option: Roster, use: Schedule) -> None:
    """Whole posts and agency hours given up, per year after the ramp. Parts of an own post are hours without money."""
    night, settled = ledger.prices.people.night_premium, (use.settled(ledger.years), "of the year, after the ramp")
    own = [post for post in today.posts if not post.agency and post.h_per_week > 0]
    gone = [post for post in own if post.person_id not in option.by_person]
    for post in sorted(gone, key=lambda post: not post.whole):
        cost = (post.rate_with_nights(night), f"{ledger.unit}/h with night hours at their premium")
        price = cost if post.whole else (0.0, "money: not a whole post, duties elsewhere")
        kind = CASH_RELEASING if post.whole else NOT_MONETISED
        _yearly(ledger, "posts", post, (post.h_per_week, "h/week"), price, settled, kind)
    for post in today.posts:
        less = post.h_per_week - option.h_per_week(post.person_id)
        if post.agency and less > 0:
            cost = (post.rate_with_nights(night), f"{ledger.unit}/h by invoice")
            _yearly(ledger, "agency", post, (less, "h/week less"), cost, settled)


def _yearly(
    ledger: Ledger, line: str, post: Post, hours: tuple[PerCase, str], price: tuple[PerCase, str],
    share: tuple[PerCase, str], kind: str = CASH_RELEASING,
) -> None:  # fmt: skip
    weeks, wages = (ledger.finance.production_weeks, "weeks"), (ledger.level(line), "wage growth")
    ledger.yearly(line, (hours, price, weeks, wages, share), kind=kind, item=post.person_id)
