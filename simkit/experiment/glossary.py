"""The measure reference: every measure's name, unit and meaning."""

from __future__ import annotations

from dataclasses import dataclass

from simkit.base.messages import nearest
from simkit.base.vocabulary import NIGHT_LIMITS, SKILLS, STATES, WEEKDAYS
from simkit.cell.openstacks import WHY_TAKEN
from simkit.experiment.ordermeasures import DAYS_TO_DUE, name_of_day, name_of_days

NEEDED, UNATTENDED = "hours_needed", "night_running_h"
"""The two measures that most questions are answered with."""
USUAL = (
    NEEDED, "attended_h", "overtime_h", "subcontract_h", "unmet_h", "late_share", "run_h", "state_changeover_h",
    "state_waiting_person_h", "state_stopped_h", "tool_loads", "die_changes", "bench_h", UNATTENDED,
)  # fmt: skip
"""Measures that are shown where none is named."""


@dataclass(frozen=True)
class Measure:
    """A total (or mean, or share) of one run; ``extensive`` ones grow with the weeks simulated."""

    name: str
    unit: str
    meaning: str
    extensive: bool = True


_EXPECTED = "each cause by its column priced: probability times exposure, or the count"
_FIXED = (
    Measure("span_weeks", "weeks", "length of the measured span", extensive=False),
    Measure("drawn_h", "h", "planned hours, in today's plant, of all orders drawn: the same for all scenarios"),
    Measure("drawn_mean_h", "h", "the mean of those hours over all luck, known from book, weeks and demand"),
    Measure("attended_h", "h", "hours in which somebody who works at the machine is there, overtime included"),
    Measure("overtime_h", "h", "hours of overtime windows worked"),
    Measure(
        "hours_needed",
        "h",
        "machine hours in house until the released book is done (neither closed nor "
        "without work), plus orders subcontracted or refused at the same measure",
    ),
    Measure("inhouse_h", "h", "machine hours in house until the released book is done"),
    Measure("subcontract_h", "h", "hours of orders subcontracted, in the standard hours of today's plant"),
    Measure("unmet_h", "h", "hours of orders refused, in the standard hours of today's plant"),
    Measure("run_h", "h", "hours of punching, forming and cutting in the span"),
    Measure("cut_h", "h", "hours of cutting in the span"),
    Measure("machine_utilisation", "1", "share of calendar time spent punching, forming and cutting", extensive=False),
    Measure("machine_availability", "1", "share of calendar time not stopped", extensive=False),
    Measure("machine_queue_mean", "orders", "released orders waiting to start, time average", extensive=False),
    Measure("machine_wait_mean_s", "s", "mean time from release to start of an order", extensive=False),
    Measure("machine_wait_share", "1", "share of orders that wait to start", extensive=False),
    Measure("people_queue_mean", "requests", "requests at machines waiting for people, time average", extensive=False),
    Measure("people_wait_mean_s", "s", "mean wait of a request at a machine for people", extensive=False),
    Measure("people_wait_share", "1", "share of requests at machines that wait for people", extensive=False),
    Measure("people_utilisation", "1", "people's busy time over their windows of work", extensive=False),
    Measure("bench_queue_mean", "sheets", "sheets on the bench waiting for a person, time average", extensive=False),
    Measure("bench_wait_mean_s", "s", "mean wait of a sheet on the bench", extensive=False),
    Measure("bench_wait_share", "1", "share of sheets on the bench that wait", extensive=False),
    Measure("bench_sheets_mean", "sheets", "bench places taken, time average", extensive=False),
    Measure("bench_utilisation", "1", "share of calendar time with a sheet on the bench", extensive=False),
    Measure("orders_finished", "orders", "orders finished in house"),
    Measure(
        "orders_late",
        "orders",
        "orders not refused that are there after their due day, or not at all; one given "
        "out is there when it is delivered",
    ),
    Measure("late_share", "1", "late orders over all released orders that are not refused", extensive=False),
    Measure("refused_share", "1", "refused orders over all released orders", extensive=False),
    Measure("late_mean_days", "d", "mean lateness of late orders", extensive=False),
    Measure("orders_in_process_mean", "orders", "orders started and not finished, time average", extensive=False),
    Measure("backlog_end_h", "h", "planner's hours released and not finished at the end of the span", extensive=False),
    Measure("backlog_grows", "1", "1 if that backlog is well above the one at half of the span", extensive=False),
    Measure("sheets", "sheets", "good sheets made, whole run"),
    Measure(
        "sheets_in_span", "sheets", "good sheets made in the span; of those with places left empty their full part"
    ),
    Measure("full_sheets", "sheets", "good sheets made; of those with places left empty for a device their full part"),
    Measure("parts", "parts", "parts made, whole run"),
    Measure("sheets_scrapped", "sheets", "sheets lost at stops"),
    Measure("sheets_scrapped_expected", "sheets", f"sheets lost, {_EXPECTED}"),
    Measure("parts_scrapped", "parts", "expected parts scrapped for marks and the like"),
    Measure("parts_reworked", "parts", "expected parts reworked"),
    Measure("rework_h", "h", "expected hours of rework at the bench, beside its other hours"),
    Measure("material_kg", "kg", "sheet mass used, scrapped sheets included, less remnants kept"),
    Measure("remnant_kg", "kg", "remnants put back into stock and used again"),
    Measure("parts_kg", "kg", "mass of good parts"),
    Measure("scrap_kg", "kg", "mass used less mass of good parts"),
    Measure("gas_m3", "m3", "assist gas, whole run"),
    Measure("energy_kwh", "kWh", "energy of the machine, running and idle, whole run"),
    Measure(
        "lifts_by_hand",
        "lifts",
        "sheets loaded by people (heavy ones without a lifter), parts broken out by hand or sorted from the chute",
    ),
    Measure("lifted_kg", "kg", "mass of those lifts"),
    Measure("lifts_sheets", "lifts", "of those lifts, sheets"),
    Measure("lifted_sheets_kg", "kg", "mass of those sheets"),
    Measure("lifts_parts", "lifts", "of those lifts, parts"),
    Measure("lifted_parts_kg", "kg", "mass of those parts"),
    Measure("lifts_skeletons", "lifts", "skeletons and scrapped sheets carried away by people"),
    Measure("lifted_skeletons_kg", "kg", "mass of those"),
    Measure("stacks_exchanged", "stacks", "stacks of picked parts taken away"),
    Measure("skeletons_by_device", "skeletons", "skeletons that the removal device put on their pallet"),
    Measure("skeleton_pallets", "pallets", "full pallets of skeletons taken away"),
    Measure("cell_entries", "entries", "entries of people into the guarded cell of the removal device, whole run"),
    Measure("slug_kg", "kg", "slugs of the good sheets, by the figures of the tools"),
    Measure("skeleton_kg", "kg", "scrap that is not slugs: skeletons, cut-outs, scrapped sheets"),
    Measure("bench_morning_mean", "sheets", "sheets at bench and stack when a day's people come", extensive=False),
    Measure("bench_morning_most", "sheets", "the most sheets that waited so on a day of the span", extensive=False),
    Measure("tool_loads", "loads", "tools fetched and fitted by hand"),
    Measure("die_changes", "changes", "dies changed by hand for clearance only"),
    Measure("angle_changes", "changes", "tools turned by hand"),
    Measure("magazine_exchanges", "exchanges", "tools exchanged by the magazine's gripper"),
    Measure("magazine_die_changes", "exchanges", "dies exchanged by the magazine's gripper"),
    Measure("magazine_misses", "exchanges", "tools and dies exchanged by hand although there is a magazine"),
    Measure("magazine_loads", "loads", "tools and dies put into the magazine from outside"),
    Measure("exchange_hidden_h", "h", "exchange time hidden behind cutting"),
    Measure("exchange_visible_h", "h", "exchange time during which the machine stands"),
    Measure("tools_reground", "regrinds", "tools reground"),
    Measure("tools_replaced", "tools", "tools replaced because they cannot be ground again"),
    Measure("tool_lives", "lives", "lives between regrinds that ended: tools reground or replaced"),
    Measure("tool_faults", "faults", "tools found to be loaded wrongly"),
    Measure("tool_faults_late", "faults", "of those, found after the first piece had passed or without one"),
    Measure("tool_fault_h", "h", "hours of work to put wrongly loaded tools right"),
    Measure("tools_worn_out", "tools", "tools that failed in the middle of a sheet"),
    Measure("tools_broken", "tools", "tools broken"),
    Measure("tools_broken_expected", "tools", f"tools broken, {_EXPECTED}"),
    Measure("stops", "stops", "unplanned stops in the span"),
    Measure("stop_h", "h", "hours stopped in the span"),
    Measure("bench_h", "h", "hours of bench work on the sheets made, rework apart"),
    Measure("person_busy_h", "h", "people's busy hours in the span"),
    Measure("person_overrun_h", "h", "hours that people work past the end of their windows"),
    Measure("person_in_vain_h", "h", "people's hours on work broken off in the span by a window's end and begun anew"),
    Measure("person_walking_h", "h", "people's hours on the way after tasks at machines, in the span"),
    Measure("on_call_calls", "calls", "calls of people on call, in the span"),
    Measure("on_call_h", "h", "hours from those calls until the people left again, their way included"),
    Measure("person_elsewhere_h", "h", "people's hours at work in other cells by elsewhere_min, in the span"),
    Measure("care_by_others_h", "h", "upkeep of the run that is planned in breaks and done by people not of the cell"),
    Measure("preparation_h", "h", "moved work: preparation outside the machine's time"),
    Measure("programming_h", "h", "programming caused by the orders made"),
    Measure("eligible_parts_share", "1", "share of parts that the removal device takes", extensive=False),
    Measure("eligible_sheets_share", "1", "share of sheets whose parts it takes all", extensive=False),
    Measure("nights", "nights", "nights in which unattended running was allowed"),
    Measure("night_allowed_h", "h", "hours of those nights"),
    Measure("night_running_h", "h", "hours that the machine worked in them"),
    Measure("visit_running_h", "h", "hours that the machine worked while somebody visited in the night"),
)


_STACKS = {
    "height": "stacks taken away because one of their set was full by height",
    "mass": "stacks taken away because one of their set was full by mass",
    "order": "stacks taken away with the end of their order",
    "kit": "stacks taken away with the end of their kit",
    "places": "stacks of an open kit taken away because it needed a place that was not free",
    "no_work": "stacks of an open kit taken away because no work waited",
    "night": "open stacks taken away before the people left for a night",
}


_AT_THE_BENCH = {"bench": "; rework included"}


def _families() -> tuple[Measure, ...]:
    states = tuple(Measure(f"state_{name}_h", "h", f"machine hours {_words(name)}, in the span") for name in STATES)
    people = tuple(
        Measure(f"person_{name}_h", "h", f"people's hours of {_words(name)}, in the span" + _AT_THE_BENCH.get(name, ""))
        for name in SKILLS
    )
    ended = tuple(Measure(f"night_ended_{name}", "nights", f"nights ended by {name}") for name in NIGHT_LIMITS)
    lost = tuple(Measure(f"night_lost_{name}_h", "h", f"night hours lost after {name}") for name in NIGHT_LIMITS)
    days = tuple(
        Measure(name_of_day(day), "h", f"hours of orders subcontracted on a day of the week, {day}") for day in WEEKDAYS
    )
    days += tuple(
        Measure(
            name_of_days(name), "h", f"hours of orders subcontracted more than {a:g} and at most {b:g} days before due"
        )
        for name, (a, b) in DAYS_TO_DUE.items()
    )
    stacks = tuple(Measure(f"stacks_taken_{why}", "stacks", _STACKS[why]) for why in WHY_TAKEN)
    return (*states, *people, *ended, *lost, *stacks, *days)


def _words(name: str) -> str:
    return name.replace("_", " ")


MEASURES: dict[str, Measure] = {measure.name: measure for measure in (*_FIXED, *_families())}
"""Every measure that does not depend on the plant's own names, by name."""

PREFIXES: dict[str, Measure] = {
    "material_kg_": Measure("material_kg_<material>", "kg", "sheet mass used of a material"),
    "lost_kg_": Measure(
        "lost_kg_<metal>", "kg", "mass of scrapped sheets and of yield lost, less remnants kept, of a metal"
    ),
    "lost_expected_kg_": Measure(
        "lost_expected_kg_<metal>", "kg", f"as lost_kg_<metal>, with the scrapped sheets {_EXPECTED}"
    ),
    "scrap_kg_": Measure("scrap_kg_<metal>", "kg", "scrap mass of a metal"),
    "slug_kg_": Measure("slug_kg_<metal>", "kg", "of that, slugs of the good sheets"),
    "busy_h_": Measure(
        "busy_h_<person>",
        "h",
        "hours that a person is busy in the ordinary windows of work, in the span, and the "
        "person's share by paid hours of moved work asked for and not done by its end",
    ),
}
"""Measures that exist once per material, metal or person."""


def describe(name: str) -> Measure:
    """Unit and meaning of a measure; raises KeyError with the nearest known name."""
    if name in MEASURES:
        return MEASURES[name]
    for prefix, measure in PREFIXES.items():
        if name.startswith(prefix):
            return measure
    raise KeyError(f"no measure named '{name}'; {nearest(name, MEASURES)}")
