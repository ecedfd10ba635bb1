"""The tool switching problem solved exactly for a few jobs: alike tools, one station class, exchanges as in the cell.

A yardstick for the kit's rules and searches, itself held to published optima: it sees neither due dates nor several
sizes. Jobs are sets of tool numbers; results name jobs by their place in the list given, from 0.

How the search works. After some jobs are done, what matters for the rest is which of their tools could
still be in the turret, and how many together: tools of the last job all could, older ones only as far as
every job since left places free for them. Sequences that leave the same jobs and the same possibilities are
one state, of which the cheapest is kept (deciding late what stays counts as keeping the tool needed soonest
does). Layer by layer, a state is dropped when its insertions and a lower bound of the rest reach the
best sequence known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass
from functools import cache

MAX_JOBS = 12
"""Most jobs that the exact searches take: up to a million states; each further job would mean some three times more."""

Levels = tuple[tuple[int, int], ...]
"""Tools that could still be there, oldest first: a bit mask, and how many of it and older ones at most."""


@dataclass(frozen=True, slots=True)
class Sequenced:
    """A sequence with its proven count.

    ``order`` are the jobs by their place in the list given; ``insertions`` are counted from an empty turret;
    of them the first loads are no ``switches``; ``examined`` is the number of states looked at.
    """

    order: tuple[int, ...]
    insertions: int
    switches: int
    examined: int


def best_order(jobs: Sequence[Set[int]], capacity: int) -> Sequenced:
    """Return an order of the jobs with the fewest insertions; none has fewer.

    Raises :class:`ValueError` when a job needs more tools than ``capacity`` or when more than
    :data:`MAX_JOBS` jobs are left after those that are part of others (:func:`dominated`).

    Source: problem, dominance and bounds of Tang and Denardo 1988, Operations Research 36(5):767-777;
    a sequence and its reverse cost the same (Ghiani, Grieco and Guerriero 2010, Networks 55:379-385).
    """
    masks = _masks(jobs, capacity)
    inside = dominated(jobs)
    left = [number for number in range(len(jobs)) if number not in inside]
    _refuse_many(len(left))
    reduced = [masks[number] for number in left]
    start = _local_search(reduced, capacity)
    ceiling = _counted(reduced, start, capacity)
    examined, found = _layers(reduced, capacity, ceiling)
    order = [left[at] for at in (start if found is None else found[1])]
    for number in sorted(inside, reverse=True):
        order.insert(order.index(inside[number]) + 1, number)
    return _sequenced(masks, order, capacity, examined)


def worst_order(jobs: Sequence[Set[int]], capacity: int) -> Sequenced:
    """Return an order of the jobs with the most insertions: with the best one, the span of what order can do.

    Raises :class:`ValueError` as :func:`best_order` does, but counts every job.
    """
    masks = _masks(jobs, capacity)
    _refuse_many(len(masks))
    examined, found = _layers(masks, capacity, None)
    return _sequenced(masks, found[1] if found else (), capacity, examined)


def dominated(jobs: Sequence[Set[int]]) -> dict[int, int]:
    """Return jobs whose tools are all among those of another job, with the first such job that stays.

    Done right after it they need no insertion, so an optimum of the other jobs is one of all. Of equal
    jobs the first stays. Source: Tang and Denardo 1988.
    """
    staying = [
        number
        for number, job in enumerate(jobs)
        if not any(job < other or (job == other and at < number) for at, other in enumerate(jobs))
    ]
    return {
        number: next(at for at in staying if jobs[number] <= jobs[at])
        for number in range(len(jobs))
        if number not in staying
    }


def pair_bound(first: Set[int], second: Set[int], capacity: int) -> int:
    """Return the fewest insertions between two jobs done one right after the other, whatever came before.

    Source: Tang and Denardo 1988, table II.
    """
    return max(0, len(first | second) - capacity)


def groups(jobs: Sequence[Set[int]], capacity: int) -> tuple[tuple[int, ...], ...]:
    """Return the fewest groups of jobs such that the tools of each group fit into the turret together.

    With complete changes only between groups, their number is that of the stops. Raises :class:`ValueError`
    as :func:`best_order` does.
    """
    masks = _masks(jobs, capacity)
    inside = dominated(jobs)
    left = [number for number in range(len(jobs)) if number not in inside]
    _refuse_many(len(left))
    fitting = _largest_fitting([masks[number] for number in left], capacity)
    covered: dict[int, tuple[int, ...]] = {0: ()}
    full = (1 << len(left)) - 1
    while full not in covered:
        after: dict[int, tuple[int, ...]] = {}
        for done, chosen in covered.items():
            first_open = ~done & (done + 1)
            for group in fitting:
                if group & first_open:
                    after.setdefault(done | group, (*chosen, group & ~done))
        covered = after
    found = [[number for at, number in enumerate(left) if group >> at & 1] for group in covered[full]]
    for number, at in inside.items():
        next(group for group in found if at in group).append(number)
    return tuple(tuple(sorted(group)) for group in found)


def _masks(jobs: Sequence[Set[int]], capacity: int) -> list[int]:
    """Jobs as bit masks of their tools; refuses jobs that do not fit."""
    for number, job in enumerate(jobs):
        if len(job) > capacity:
            raise ValueError(f"job {number} needs {len(job)} tools, the turret holds {capacity}")
    bits = {tool: 1 << bit for bit, tool in enumerate(sorted({tool for job in jobs for tool in job}))}
    return [sum(bits[tool] for tool in job) for job in jobs]


def _refuse_many(count: int) -> None:
    if count > MAX_JOBS:
        raise ValueError(f"{count} jobs to put in order, the exact search takes at most {MAX_JOBS}")


def _sequenced(masks: Sequence[int], order: Sequence[int], capacity: int, examined: int) -> Sequenced:
    insertions = _counted(masks, order, capacity)
    return Sequenced(tuple(order), insertions, insertions - min(capacity, _union(masks).bit_count()), examined)


def _union(masks: Sequence[int]) -> int:
    together = 0
    for mask in masks:
        together |= mask
    return together


def _counted(masks: Sequence[int], order: Sequence[int], capacity: int) -> int:
    """Insertions of a sequence."""
    levels: Levels = ()
    total = 0
    for number in order:
        inserted, levels = _done(levels, masks[number], capacity, -1)
        total += inserted
    return total


def _done(levels: Levels, job: int, capacity: int, needed: int) -> tuple[int, Levels]:
    """Do a job: its insertions, and what could be there afterwards of the tools still ``needed`` (a mask).

    Of the job's tools those used most lately stayed, as far as places were free ever since.
    """
    room = capacity
    kept = []
    for tools, most in reversed(levels):
        room = min(room, most)
        stayed = min((tools & job).bit_count(), room)
        kept.append(stayed)
        room -= stayed
    size = job.bit_count()
    gone = 0
    places = []
    for (_, most), stayed in zip(levels, reversed(kept), strict=True):
        gone += stayed
        places.append(min(most - gone, capacity - size))
    return size - gone, _simplified(levels, places, job, needed)


def _simplified(levels: Levels, places: list[int], job: int, needed: int) -> Levels:
    """Join what makes no difference, so that equal possibilities are equal states."""
    for at in range(len(places) - 2, -1, -1):
        places[at] = min(places[at], places[at + 1])
    found: list[tuple[int, int]] = []
    older, joined = 0, 0
    for (tools, _), most in zip(levels, places, strict=True):
        if most == 0:
            continue
        joined |= tools & ~job & needed
        if most < older + joined.bit_count():
            found.append((joined, most))
            older, joined = most, 0
    joined |= job & needed
    return (*found, (joined, older + joined.bit_count()))


def _layers(masks: Sequence[int], capacity: int, ceiling: int | None) -> tuple[int, tuple[int, tuple[int, ...]] | None]:
    """Extend all states job by job: the states looked at, and the cost and order that is left.

    With a ``ceiling``, the cheapest order below it, None if there is none; without one, the dearest of all.
    """
    bound = _bounds(masks, capacity)
    all_jobs = (1 << len(masks)) - 1
    states: dict[tuple[int, Levels], tuple[int, tuple[int, ...]]] = {(0, ()): (0, ())}
    examined = 0
    for _ in masks:
        after: dict[tuple[int, Levels], tuple[int, tuple[int, ...]]] = {}
        for (done, levels), (cost, order) in states.items():
            for number in _may_follow(done, all_jobs):
                now_done = done | 1 << number
                low, needed = bound(now_done)
                inserted, left = _done(levels, masks[number], capacity, needed)
                total = cost + inserted
                if ceiling is not None and total + low >= ceiling:
                    continue
                known = after.get((now_done, left))
                if known is None or (total > known[0] if ceiling is None else total < known[0]):
                    after[now_done, left] = (total, (*order, number))
        states = after
        examined += len(states)
    ends = sorted(states.values())
    return examined, (ends[-1 if ceiling is None else 0] if ends else None)


def _may_follow(done: int, all_jobs: int) -> list[int]:
    """Jobs still to do; of a sequence and its reverse the one is enough in which job 0 comes before job 1."""
    left = all_jobs & ~done
    return [at for at in range(left.bit_length()) if left >> at & 1 and not (at == 1 and left & 1)]


def _bounds(masks: Sequence[int], capacity: int) -> Callable[[int], tuple[int, int]]:
    """By jobs done: fewest insertions still to come, and the tools that will be needed again.

    Every tool not seen so far is inserted once; and between neighbours there are at least the insertions of
    the pair, so at least those of a cheapest tree over the jobs still to do and one done.
    """

    @cache
    def bound(done: int) -> tuple[int, int]:
        left = [mask for at, mask in enumerate(masks) if not done >> at & 1]
        before = [mask for at, mask in enumerate(masks) if done >> at & 1]
        needed = _union(left)
        return max((needed & ~_union(before)).bit_count(), _tree(before, left, capacity)), needed

    return bound


def _tree(before: Sequence[int], left: Sequence[int], capacity: int) -> int:
    """Pair bounds along a cheapest tree that joins the jobs still to do to those done."""
    nearest = {at: min((_pair(mask, other, capacity) for other in before), default=0) for at, mask in enumerate(left)}
    total = 0
    while nearest:
        at = min(nearest, key=lambda at: nearest[at])
        total += nearest.pop(at)
        for other in nearest:
            nearest[other] = min(nearest[other], _pair(left[at], left[other], capacity))
    return total


def _pair(first: int, second: int, capacity: int) -> int:
    return max(0, (first | second).bit_count() - capacity)


def _local_search(masks: Sequence[int], capacity: int) -> list[int]:
    """A good sequence to start from: the nearest job next, then jobs moved as long as that saves insertions."""
    order: list[int] = []
    left = list(range(len(masks)))
    while left:
        following = min(left, key=lambda at: (_counted(masks, [*order, at], capacity), -masks[at].bit_count(), at))
        left.remove(following)
        order.append(following)
    best = _counted(masks, order, capacity)
    improved = True
    while improved:
        improved = False
        for source in range(len(order)):
            for target in range(len(order)):
                moved = [*order[:source], *order[source + 1 :]]
                moved.insert(target, order[source])
                cost = _counted(masks, moved, capacity)
                if cost < best:
                    order, best, improved = moved, cost, True
    return order


def _largest_fitting(masks: Sequence[int], capacity: int) -> list[int]:
    """Sets of jobs (bit masks) whose tools fit together and to which no job can be added."""
    unions = {0: 0}
    for at, mask in enumerate(masks):
        unions |= {
            group | 1 << at: tools | mask
            for group, tools in list(unions.items())
            if (tools | mask).bit_count() <= capacity
        }
    return [
        group
        for group, tools in unions.items()
        if all(group >> at & 1 or (tools | mask).bit_count() > capacity for at, mask in enumerate(masks))
    ]
