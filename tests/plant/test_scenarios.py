"""Scenarios: combinations, needs and exclusions, checks after edits, hashes."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest

from simkit.base.messages import BadInput
from simkit.plant.fields import columns_of, key_columns
from simkit.plant.hashes import MONEY_COLUMNS, MONEY_SETTINGS, MONEY_TABLES, hashes
from simkit.plant.options import Edit, Option, Range
from simkit.plant.plant import PlantInputs
from simkit.plant.scenarios import make_scenario, parse_combination
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES, CalendarDay, HistoryRow, LoadFault, Measured, ObservedWeek, Quality, StartRow
from simkit.plant.values import Refusal, fit_value
from tests.small_plant import small_plant


def option(name: str, path: str = "", value: Any = None, **fields: Any) -> Option:
    edits = (Edit(path=path, value=value),) if path else ()
    return Option(id=name, name=name, kind="low_capital", edits=edits, **fields)


OPTIONS = (
    option("N1", "plant.rules.dispatch", "due"),
    option("N2", "plant.rules.dispatch", "grouped"),
    option("N3", "plant.rules.dispatch", "grouped", overrides=("N1",)),
    option("A1", needs=("N1",)),
    option("A2", needs=(("N1", "N3"),)),
    option("A3", excludes=("A2",)),
    option("C1", "people[OP-1].shift", "night"),
)
PLANT = small_plant(options=OPTIONS)


def refusal(options: tuple[str, ...], overrides: tuple[str, ...] = ()) -> str:
    with pytest.raises(BadInput) as caught:
        make_scenario(PLANT, options, overrides)
    return str(caught.value)


def test_combinations_are_written_with_plus() -> None:
    assert parse_combination("A1+N2") == ("A1", "N2")
    assert parse_combination(" A1 + N2 ") == ("A1", "N2")
    assert parse_combination("today") == parse_combination("base") == parse_combination("") == ()


def test_names() -> None:
    assert make_scenario(PLANT).name == "today"
    assert make_scenario(PLANT, ("A1", "N1")).name == "A1+N1"
    assert make_scenario(PLANT, ("N1",), name="rule").name == "rule"


def test_today_is_the_plant_itself() -> None:
    assert make_scenario(PLANT).plant is PLANT


def test_overrides_come_last() -> None:
    scenario = make_scenario(PLANT, ("N1",), ("plant.rules.dispatch=arrival",))
    assert scenario.plant.settings.rules.dispatch == "arrival"
    assert scenario.overrides == ("plant.rules.dispatch=arrival",)


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("N9",), '"N9": is not an option of this plant'),
        (("N1", "N1"), "is named twice"),
        (("A1",), '"A1": needs N1'),
        (("A2",), "Add N1 or N3 to the combination"),
        (("A2", "A3", "N1"), '"A3": cannot be combined with A2'),
        (("N1", "N2"), "N1 sets 'due' and N2 sets 'grouped'"),
        (("C1",), 'C1: people.csv shift "night": is not a shift of the calendar'),
    ],
)
def test_combinations_that_are_refused(options: tuple[str, ...], why: str) -> None:
    assert why in refusal(options)


def test_combinations_that_hold() -> None:
    assert make_scenario(PLANT, ("A1", "N1")).plant.settings.rules.dispatch == "due"
    assert make_scenario(PLANT, ("A2", "N3")).plant.settings.rules.dispatch == "grouped"
    assert make_scenario(PLANT, ("N1", "N3")).plant.settings.rules.dispatch == "grouped"


def test_a_mutual_exclusion_is_told_once() -> None:
    plant = small_plant(options=(option("A1", excludes=("A2",)), option("A2", excludes=("A1",))))
    for pair in (("A1", "A2"), ("A2", "A1")):
        with pytest.raises(BadInput) as caught:
            make_scenario(plant, pair)
        assert len(caught.value.findings) == 1


def test_all_problems_of_a_combination_at_once() -> None:
    assert refusal(("N9", "A1", "A2")).startswith("3 problems")
    assert refusal(("N1", "N2"), ("plant.rules.x=1", "what")).startswith("3 problems")


def test_faults_that_were_there_before_are_not_blamed_on_the_option() -> None:
    faulty = small_plant(options=OPTIONS, orders=(dataclasses.replace(PLANT.orders[0], due=dt.date(2025, 1, 1)),))
    assert make_scenario(faulty, ("N1",)).plant.settings.rules.dispatch == "due"


def test_a_reference_that_an_edit_breaks_is_told() -> None:
    assert 'orders.csv program_id "P-9": is not in programs.csv' in refusal((), ("orders[1001].program_id=P-9",))


def full_plant() -> PlantInputs:
    """A plant with a row in every table."""
    moment = dt.datetime(2026, 1, 5, 6)
    return small_plant(
        options=OPTIONS,
        sequences={"loads.csv": (1.0, 2.0)},
        calendar=(CalendarDay(date=dt.date(2026, 1, 7)),),
        start=(StartRow(what="turret", item="TL-001", station=1),),
        history=(HistoryRow(order_id="1001", machine="M1", started=moment, finished=moment, sheets=3),),
        load_faults=(LoadFault(fault="turned", exchanges=("tool_load",), rate=0.1, repair_min=9),),
        quality=(Quality(cause="marks", rate=0.1),),
        measured=(Measured(number=1, element="load", value=2.0),),
        observed=(
            ObservedWeek(
                week=1, monday=dt.date(2026, 1, 5), attended_h=70, sheets=9, parts=90, orders_finished=3, setup_h=9,
                handling_h=9, process_h=9, stopped_h=1, tool_loads=4, die_changes=1,
            ),
        ),
    )  # fmt: skip


FULL = full_plant()
OTHER_VALUES: dict[type, tuple[Any, ...]] = {
    str: ("other", "part=other", "05:00", "min/cell_entry", "Sat 06:00-08:00"), int: (1, 2),
    float: (0.5, 7.5, 600.0), bool: (True, False), dt.date: (dt.date(2027, 1, 1),),
    dt.datetime: (dt.datetime(2027, 1, 1),),
}  # fmt: skip
CELLS = [(table, name) for table, row in TABLES.items() for name in columns_of(row)]


def another(table: str, name: str) -> Any:
    """A legal value of a column that the first row does not have."""
    spec, held = columns_of(TABLES[table])[name], getattr(getattr(FULL, table)[0], name)
    for value in spec.choices or OTHER_VALUES[spec.kind]:
        given = (value,) if spec.is_list else value
        with contextlib.suppress(Refusal):
            if fit_value(TABLES[table], name, given) != held:
                return given
    raise AssertionError(f"no other value for {table}.{name}")


@pytest.mark.parametrize(("table", "name"), CELLS, ids=[f"{table}.{name}" for table, name in CELLS])
def test_every_cell_changes_exactly_one_hash(table: str, name: str) -> None:
    rows, value = getattr(FULL, table), another(table, name)
    other = dataclasses.replace(FULL, **{table: (dataclasses.replace(rows[0], **{name: value}), *rows[1:])})
    physics, money = (a != b for a, b in zip(hashes(FULL), hashes(other), strict=True))
    is_money = table in MONEY_TABLES or name in MONEY_COLUMNS.get(table, ())
    assert (physics, money) == (not is_money, is_money)


SETTING_CHANGES = [
    ("plant.rules.dispatch=due", "physics"),
    ("plant.machine.running_kw=15", "physics"),
    ("plant.people.walk_s=3", "physics"),
    ("plant.calendar.shifts[early].start=05:00", "physics"),
    ("plant.run.seed=8", "physics"),
    ("plant.bench.places=4", "physics"),
    ("plant.name=other", "money"),
    ("plant.money.energy_per_kwh=0.3", "money"),
    ("plant.finance.discount_rate=0.1", "money"),
    ("plant.people.night_premium=0.3", "money"),
    ("plant.currency=XTS", "money"),
    ("plant.run.replications=30", "money"),
]


@pytest.mark.parametrize(("override", "which"), SETTING_CHANGES, ids=[text for text, _ in SETTING_CHANGES])
def test_a_setting_changes_exactly_one_hash(override: str, which: str) -> None:
    before, after = make_scenario(FULL), make_scenario(FULL, (), (override,))
    assert (before.physics_hash != after.physics_hash) == (which == "physics")
    assert (before.money_hash != after.money_hash) == (which == "money")


def test_option_prices_are_money_and_edits_are_physics() -> None:
    plain, used = make_scenario(PLANT), make_scenario(PLANT, ("N1",))
    assert plain.physics_hash != used.physics_hash
    priced = dataclasses.replace(
        PLANT, options=tuple(o.model_copy(update={"capital": Range(low=1, quoted=2, high=3)}) for o in OPTIONS)
    )
    dearer = make_scenario(priced, ("N1",))
    assert (dearer.physics_hash, dearer.money_hash != used.money_hash) == (used.physics_hash, True)
    assert make_scenario(PLANT, (), ("plant.rules.dispatch=due",)).physics_hash == used.physics_hash


def test_the_order_of_options_and_values_of_files() -> None:
    one, other = make_scenario(PLANT, ("A1", "N1")), make_scenario(PLANT, ("N1", "A1"))
    assert (one.physics_hash, one.money_hash) == (other.physics_hash, other.money_hash)
    longer = dataclasses.replace(FULL, sequences={"loads.csv": (1.0, 2.5)})
    assert hashes(longer)[0] != hashes(FULL)[0]
    assert hashes(longer)[1] == hashes(FULL)[1]


def test_the_names_of_money_fields_exist() -> None:
    content = Settings.model_validate(FULL.settings.model_dump()).model_dump()
    for path in MONEY_SETTINGS:
        here: Any = content
        for step in path.split("."):
            here = here[step]
    for table, names in MONEY_COLUMNS.items():
        assert set(names) <= set(columns_of(TABLES[table])) - set(key_columns(TABLES[table]))


ROOMS = ("process", "tooling", "cell")


@pytest.mark.parametrize("room", ROOMS)
def test_the_cell_reads_no_money_field(room: str) -> None:
    """A field that the cell reads must not be missing from the physics hash."""
    folder = Path(__file__).parents[2] / "simkit" / room
    text = "\n".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.py")))
    names = {path.split(".")[-1] for path in MONEY_SETTINGS} | {n for names in MONEY_COLUMNS.values() for n in names}
    common = {"name", "low", "high", "source", "n", "date", "note", "money", "owner", "basis"}
    read = [name for name in sorted(names - common) if re.search(rf"\.{name}\b", text)]
    assert read == []


def test_a_scenario_is_made_once_for_a_plant_and_its_arguments_and_never_taken_for_another_plants():
    plant = small_plant()
    first = make_scenario(plant, (), ["plant.bench.places=7"])
    assert make_scenario(plant, [], ("plant.bench.places=7",)) is first
    assert make_scenario(plant, (), ["plant.bench.places=8"]).plant.settings.bench.places == 8
    other = small_plant(tools=())
    assert make_scenario(other, (), ["plant.bench.places=7"]).plant.tools == ()
    assert make_scenario(plant, (), ["plant.bench.places=7"]).physics_hash == first.physics_hash
    for _ in range(2):
        with pytest.raises(BadInput, match="is not an option"):
            make_scenario(plant, ("Z9",))
