"""The after-tax cash by year built anew from the printed rules, the inputs and the simulated amounts alone."""

from collections import defaultdict
from math import ceil, floor, inf

import pytest

from simkit.finance.cashflow import build_cashflow
from tests.finance.hand import figures
from tests.finance.rebuilt_cases import PLANT, SCENARIOS, TODAY

MONEY, FIN, PEOPLE = PLANT.settings.money, PLANT.settings.finance, PLANT.settings.people
PREMIUM, NIGHT, OPERATOR = 1 + PEOPLE.overtime_premium, 1 + PEOPLE.night_premium, MONEY.operator_rate_per_h
YEARS, RAMP, STEEL, NET = range(1, FIN.horizon_years + 1), FIN.ramp_months / 12, PLANT.materials[0], 1 - FIN.tax_rate
TOOL_LIFE = sum(tool.price / (tool.grind_life + 1) for tool in PLANT.tools) / len(PLANT.tools)
PRICES, WAGES = ([(1 + rate) ** (y - 1) for y in (1, *YEARS)] for rate in (FIN.price_growth, FIN.wage_growth))
WAGED, BUDGETS = ("overtime", "overrun", "calls", "group"), ("overtime", "overrun", "subcontract")


def part(y, since):
    return min(1, max(0, y - since))


def gathered(t):
    rising = min(max(t, 0), RAMP)
    return max(t - RAMP, 0) + FIN.ramp_start * rising + (1 - FIN.ramp_start) / RAMP * rising**2 / 2


def weekly(one, f, name):
    value = {level: totals[name] / totals["span_weeks"] for level, totals in one.levels.items()}
    low, high = max(k for k in value if k <= f), min(k for k in value if k >= f)
    return value[low] if low == high else value[low] + (f - low) / (high - low) * (value[high] - value[low])


def wage(post):
    return post.rate_per_h * (post.day_h_per_week + post.night_h_per_week * NIGHT)


def cost_beyond_limits(one, f):
    members = defaultdict(list)
    for post in one.roster.posts:
        members[post.shift, *sorted(post.skills)].append((post, post.day_h_per_week + post.night_h_per_week))
    for key, posts in members.items():
        limit = PEOPLE.utilisation_limit * sum(h * (1 - post.absence_share) for post, h in posts)
        beyond = max(sum(weekly(one, f, "busy_h_" + post.person_id) for post, _ in posts) - limit, 0)
        paid = min(beyond, PLANT.settings.rules.overtime_cap_h_per_week)
        rate = sum(post.rate_per_h * h for post, h in posts) / sum(h for _, h in posts)
        yield ("group", key, "overtime"), paid * rate * PREMIUM
        mean = sum(wage(post) for post, _ in posts) / len(posts)
        yield ("group", key, "posts"), ceil((beyond - paid) / (limit / len(posts))) * mean


def spent(one, like, f):
    """What a scenario spends or loses a week; what it consumes as for the work of the scenario ``like``."""
    sheets, parts = (weekly(like, f, name) / weekly(one, f, name) for name in ("sheets_in_span", "parts_kg"))
    metal, other = (weekly(who, f, "material_kg_MS-1.5") - weekly(who, f, "scrap_kg_MS") for who in (like, one))
    own = weekly(TODAY, f, "energy_kwh") * MONEY.energy_per_kwh + weekly(TODAY, f, "gas_m3") * MONEY.gas_per_m3
    own /= weekly(TODAY, f, "inhouse_h") * weekly(TODAY, f, "sheets_in_span") / weekly(TODAY, f, "sheets")
    crew = sum(p.rate_per_h for p in one.roster.posts if p.whole and p.shift == one.roster.overtime_shift)
    scrapped = parts * weekly(TODAY, f, "parts_kg") / weekly(TODAY, f, "parts") * STEEL.price_per_kg
    rows = [("overtime", "overtime_h", crew * PREMIUM), ("overrun", "person_overrun_h", OPERATOR * PREMIUM),
            ("subcontract", "subcontract_h", MONEY.subcontract_per_h - own), ("sales", "unmet_h", MONEY.margin_per_h),
            ("calls", "on_call_h", OPERATOR * NIGHT), ("tools", "tool_lives", parts * TOOL_LIFE),
            ("energy", "energy_kwh", sheets * MONEY.energy_per_kwh), ("gas", "gas_m3", sheets * MONEY.gas_per_m3),
            ("material", "lost_kg_MS", metal / other * STEEL.price_per_kg), ("parts", "parts_scrapped", scrapped),
            ("scrap", "lost_kg_MS", -metal / other * STEEL.scrap_price_per_kg)]  # fmt: skip
    return {(line,): weekly(one, f, name) * price for line, name, price in rows} | dict(cost_beyond_limits(one, f))


def released_avoided_sold(one, f):
    today, option, budget = spent(TODAY, one, f), spent(one, one, f), spent(TODAY, TODAY, 1.0)
    for key in {**today, **option}:
        s, t, b = today.get(key, 0), option.get(key, 0), budget[key] if key[0] in BUDGETS else inf
        within = min(s, b) - min(t, b)
        yield key, (0, 0, s - t) if key[0] == "sales" else (within, s - t - within, 0)


def rebuilt(one, fading):
    options, people = [PLANT.option_by_id[i] for i in one.option_ids], [TODAY.roster.posts, one.roster.posts]
    start, kept = max(o.lead_weeks for o in options) / 52, min(o.persistence.quoted for o in options)
    taxed, avoided, sold, plain, written = ([0.0] * (len(YEARS) + 1) for _ in range(5))
    for o in options:
        own, price = o.lead_weeks / 52, o.capital.quoted
        again = [t for k in range(1, 9) if (t := own + k * (o.life_years or inf)) < len(YEARS)]
        bought = [(0, floor(start), price + sum(line.quoted for line in o.capital_lines))]
        for y, since, amount in bought + [(ceil(t), ceil(t), price * PRICES[floor(t) + 1]) for t in again]:
            plain[y] -= amount
            for year in range(since + 1, since + FIN.depreciation_years + 1):
                written[min(year, len(YEARS))] += amount / FIN.depreciation_years
        plain[-1] += NET * FIN.residual_share * price * PRICES[floor(max(again, default=0)) + 1] * bool(o.life_years)
        for y in YEARS:
            named = o.yearly_labour_h * MONEY.setter_rate_per_h * WAGES[y]
            taxed[y] -= (o.yearly_cost * PRICES[y] + named) * part(y, own)
    *shorter, longest = sorted(o.stop_days for o in options)
    stop_h = (longest + FIN.stop_bundle_share * sum(shorter)) * TODAY.roster.attended_h_per_day * PRICES[ceil(start)]
    taxed[ceil(start)] -= stop_h * MONEY.subcontract_per_h + FIN.training * any(o.kind == "bought" for o in options)
    ids = [{post.person_id for post in posts} for posts in people]
    gone, new = (sum(wage(p) for p in people[i] if p.whole and p.person_id not in ids[1 - i]) for i in (0, 1))
    for y in YEARS:
        f = [d.factor for d in FIN.demand if d.from_year <= y][-1]
        taxed[y] += FIN.production_weeks * WAGES[y] * (gone * part(y, start + RAMP) - new * part(y, start))
        alone = dict(released_avoided_sold(fading or one, f))
        for key, amounts in released_avoided_sold(one, f):
            whole = sum(amounts) or inf
            fades = (1 - kept) * min(1, max(0, sum(alone.get(key, (0,))) / whole)) * part(y, start + 1)
            use = part(y, start) if whole < 0 else gathered(y - start) - gathered(y - 1 - start) - fades
            for flow, amount in zip((taxed, avoided, sold), amounts, strict=True):
                flow[y] += amount * FIN.production_weeks * use * (WAGES if key[0] in WAGED else PRICES)[y]
    for free, relief, *flows in zip(plain, written, taxed, avoided, sold, strict=True):
        paid, more, sales = (NET * amount for amount in flows)
        paid += free + FIN.tax_rate * relief
        yield paid + min(more, 0) + min(sales, 0), paid + more + min(sales, 0), paid + more + sales


@pytest.mark.parametrize(("one", "fading"), SCENARIOS.values(), ids=SCENARIOS)
def test_the_cash_of_every_year_follows_from_the_printed_rules(one, fading):
    found = figures(build_cashflow(PLANT, TODAY, [one for one, _ in SCENARIOS.values()]), one.name)
    assert list(rebuilt(one, fading)) == [pytest.approx(year, abs=0.01) for year in zip(*found, strict=True)]
