"""Size classes that share no station: what the exchanges of the cell make of them."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.tooling.exchange import apply_exchanges, mark_used, plan_exchange
from simkit.tooling.toolroom import NO_CLEARANCE, Need, make_tool_room
from simkit.tooling.turret import empty_turret
from tests.tooling.alike import insertions
from tests.tooling.rooms import settings_of, tool

FEW = settings(max_examples=60, deadline=None, derandomize=True)


def loads(room, jobs):
    """Loads of a job list under the room's own eviction rule, with all coming jobs known."""
    turret, total = empty_turret(room), 0
    for number, needs in enumerate(jobs):
        plan = plan_exchange(room, turret, needs, jobs[number + 1 :])
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), needs, number)
        total += len(plan.exchanges)
    return total


@st.composite
def mixed_jobs(draw):
    """Two size classes in one ring, mixed with holders of several tools; jobs that fit."""
    capacity = {16: draw(st.integers(1, 5)), 30: draw(st.integers(1, 5))}
    runs = draw(st.permutations([{"size_mm": size} for size, count in capacity.items() for _ in range(count)]))
    if draw(st.booleans()):
        runs, capacity[16] = [*runs, {"size_mm": 16, "tools": 2}], capacity[16] + 2
    sizes = [16] * draw(st.integers(1, 8)) + [30] * draw(st.integers(1, 8))
    tools = [tool(n, size, clearances=()) for n, size in enumerate(sizes)]
    rules = {"eviction": draw(st.sampled_from(("lru", "fifo", "soonest")))}
    jobs = []
    for _ in range(draw(st.integers(1, 10))):
        rows = draw(st.permutations(range(len(tools))))
        chosen = [row for size in (16, 30) for row in [r for r in rows if sizes[r] == size][: capacity[size]]]
        jobs.append({row for row in chosen if draw(st.booleans())})
    return make_tool_room(settings_of(*runs, rules=rules), tools), sizes, capacity, jobs


@FEW
@given(mixed_jobs())
def test_with_classes_apart_loads_are_the_sum_over_classes_solved_alone(case):
    room, sizes, capacity, jobs = case
    together = loads(room, [tuple(Need(row, NO_CLEARANCE, 0.0) for row in sorted(job)) for job in jobs])
    alone = [insertions([{row for row in job if sizes[row] == s} for job in jobs], capacity[s], room.eviction)
             for s in (16, 30)]  # fmt: skip
    assert together == sum(alone)
