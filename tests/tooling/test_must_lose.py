"""Orders that never ask for another tool: no rule, magazine or look-ahead has anything left to save."""

from __future__ import annotations

import pytest

from simkit.tooling.exchange import apply_exchanges, fit_lookahead, in_use, mark_used, plan_exchange
from simkit.tooling.toolroom import make_tool_room
from simkit.tooling.turret import empty_turret
from tests.tooling.rooms import need, settings_of, tool

SAME = tuple(need(n) for n in range(6))


@pytest.mark.parametrize("eviction", ["lru", "fifo", "soonest"])
@pytest.mark.parametrize("places", [{}, {"16": 20}])
def test_t1_same_tools_and_clearance_exchange_nothing_after_the_first_order(eviction, places):
    settings = settings_of({"size_mm": 16, "count": 6}, rules={"eviction": eviction}, magazine={"places": places})
    room = make_tool_room(settings, [tool(n) for n in range(9)], [(one, 1.0) for one in SAME])
    turret, counts, hidden_s = empty_turret(room), [], 0.0
    for number in range(20):
        plan = plan_exchange(room, turret, SAME, [SAME] * 5)
        turret = mark_used(apply_exchanges(turret, plan.exchanges, number), SAME, number)
        counts.append(len(plan.exchanges) + len(plan.mid_program))
        ahead = plan_exchange(room, turret, SAME, [SAME] * 5, *in_use(turret, SAME))
        hidden_s += fit_lookahead(ahead.exchanges, lambda exchange: 45.0, 1e9)[1]
    assert counts == [6] + [0] * 19
    assert hidden_s == 0.0
