from __future__ import annotations

from simkit.tooling.exchange import fit_lookahead
from simkit.tooling.turret import Exchange, Placed


def seconds_of(exchange):
    return {"magazine_exchange": 45.0, "magazine_die_change": 36.0, "tool_load": 0.0}[exchange.kind]


def exchanges(*kinds):
    return tuple(Exchange(kind, station, Placed(station, 1, 0.2, 0.0)) for station, kind in enumerate(kinds))


def test_only_whole_exchanges_in_order():
    plan = exchanges("magazine_exchange", "magazine_exchange", "magazine_die_change")
    assert fit_lookahead(plan, seconds_of, 89.0) == (plan[:1], 45.0)
    assert fit_lookahead(plan, seconds_of, 90.0) == (plan[:2], 90.0)
    assert fit_lookahead(plan, lambda exchange: 10.0 + exchange.station, 1e9) == (plan, 33.0)


def test_hands_are_never_hidden():
    plan = exchanges("tool_load", "magazine_exchange", "tool_load")
    assert fit_lookahead(plan, seconds_of, 50.0) == (plan[1:2], 45.0)


def test_no_time_hides_nothing():
    assert fit_lookahead(exchanges("magazine_exchange"), seconds_of, 0.0) == ((), 0.0)
