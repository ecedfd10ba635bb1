"""A line that is no row, and an identifier written in two ways, are errors: nothing of them counts in silence."""

from __future__ import annotations

import pytest

from simkit.base.messages import Finding
from simkit.plant.csv_files import stray
from simkit.plant.fields import columns_of
from simkit.plant.tables import TABLES
from tests.plant.conftest import Folder

STRAY_MACHINES = [
    ("pl-1 beside PL-1", "M1,\nm1,\n", "differs only in case or blanks from 'M1' of row 2"),
    ("a blank more", "M 1,\nM1,\n", "differs only in case or blanks from 'M 1' of row 2"),
    ("end of file sign", "M1,\n\x1a\n", "holds a sign that cannot be seen, U+001A"),
    ("zero width", "M1,\nM1\u200b,\n", "U+200B (zero width space)"),
    ("wide digit", "M1,\nM\uff11,\n", "differs only in case or blanks"),
    ("comment", "M1,\n# the old one,\n", "looks like a comment"),
    ("comment of slashes", "M1,\n// the old one,\n", "looks like a comment"),
    ("total", "M1,\nTotal,\n", "looks like a total"),
    ("total and count", "M1,\nTotal (1 machine),\n", "looks like a total"),
    ("remark", "M1,\nEnd of list,\n", "looks like a remark"),
    ("nothing", "M1,\nN/A,\n", "looks like a remark"),
    ("heads again", "M1,\nmachine_id,overrides\n", "repeats the heads"),
    ("dashes", "M1,\n---,\n", "looks like a comment"),
    ("equals", "M1,\n=====,\n", "is not an identifier, it holds ="),
]


@pytest.mark.parametrize(("body", "said"), [c[1:] for c in STRAY_MACHINES], ids=[c[0] for c in STRAY_MACHINES])
def test_a_stray_line_is_no_machine(folder: Folder, body: str, said: str) -> None:
    (folder.path / "machines.csv").write_text("machine_id,overrides\n" + body, encoding="utf-8")
    message = folder.only()
    assert message.startswith("machines.csv row")
    assert said in message
    assert message.isprintable()


@pytest.mark.parametrize(
    "table", ["programs", "tools", "materials", "elements", "machines", "people", "stops", "upkeep"]
)
def test_every_table_refuses_the_twin_of_an_identifier(folder: Folder, table: str) -> None:
    """The last row of the table once more, its identifier in letters of the other case."""
    first, rest = (folder.path / f"{table}.csv").read_text(encoding="utf-8").splitlines()[-1].split(",", 1)
    folder.append(f"{table}.csv", f"{first.swapcase()},{rest}\n")
    assert any(m.startswith(f"{table}.csv") and f"blanks from '{first}'" in m for m in folder.messages())


def test_every_text_that_tells_rows_apart_is_an_identifier_or_a_notation() -> None:
    free = {"acts", "applies_to", "item", "shift", "what"}
    for table, row_type in TABLES.items():
        keys = {name for name, spec in columns_of(row_type).items() if spec.key and spec.kind is str}
        named = {name for name, spec in columns_of(row_type).items() if spec.is_id or spec.refers_to}
        assert keys - named <= free, table


def test_a_family_in_two_cases_is_told_once(folder: Folder) -> None:
    message = folder.change("programs.csv", "BOOK", "Lock").only()
    assert "programs.csv row 3 family \"Lock\": differs only in case or blanks from 'LOCK' of row 2" in message


def test_one_condition_written_in_two_ways_counts_twice(folder: Folder) -> None:
    rows = (folder.path / "elements.csv").read_text().splitlines()
    row = next(row for row in rows if "mass_kg>25" in row)
    folder.append("elements.csv", row.replace("mass_kg>25", "mass_kg > 25") + "\n")
    assert "differs only in case or blanks from" in folder.only()


@pytest.mark.parametrize("name", ["TL-01,5", 'TL-1"', "TL-1'", "TL@1", "=1+1", "[red]", "TL;1", "TL|1", "$x$", "T{1}"])
def test_a_tool_number_with_signs_of_notations_is_refused(folder: Folder, name: str) -> None:
    quoted = '"' + name.replace('"', '""') + '"'
    for file in ("tools.csv", "program_tools.csv"):
        path = folder.path / file
        path.write_text(path.read_text().replace("TL-005", quoted))
    message = folder.only()
    assert "tools.csv row 6 tool_id" in message
    assert "is not an identifier" in message


@pytest.mark.parametrize("name", ["Ö-12/3", "DX51D+Z 1.5", "Nº 7", "12 (old)", "4711", "刀具-1"])
def test_identifiers_of_the_trade_and_of_any_alphabet_are_taken(folder: Folder, name: str) -> None:
    for file in ("tools.csv", "program_tools.csv"):
        path = folder.path / file
        path.write_text(path.read_text(encoding="utf-8").replace("TL-005", name), encoding="utf-8")
    assert folder.messages() == []


@pytest.mark.parametrize(
    "text", ["total breakdown", "sum of", "summer", "Totem", "average", "M-1", "notebook", "nilly"]
)
def test_words_that_only_begin_like_a_total(text: str) -> None:
    assert bool(stray((text, "1"), ("cause", "rate"))) == (text in ("sum of", "average"))


def test_signs_that_a_terminal_would_obey_are_shown_by_their_numbers() -> None:
    assert str(Finding("a.csv", "is \x1b[31mred\x07", "x\ny")) == "a.csv: is <U+001B>[31mred<U+0007>. x⏎y."


def test_a_long_value_is_cut() -> None:
    assert len(str(Finding("plant.toml", "is long", "Cut it", value="9" * 4301))) < 400


@pytest.mark.parametrize("name", ["", "today", "Base", "A+B", "[b]", "$", "N 1", "-x", "x" * 41])
def test_an_option_id_has_a_grammar(folder: Folder, name: str) -> None:
    message = folder.append("options.toml", f'[[option]]\nid = "{name}"\nname = "x"\nkind = "bought"\n').only()
    assert message.startswith(f"options.toml row 2 option {name or 1} id")


def test_option_ids_differ_by_more_than_case(folder: Folder) -> None:
    for name in ("N1", "n1"):
        folder.append("options.toml", f'[[option]]\nid = "{name}"\nname = "x"\nkind = "bought"\n')
    assert "differs only in case or blanks from the option 'N1'" in folder.only()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "Small plant"', 'name = "Small\u200b plant"', "U+200B"),
        ('name = "late"', 'name = "Early"', "differs only in case or blanks from the shift 'early'"),
        ('name = "late"', 'name = "always"', "stands for no shift in people.csv"),
        ('name = "late"', 'name = " "', "is a shift without a name"),
    ],
)
def test_names_of_the_settings(folder: Folder, old: str, new: str, said: str) -> None:
    messages = folder.change("plant.toml", old, new).messages()
    assert any(said in message for message in messages), messages
