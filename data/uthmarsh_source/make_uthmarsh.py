"""Makes the folder of Uthmarsh Trialworks. Run it with ``--into EMPTY_FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "common_source"))

import cell_rows
import uthmarsh_cell
import work_rows
from drawing import make_streams
from uthmarsh_book import draw_book
from uthmarsh_facts import SEED, SHOP, STREAMS
from uthmarsh_options import option_settings
from uthmarsh_settings import plant_settings
from writing import Content, Tables, main


def make() -> Content:
    """Return all that the folder holds."""
    streams = make_streams(SEED, STREAMS)
    programs, orders = draw_book(streams)
    uses = cell_rows.uses_of_tools(SHOP, programs, orders)
    tables: Tables = {
        "orders": work_rows.order_rows(SHOP, programs, orders),
        "programs": work_rows.program_rows(SHOP, programs),
        "program_parts": work_rows.part_rows(SHOP, programs),
        "program_tools": work_rows.program_tool_rows(SHOP, programs),
        "tools": cell_rows.tool_rows(SHOP, uses, streams["tools"]),
        "materials": work_rows.material_rows(SHOP),
        "elements": uthmarsh_cell.element_rows(),
        "machines": cell_rows.machine_rows(),
        "people": uthmarsh_cell.people_rows(),
        "calendar": (),
        "start": uthmarsh_cell.start_rows(uses, orders),
        "stops": uthmarsh_cell.stop_rows(),
        "load_faults": cell_rows.load_fault_rows(),
        "upkeep": cell_rows.upkeep_rows(),
        "quality": cell_rows.quality_rows(),
    }
    return tables, plant_settings(), option_settings(programs, uses)


if __name__ == "__main__":
    sys.exit(main(make))
