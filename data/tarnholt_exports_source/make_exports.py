"""Makes the messy exports of the demo plant from its folder, with faults at known places; run it with ``--into``.

The files in ``data/tarnholt_exports`` are its frozen output; ``planted.csv`` beside this file lists every fault: what
``simkit adopt`` has to find, no more and no less. It draws nothing and knows nothing of how exports are read.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

from xlsxwriter import Workbook

DEMO = Path(__file__).resolve().parents[1] / "tarnholt"
AS_THEY_ARE = (
    "elements.csv", "machines.csv", "people.csv", "calendar.csv", "start.csv", "history.csv", "stops.csv",
    "load_faults.csv", "upkeep.csv", "quality.csv", "observed.csv", "events.csv", "plant.toml",
)  # fmt: skip
"""The machine's log, and what somebody typed into the blank plant folder, since no system of the plant holds it."""

HEADS = {
    "orders": {"order_id": "Order no", "program_id": "Program", "sheets": "Qty sheets", "released": "Release",
               "due": "Due date", "rush": "Priority"},
    "programs": {"program_id": "NC program", "family": "Product", "material_id": "Material",
                 "sheet_length_mm": "Blank X", "sheet_width_mm": "Blank Y", "hits_per_sheet": "Hits",
                 "forming_hits_per_sheet": "Form hits", "cut_length_mm": "Cut path", "contours": "Contours",
                 "repositions": "Reclamps", "handover": "Output", "proven": "Released by QA",
                 "mean_pitch_mm": "Pitch", "rapid_mm": "Rapid", "remnant_share": "Remnant"},
    "program_parts": {"program_id": "NC program", "part_id": "Part", "per_sheet": "Per sheet", "length_mm": "L",
                      "width_mm": "W", "mass_kg": "Weight", "form_height_mm": "Form height",
                      "flat_area_mm2": "Flat area", "tabs": "Micro joints", "surface_sensitive": "Film"},
    "program_tools": {"program_id": "NC program", "tool_id": "Tool", "hits_per_sheet": "Hits", "angle": "Angle"},
    "tools": {"tool_id": "Tool", "shape": "Description", "length_mm": "Figure X", "width_mm": "Figure Y",
              "station_size_mm": "Station", "kind": "Type", "needs_turning": "Turning",
              "form_height_mm": "Form height", "clearances": "Dies", "copies": "Sets", "kept": "Place",
              "tracked": "Counter", "life_law": "Life law", "life_hits": "Life", "life_cv": "Life cv",
              "regrind_limit_hits": "Regrind at", "grind_life": "Grinds", "price": "Price"},
    "materials": {"material_id": "Code", "metal": "Metal", "thickness_mm": "Thickness", "density_kg_m3": "Density",
                  "clearance_mm": "Clearance", "cutting_speed_m_min": "Speed", "pierce_s": "Pierce",
                  "nozzle": "Nozzle", "gas": "Gas", "price_per_kg": "Price", "scrap_price_per_kg": "Scrap",
                  "shear_strength_mpa": "Shear", "wear_factor": "Wear", "handbook": "Group",
                  "nozzle_mm": "Nozzle bore", "gas_pressure_bar": "Pressure"},
}  # fmt: skip
FILES = {"orders": "order_book.csv", "programs": "program_list.csv", "program_parts": "nest_parts.csv",
         "program_tools": "nest_tools.csv"}  # fmt: skip
LISTS, SHEETS = "stock_lists.xlsx", {"tools": "Tool list", "materials": "Sheet metal"}
WORDS = {"orders": {"rush": {"true": "R", "false": ""}}, "programs": {"proven": {"true": "yes", "false": "no"}},
         "program_parts": {"surface_sensitive": {"true": "x", "false": ""}}}  # fmt: skip
CROWDED = "order with more 16 mm tools than stations"

Table = list[dict[str, str]]


class Mess:
    """The exports on their way: rows by table, and the faults planted so far."""

    def __init__(self) -> None:
        self.tables = {table: read(DEMO / f"{table}.csv") for table in HEADS}
        self.planted: list[tuple[str, int, str, str, str]] = []
        for row in self.tables["orders"]:
            for name in ("released", "due"):
                row[name] = dt.date.fromisoformat(row[name]).strftime("%d/%m/%Y")
        for table, columns in WORDS.items():
            for name, words in columns.items():
                for row in self.tables[table]:
                    row[name] = words[row[name]]

    def change(self, table: str, at: int, column: str, to: Callable[[str], str], kind: str) -> None:
        """Write another value into a row (counted from 0) and list it."""
        row = self.tables[table][at]
        row[column] = to(row[column])
        self.list(table, at, kind, column, row[column])

    def list(self, table: str, at: int, kind: str, column: str = "", value: str = "") -> None:
        """List a fault at a row; the file has a line of heads."""
        self.planted.append((FILES[table], at + 2, kind, column, value))


def read(path: Path) -> Table:
    """Return the rows of a table as text."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def month_first(day: str) -> str:
    """Return DD/MM/YYYY as MM/DD/YYYY."""
    return f"{day[3:6]}{day[:3]}{day[6:]}"


def plant_faults(mess: Mess) -> None:
    """Plant the faults of the order book, of programs and of their tools."""
    orders = mess.tables["orders"]
    dates = [at for at, row in enumerate(orders) if row["released"][:2] not in ("05", "04")][5::14][:11]
    for at in dates:
        mess.change("orders", at, "released", month_first, "order of day and month")
    free = [at for at in range(len(orders)) if at not in dates]
    for at in free[20:140:50]:
        mess.change("orders", at, "due", lambda _: "", "empty")
    for at in free[33:120:60]:
        mess.change("orders", at, "sheets", lambda sheets: f"-{sheets}", "range")
    for at in (11, 47, 83, 119, 140, 33):
        mess.change("programs", at, "cut_length_mm", lambda cut: f"{cut},5", "decimal mark")
    for at in (8, 52, 97, 101, 133):
        mess.change("program_parts", at, "length_mm", lambda mm: f'{float(mm) / 25.4:.2f}"', "inch")
    for at in (61, 74):
        mess.change("programs", at, "material_id", thick_comma, "identifier")
    mess.change("programs", 90, "material_id", lambda _: "galv. sheet 1.5", "unknown materials")
    for number, at in enumerate((210, 431, 640, 853)):
        mess.change("program_tools", at, "tool_id", lambda _, tool=71 + number: f"TL-0{tool}", "unknown tools")
    mess.change("program_tools", 17, "tool_id", lambda tool: f"{tool} ", "blanks removed")
    mess.change("program_tools", 30, "tool_id", str.lower, "letter case")
    mess.change("program_parts", 21, "program_id", lambda name: f"{name}  ", "blanks removed")


def thick_comma(code: str) -> str:
    """Return MS-1.5 as MS-1,50."""
    metal, thickness = code.split("-")
    return f"{metal}-{float(thickness):.2f}".replace(".", ",")


def plant_doubles(mess: Mess) -> None:
    """Two orders stand twice with different contents, two twice alike; a total stands at the end."""
    orders = mess.tables["orders"]
    for first in (16, 40):
        other = dict(orders[first], due="30/06/2026")
        orders.append(other)
        for at in (first, len(orders) - 1):
            mess.list("orders", at, "duplicate", "order_id", other["order_id"])
    for first in (58, 130):
        orders.append(dict(orders[first]))
        mess.list("orders", len(orders) - 1, "repeated", "order_id", orders[first]["order_id"])
    total = dict.fromkeys(orders[0], "")
    orders.append(total | {"order_id": "Total", "sheets": str(sum(abs(int(row["sheets"])) for row in orders))})
    mess.list("orders", len(orders) - 1, "no row")


def plant_crowd(mess: Mess) -> None:
    """One program gets so many small tools that the turret has no stations for them."""
    small = [row["tool_id"] for row in mess.tables["tools"] if row["station_size_mm"] == "16"]
    name = mess.tables["orders"][0]["program_id"]
    has = {row["tool_id"] for row in mess.tables["program_tools"] if row["program_id"] == name}
    for tool in [tool for tool in small if tool not in has][:15]:
        mess.tables["program_tools"].append({"program_id": name, "tool_id": tool, "hits_per_sheet": "4", "angle": "0"})
    program = next(row for row in mess.tables["programs"] if row["program_id"] == name)
    program["hits_per_sheet"] = str(int(program["hits_per_sheet"]) + 4 * 15)
    mess.planted.append((FILES["program_tools"], 0, CROWDED, "program_id", name))


def write(mess: Mess, folder: Path) -> None:
    """Write the exports, each in its own way, and the files that somebody typed."""
    for table, name in FILES.items():
        separator = ";" if table == "orders" else ","
        with (folder / name).open("w", encoding="cp1252" if table == "orders" else "utf-8", newline="") as file:
            writer = csv.writer(file, delimiter=separator, lineterminator="\r\n")
            writer.writerow(HEADS[table].values())
            writer.writerows([row[column] for column in HEADS[table]] for row in mess.tables[table])
    with Workbook(folder / LISTS) as book:
        book.set_properties({"created": dt.datetime(2026, 6, 5)})
        for table, sheet_name in SHEETS.items():
            sheet = book.add_worksheet(sheet_name)
            sheet.write_row(0, 0, HEADS[table].values())
            for line, row in enumerate(mess.tables[table], 1):
                for at, column in enumerate(HEADS[table]):
                    write_cell(sheet, line, at, row[column])
    for name in AS_THEY_ARE:
        shutil.copyfile(DEMO / name, folder / name)
    (folder / "options.toml").write_text(typed_options(), encoding="utf-8")
    (folder / "mapping.toml").write_text(mapping_text(), encoding="utf-8")


def typed_options() -> str:
    """Return the options without those that change single programs: they are written once the programs are adopted."""
    head, *options = (DEMO / "options.toml").read_text(encoding="utf-8").split("[[option]]\n")
    return "[[option]]\n".join([head, *(one for one in options if 'path = "program_tools[' not in one)])


def write_cell(sheet: object, line: int, at: int, text: str) -> None:
    """Write a number as a number, anything else as text."""
    try:
        sheet.write_number(line, at, float(text))
    except ValueError:
        sheet.write_string(line, at, text)


def mapping_text() -> str:
    """Return the mapping that an analyst of the plant would write by hand."""
    text = "# How the exports of the demo plant are read; asked once of the planner and the tool room.\n"
    for table in HEADS:
        file = f'file = "{FILES.get(table, LISTS)}"\n'
        file += f'sheet = "{SHEETS[table]}"\n' if table in SHEETS else ""
        text += f"\n[{table}]\n{file}"
        if table == "orders":
            text += 'separator = ";"\nencoding = "cp1252"\ndates = "DD/MM/YYYY"\n'
            text += "period = { released = [2026-05-01, 2026-05-31], due = [2026-05-01, 2026-07-31] }\n"
        for column, words in WORDS.get(table, {}).items():
            pairs = ", ".join(f'"{theirs}" = "{ours}"' for ours, theirs in words.items())
            text += f"words.{column} = {{ {pairs} }}\n"
        text += "".join(f'columns.{column} = "{head}"\n' for column, head in HEADS[table].items())
    return text


def main() -> int:
    """Write the exports into a folder and the list of faults beside them; return 2 when the folder is not empty."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--into", type=Path, required=True, metavar="EMPTY_FOLDER")
    parser.add_argument("--planted", type=Path, required=True, metavar="FILE", help="list of the faults to write")
    given = parser.parse_args()
    if given.into.exists() and any(given.into.iterdir()):
        print(f"{given.into} is not an empty folder; nothing was written. Name a new one.", file=sys.stderr)
        return 2
    given.into.mkdir(parents=True, exist_ok=True)
    mess = Mess()
    plant_faults(mess)
    plant_doubles(mess)
    plant_crowd(mess)
    write(mess, given.into)
    with given.planted.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("file", "row", "kind", "column", "value"))
        writer.writerows(mess.planted)
    return 0


if __name__ == "__main__":
    sys.exit(main())
