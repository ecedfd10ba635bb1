"""Makes the folder of Quennow Panelworks. Run it with ``--into EMPTY_FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "common_source"))

import cell_rows
import quennow_cell
from drawing import make_streams
from plant_tables import plant_tables
from quennow_book import draw_book
from quennow_facts import SEED, SHOP, STREAMS
from quennow_options import option_settings
from quennow_settings import plant_settings
from writing import Content, main


def make() -> Content:
    """Return all that the folder holds."""
    streams = make_streams(SEED, STREAMS)
    programs, orders = draw_book(streams)
    uses = cell_rows.uses_of_tools(SHOP, programs, orders)
    tables = plant_tables(
        SHOP, programs, orders,
        tools=quennow_cell.tool_rows(cell_rows.tool_rows(SHOP, uses, streams["tools"], away=0)),
        elements=quennow_cell.element_rows(), people=quennow_cell.people_rows(),
        start=quennow_cell.start_rows(orders), stops=quennow_cell.stop_rows(), upkeep=quennow_cell.upkeep_rows(),
    )  # fmt: skip
    return tables, plant_settings(), option_settings(programs, uses)


if __name__ == "__main__":
    sys.exit(main(make))
