"""Makes the folder of Uthmarsh Trialworks. Run it with ``--into EMPTY_FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "common_source"))

import cell_rows
import uthmarsh_cell
from drawing import make_streams
from plant_tables import plant_tables
from uthmarsh_book import draw_book
from uthmarsh_facts import SEED, SHOP, STREAMS
from uthmarsh_options import option_settings
from uthmarsh_settings import plant_settings
from writing import Content, main


def make() -> Content:
    """Return all that the folder holds."""
    streams = make_streams(SEED, STREAMS)
    programs, orders = draw_book(streams)
    uses = cell_rows.uses_of_tools(SHOP, programs, orders)
    tables = plant_tables(
        SHOP, programs, orders,
        tools=cell_rows.tool_rows(SHOP, uses, streams["tools"]), elements=uthmarsh_cell.element_rows(),
        people=uthmarsh_cell.people_rows(), start=uthmarsh_cell.start_rows(uses, orders),
        stops=uthmarsh_cell.stop_rows(),
    )  # fmt: skip
    return tables, plant_settings(), option_settings(programs, uses)


if __name__ == "__main__":
    sys.exit(main(make))
