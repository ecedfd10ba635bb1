"""Writing: what is written reads back, the blank folder is what the code makes, nothing is written over."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.plant.blank import options_text, settings_text
from simkit.plant.options import CapitalLine, Edit, Option, Range
from simkit.plant.reading import check_plant, read_plant
from simkit.plant.settings import Settings
from simkit.plant.tables import TABLES
from simkit.plant.toml_files import validate
from simkit.plant.writing import example_plant, new_plant, write_plant
from tests.small_plant import small_plant

BLANK = Path(__file__).parents[2] / "data" / "blank"

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12)
POSITIVE = st.floats(0, 1e6, allow_subnormal=False)


@settings(max_examples=15, deadline=None)
@given(name=WORDS, shape=WORDS, typical=POSITIVE, sheets=st.integers(1, 10**5), mean=POSITIVE)
def test_a_written_plant_reads_back(name: str, shape: str, typical: float, sheets: int, mean: float) -> None:
    plant = small_plant()
    plant = dataclasses.replace(
        plant,
        settings=plant.settings.model_copy(update={"name": name}),
        tools=(dataclasses.replace(plant.tools[0], shape=shape, price=mean), *plant.tools[1:]),
        elements=tuple(dataclasses.replace(row, typical=typical) for row in plant.elements),
        orders=(dataclasses.replace(plant.orders[0], sheets=sheets), *plant.orders[1:]),
    )
    with TemporaryDirectory() as folder:
        write_plant(plant, Path(folder) / "plant")
        assert read_plant(Path(folder) / "plant") == plant


def test_options_and_value_files_read_back(tmp_path: Path) -> None:
    option = Option(
        id="A1", name='Magazine "M"', kind="bought", capital=Range(low=1, quoted=2, high=3),
        capital_lines=(CapitalLine(line="installation", quoted=1.5, high=2),), needs=("N1", ("N1", "N2")), life_years=8,
        edits=(
            Edit(path="plant.calendar.closed_days", value=["2026-01-06"]),
            Edit(path="plant.magazine.places", value={"16": 5}),
            Edit(path="orders[1001].due", value="2026-02-02"),
        ),
    )  # fmt: skip
    others = tuple(Option(id=name, name=name, kind="low_capital") for name in ("N1", "N2"))
    plain = small_plant(options=(option, *others), rules={"night_share_planned": 0.5})
    stop = dataclasses.replace(plain.stops[0], repair_law="sequence", file="seen.csv")
    load = dataclasses.replace(plain.elements[10], law="empirical", file="loads.csv", date=dt.date(2026, 1, 1))
    sequences = {"seen.csv": (1.0, 2.0), "seen.csv:repair": (3.0, 4.5), "loads.csv": (1.9,)}
    elements = (*plain.elements[:10], load, *plain.elements[11:])
    plant = dataclasses.replace(plain, stops=(stop, *plain.stops[1:]), elements=elements, sequences=sequences)
    write_plant(plant, tmp_path / "plant")
    assert read_plant(tmp_path / "plant") == plant


@pytest.mark.parametrize("make", [new_plant, example_plant, lambda folder: write_plant(small_plant(), folder)])
def test_nothing_is_written_over(tmp_path: Path, make: object) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    for place in (tmp_path, tmp_path / "mine.txt", tmp_path / "mine.txt" / "below"):
        with pytest.raises(BadInput):
            make(place)  # type: ignore[operator]
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    assert (tmp_path / "mine.txt").read_text() == "mine"


def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    new_plant(tmp_path)
    assert (tmp_path / "plant.toml").exists()


def test_the_frozen_blank_is_what_the_code_makes(tmp_path: Path) -> None:
    new_plant(tmp_path / "blank")
    made = {path.name: path.read_bytes() for path in (tmp_path / "blank").iterdir()}
    assert made == {path.name: path.read_bytes() for path in BLANK.iterdir()}
    assert set(made) == {"plant.toml", "options.toml", *(f"{table}.csv" for table in TABLES)}


def test_the_blank_asks_for_its_empty_tables_and_nothing_else() -> None:
    plant, findings = check_plant(BLANK)
    assert plant is None
    assert [(f.place, f.why) for f in findings if f.place != "elements.csv"] == [
        (f"{table}.csv", "has heads but no rows") for table in ("orders", "programs", "materials", "machines")
    ]
    (times,) = (f for f in findings if f.place == "elements.csv")
    assert times.column == "typical"
    assert times.why.startswith("is empty but must have a value; the same kind of fault stands in 23 more rows")


def test_the_blank_holds_the_usual_rows_for_times() -> None:
    rows = (BLANK / "elements.csv").read_text(encoding="utf-8").splitlines()
    assert "tool_fit,,changeover,min/tool_load,changeover,constant,,,,,,,,,,," in rows
    assert not any("magazine" in row for row in rows)


def test_the_example_has_no_finding(tmp_path: Path) -> None:
    example_plant(tmp_path / "plant")
    plant, findings = check_plant(tmp_path / "plant")
    assert plant is not None
    assert findings == ()
    assert len(plant.orders) == 10
    assert {option.kind for option in plant.options} == {"low_capital", "bought"}


def test_every_commented_default_of_the_blank_is_the_default() -> None:
    """Taking the # away from every default changes nothing."""
    lines = settings_text().splitlines()
    examples = {i + 1 for i, line in enumerate(lines) if line.startswith("# default: none")}
    default = re.compile(r"# \w+ = (?! )")
    bare = [
        line.removeprefix("# ") if default.match(line) and i not in examples else line for i, line in enumerate(lines)
    ]
    assert sum(a != b for a, b in zip(bare, lines, strict=True)) > 80
    content = tomllib.loads("\n".join(bare))
    read, faults = validate(Settings, content)
    assert faults == []
    as_it_is, _ = validate(Settings, tomllib.loads(settings_text()))
    assert read == as_it_is


def test_every_example_of_the_blank_is_valid() -> None:
    lines = settings_text().splitlines()
    examples = {i + 1 for i, line in enumerate(lines) if line.startswith("# default: none")}
    content = tomllib.loads(
        "\n".join(line.removeprefix("# ") if i in examples else line for i, line in enumerate(lines))
    )
    read, faults = validate(Settings, content)
    assert faults == []
    assert read is not None
    assert len(read.machine.stations) == 3


def test_the_example_option_of_the_blank_is_valid() -> None:
    text = options_text().split("#\n", 1)[1]
    (entry,) = tomllib.loads("\n".join(line.removeprefix("# ") for line in text.splitlines()))["option"]
    option, faults = validate(Option, entry)
    assert faults == []
    assert option is not None
    assert option.edits[0].path == "plant.rules.dispatch"
