"""The planner's rule by hand: (name, moment, decision), each beside its opposite. A day has 8 h, 06:00 to 14:00."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from simkit.cell.overflow import HoursAhead, ReleasedOrder, leaving_orders, overtime, shortages
from simkit.cell.run import simulate
from simkit.cell.trace import RUN, Trace
from simkit.plant.scenarios import make_scenario
from simkit.plant.settings import Overflow
from simkit.plant.tables import HistoryRow, MachineRow, Order, Stop
from simkit.process.shifts import CoveredTime, Span
from tests.cell.bench_plant import MONDAY, machines, person, plant, run
from tests.cell.bench_plant import order as row
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

HOUR, DAY = 3600.0, 86400.0
FRIDAY, SATURDAY = 4, 5
WEEK = CoveredTime([(day * DAY + 6 * HOUR, day * DAY + 14 * HOUR) for day in (*range(5), *range(7, 12))])
WINDOW = (SATURDAY * DAY + 6 * HOUR, SATURDAY * DAY + 12 * HOUR)
RULES = Overflow(least_h=1.0, overtime_block_h=2.0)


def at(day: int, hour: float, **changes: object) -> HoursAhead:
    """The hours ahead at a moment of a day, Monday is 0."""
    return HoursAhead(day * DAY + hour * HOUR, WEEK, **changes)  # type: ignore[arg-type]


def order(number: int, hours: float, due_day: int, *, stays: bool = False) -> ReleasedOrder:
    """An order due at the end of a day."""
    return ReleasedOrder(number, hours, hours, (due_day + 1) * DAY, stays)


def short_h(*orders: ReleasedOrder, ahead: HoursAhead | None = None) -> list[float]:
    return [row.hours for row in shortages(orders, (ahead or at(0, 6)).hours)]


# --- how short ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "moment", "ahead", "until_day", "hours"),
    [
        ("a whole day", (0, 6), {}, 1, 8.0),
        ("what is left of it", (0, 12), {}, 1, 2.0),
        ("a day and what is left", (0, 12), {}, 2, 10.0),
        (
            "a night of 16 h at a quarter",
            (0, 12),
            {"nights": CoveredTime([(14 * HOUR, 30 * HOUR)]), "night_share": 0.25},
            2,
            2 + 4 + 8.0,
        ),
        ("half of that night", (0, 12), {"nights": CoveredTime([(14 * HOUR, 30 * HOUR)]), "night_share": 0.25}, 1, 4.5),
        ("two machines", (0, 6), {"machines": 2}, 1, 16.0),
        ("overtime that is worked", (FRIDAY, 12), {"overtime": (WINDOW,)}, 6, 2 + 6.0),
        ("overtime after the due date", (FRIDAY, 12), {"overtime": (WINDOW,)}, 5, 2.0),
        (
            "overtime in a night counts once",
            (FRIDAY, 12),
            {"overtime": (WINDOW,), "night_share": 0.5, "nights": CoveredTime([WINDOW])},
            6,
            2 + 6.0,
        ),
        ("nothing before now", (3, 6), {}, 1, 0.0),
    ],
)
def test_hours_ahead(name: str, moment: Span, ahead: dict[str, object], until_day: int, hours: float) -> None:
    assert at(int(moment[0]), moment[1], **ahead).hours(until_day * DAY) == hours


def test_an_order_is_short_by_all_hours_up_to_it_less_the_hours_until_its_due_date() -> None:
    """Monday 06:00, 8 h: 5 h; 5 more, 2 too many; the third has until Tuesday; the last was due on Sunday."""
    orders = order(1, 5, 0), order(2, 5, 0), order(3, 1, 1), order(4, 2, -1)
    assert short_h(*orders) == [-3.0, 2.0, -5.0, 13.0]


def test_the_sequence_is_the_plants_own() -> None:
    """The same two orders: worked off by arrival the urgent one is late, by due date none is."""
    late, urgent = order(1, 10, 4), order(2, 4, 0)
    assert max(short_h(late, urgent)) == 6.0
    assert max(short_h(urgent, late)) < 0


# --- overtime -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "orders", "worked_h"),
    [
        ("enough hours until Monday's end: none", [order(1, 10, 7)], 0.0),
        ("an hour short is what counts as nothing", [order(1, 11, 7)], 0.0),
        ("2 h short: a block", [order(1, 12, 7)], 2.0),
        ("2.5 h short: two blocks", [order(1, 12.5, 7)], 4.0),
        ("20 h short: the window", [order(1, 30, 7)], 6.0),
        ("the shortest of all counts", [order(1, 12, 7), order(2, 3, 7), order(3, 1, 9)], 6.0),
        ("overdue, more than today can do", [order(1, 6, 2)], 4.0),
        ("overdue, done before the window starts", [order(1, 2, 2)], 0.0),
        ("started work counts too", [order(1, 12, 7, stays=True)], 2.0),
        ("due after two more weeks of hours", [order(1, 30, 11)], 0.0),
    ],
)
def test_overtime_of_a_saturday_is_decided_on_friday_at_noon(name: str, orders: list[ReleasedOrder], worked_h: float
                                                             ) -> None:  # fmt: skip
    """Two hours are left on Friday, eight come on Monday."""
    found = overtime(orders, at(FRIDAY, 12), WINDOW, RULES)
    assert (found[1][1] - found[1][0] if found else 0.0) == worked_h * HOUR


def test_overtime_is_told_what_it_is_for_and_stays_within_its_cap() -> None:
    orders = [order(1, 3, 7), order(2, 20, 7)]
    for cap_h, worked_h in ((4.0, 4.0), (1.0, 1.0)):
        found = overtime(orders, at(FRIDAY, 12), (WINDOW[0], WINDOW[0] + cap_h * HOUR), RULES)
        assert found is not None
        assert (found[0].order.number, found[0].hours) == (2, 13.0)
        assert found[1] == (WINDOW[0], WINDOW[0] + worked_h * HOUR)
    assert overtime(orders, at(FRIDAY, 12), (WINDOW[0], WINDOW[0]), RULES) is None


def test_two_machines_make_up_for_a_shortage_in_half_of_the_time() -> None:
    """20 machine hours until Monday's end and 24 wanted: 4 short, 2 h of two machines."""
    found = overtime([order(1, 24, 7)], at(FRIDAY, 12, machines=2), WINDOW, RULES)
    assert found is not None
    assert found[1][1] - found[1][0] == 2 * HOUR


# --- giving out and refusing ----------------------------------------------------------------------


def gone(
    orders: list[ReleasedOrder], ahead: HoursAhead, cap_h: float = 100.0, *, lead_days: float = 2.0,
    may: Callable[[ReleasedOrder], bool] | None = None,
) -> list[int]:  # fmt: skip
    """Numbers of the orders that are given out, in that order."""
    delivered_s = ahead.now_s + lead_days * DAY
    may = may or (lambda each: not each.stays and each.due_s >= delivered_s)
    return [row.order.number for row in leaving_orders(orders, ahead.hours, may, 1.0, cap_h)]


@pytest.mark.parametrize(
    ("name", "moment", "orders", "decision"),
    [
        ("enough hours", (0, 6), [order(1, 20, 2), order(2, 4, 2)], []),
        ("an hour short is what counts as nothing", (0, 6), [order(1, 20, 2), order(2, 5, 2)], []),
        ("the fewest hours that cure it", (0, 6),
         [order(1, 12, 2), order(2, 8, 2), order(3, 3, 2), order(4, 5, 2)], [4]),
        ("none cures it alone: the largest, then again", (0, 6),
         [order(1, 4, 2), order(2, 5, 2), order(3, 25, 2, stays=True)], [2, 1]),
        ("of equals the one due last", (0, 6), [order(1, 4, 2), order(2, 4, 3), order(3, 12, 2), order(4, 8, 2)], [2]),
        ("of equals due together the first", (0, 6), [order(1, 4, 2), order(2, 4, 2), order(3, 20, 2)], [1]),
        ("what stands behind the short order cannot help it", (0, 6), [order(1, 28, 2), order(2, 4, 9)], [1]),
        ("rush and started work stay", (0, 6), [order(1, 8, 2, stays=True), order(2, 20, 2)], [2]),
        ("all of it started: late", (0, 6), [order(1, 8, 2, stays=True), order(2, 20, 2, stays=True)], []),
        ("the subcontractor is back in time", (0, 6), [order(1, 30, 2)], [1]),
        ("his lead time is too long", (0, 6), [order(1, 30, 1)], []),
        ("overdue work is not cured by what is not late", (2, 6), [order(1, 6, 9), order(2, 4, 1)], []),
        ("what goes out must cure it", (0, 6), [order(1, 5, 9), order(2, 30, 0)], []),
        ("with that much it does", (0, 6), [order(1, 23, 9), order(2, 8, 0)], [1]),
        ("a late order does not keep the next from its cure", (2, 6), [order(1, 4, 1), order(2, 24, 4)], [2]),
    ],
)  # fmt: skip
def test_what_is_given_out(name: str, moment: Span, orders: list[ReleasedOrder], decision: list[int]) -> None:
    """Until Wednesday's end a Monday morning has 24 h."""
    assert gone(orders, at(int(moment[0]), moment[1])) == decision


def test_nothing_goes_out_for_what_overtime_may_still_cure() -> None:
    """Thursday 06:00: 16 h until Friday's end, 8 on Monday, 30 wanted; with six more on Saturday it is enough."""
    orders = [order(1, 20, 7), order(2, 10, 7)]
    assert gone(orders, at(3, 6)) == [2]
    assert gone(orders, at(3, 6, overtime=(WINDOW,))) == []


def test_the_cap_holds() -> None:
    """11 h short of 24: 6 and then 5 go; within 6 h only the one, within 5 the smaller; a larger one waits."""
    orders = [order(1, 24, 2, stays=True), order(2, 6, 2), order(3, 5, 2)]
    assert gone(orders, at(0, 6)) == [2, 3]
    assert gone(orders, at(0, 6), 10.0) == [2]
    assert gone(orders, at(0, 6), 5.5) == [3]
    assert gone(orders, at(0, 6), 4.0) == []


def test_the_cap_counts_the_hours_of_the_invoice() -> None:
    """An order of 6 h, on the invoice 9: 3 h short of 24, and a cap of 8 h does not take it."""
    orders = [order(1, 21, 2, stays=True), order(2, 6, 2)._replace(invoice_h=9.0)]
    assert gone(orders, at(0, 6), 9.0) == [2]
    assert gone(orders, at(0, 6), 8.0) == []


def test_merged_orders_count_whole_and_go_whole() -> None:
    """A group is an order like any other: 9 h in one go, although 3 of them would do."""
    assert gone([order(1, 18, 2, stays=True), order(2, 9, 2)], at(0, 6)) == [2]


def test_only_orders_released_now_are_refused() -> None:
    def is_new(each: ReleasedOrder) -> bool:
        return each.number == 2 and not each.stays

    accepted, new = order(1, 20, 2), order(2, 8, 2)
    assert gone([accepted, new], at(0, 6), may=is_new) == [2]
    assert gone([accepted, new], at(0, 6), may=lambda each: False) == []
    assert gone([accepted, new._replace(stays=True)], at(0, 6), may=is_new) == []
    assert gone([accepted, new._replace(left_h=4.0)], at(0, 6), may=is_new) == []


# --- in the cell ----------------------------------------------------------------------------------


def cell(*rows: Order, cap_h: float = 100.0, rules: dict[str, Any] | None = None, **changes: Any) -> Trace:
    """Ten minutes a sheet, 8 h a day; what may be done is in ``overflow``. The oracle agrees."""
    rules = {"planning_factor": 1.0, "subcontract_cap_h_per_week": cap_h, **(rules or {})}
    built = plant(orders=rows, rules=rules, overflow={**DOES, **changes.pop("overflow", {})}, **changes)
    assert first_difference(workload_of(built)) == ""
    return run(built)


DOES = {"overtime": True, "subcontract": True, "subcontract_lead_days": 1.0, "refuse": True}
EXTRA = {"overtime": ({"days": ("Sat",), "start": "06:00", "end": "12:00"},)}


def decided(trace: Trace) -> list[tuple[str, int, float]]:
    """(what, order, hour from Monday 00:00) of each decision."""
    return [(each.what, each.job, each.moment_s / HOUR) for each in trace.decisions]


def sheets(hours: float) -> int:
    return round(6 * hours)


def test_overtime_comes_before_giving_out_and_up_to_its_cap() -> None:
    """60 h due on Monday a week later. 40 h and 8 of that Monday: 12 short; with four of Saturday, 8, which go out."""
    rows = tuple(row(str(n), "A", sheets(10), due=7) for n in range(6))
    trace = cell(*rows, calendar=EXTRA, rules={"overtime_cap_h_per_week": 4.0})
    assert decided(trace) == [("subcontract", 0, 6.0), ("overtime", -1, 4 * 24 + 6.0)]
    assert trace.overtime_spans == ((SATURDAY * DAY + 6 * HOUR, SATURDAY * DAY + 8 * HOUR),)
    never = cell(*rows, calendar=EXTRA, overflow={"overtime": False})
    assert [each.fate for each in never.jobs].count("subcontract") == 2
    assert never.overtime_spans == ()


def test_what_is_short_goes_out_up_to_the_weeks_cap_and_is_then_refused() -> None:
    """80 h due on Friday, 40 short. The first two go out; of the others, released now, two more are refused."""
    rows = tuple(row(str(n), "A", sheets(10), due=4) for n in range(8))
    trace = cell(*rows, cap_h=25.0)
    assert [job.fate for job in trace.jobs] == ["subcontract"] * 2 + ["refused"] * 2 + ["in_house"] * 4
    assert {job.gone_s for job in trace.jobs[:4]} == {6 * HOUR}
    late = cell(*rows, cap_h=25.0, overflow={"refuse": False})
    assert [job.fate for job in late.jobs] == ["subcontract"] * 2 + ["in_house"] * 6
    assert [job.finished_s > job.due_s for job in late.jobs[2:]] == [False] * 4 + [True] * 2


def test_the_next_week_has_a_cap_of_its_own() -> None:
    """Two weeks of 10 h more than there are, 10 h a week may go."""
    rows = [row(f"{week}{n}", "A", sheets(10), day=7 * week, due=7 * week + 4) for week in (0, 1) for n in range(5)]
    trace = cell(*rows, cap_h=10.0, overflow={"refuse": False})
    assert decided(trace) == [("subcontract", 0, 6.0), ("subcontract", 5, 7 * 24 + 6.0)]


def test_it_is_decided_when_all_orders_of_an_instant_are_released() -> None:
    """An order of 4 h is short behind 8 h of the same morning, wherever it stands in the book."""
    for rows in ((row("1", "A", sheets(8), due=0, rush=True), row("2", "A", sheets(4), due=1)),
                 (row("2", "A", sheets(4), due=1), row("1", "A", sheets(8), due=0, rush=True))):  # fmt: skip
        assert decided(cell(*rows)) == []
        short = cell(*(dataclasses.replace(each, due=MONDAY) for each in rows))
        assert [what for what, _, _ in decided(short)] == ["refused"]
        assert [job.fate for job in short.jobs if not job.rush] == ["refused"]


def test_at_the_start_of_a_day_what_became_short_goes_out() -> None:
    """A stop of 4 h on Monday: on Tuesday 24 h are left for 25 by Thursday, and an order that waits goes."""
    stop = Stop(cause="stop", exposure="running_hour", rate=1.0, repair_law="sequence", repair_min=1, file="s.csv")
    rows = (row("1", "A", sheets(16), due=3), row("2", "A", sheets(15), due=3))
    broken = {"stops": (stop,), "sequences": {"s.csv": (4.0, 1e4), "s.csv:repair": (240.0, 1.0)}}
    assert decided(cell(*rows, overflow={"least_h": 0.0})) == []
    assert decided(cell(*rows, overflow={"least_h": 0.0}, **broken)) == [("subcontract", 1, 24 + 6.0)]


def test_started_and_committed_orders_stay() -> None:
    """On Tuesday the first order runs its last sheet, the second is committed: both count, the third goes out."""
    rows = (row("1", "A", sheets(8) + 1, due=9), row("2", "A", sheets(8), due=9), row("3", "A", sheets(4), due=9),
            row("4", "A", sheets(6), day=1, due=1, rush=True))  # fmt: skip
    trace = cell(*rows, rules={"lookahead_sheets": 3}, overflow={"least_h": 0.0, "subcontract_lead_days": 0.0})
    assert decided(trace) == []
    tight = tuple(dataclasses.replace(each, due=MONDAY + dt.timedelta(2)) for each in rows[:3])
    trace = cell(*tight, rows[3], rules={"lookahead_sheets": 3},
                 overflow={"least_h": 0.0, "subcontract_lead_days": 0.0})  # fmt: skip
    assert decided(trace) == [("subcontract", 2, 24 + 6.0)]


def test_merged_orders_go_out_whole() -> None:
    rows = (row("1", "B", sheets(30), due=4), row("2", "A", sheets(6), due=4), row("3", "A", sheets(6), day=1, due=4))
    trace = cell(*rows, rules={"merge_days": 2.0})
    assert decided(trace) == [("subcontract", 1, 6.0)]
    assert (trace.jobs[1].members, trace.jobs[1].fate) == ((1, 2), "subcontract")


def test_a_saturated_queue_and_a_history_are_left_alone() -> None:
    rows = tuple(row(str(n), "A", sheets(10)) for n in range(8))
    moment = dt.datetime.combine(MONDAY, dt.time(6))
    seen = HistoryRow(order_id="0", machine="M1", started=moment, finished=moment, sheets=1)
    assert decided(cell(*rows, history=(seen,))) == []
    assert decided(cell(*rows, run={"source": "saturated", "horizon_s": 3 * DAY})) == []
    assert decided(cell(*rows)) != []


def test_only_who_is_listed_comes_to_overtime() -> None:
    rows = tuple(row(str(n), "A", sheets(10), due=7) for n in range(6))
    crew = (person("OP"), person("TWO"), person("BE", "bench"))
    for listed, busy in (((), {0, 1}), (("TWO",), {1})):
        trace = cell(*rows, people=crew, times={"load": 2.0}, calendar={**EXTRA, "overtime_people": listed},
                     overflow={"subcontract": False, "refuse": False})  # fmt: skip
        start_s = trace.overtime_spans[0][0]
        tasks = trace.tasks
        there = {who for who, start, end in zip(tasks.person, tasks.start_s, tasks.end_s, strict=True)
                 if start_s <= start < start_s + 6 * HOUR and end > start}  # fmt: skip
        assert there <= busy
        assert min(there) == min(busy)


# --- two machines ------------------------------------------------------------------------------------


def test_two_machines_have_twice_the_hours_of_one() -> None:
    """80 machine hours until Friday's end: ten orders of 8 h stay and are done in time, of eleven one goes out."""
    ten = tuple(row(str(n), "A", sheets(8), due=4) for n in range(10))
    fits = cell(*ten, machines=machines("AB"))
    assert decided(fits) == []
    assert all(job.finished_s <= job.due_s for job in fits.jobs)
    more = cell(*ten, row("10", "A", sheets(8), due=4), machines=machines("AB"))
    assert [what for what, *_ in decided(more)] == ["subcontract"]
    alone = cell(*ten, overflow={"refuse": False})
    assert [what for what, *_ in decided(alone)] == ["subcontract"] * 5


def test_overtime_of_two_machines_is_half_as_long() -> None:
    """Six days of 16 machine hours until Monday's end, 100 wanted: 4 short, so 2 h of Saturday, in which both run."""
    rows = tuple(row(str(n), "A", sheets(10), due=7) for n in range(10))
    trace = cell(*rows, machines=machines("AB"), calendar=EXTRA, overflow={"subcontract": False, "refuse": False})
    assert trace.overtime_spans == ((SATURDAY * DAY + 6 * HOUR, SATURDAY * DAY + 8 * HOUR),)
    for log in trace.machines:
        rows_of = zip(log.state, log.start_s, log.end_s, strict=True)
        running = sum(min(b, end) - max(a, start) for s, a, b in rows_of if s == RUN
                      for start, end in trace.overtime_spans if max(a, start) < min(b, end))  # fmt: skip
        assert running == 2 * HOUR


def test_of_unlike_machines_the_rates_add_up() -> None:
    """B cuts twice as fast: 5 days of 8 h make 40 + 80 h of A's work. 15 orders of 8 h stay, of 16 one goes out.

    Each counts 8 / 1.5 h on either machine; by A's times alone five of the fifteen would go.
    """
    pair = (*machines("A"), MachineRow(machine_id="B", overrides="materials[*].cutting_speed_m_min*=2"))
    fifteen = tuple(row(str(n), "A", sheets(8), due=4) for n in range(15))
    for rows, goes in ((fifteen, 0), ((*fifteen, row("15", "A", sheets(8), due=4)), 1)):
        rules = {"planning_factor": 1.0, "subcontract_cap_h_per_week": 100.0}
        built = plant(orders=rows, rules=rules, overflow={**DOES, "refuse": False, "least_h": 0.0}, machines=pair)
        found = workload_of(built, scenario=make_scenario(built))
        assert found.shared_h == pytest.approx([8 / 1.5] * len(rows))
        assert len(simulate(found).decisions) == goes


def test_the_trace_tells_for_which_order_it_was_and_how_late_that_would_be() -> None:
    """11 h due on Monday: 3 short, done on Tuesday at 09:00, 9 h after the end of its day."""
    only = cell(row("1", "A", sheets(11)), overflow={"subcontract": False}).decisions
    assert [(each.what, each.job, each.short_job, each.short_h) for each in only] == [("refused", 0, 0, 3.0)]
    assert only[0].slack_days == pytest.approx(-9 / 24)
