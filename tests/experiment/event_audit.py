"""An outsider's audit of a table of events: knows the file and the page that describes it, and nothing of the kit."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pandas as pd

TOLERANCE_H = 1e-9
"""Hours in the file have ten decimals."""
FREE = ""


def audited(path: Path) -> dict[tuple[str, int], dict[str, float]]:
    """Check every run in a file and return its measures by scenario and replication; AssertionError where it lies."""
    table = pd.read_csv(path, dtype={"order_id": str, "program_id": str, "tool_id": str, "waiting": str, "by": str})
    found = {}
    for key, rows in table.groupby(["scenario", "replication"]):
        turrets_hold_one_tool_a_station(rows[rows.kind == "tool"])
        exchanges_were_done_by_somebody(rows)
        nobody_does_two_things(rows[rows.kind == "person"])
        requests_are_worked_on_by_those_who_say_so(rows)
        levels_stay_within_places(rows[rows.kind == "level"])
        machines_wait_for_something(rows)
        found[key] = measures(rows)
    return found


def measures(rows: pd.DataFrame) -> dict[str, float]:
    """Hours by state, waits and queues within the measured span, exchanges of the whole run."""
    (start, end), *_ = rows[rows.state == "measured"][["start_h", "end_h"]].to_numpy()
    found: dict[str, float] = {}
    machines = rows[rows.kind == "machine"]
    hours = machines.end_h.clip(start, end) - machines.start_h.clip(start, end)
    for state, sum_h in hours.groupby(machines.state).sum().items():
        found[f"state_{state}_h"] = sum_h
    assert abs(hours.sum() - machines.resource.nunique() * (end - start)) < 1e-6, "states do not sum to the calendar"
    requests = rows[rows.kind == "request"]
    for name, mine in (("people", requests[requests.resource.notna()]), ("bench", requests[requests.task == "bench"])):
        begun = mine[mine.state == "works"].request.unique()
        found |= waits(mine[(mine.state == "waits") & mine.request.isin(begun)], name, start, end)
    orders = rows[rows.kind == "order"]
    waiting, in_work = orders[orders.state == "waits"], orders[orders.state == "in_work"]
    found |= waits(waiting[waiting.job.isin(in_work.job)], "machine", start, end)
    found |= {"machine_queue_mean": waits(waiting, "machine", start, end)["machine_queue_mean"]}
    bench = rows[(rows.kind == "level") & (rows.resource == "bench")]
    within = bench.end_h.clip(start, end) - bench.start_h.clip(start, end)
    found["bench_sheets_mean"] = (within * bench.level).sum() / (end - start)
    tools = rows[(rows.kind == "tool") & rows.to_place.str.startswith("station") & (rows.state != "at_start")]
    for kind in ("tool_load", "die_change", "angle_change", "magazine_exchange", "magazine_die_change"):
        found[f"{kind}s"] = float((tools.state == kind).sum())
    found["exchange_hidden_h"] = tools[tools.hidden == "yes"].seconds.sum() / 3600
    overtime = rows[(rows.kind == "calendar") & (rows.state == "overtime")]
    run_h = rows[(rows.kind == "calendar") & (rows.state == "run")].end_h.iloc[0]
    found["overtime_h"] = (overtime.end_h.clip(upper=run_h) - overtime.start_h.clip(upper=run_h)).sum()
    return found


def waits(rows: pd.DataFrame, name: str, start: float, end: float) -> dict[str, float]:
    counted = rows[(rows.start_h >= start) & (rows.start_h < end)]
    seconds = (counted.end_h - counted.start_h) * 3600
    queue_h = rows.end_h.clip(start, end) - rows.start_h.clip(start, end)
    return {
        f"{name}_queue_mean": queue_h.sum() / (end - start),
        f"{name}_wait_mean_s": seconds.mean() if len(seconds) else 0.0,
        f"{name}_wait_share": float((seconds > 0).mean()) if len(seconds) else 0.0,
    }


def turrets_hold_one_tool_a_station(moves: pd.DataFrame) -> None:
    """Replay all moves: a copy leaves the place where it is, and comes to a station that is there and free."""
    for machine, own in moves.groupby("resource"):
        at_start = own[own.state == "at_start"]
        station = dict.fromkeys(at_start.to_place[at_start.to_place.str.startswith("station")], FREE)
        assert len(station) == at_start.to_place.str.startswith("station").sum(), "a station is listed twice"
        place: dict[tuple[str, float], str] = {}
        fitted: dict[tuple[str, float], float] = {}
        assert own.start_h.is_monotonic_increasing
        columns = ["state", "tool_id", "copy", "from_place", "to_place", "clearance_mm"]
        for state, tool, number, source, target, clearance in own[columns].itertuples(index=False):
            if not isinstance(tool, str) or number == 0:
                assert state == "at_start" or {source, target} == {"magazine", "outside"}
                continue
            copy = (tool, number)
            if state == "at_start":
                assert copy not in place, f"{machine}: {copy} is at two places at the start"
            else:
                assert place[copy] == source, f"{machine}: {copy} leaves {source} and is at {place[copy]}"
                if source in station:
                    assert station[source] == copy
                    station[source] = FREE
                    assert target in station or fitted[copy] == clearance or pd.isna(clearance)
            if target.startswith("station"):
                assert station[target] == FREE, f"{machine}: {copy} comes to {target}, where {station[target]} stands"
                station[target], fitted[copy] = copy, clearance
            place[copy] = target
            assert sum(held != FREE for held in station.values()) == sum(p in station for p in place.values())


def exchanges_were_done_by_somebody(rows: pd.DataFrame) -> None:
    """What takes time is done by the gripper, or by people in a request that lasts no shorter; hidden by it alone."""
    tools = rows[(rows.kind == "tool") & (rows.seconds > 0)]
    assert (tools[tools.hidden == "yes"].by == "gripper").all()
    by_hand = tools[tools.by != "gripper"]
    requests = rows[rows.kind == "request"]
    work = requests[requests.state == "works"]
    hours = (work.end_h - work.start_h).groupby(work.helps.fillna(work.request)).sum()
    ended = set(work[(work.done == "yes") & work.helps.isna()].request)
    machine = requests.drop_duplicates("request").set_index("request").resource
    for request, own in by_hand.groupby("request", dropna=False):
        assert pd.notna(request), "work by hand that nobody was asked for"
        assert set(own.resource) == {machine[request]}
        if request in ended:
            assert own.seconds.sum() / 3600 <= hours[request] + TOLERANCE_H


def nobody_does_two_things(rows: pd.DataFrame) -> None:
    for person, own in rows.groupby("resource"):
        spans = sorted(zip(own.start_h, own.end_h, strict=True))
        for (_, end), (start, _) in pairwise(spans):
            assert start >= end - TOLERANCE_H, f"{person} is at two tasks at {start} h"


def requests_are_worked_on_by_those_who_say_so(rows: pd.DataFrame) -> None:
    """Rows of requests follow each other without gap, end once, and are the rows of the people named, and no others."""
    requests = rows[rows.kind == "request"]
    seen, last = set(), dict[float, tuple[str, float, str]]()
    begun = requests[requests.state == "works"].groupby("request").start_h.first()
    for request, state, start, end, by, done, helped in requests[
        ["request", "state", "start_h", "end_h", "by", "done", "helps"]
    ].itertuples(index=False):
        if pd.isna(helped):
            assert (state == "waits") == (request not in last), "a request waits first, and once"
        else:
            assert state == "works", "nobody waits for a helper"
            assert abs(start - begun[helped]) <= TOLERANCE_H, "who helps begins with the task"
        _, edge, ended = last.get(request, ("", start, "no"))
        assert abs(start - edge) <= TOLERANCE_H, f"request {request} has a gap at {edge} h"
        assert ended != "yes", f"request {request} goes on after its end"
        last[request] = (state, end, done)
        if state == "works":
            seen |= {(person, request, start, end) for person in by.split("+")}
    people = rows[(rows.kind == "person") & (rows.state != "walking")]
    told = set(zip(people.resource, people.request, people.start_h, people.end_h, strict=True))
    assert told == seen


def levels_stay_within_places(rows: pd.DataFrame) -> None:
    for _, own in rows.groupby("resource"):
        assert (own.level >= 0).all()
        assert (own.level <= own.places).all()
        assert (own.start_h.to_numpy()[1:] == own.end_h.to_numpy()[:-1]).all()


def machines_wait_for_something(rows: pd.DataFrame) -> None:
    """A machine that waits says for what; while it waits for people, a request of its own waits for these skills."""
    machines = rows[rows.kind == "machine"]
    waiting = machines[machines.state.isin(("waiting_person", "waiting_material", "blocked", "no_work"))]
    assert waiting.waiting.notna().all()
    by_whom = waiting[waiting.state == "waiting_person"]
    requests = rows[(rows.kind == "request") & rows.state.isin(("waits", "paused"))]
    columns = ["resource", "waiting", "start_h", "end_h"]
    asked: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for machine, skills, start, end in requests[columns].itertuples(index=False):
        asked.setdefault((machine, skills), []).append((start, end))
    for machine, skills, start, end in by_whom[columns].itertuples(index=False):
        assert any(a <= start + TOLERANCE_H and end <= b + TOLERANCE_H for a, b in asked[machine, skills])
    ran = machines[machines.state.isin(("punching", "forming", "cutting", "loading", "unloading", "first_piece"))]
    assert ran.sheet.notna().all()
    assert ran.job.notna().all()
