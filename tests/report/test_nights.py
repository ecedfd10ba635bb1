"""What the sections about nights say equals what the results and the table of nights say."""

from __future__ import annotations

import dataclasses

import pytest

from simkit.analysis.night_tables import by_want, night_mean, ranking
from simkit.base.vocabulary import NO_SOURCE
from simkit.experiment.runner import run_scenarios
from simkit.plant.plant import Plant
from simkit.plant.scenarios import make_scenario
from simkit.report.exhibits import Block, Exhibit
from simkit.report.nightstudy import NO_NIGHT, NOT_ASSESSED, OTHER_DEMAND, NightStudy, nights_of, read_by_nights
from simkit.report.sections import nights, nights_causes, nights_morning
from simkit.report.simulate_nights import simulate_nights
from simkit.report.study import Study
from simkit.report.studydata import RunCard
from simkit.report.words import number, percent, plus_minus
from tests.experiment.test_nights import unattended
from tests.report.fake_nights import BASE_NAME, NIGHT_LEFT, RIVAL_NAME, STOP
from tests.report.fake_results import LOST_H, luck_of

SECTIONS = (
    nights.set_table, nights.distribution, nights.closed_form_table, nights.demand_table, nights.weekday_table,
    nights_causes.ends_figure, nights_causes.ends_table, nights_causes.removed_table, nights_causes.order_figure,
    nights_causes.order_table, nights_causes.limits_table, nights_causes.help_table, nights_causes.why_shorter,
    nights_morning.needs_table, nights_morning.morning_table, nights_morning.rivals_table, nights_morning.weekly_hours,
)  # fmt: skip
LUCK = sum(luck_of(replication) for replication in range(5)) / 5


@pytest.fixture(scope="module")
def view(study):
    return nights_of(study)


def rows_of(block: Block) -> dict[str, tuple[str, ...]]:
    return {row.head: row.cells for row in block.content["rows"] if row.look != "group"}


def changed(study, **parts) -> NightStudy:
    return nights_of(dataclasses.replace(study, **parts))


# ---- answer ----


def test_the_answer_gives_hours_ends_and_what_the_morning_pays(view):
    text = nights.answer_nights(view).text
    frame = view.nights(BASE_NAME)
    hours = night_mean(frame, "running_h")
    assert hours.mean == pytest.approx(8.0 - LOST_H * LUCK)
    assert f"the machine works {plus_minus(hours)}" in text
    low, high = (frame["running_h"].quantile(q) for q in (0.1, 0.9))
    assert f"8 nights in 10: {number(low)} to {number(high)}" in text
    first = by_want(frame)[0]
    assert first.want == STOP
    assert f"stop “{STOP}”, {percent(first.lost_h / frame['lost_h'].sum())} of those lost" in text
    assert f"pays {plus_minus(view.per_night(BASE_NAME, 'hand_h'))}" in text


def test_hours_of_nights_are_those_of_the_runs(view):
    per_week = view.nights(BASE_NAME)["running_h"].sum() / 5 / view.study.run.weeks
    assert per_week == pytest.approx(view.study.per_week(BASE_NAME, "night_running_h").mean)


def test_cautions_come_with_the_assessment(view):
    listed, assessed = nights.night_cautions(view)
    heads = [item["head"] for item in listed.content["items"]]
    assert heads[0] == "Standing line"
    assert {"Who decides", "Fire", "Insurer", "Lone work"} <= set(heads)
    assert assessed.text == "Unattended running assessed by: safety group, on 2026-01-02 (plant.toml)."


# ---- tables ----


def test_the_table_of_sets_shows_those_looked_at_one_by_one_and_the_others(view):
    rows = rows_of(nights.set_table(view))
    own, rival, other = rows[view.named(BASE_NAME)], rows[view.named(RIVAL_NAME)], rows["A4+C1"]
    assert own[2] == plus_minus(view.per_night(BASE_NAME))
    assert "to" in own[3]
    assert "to" in rival[3]
    assert other[3:5] == ("–", "–")
    assert other[2].split()[0] == number(view.study.total("A4+C1", "night_running_h").mean / 20)


def test_ends_are_counted_by_limit_and_by_want(view):
    rows, frame = rows_of(nights_causes.ends_table(view)), view.nights(BASE_NAME)
    assert rows["stops and checks"][0] == number(100 * (frame["ended_by"] == "stop").mean(), 0) == "40"
    assert rows["release"][0] == rows["output"][0] == rows["no more orders released"][0] == "20"
    lost = {end.limit: end.lost_h for end in ranking(frame)}
    assert rows["release"][1] == number(lost["release"] / len(frame))
    assert rows["nothing: reached the morning"][0] == "0"
    shares = nights_causes.shares_by_kind(view)
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["shift"] == pytest.approx(lost["output"] / sum(lost.values()))


def test_what_is_taken_away_gives_the_hours_it_lost_less_those_lost_then(view):
    rows = rows_of(nights_causes.removed_table(view))
    gain = 5 * LOST_H * (1 - NIGHT_LEFT["no stop"]) * LUCK
    assert rows["stop “short stop”"][1].startswith(f"+{number(gain)}")
    assert list(rows) == ["stop “short stop”", "a program that is not proven"]
    steps = rows_of(nights_causes.order_table(view))
    first, second = steps["1. without a short stop"], steps["2. also without new programs"]
    assert first[1].split()[0] == first[2].split()[0] == f"+{number(gain)}"
    more = 5 * LOST_H * (NIGHT_LEFT["no stop"] - NIGHT_LEFT["no stop, no release"]) * LUCK
    assert second[1].startswith(f"+{number(more)}")


def test_the_figure_of_steps_starts_as_it_is_and_ends_with_the_queue(view):
    figure = nights_causes.order_figure(view)
    assert isinstance(figure, Exhibit)
    assert figure.title.startswith(f"From {number(view.per_night(BASE_NAME).mean)} h a night to ")
    assert plus_minus(view.per_night("Nothing but the queue")) in figure.alt


def test_help_is_weighed_against_the_hours_paid(view):
    assert NO_SOURCE in nights_causes.help_table(view).content["note"]
    rows = rows_of(nights_causes.help_table(view))
    gain = 5 * LOST_H * (1 - NIGHT_LEFT["help"]) * LUCK
    visit = rows["Somebody there at 22:00"]
    assert visit[0].startswith(f"+{number(gain)}")
    assert visit[2:4] == ("5.00", number(gain / 5.0))
    assert rows["On call"][2:4] == ("0", "–")


def test_the_closed_form_stands_beside_the_simulated_hours(view):
    block = nights.closed_form_table(view)
    rows, process = rows_of(block), 0.6
    assert rows["short stop"][0] == number(0.4 * process)
    assert rows["breakdown"][0] == number(0.018 * process)
    assert rows["all causes together"][0] == number(0.418 * process)
    assert plus_minus(view.per_night("Only unplanned stops")) in {row[2] for row in rows.values()}
    assert "No cause has an early life here" in block.content["note"]


def test_the_morning_is_shown_for_both_ways_of_handing_over(view):
    block = nights_morning.morning_table(view)
    assert len(block.content["columns"]) == 4
    bench = rows_of(block)["bench work on them, h"][0]
    assert bench.startswith(plus_minus(view.per_night(BASE_NAME, "hand_h")))


def test_rivals_stand_beside_the_night_with_people_and_late_orders(view):
    rows = rows_of(nights_morning.rivals_table(view))
    assert {"Today", "Package", "C2", view.named(BASE_NAME)} <= set(rows)
    assert rows["Today"][2] == "–"
    assert rows[view.named(BASE_NAME)][2] == plus_minus(view.study.per_week(BASE_NAME, "night_running_h"))


def test_every_section_speaks_of_the_plant(view):
    for section in SECTIONS:
        shown = section(view)
        assert nights.NOTHING not in (shown.text if isinstance(shown, Block) else shown.title)


# ---- plants without nights to show ----


def without(study, reason) -> NightStudy:
    if reason == NO_NIGHT:
        return changed(study, run=dataclasses.replace(study.run, cases={}))
    if reason == OTHER_DEMAND:
        return changed(study, run=dataclasses.replace(study.run, tool_demand=1.25))
    return changed(study, plant=with_night(study.plant, assessed_by="", assessed_on=""))


def with_night(plant: Plant, **parts: str) -> Plant:
    night = plant.settings.calendar.night.model_copy(update=parts)
    calendar = plant.settings.calendar.model_copy(update={"night": night})
    return dataclasses.replace(plant, settings=plant.settings.model_copy(update={"calendar": calendar}))


@pytest.mark.parametrize("reason", [NO_NIGHT, NOT_ASSESSED, OTHER_DEMAND])
def test_a_plant_without_nights_to_show_says_so_in_one_sentence(study, reason):
    view = without(study, reason)
    assert nights.answer_nights(view).text == reason
    assert reason.count(". ") == 0
    for section in SECTIONS:
        assert section(view).text == nights.NOTHING
    assert nights.night_cautions(view)[0].content["items"]


# ---- the simulate step, on plants worked by hand ----


def simulated(plant: Plant) -> NightStudy:
    run = {"replications": 2, "seed": 1, "weeks": 1.0, "workers": 1, "progress": False}
    today = make_scenario(plant)
    known = run_scenarios(today, [today], demand_factors=[1.0], **run)
    found = simulate_nights(plant, known, [()], 1.0, lambda _: None, **run)
    card = RunCard(plant="x", seed=1, replications=2, weeks=1.0, demand_factors=(1.0,), scenarios={"today": ()},
                   cases={"nights": found.cases})  # fmt: skip
    results = known.joined(found.results)
    return nights_of(Study(plant=plant, results=results, run=card, demand_factor=1.0, tables=found.tables))


def test_a_night_limited_by_its_queue_shows_it():
    """Ten sheets of an hour, eight by day: two hours of work, whatever is taken away (T8)."""
    view = simulated(unattended(10, stack=30))
    text = nights.answer_nights(view).text
    assert f"What cost most hours: no more orders released, {percent(1.0)} of those lost" in text
    assert "whatever is bought for it" in text
    for name in ("today", "Nothing but the queue"):
        first = view.nights(name).iloc[0]
        assert (first["running_h"], first["ended_by"]) == (2.0, "queue")
    assert rows_of(nights.demand_table(view))["1"][1] == "100"
    assert "can be taken away" in nights_causes.removed_table(view).text


def test_a_full_stack_ends_the_night_and_without_that_it_reaches_the_morning():
    view = simulated(unattended(60, stack=9))
    assert view.nights("today").iloc[0]["want"] == "stack_full"
    cases = {case.want: case.name for case in view.cases("one removed")}
    assert view.nights(cases["stack_full"]).iloc[0]["running_h"] == 16.0
    assert rows_of(nights_causes.removed_table(view))["a full stack of whole sheets"][1].startswith("+")


def test_a_plant_that_allows_no_night_simulates_none():
    view = simulated(with_night(unattended(10), rule="not_allowed"))
    assert view.own_cases == {}
    assert nights.answer_nights(view).text == NO_NIGHT


def test_the_page_reads_the_physics_of_its_cases_and_the_assessment(study):
    lines = read_by_nights(study)
    assert "safety group, on 2026-01-02 (plant.toml)" in lines
    assert any(line.startswith(BASE_NAME) for line in lines)
    assert read_by_nights(without(study, NOT_ASSESSED).study) != lines
