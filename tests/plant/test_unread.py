"""A file of the plant folder that is not read is named; one whose name resembles a table is an error."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from simkit.plant.hashes import inputs_sha256
from simkit.plant.reading import read_plant
from tests.plant.conftest import Folder

ALIKE = [
    "STOPS.CSV", "Stops.csv", "stops.xlsx", "stops.csv.txt", "stop.csv", "stopps.csv", "stops (1).csv",
    "stops - Copy.csv", "Copy of stops.csv", "old_stops.csv", "stops_old.csv", "stops.csv.bak", "stops.csv~",
    "stops .csv", "stops",
]  # fmt: skip
OTHER = [
    "readme.txt",
    "stops.pdf",
    ".~lock.stops.csv#",
    "~$stops.xlsx",
    ".DS_Store",
    "notes.csv",
    "what_happened.csv",
    "old.csv",
    "2026.csv",
]


@pytest.mark.parametrize("name", ALIKE)
def test_a_name_that_resembles_a_table_is_an_error(folder: Folder, name: str) -> None:
    (folder.path / "stops.csv").rename(folder.path / name)
    message = folder.only()
    assert message.startswith(f"{name}: is not read, though its name resembles stops.csv")


@pytest.mark.parametrize("table", ["tools", "programs", "materials", "people"])
def test_what_only_follows_from_a_misnamed_table_is_not_told(folder: Folder, table: str) -> None:
    (folder.path / f"{table}.csv").rename(folder.path / f"{table[:-1]}.csv")
    assert folder.only().startswith(f"{table[:-1]}.csv: is not read, though its name resembles {table}.csv")


def test_a_table_that_is_not_there_and_is_named_by_others_is_one_error(folder: Folder) -> None:
    (folder.path / "tools.csv").unlink()
    assert folder.only().startswith("tools.csv: is not in the folder, but 6 rows of program_tools.csv name what it")


@pytest.mark.parametrize("name", OTHER)
def test_any_other_file_is_named_in_a_note(folder: Folder, name: str) -> None:
    message = folder.append(name, "x\n").only("note")
    assert message.startswith(f"plant: 1 file is not read: {name}.")
    assert folder.messages() == []


def test_all_other_files_are_named_in_one_note(folder: Folder) -> None:
    (folder.path / "drawings").mkdir()
    message = folder.append("b.txt", "").append("a.png", "").only("note")
    assert "3 files are not read: a.png, b.txt, drawings" in message


@pytest.mark.parametrize("name", ["stops.csv", "options.toml", "orders.csv"])
@pytest.mark.parametrize("target", ["", "nowhere.csv"])
def test_a_link_in_a_circle_or_to_nowhere_is_an_error(folder: Folder, name: str, target: str) -> None:
    (folder.path / name).unlink(missing_ok=True)
    (folder.path / name).symlink_to(target or name)
    assert folder.only().startswith(f"{name}: cannot be read")


def test_a_pipe_and_a_folder_in_the_place_of_a_table_are_errors(folder: Folder) -> None:
    (folder.path / "stops.csv").unlink()
    os.mkfifo(folder.path / "stops.csv")
    (folder.path / "options.toml").mkdir()
    assert all("is not a file but a folder, a pipe or a device" in message for message in folder.messages())
    assert len(folder.messages()) == 2


def test_a_link_to_a_table_elsewhere_is_read(folder: Folder, tmp_path: Path) -> None:
    before = read_plant(folder.path)
    (folder.path / "stops.csv").rename(tmp_path / "kept.csv")
    (folder.path / "stops.csv").symlink_to(tmp_path / "kept.csv")
    assert read_plant(folder.path) == before
    assert inputs_sha256(folder.path)
