"""Messy exports become a plant folder: nothing is guessed, and every row read is used, fixed or refused."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.gauges import gauge_mm
from simkit.base.messages import BadInput
from simkit.plant.adopting import OUTCOMES, Adoption, read_exports
from simkit.plant.adopting_mapping import TableMap, mapping_text, read_mapping
from simkit.plant.adopting_questions import ask_mapping
from simkit.plant.adopting_write import adopt
from simkit.plant.hashes import hashes
from simkit.plant.reading import check_plant, read_plant
from simkit.plant.tables import TABLES
from simkit.plant.workbook import write_workbook
from tests.house import ROOT
from tests.small_plant import write_small_plant
from tests.test_cli import run

EXPORTS = ROOT / "data" / "tarnholt_exports"
SOURCE = ROOT / "data" / "tarnholt_exports_source"
DEMO = ROOT / "data" / "tarnholt"
CROWDED = "order with more 16 mm tools than stations"


def exported(folder: Path, text: str, name: str = "list.csv") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def only(table: str, folder: Path, **how: Any) -> Adoption:
    return read_exports(folder, {table: TableMap.model_validate({"file": "list.csv", **how})})


def kinds(adoption: Adoption) -> list[tuple[int, str]]:
    return [(row.line, reason.kind) for _, row in adoption.refused() for reason in row.reasons if not reason.follows]


# ---- the messy twin of the demo ----


@pytest.fixture(scope="module")
def twin(tmp_path_factory: pytest.TempPathFactory) -> tuple[Adoption, Path]:
    into = tmp_path_factory.mktemp("twin") / "plant"
    return adopt(EXPORTS, into, read_mapping(EXPORTS / "mapping.toml")), into


def planted() -> list[dict[str, str]]:
    with (SOURCE / "planted.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_twin_yields_exactly_its_planted_faults(twin):
    adoption, _ = twin
    found = {
        (table.name, row.line, reason.kind, reason.column)
        for table, row in adoption.refused() for reason in row.reasons if not reason.follows
    }  # fmt: skip
    mended = {
        (table.name, row.line, "blanks removed" if "blanks" in fix else "letter case", fix.split(":")[0])
        for table in adoption.tables.values() for row in table.rows for fix in row.fixes
    }  # fmt: skip
    listed = {(p["file"], int(p["row"]), p["kind"], p["column"]) for p in planted() if p["kind"] != CROWDED}
    assert found | mended == listed
    assert len(listed) == 44


def test_the_crowded_turret_of_the_twin_is_told_by_the_check(twin):
    plant, findings = check_plant(twin[1])
    assert plant is not None
    crowd = next(p for p in planted() if p["kind"] == CROWDED)
    assert [f.value for f in findings if "places of 16 mm" in f.why] == [crowd["value"]]


def test_every_row_of_the_twin_is_accounted_for(twin):
    adoption, into = twin
    for table in adoption.tables.values():
        assert len(table.rows) == sum(map(table.count, OUTCOMES))
    with (into / "adoption" / "refused.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == len(adoption.refused())


def test_what_is_kept_of_the_twin_is_the_demo(twin):
    plant, demo = read_plant(twin[1]), read_plant(DEMO)
    assert set(plant.orders) < set(demo.orders)
    assert (plant.tools, plant.materials) == (demo.tools, demo.materials)
    known = set(demo.program_parts)
    crowd = next(p["value"] for p in planted() if p["kind"] == CROWDED)
    assert all(part in known for part in plant.program_parts)
    assert {p for p in plant.programs if p.program_id != crowd} < set(demo.programs)


def test_no_program_is_kept_without_a_tool_or_part_of_its_own(twin):
    plant, demo = read_plant(twin[1]), read_plant(DEMO)
    for program in plant.programs:
        tools = {row.tool_id for row in plant.tools_of.get(program.program_id, ())}
        assert tools >= {row.tool_id for row in demo.tools_of.get(program.program_id, ())}
        assert plant.parts_of.get(program.program_id) == demo.parts_of.get(program.program_id)


def test_the_frozen_exports_are_what_their_script_makes(tmp_path):
    command = [sys.executable, str(SOURCE / "make_exports.py"), "--into", str(tmp_path / "x"), "--planted",
               str(tmp_path / "planted.csv")]  # fmt: skip
    assert subprocess.run(command, check=False, cwd=ROOT).returncode == 0
    assert (tmp_path / "planted.csv").read_bytes() == (SOURCE / "planted.csv").read_bytes()
    texts = [path for path in sorted(EXPORTS.iterdir()) if path.suffix != ".xlsx"]
    assert [path.name for path in texts if path.read_bytes() != (tmp_path / "x" / path.name).read_bytes()] == []


# ---- rows read = used + fixed + refused ----

CELLS = st.sampled_from(
    ["", " ", "A-1", " A-1", "a-1", "B 2", "Total", "# note", "3", "-3", "3,5", "3.5", "1.000,5", "04/03/2026",
     "03/14/2026", "14/03/2026", "2026-03-14", '1"', "1/2", "x", "R", "A-1;B", "\u200bA"]
)  # fmt: skip
ROWS = st.lists(st.lists(CELLS, min_size=4, max_size=7), max_size=8)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(ROWS, st.sampled_from([".", ","]), st.sampled_from(["YYYY-MM-DD", "DD/MM/YYYY", "MM/DD/YYYY"]))
def test_every_row_read_is_used_fixed_or_refused(tmp_path_factory, rows, decimal, dates):
    folder = tmp_path_factory.mktemp("mess")
    with (folder / "list.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter="|")
        writer.writerow(["No", "Prog", "Qty", "Rel", "Due", "Rush"])
        writer.writerows(rows)
    heads = ("order_id", "program_id", "sheets", "released", "due", "rush")
    columns = dict(zip(heads, ["No", "Prog", "Qty", "Rel", "Due", "Rush"], strict=True))
    adoption = only("orders", folder, separator="|", decimal=decimal, dates=dates, columns=columns,
                    words={"rush": {"R": "true"}})  # fmt: skip
    table = adoption.tables["orders"]
    filled = [row for row in rows if any(map(str.strip, row))]
    assert len(table.rows) == len(filled) == sum(map(table.count, OUTCOMES))
    keys = [row.row.order_id for row in table.kept()]
    assert len(set(keys)) == len(keys)
    assert all(row.row is not None for row in table.kept())


# ---- one notation each ----

ORDER_HEADS = "order_id,program_id,sheets,released,due\n"


def test_dates_of_both_orders_in_one_column_are_refused_where_they_cannot_be_told(tmp_path):
    text = ORDER_HEADS + "1,P,2,14/03/2026,20/03/2026\n2,P,2,03/15/2026,20/03/2026\n3,P,2,04/03/2026,20/03/2026\n"
    folder = exported(tmp_path / "x", text)
    assert kinds(only("orders", folder, dates="DD/MM/YYYY")) == [(3, "order of day and month"), (4, "ambiguous date")]
    told = only("orders", folder, dates="DD/MM/YYYY", period={"released": ["2026-03-01", "2026-03-31"]})
    assert kinds(told) == [(3, "order of day and month")]
    assert str(told.tables["orders"].rows[2].row.released) == "2026-03-04"


def test_a_column_of_one_order_is_read_as_the_mapping_says(tmp_path):
    folder = exported(tmp_path / "x", ORDER_HEADS + "1,P,2,04/03/2026,05/03/2026\n")
    day = only("orders", folder, dates="MM/DD/YYYY").tables["orders"].rows[0].row.released
    assert str(day) == "2026-04-03"


def test_a_short_year_is_no_date(tmp_path):
    folder = exported(tmp_path / "x", ORDER_HEADS + "1,P,2,14/03/26,20/03/2026\n")
    assert kinds(only("orders", folder, dates="DD/MM/YYYY")) == [(2, "date")]


MATERIAL_HEADS = "material_id;metal;thickness_mm;density_kg_m3;clearance_mm;cutting_speed_m_min;pierce_s\n"


def test_decimal_commas_and_thousands_are_read_where_they_are_mapped(tmp_path):
    folder = exported(tmp_path / "x", MATERIAL_HEADS + "M;MS;1,5;7.850;0,3;11;0,3\nN;MS;1.5;7850;0,3;11;0,3\n")
    adoption = only("materials", folder, separator=";", decimal=",", thousands=".")
    row = adoption.tables["materials"].rows[0].row
    assert (row.thickness_mm, row.density_kg_m3, row.clearance_mm) == (1.5, 7850, 0.3)
    assert kinds(adoption) == [(3, "decimal mark")]


def test_a_table_in_inches_becomes_mm_and_mixed_units_are_refused(tmp_path):
    heads = "tool_id,shape,length_mm,width_mm,station_size_mm,clearances\n"
    rows = 'T-1,round,0.5",1/2,1 1/4 in,0.012;0.02\nT-2,round,12.7 mm,1,1,\n'
    folder = exported(tmp_path / "x", heads + rows.replace('0.5"', '"0.5"""'))
    adoption = only("tools", folder, lengths="inch")
    row = adoption.tables["tools"].rows[0].row
    assert (row.length_mm, row.width_mm, row.station_size_mm, row.clearances) == (12.7, 12.7, 31.75, (0.3048, 0.508))
    assert kinds(adoption) == [(3, "inch")]
    assert set(kinds(only("tools", folder))) == {(2, "inch")}


def test_gauge_numbers_are_read_by_the_family_of_each_row(tmp_path):
    rows = "A;MS;16 ga;7850;0,3;11;0,3\nB;SS;16;7850;0,3;11;0,3\nC;AL;1,5;7850;0,3;11;0,3\nD;CU;16;7850;0,3;11;0,3\n"
    folder = exported(tmp_path / "x", MATERIAL_HEADS + rows)
    gauges = {"by": "metal", "families": {"MS": "steel", "SS": "stainless", "AL": "aluminium"}}
    adoption = only("materials", folder, separator=";", decimal=",", gauges={"thickness_mm": gauges})
    first, second, *_ = adoption.tables["materials"].rows
    assert first.row.thickness_mm == pytest.approx(gauge_mm("steel", 16), abs=1e-4)
    assert second.row.thickness_mm == pytest.approx(1.5875, abs=1e-4)
    assert kinds(adoption) == [(4, "gauge"), (5, "gauge")]


def test_a_refused_row_takes_along_what_belongs_to_it(tmp_path):
    folder = write_small_plant(tmp_path / "x")
    tools = (folder / "program_tools.csv").read_text(encoding="utf-8").splitlines()
    lost = tools[1].split(",")[0]
    (folder / "program_tools.csv").write_text("\n".join([*tools, f"{lost},T-LOST,3,0"]), encoding="utf-8")
    adoption = read_exports(folder)
    assert [(t.table, r.reasons[0].kind) for t, r in adoption.refused() if not r.reasons[0].follows] == [
        ("program_tools", "unknown tools")
    ]
    kept = {row.row.program_id for row in adoption.tables["orders"].kept()}
    assert kept
    assert lost not in kept
    assert lost not in {row.row.program_id for row in adoption.tables["program_parts"].kept()}


# ---- mapping: by hand and asked ----


def test_a_mapping_is_read_back_as_it_was_written(tmp_path):
    mapping = read_mapping(EXPORTS / "mapping.toml")
    (tmp_path / "again.toml").write_text(mapping_text(mapping), encoding="utf-8")
    assert read_mapping(tmp_path / "again.toml") == mapping


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[order]\nfile = 'x.csv'", "did you mean 'orders'"),
        ("[orders]\nfile = 'x.csv'\ndecimals = ','", "did you mean 'decimal'"),
        ("[orders]\nfile = 'x.csv'\ncolumns.du = 'Due'", "did you mean 'due'"),
        ("[materials]\nfile = 'x.csv'\ngauges.thickness_mm = { family = 'brass' }", "is no family of gauges"),
        ("", "maps nothing"),
    ],
)
def test_faults_of_a_mapping_are_told(tmp_path, text, said):
    (tmp_path / "m.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=said):
        read_mapping(tmp_path / "m.toml")


def test_heads_that_are_not_there_are_told_with_the_nearest(tmp_path):
    folder = exported(tmp_path / "x", "Order no;Program;Qty\n1;P;2\n")
    with pytest.raises(BadInput, match=r"(?s)did you mean 'Order no'.*gives no due for orders"):
        only("orders", folder, separator=";", columns={"order_id": "Order nr", "program_id": "Program"})


class Answers:
    """Answers by the beginning of the question; otherwise takes what is proposed."""

    def __init__(self, **answers: str) -> None:
        self.answers = answers

    def __call__(self, question: str, proposed: str, allowed: tuple[str, ...]) -> str:
        answer = next(
            (a for start, a in self.answers.items() if question.replace(" ", "_").startswith(start)), proposed
        )
        assert not allowed or answer in allowed, question
        return answer


def test_the_mapping_is_asked_once_and_reads_an_export_of_another_shop(tmp_path):
    text = "Auftrag;Programm;Menge;Start;Termin;Eil\n7;P-1;3;05.01.2026;07.01.2026;ja\n8;P-1;2,5;05.01.2026;;nein\n"
    folder = exported(tmp_path / "x", text)
    ask = Answers(
        list="orders", order_id="Auftrag", program_id="Programm", sheets="Menge", decimal=",", how_dates="DD.MM.YYYY",
        **{"released_(": "Start", "due_(": "Termin", "rush_(": "Eil", 'rush_"ja"': "true", 'rush_"nein"': "false"},
    )  # fmt: skip
    mapping = ask_mapping(folder, ask)
    assert mapping["orders"].separator == ";"
    adoption = read_exports(folder, mapping)
    first = adoption.tables["orders"].rows[0].row
    assert (first.order_id, first.sheets, str(first.due), first.rush) == ("7", 3, "2026-01-07", True)
    assert kinds(adoption) == [(3, "whole"), (3, "empty")]


def test_without_anybody_to_answer_the_command_says_what_it_needs(tmp_path, monkeypatch, capsys):
    folder = exported(tmp_path / "x", "A;B\n1;2\n")
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert run(monkeypatch, "adopt", str(folder), "--into", str(tmp_path / "p")) == 2
    assert "is needed, and nobody answers" in capsys.readouterr().err
    assert not (tmp_path / "p").exists()


def test_a_folder_that_holds_anything_is_left_alone(tmp_path):
    folder = exported(tmp_path / "p", "A\n")
    with pytest.raises(BadInput, match="nothing is written over"):
        adopt(EXPORTS, folder, read_mapping(EXPORTS / "mapping.toml"))
    assert [path.name for path in folder.iterdir()] == ["list.csv"]


# ---- out to one workbook and back ----


@pytest.mark.parametrize("name", ["data/tarnholt", "simkit/plant/example"])
def test_a_plant_goes_to_a_workbook_and_comes_back_without_loss(tmp_path, name):
    folder = ROOT / name
    plant = read_plant(folder, calibrated=False)
    write_workbook(folder, plant, tmp_path / "plant.xlsx")
    adopt(tmp_path / "plant.xlsx", tmp_path / "back")
    again = read_plant(tmp_path / "back")
    assert again == plant
    assert hashes(again) == hashes(plant)
    for text in ("plant.toml", "options.toml"):
        if (folder / text).exists():
            assert (tmp_path / "back" / text).read_bytes() == (folder / text).read_bytes()


def test_value_files_travel_in_the_workbook(tmp_path):
    folder = write_small_plant(tmp_path / "plant")
    text = (folder / "elements.csv").read_text(encoding="utf-8").splitlines()
    heads, cells = text[0].split(","), text[1].split(",")
    cells[heads.index("law")], cells[heads.index("file")] = "empirical", "times.csv"
    (folder / "elements.csv").write_text("\n".join([text[0], ",".join(cells), *text[2:]]) + "\n", encoding="utf-8")
    (folder / "times.csv").write_text("value\n1.5\n2.25\n", encoding="utf-8")
    plant = read_plant(folder)
    write_workbook(folder, plant, tmp_path / "plant.xlsx")
    adopt(tmp_path / "plant.xlsx", tmp_path / "back")
    assert read_plant(tmp_path / "back") == plant


def test_closed_words_of_the_workbook_can_only_be_picked(tmp_path):
    from openpyxl import load_workbook

    write_workbook(DEMO, read_plant(DEMO), tmp_path / "plant.xlsx")
    book = load_workbook(tmp_path / "plant.xlsx")
    rules = {str(r.sqref).split(":")[0]: r.formula1 for r in book["elements"].data_validations.dataValidation}
    at = [cell.value for cell in book["elements"][1]].index("basis")
    place = book["elements"].cell(2, at + 1).coordinate
    sheet, span = rules[place].split("!")
    words = [cell.value for (cell,) in book[sheet][span.replace("$", "")]]
    assert words == ["measured", "logged", "quoted", "estimated", "default"]
    tools = [r.formula1 for r in book["program_tools"].data_validations.dataValidation]
    assert tools == ["programs!$A$2:$A$5001", "tools!$A$2:$A$5001"]
    assert set(TABLES) <= set(book.sheetnames)
    assert book["elements"]["A1"].comment.text.startswith("an identifier")


def test_the_commands_make_a_workbook_and_a_plant_of_it(tmp_path, monkeypatch, capsys):
    folder = write_small_plant(tmp_path / "plant")
    book = str(tmp_path / "plant.xlsx")
    assert [run(monkeypatch, "workbook", str(folder), book) for _ in range(2)] == [0, 2]
    assert "nothing is written over" in capsys.readouterr().err
    assert run(monkeypatch, "adopt", book, "--into", str(tmp_path / "back")) == 0
    assert "rows read =" in capsys.readouterr().out


# ---- a newcomer's own export ----

EXAMPLE = ROOT / "simkit" / "plant" / "example"
OWN_HEADS = {
    "orders": {"order_id": "Auftrag", "program_id": "Programm", "sheets": "Tafeln", "released": "Start",
               "due": "Termin"},
    "tools": {"tool_id": "Wkz", "shape": "Form", "length_mm": "L", "width_mm": "B", "station_size_mm": "Station",
              "clearances": "Spalte"},
    "materials": {"material_id": "Sorte", "metal": "Metall", "thickness_mm": "Dicke", "density_kg_m3": "Dichte",
                  "clearance_mm": "Spalt", "cutting_speed_m_min": "v", "pierce_s": "Einstich"},
}  # fmt: skip


def foreign(table: str, name: str, text: str) -> str:
    """A cell as this shop writes it: day first, decimal commas, tools in inches."""
    if name in ("released", "due"):
        return ".".join(reversed(text.split("-")))
    if table == "tools" and name in ("length_mm", "width_mm", "station_size_mm"):
        text = f"{float(text) / 25.4:.6f}"
    if table == "tools" and name == "clearances":
        text = ";".join(f"{float(one) / 25.4:.8f}" for one in text.split(";") if one)
    return text if name.endswith("_id") or name in ("shape", "metal") else text.replace(".", ",")


def write_foreign(example: Path, folder: Path, mapping_file: Path) -> None:
    """The exports of a shop with its own heads, semicolons, decimal commas and inches, and the mapping it writes by
    hand; what no system holds is copied from an example."""
    folder.mkdir()
    mapping, sizes = "", set()
    for path in example.iterdir():
        if path.stem not in OWN_HEADS:
            (folder / path.name).write_bytes(path.read_bytes())
            continue
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        heads = {name: head for name, head in OWN_HEADS[path.stem].items() if name in rows[0]}
        with (folder / f"{path.stem}_export.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, delimiter=";")
            writer.writerow(heads.values())
            writer.writerows([foreign(path.stem, name, row[name]) for name in heads] for row in rows)
        sizes |= {row["station_size_mm"] for row in rows if path.stem == "tools"}
        mapping += f'\n[{path.stem}]\nfile = "{path.stem}_export.csv"\nseparator = ";"\ndecimal = ","\n'
        mapping += 'dates = "DD.MM.YYYY"\n' if path.stem == "orders" else ""
        mapping += 'lengths = "inch"\n' if path.stem == "tools" else ""
        mapping += "".join(f'columns.{name} = "{head}"\n' for name, head in heads.items())
    words = ", ".join(f'"{foreign("tools", "station_size_mm", size)}" = "{size}"' for size in sorted(sizes))
    mapping = mapping.replace("[tools]\n", f"[tools]\nwords.station_size_mm = {{ {words} }}\n")
    mapping_file.write_text(mapping, encoding="utf-8")


def test_an_export_of_another_shop_becomes_the_same_plant_in_one_command(tmp_path, monkeypatch, capsys):
    folder = tmp_path / "exports"
    write_foreign(EXAMPLE, folder, tmp_path / "mapping.toml")
    given = ["adopt", str(folder), "--into", str(tmp_path / "plant"), "--mapping", str(tmp_path / "mapping.toml")]
    assert run(monkeypatch, *given) == 0, capsys.readouterr()
    plant, example = read_plant(tmp_path / "plant"), read_plant(EXAMPLE)
    assert [(o.order_id, o.sheets, o.released, o.due) for o in plant.orders] == [
        (o.order_id, o.sheets, o.released, o.due) for o in example.orders
    ]
    assert [t.length_mm for t in plant.tools] == pytest.approx([t.length_mm for t in example.tools], abs=1e-4)
    assert [t.station_size_mm for t in plant.tools] == [t.station_size_mm for t in example.tools]
    assert [m.thickness_mm for m in plant.materials] == [m.thickness_mm for m in example.materials]
