"""A study folder made by simple arithmetic instead of the cell: same files, names and units; known effects."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from simkit.analysis.low_capital import Options
from simkit.analysis.set_search import NIL, TAKEN, Trial
from simkit.base.vocabulary import NIGHT_LIMITS, SKILLS, STATES, WEEKDAYS
from simkit.experiment.ordermeasures import DAYS_TO_DUE, name_of_day, name_of_days
from simkit.experiment.results import Results, results_from
from simkit.plant.plant import Plant
from simkit.report.studydata import RIBBON_COLUMNS, RunCard, StudyFolder, write_study
from tests.report.fake_nights import BASE_NAME, NIGHT_LEFT, effects_of_night, fake_night_rows, night_cases

ATTENDED_H = 72.5
WEEK_H = 168.0
BUSY_H = {
    "punching": 14.5, "forming": 1.2, "cutting": 8.8, "changeover": 17.5, "first_piece": 4.5, "loading": 9.6,
    "unloading": 6.6, "waiting_person": 1.4, "waiting_material": 2.6, "blocked": 0.9,
    "stopped": 2.4, "upkeep": 1.2,
}  # fmt: skip
"""Hours of a week of today by state."""

EFFECTS: dict[str, dict[str, float]] = {
    "N1": {"changeover": 0.9, "waiting_material": 0.6},
    "N2": {"changeover": 0.66},
    "N3": {"blocked": 0.3},
    "N8": {"first_piece": 0.45},
    "A1": {"changeover": 0.62},
    "A4": {"unloading": 1.1, "blocked": 0.2, "loading": 0.8},
    "A5b": {"loading": 0.5, "waiting_material": 0.2},
    "C1": {},
    "C2": {},
}
"""Factor on the hours of a state that each option brings; factors of several options multiply."""

NIGHT_OPTION = "C1"
LOST_H = 3.2
"""Hours lost of the 8 of a night."""
TASK_H = {"load": 8.0, "unload": 6.0, "changeover": 16.5, "first_piece": 4.4, "material": 2.5, "bench": 14.0,
          "preparation": 0.0, "clear": 1.1, "upkeep": 1.0}  # fmt: skip
UNITS = {
    "span_weeks": "weeks", "hours_needed": "h", "inhouse_h": "h", "subcontract_h": "h", "unmet_h": "h",
    "overtime_h": "h", "attended_h": "h", "state": "h", "given_out": "h", "sheets": "sheets", "parts": "parts",
    "orders_finished": "orders", "late_share": "share", "refused_share": "share",
    "late_mean_days": "days", "backlog_grows": "share",
    "person": "h", "tool_loads": "tools", "die_changes": "dies", "angle_changes": "tools",
    "magazine_exchanges": "tools", "magazine_die_changes": "dies", "magazine_misses": "tools",
    "exchange_visible_h": "h", "exchange_hidden_h": "h", "nights": "nights", "night_allowed_h": "h",
    "night_running_h": "h", "night_ended": "nights", "night_lost": "h", "stops": "stops", "stop_h": "h",
    "sheets_scrapped": "sheets", "parts_scrapped": "parts", "parts_reworked": "parts", "rework_h": "h",
    "tools_reground": "tools", "tools_broken": "tools", "tool_faults": "faults", "tool_faults_late": "faults",
    "tool_fault_h": "h", "tools_worn_out": "tools", "tools_replaced": "tools",
    "programming_h": "h", "preparation_h": "h", "bench_h": "h",
    "energy_kwh": "kWh", "gas_m3": "m3", "machine_utilisation": "share", "people_utilisation": "share",
    "bench_utilisation": "share", "machine_queue_mean": "orders", "people_queue_mean": "requests",
    "bench_queue_mean": "sheets", "machine_wait_mean_s": "s", "people_wait_mean_s": "s", "bench_wait_mean_s": "s",
    "machine_wait_share": "share", "people_wait_share": "share", "bench_wait_share": "share",
    "eligible_parts_share": "share", "eligible_sheets_share": "share", "lifts_sheets": "lifts",
    "lifts_parts": "lifts", "lifts_skeletons": "lifts", "lifted_sheets_kg": "kg", "lifted_parts_kg": "kg",
    "lifted_skeletons_kg": "kg",
}  # fmt: skip


def luck_of(replication: int) -> float:
    """What a replication's hours are multiplied with."""
    return float(1 + 0.03 * np.random.default_rng([41, replication]).normal())


def totals(options: Sequence[str], factor: float, replication: int, weeks: float) -> dict[str, float]:
    """Totals of one run; luck depends on the replication alone, so that differences are paired."""
    luck = luck_of(replication)
    noise = {o: 1 + 0.02 * np.random.default_rng([43, replication, len(o), ord(o[0])]).normal() for o in options}
    busy = {state: hours * factor * luck * weeks for state, hours in BUSY_H.items()}
    for option in options:
        for state, effect in EFFECTS.get(option, {}).items():
            busy[state] *= effect * noise[option]
    needed = sum(busy.values())
    limit = 0.97 * ATTENDED_H * weeks
    over = max(needed - limit, 0.0)
    subcontract, overtime = min(over, 6.5 * weeks), min(max(over - 6.5 * weeks, 0.0), 4.5 * weeks)
    unmet = max(over - subcontract - overtime, 0.0)
    shown = {s: h * min(1.0, (needed - subcontract - unmet) / needed) for s, h in busy.items()}
    states = shown | _idle(sum(shown.values()), weeks)
    late = float(np.clip(0.02 + 0.9 * (needed / limit - 1), 0.004, 1.0))
    return {
        "span_weeks": weeks, "hours_needed": needed, "inhouse_h": needed - subcontract - unmet,
        "subcontract_h": subcontract, **_given_out(subcontract), "unmet_h": unmet, "overtime_h": overtime,
        "attended_h": ATTENDED_H * weeks,
        **{f"state_{s}_h": states.get(s, 0.0) for s in STATES}, "sheets": 278 * factor * weeks * luck,
        "parts": 3668 * factor * weeks * luck, "orders_finished": 45 * factor * weeks, "late_share": late,
        "refused_share": unmet / needed,
        "late_mean_days": 1.0 + 8 * late, "backlog_grows": float(needed > 1.15 * limit),
        **_people(options, factor, weeks, luck), **_tools(options, factor, weeks, luck),
        **_nights(options, weeks, luck), **_rest(options, factor, weeks, luck),
        **_lifts(options, factor * weeks * luck),
    }  # fmt: skip


def _given_out(hours: float) -> dict[str, float]:
    """A fifth of it on each working day, half of it 5 to 10 days before due, the rest later."""
    days = {name_of_day(day): hours / 5 if day not in ("Sat", "Sun") else 0.0 for day in WEEKDAYS}
    return days | {name_of_days(name): hours / 2 if name in ("10", "15") else 0.0 for name in DAYS_TO_DUE}


def _idle(busy_h: float, weeks: float) -> dict[str, float]:
    no_work = max(ATTENDED_H * weeks - busy_h, 0.0)
    return {"no_work": no_work, "closed": WEEK_H * weeks - busy_h - no_work}


def _people(options: Sequence[str], factor: float, weeks: float, luck: float) -> dict[str, float]:
    hours = {task: TASK_H.get(task, 0.0) * factor * weeks * luck for task in SKILLS}
    if "N2" in options:
        hours["changeover"] *= 0.66
        hours["preparation"] = 7.0 * factor * weeks
    if "A4" in options:
        hours["bench"] *= 0.55
    busy = sum(hours.values())
    shares = {"machine": 0.93, "people": 0.74, "bench": 0.62}
    queues: dict[str, float] = {}
    for name, share in shares.items():
        queues |= {f"{name}_utilisation": share, f"{name}_queue_mean": share / (1.1 - share)}
        queues |= {f"{name}_wait_mean_s": 900 * share, f"{name}_wait_share": share}
    people = {f"person_{task}_h": h for task, h in hours.items()}
    return people | queues | {"person_busy_h": busy, "person_overrun_h": 0.4 * weeks, "bench_h": hours["bench"]}


def _tools(options: Sequence[str], factor: float, weeks: float, luck: float) -> dict[str, float]:
    count = factor * weeks * luck
    magazine = "A1" in options
    return {
        "tool_loads": (2.0 if magazine else 89.0) * count, "die_changes": (1.0 if magazine else 116.0) * count,
        "angle_changes": 4.0 * count, "magazine_exchanges": 87.0 * count * magazine,
        "magazine_die_changes": 115.0 * count * magazine, "magazine_misses": 2.0 * count * magazine,
        "exchange_visible_h": (0.9 if magazine else 8.9) * count, "exchange_hidden_h": 1.3 * count * magazine,
    }  # fmt: skip


def _nights(options: Sequence[str], weeks: float, luck: float) -> dict[str, float]:
    nights = 5.0 * weeks if NIGHT_OPTION in options else 0.0
    shares = dict(zip(NIGHT_LIMITS, (0.45, 0.05, 0.1, 0.05, 0.1, 0.25), strict=True))
    left = [NIGHT_LEFT[option] for option in options if option in NIGHT_LEFT]
    lost = LOST_H * (min(left) if left else 1.0) * nights * luck
    return {
        "nights": nights, "night_allowed_h": 8.0 * nights, "night_running_h": 8.0 * nights - lost,
        **{f"night_ended_{limit}": nights * share for limit, share in shares.items()},
        **{f"night_lost_{limit}_h": lost * share for limit, share in shares.items()},
    }  # fmt: skip


def _rest(options: Sequence[str], factor: float, weeks: float, luck: float) -> dict[str, float]:
    count, removal = factor * weeks, float("A4" in options)
    return {
        "stops": 32 * count * luck, "stop_h": 2.4 * count * luck, "sheets_scrapped": 1.1 * count,
        "parts_scrapped": 21.0 * count, "parts_reworked": 14.0 * count, "rework_h": 0.9 * count,
        "tools_reground": 1.6 * count, "tools_broken": 0.1 * count, "tool_faults": 0.5 * count,
        "tool_faults_late": 0.1 * count, "tool_fault_h": 0.2 * count, "tools_worn_out": 0.3 * count,
        "tools_replaced": 0.0, "programming_h": 0.0, "preparation_h": 0.0,
        "energy_kwh": 760.0 * count, "gas_m3": 420.0 * count, "eligible_parts_share": 0.41 * removal,
        "eligible_sheets_share": 0.22 * removal,
    }  # fmt: skip


LIFTS = {"sheets": (278.0, 9.0), "parts": (3668.0, 1.2), "skeletons": (278.0, 3.0)}
"""Lifts of a week and the kilograms of each, by kind; part removal leaves half of the parts and skeletons to hands."""


def _lifts(options: Sequence[str], count: float) -> dict[str, float]:
    left = {"sheets": 1.0, "parts": 0.5, "skeletons": 0.5} if "A4" in options else dict.fromkeys(LIFTS, 1.0)
    found: dict[str, float] = {}
    for kind, (lifts, kg) in LIFTS.items():
        found |= {f"lifts_{kind}": lifts * count * left[kind], f"lifted_{kind}_kg": lifts * kg * count * left[kind]}
    return found


def fake_results(
    scenarios: Mapping[str, Sequence[str]], factors: Sequence[float] = (1.0,), replications: int = 5, weeks: float = 4.0
) -> Results:
    """Results of these scenarios, as the experiment would give them."""

    def rows() -> Iterator[tuple[str, float, int, dict[str, float]]]:
        for factor in factors:
            for replication in range(replications):
                for name, options in scenarios.items():
                    yield name, factor, replication, totals(options, factor, replication, weeks)

    return results_from(rows(), UNITS)


def fake_ribbon(scenario: str = "today", people: Sequence[str] = ("OP-1", "OP-2"), days: int = 5) -> pd.DataFrame:
    """A week of two shifts in which an order takes two hours; the calendar with breaks and nights."""
    rows: list[tuple[str, str, str, float, float]] = []
    order = (("changeover", 0.45), ("first_piece", 0.1), ("loading", 0.15), ("punching", 0.35), ("cutting", 0.3),
             ("unloading", 0.15), ("waiting_person", 0.05))  # fmt: skip
    for day in range(days):
        start = 24.0 * day
        rows += [
            (scenario, "calendar", "shift", start + 6, start + 14),
            (scenario, "calendar", "shift", start + 14, start + 22),
        ]
        rows += [(scenario, "calendar", "break", start + h, start + h + 0.5) for h in (9.0, 12.0, 17.0, 20.0)]
        rows += [(scenario, "calendar", "night", start + 22, start + 30), (scenario, "M1", "closed", start, start + 6)]
        clock = start + 6
        while clock < start + 22 - 1.55:
            for state, hours in order:
                rows.append((scenario, "M1", state, clock, clock + hours))
                person = people[0] if clock < start + 14 else people[-1]
                if state in ("changeover", "first_piece"):
                    rows.append((scenario, person, state, clock, clock + hours))
                if state in ("loading", "unloading"):
                    rows.append((scenario, person, state.replace("ing", ""), clock, clock + hours))
                clock += hours
            rows.append((scenario, "BE-1", "bench", clock - 0.5, clock + 0.3))
    order_of = {name: i for i, name in enumerate(("calendar", "M1", *people, "BE-1"))}
    rows.sort(key=lambda row: (order_of[row[1]], row[3]))
    return pd.DataFrame(rows, columns=list(RIBBON_COLUMNS))


def fake_trail(package: Options) -> tuple[Trial, ...]:
    """Every option of the package taken in turn, and one that gains nothing."""
    steps = [Trial(package[:at], "add", (name,), 9000.0, 1000.0, True, TAKEN) for at, name in enumerate(package)]
    return (*steps, Trial(package, "add", ("N9",), 0.0, 0.0, False, NIL))


def fake_study(
    plant: Plant, scenarios: Mapping[str, Sequence[str]], *, package: str = "today", inputs_sha256: str = "",
    factors: Sequence[float] = (1.0,), replications: int = 5, weeks: float = 4.0,
) -> StudyFolder:  # fmt: skip
    """A study folder's content for a plant."""
    card_options = tuple(scenarios[package])
    card = RunCard(
        plant=plant.settings.name, seed=41, replications=replications, weeks=weeks, demand_factors=tuple(factors),
        scenarios={name: tuple(options) for name, options in scenarios.items()},
        package=package, fewest_hours=package, package_trail=fake_trail(card_options), inputs_sha256=inputs_sha256,
        versions={"simkit": "0.1.0"},
        cases={"nights": night_cases() if BASE_NAME in scenarios else {}},
    )  # fmt: skip
    results = fake_results(card.scenarios, factors, replications, weeks)
    at_night = {case.name: effects_of_night(case) for case in card.cases["nights"].values()}
    nights = fake_night_rows(at_night, replications, weeks, luck_of)
    if at_night:
        results = results.joined(fake_results(at_night, factors[:1], replications, weeks))
    return StudyFolder(results, card, {"nights": nights, "ribbon": fake_ribbon()})


def write_fake_study(folder: Path, plant: Plant, scenarios: Mapping[str, Sequence[str]], **more: object) -> Path:
    """Write a study folder and return it."""
    write_study(folder, fake_study(plant, scenarios, **more))  # type: ignore[arg-type]
    return folder
