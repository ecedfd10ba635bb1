"""Makes the demo plant's folder from its description. Run it with ``--into EMPTY_FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "common_source"))

import cell_rows
import crew_rows
import work_rows
from book import draw_book
from drawing import make_streams
from families import SEED, SHOP, STREAMS
from option_text import option_settings
from settings_text import plant_settings
from writing import Content, Tables, main


def make() -> Content:
    """Return all that the folder holds."""
    streams = make_streams(SEED, STREAMS)
    book = draw_book(streams)
    programs = book.programs
    uses = cell_rows.uses_of_tools(SHOP, programs, book.described)
    tables: Tables = {
        "orders": work_rows.order_rows(SHOP, programs, book.orders),
        "programs": work_rows.program_rows(SHOP, programs),
        "program_parts": work_rows.part_rows(SHOP, programs),
        "program_tools": work_rows.program_tool_rows(SHOP, programs),
        "tools": cell_rows.tool_rows(SHOP, uses, streams["tools"]),
        "materials": work_rows.material_rows(SHOP),
        "elements": cell_rows.element_rows(),
        "machines": cell_rows.machine_rows(),
        "people": crew_rows.people_rows(),
        "calendar": (),
        "start": [
            *cell_rows.turret_rows(SHOP, uses),
            *cell_rows.backlog_rows(SHOP, book.orders, crew_rows.BACKLOG_DAYS),
        ],
        "stops": cell_rows.stop_rows(crew_rows.RUNNING_H_PER_SHIFT),
        "load_faults": cell_rows.load_fault_rows(),
        "upkeep": cell_rows.upkeep_rows(),
        "quality": cell_rows.quality_rows(),
    }
    return tables, plant_settings(), option_settings(programs, uses)


if __name__ == "__main__":
    sys.exit(main(make))
