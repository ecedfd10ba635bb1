"""Makes the demo plant's folder from its description. Run it with ``--into EMPTY_FOLDER``."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "common_source"))

import cell_rows
import crew_rows
from book import draw_book
from drawing import make_streams
from families import SEED, SHOP, STREAMS
from option_text import option_settings
from plant_tables import plant_tables
from settings_text import plant_settings
from writing import Content, main


def make() -> Content:
    """Return all that the folder holds."""
    streams = make_streams(SEED, STREAMS)
    book = draw_book(streams)
    programs = book.programs
    uses = cell_rows.uses_of_tools(SHOP, programs, book.described)
    waiting = cell_rows.backlog_rows(SHOP, book.orders, crew_rows.BACKLOG_DAYS)
    tables = plant_tables(
        SHOP, programs, book.orders,
        tools=cell_rows.tool_rows(SHOP, uses, streams["tools"]), people=crew_rows.people_rows(),
        start=[*cell_rows.turret_rows(SHOP, uses), *waiting],
        stops=cell_rows.stop_rows(crew_rows.RUNNING_H_PER_SHIFT),
    )  # fmt: skip
    return tables, plant_settings(), option_settings(programs, uses)


if __name__ == "__main__":
    sys.exit(main(make))
