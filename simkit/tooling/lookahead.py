"""Look-ahead: which exchanges for the next program fit into the time the laser cuts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from simkit.tooling.pad import MAGAZINE_KINDS
from simkit.tooling.turret import Exchange


def fit_lookahead(
    exchanges: Iterable[Exchange], seconds_of: Mapping[str, float] | Callable[[Exchange], float], budget_s: float
) -> tuple[tuple[Exchange, ...], float]:
    """Return the exchanges that the gripper completes within ``budget_s``, and the seconds it takes.

    Only whole exchanges by the magazine count, one after the other in the order given, until the next
    does not fit; exchanges by hand are passed over, they are never hidden. ``seconds_of`` gives the seconds
    by kind of exchange, or of each exchange. The exchanges must come from a plan made with ``locked`` given:
    only there does none depend on another.
    """
    seconds = seconds_of if callable(seconds_of) else (lambda exchange: seconds_of[exchange.kind])
    done: list[Exchange] = []
    used_s = 0.0
    for exchange in exchanges:
        if exchange.kind not in MAGAZINE_KINDS:
            continue
        end_s = used_s + seconds(exchange)
        if end_s > budget_s:
            break
        done.append(exchange)
        used_s = end_s
    return tuple(done), used_s
