"""Nothing is bought while idle hours lie before the due dates: checked on the trace by a plan laid hour by hour.

The check shares no sum with the rule. It takes what the trace says (which orders were released, how many of their
sheets were made, which had gone), lays the planned hours of the orders into minutes of the crew's time in the sequence
in which the plant works, and asks which minutes before a due date stay empty.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from simkit.cell.orders import IN_HOUSE, SUBCONTRACT, Job
from simkit.cell.planning import OverflowDecision
from simkit.cell.run import simulate
from simkit.cell.trace import Trace
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario
from simkit.process.draws import make_draws
from simkit.process.shifts import plan_shifts
from simkit.process.workload import Workload, make_workload
from tests.demo.described import described
from tests.must_lose.changed import whole_demo
from tests.oracle.plants import plants, workload_of
from tests.small_plant import changed_settings

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
WEEK = 7 * DAY
FEW = settings(max_examples=60, derandomize=True, deadline=None, database=None,
               suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip


# ---- the independent plan ----


def open_minutes(work: Workload, overtime: list[tuple[float, float]]) -> NDArray[np.bool_]:
    """Whether somebody of the crew is there, or overtime is worked, in each minute of the calendar."""
    plan = plan_shifts(work.plant, work.draws.days)
    minutes = np.zeros(int(plan.day_start[-1] / MINUTE), bool)
    crew = [row for row, person in enumerate(work.plant.people)
            if {"load", "unload", "changeover"} & set(person.skills)]  # fmt: skip
    for row in crew:
        for start, end in plan.person[row]:
            minutes[round(start / MINUTE) : round(end / MINUTE)] = True
    attended = np.zeros_like(minutes)
    for start, end in plan.attended:
        attended[round(start / MINUTE) : round(end / MINUTE)] = True
    minutes = minutes & attended if crew else attended
    for start, end in overtime:
        minutes[round(start / MINUTE) : round(end / MINUTE)] = True
    return minutes


def left_h(job: Job, trace: Trace, moment_s: float) -> float:
    """Planned hours of what is not yet made of an order, by the records of the machines."""
    mine = set(job.sheets)
    done = sum(1 for log in trace.machines for sheet, at in zip(log.made, log.made_at_s, strict=True)
               if sheet in mine and at < moment_s)  # fmt: skip
    return job.hours * (1 - done / len(job.sheets))


def in_sequence(work: Workload, trace: Trace, decision: OverflowDecision, gone: set[int]) -> list[Job]:
    """Released orders that are not done, those begun first, then by release or by due date."""
    moment = decision.moment_s
    there = [job for job in trace.jobs if job.number not in gone and job.released_s <= moment]
    there = [job for job in there if not 0 <= job.gone_s < moment and left_h(job, trace, moment) > 1e-9]
    begun = sorted((j for j in there if 0 <= j.started_s < moment), key=lambda j: (j.started_s, j.number))
    waiting = [job for job in there if not 0 <= job.started_s < moment]
    by_due = work.plant.settings.rules.dispatch == "due"
    waiting.sort(key=lambda j: (not j.rush, j.due_s if by_due else j.released_s, j.released_s, j.number))
    return begun + waiting


def empty_before_due_h(work: Workload, trace: Trace, decision: OverflowDecision, gone: set[int]) -> float:
    """Hours before the short order's due date that the plan leaves empty when that order and all before it are laid."""
    overtime = [span for span in trace.overtime_spans if span[0] < decision.moment_s]
    overtime += [each.window for each in trace.decisions if each.window and each.moment_s < decision.moment_s]
    minutes = open_minutes(work, overtime)
    minutes[: round(decision.moment_s / MINUTE)] = False
    until_s = trace.jobs[decision.short_job].due_s + work.plant.settings.overflow.tolerance_days * DAY
    until_s = max(until_s, decision.window[0]) if decision.window else until_s
    there_h = minutes[: max(round(until_s / MINUTE), 0)].sum() / 60
    order = in_sequence(work, trace, decision, gone)
    upto = next(at for at, job in enumerate(order) if job.number == decision.short_job)
    return float(there_h - sum(left_h(job, trace, decision.moment_s) for job in order[: upto + 1]))


def check_bought(work: Workload, trace: Trace) -> int:
    """Assert it of every decision of a run; how many there were."""
    gone: set[int] = set()
    moment_s = -1.0
    for decision in trace.decisions:
        gone = gone if decision.moment_s == moment_s else set()
        moment_s = decision.moment_s
        empty_h = empty_before_due_h(work, trace, decision, gone)
        assert empty_h <= 0.05, f"{decision}: {empty_h} h before its due date are empty in the plan"
        gone |= {decision.job} - {-1}
    return len(trace.decisions)


def check_allowed(work: Workload, trace: Trace) -> None:
    """Nobody gives out a rush or started order or an accepted one late; caps hold; refusals are of the instant."""
    rules, does = work.plant.settings.rules, work.plant.settings.overflow
    weeks: dict[int, float] = {}
    for job in trace.jobs:
        if job.fate == IN_HOUSE:
            assert job.gone_s < 0
            continue
        assert job.started_s < 0
        assert not job.rush
        if job.fate == SUBCONTRACT:
            assert job.gone_s + does.subcontract_lead_days * DAY <= job.due_s
            weeks[int(job.gone_s // WEEK)] = weeks.get(int(job.gone_s // WEEK), 0.0) + job.invoice_h
        else:
            assert does.refuse
            on_board_s = job.released_s if not work.plan.nights else job.gone_s
            assert job.gone_s == on_board_s
    assert all(hours <= rules.subcontract_cap_h_per_week + 1e-9 for hours in weeks.values())
    worked: dict[int, float] = {}
    for start, end in trace.overtime_spans:
        worked[int(start // WEEK)] = worked.get(int(start // WEEK), 0.0) + (end - start) / HOUR
    assert all(hours <= rules.overtime_cap_h_per_week + 1e-9 for hours in worked.values())


# ---- the demo and random plants ----


def of_demo(
    plant: PlantInputs, replication: int, *, options: tuple[str, ...] = (), demand: float = 1.0, weeks: float = 12.0
) -> tuple[Workload, Trace]:
    draws = make_draws(plant, plant.settings.run.seed, replication, weeks=weeks, demand_factor=demand)
    work = make_workload(make_scenario(plant, options), draws)
    return work, simulate(work)


@pytest.mark.parametrize("replication", range(6))
def test_today_buys_nothing_while_idle_hours_lie_before_the_due_dates(replication: int) -> None:
    """Every replication of the demo, all of its twelve weeks."""
    work, trace = of_demo(whole_demo(), replication)
    assert check_bought(work, trace) > 0
    check_allowed(work, trace)


def test_the_check_sees_a_rule_that_buys_too_early(monkeypatch: pytest.MonkeyPatch) -> None:
    """A planner who overlooks the hours after tomorrow."""
    from simkit.cell.overflow import HoursAhead

    hours = HoursAhead.hours
    monkeypatch.setattr(HoursAhead, "hours", lambda self, until_s: hours(self, min(until_s, self.now_s + DAY)))
    work, trace = of_demo(whole_demo(), 0, weeks=2)
    with pytest.raises(AssertionError, match="are empty in the plan"):
        check_bought(work, trace)


@FEW
@given(plants(), st.sampled_from(("arrival", "due")), st.sampled_from((5.0, 20.0, 60.0)))
def test_nor_does_any_small_plant(plant: PlantInputs, dispatch: str, planning_factor: float) -> None:
    """Plants of one machine without nights that work by release or by due date: these the plain check can rank."""
    rules = {"merge_days": 0.0, "lookahead_sheets": 0, "dispatch": dispatch, "planning_factor": planning_factor}
    plain = {"calendar": {"night": {}}, "rules": rules, "run": {"source": "project", "horizon_s": None}}
    people = tuple(dataclasses.replace(row, absence_share=0.0) for row in plant.people)
    made = dataclasses.replace(plant, machines=plant.machines[:1], people=people, load_faults=())
    work = workload_of(settings_of(made, **plain))
    trace = simulate(work)
    event(f"decisions: {min(check_bought(work, trace), 3)}")
    check_allowed(work, trace)


# ---- directions ----


def bought_h(trace: Trace) -> float:
    return sum(job.hours for job in trace.jobs if job.fate == SUBCONTRACT)


def settings_of(plant: PlantInputs, **sections: dict[str, object]) -> PlantInputs:
    return dataclasses.replace(plant, settings=changed_settings(plant.settings, sections))


def test_below_a_load_of_one_with_slack_due_dates_nothing_is_bought() -> None:
    """The book of the description, its due dates two weeks later."""
    plant = described(whole_demo())
    later = np.timedelta64(14, "D")
    orders = tuple(dataclasses.replace(order, due=(np.datetime64(order.due) + later).astype(object))
                   for order in plant.orders)  # fmt: skip
    for replication in range(2):
        _, trace = of_demo(dataclasses.replace(plant, orders=orders), replication)
        assert trace.decisions == ()


def test_larger_orders_of_fewer_hours_never_give_out_more() -> None:
    """Every fourth order, four times as large: fewer set-ups, so fewer hours."""
    plant = settings_of(whole_demo(), overflow={"refuse": False}, rules={"subcontract_cap_h_per_week": 60.0})
    orders = tuple(dataclasses.replace(order, sheets=4 * order.sheets) for order in plant.orders[::4])
    start = tuple(row for row in plant.start if row.what == "turret")
    small, large = (dataclasses.replace(plant, orders=rows, start=start) for rows in (plant.orders, orders))
    for replication in range(3):
        (of_small, gone_small), (of_large, gone_large) = (of_demo(p, replication) for p in (small, large))
        assert of_large.planned_h.sum() < of_small.planned_h.sum()
        assert bought_h(gone_large) <= bought_h(gone_small)


@pytest.mark.parametrize("demand", [1.0, 1.3])
def test_a_third_shift_never_gives_out_more_than_two(demand: float) -> None:
    for replication in range(3):
        two, three = (bought_h(of_demo(whole_demo(), replication, options=options, demand=demand)[1])
                      for options in ((), ("C3",)))  # fmt: skip
        assert three <= two


def test_more_demand_is_short_of_more_hours() -> None:
    """What is given out, refused and worked in overtime together, over the levels of demand."""
    for replication in range(2):
        hours = []
        for demand in (0.8, 1.0, 1.25, 1.6):
            _, trace = of_demo(whole_demo(), replication, demand=demand)
            gone = sum(job.hours for job in trace.jobs if job.fate != IN_HOUSE)
            hours.append(gone + sum(end - start for start, end in trace.overtime_spans) / HOUR)
        assert hours == sorted(hours)
