"""The tables of a demo plant that its shop, its book and the base's rules settle; a plant adds its own beside them."""

from __future__ import annotations

from typing import Any

import cell_rows
import work_rows
from writing import Tables


def plant_tables(shop: Any, programs: Any, orders: Any, **own: Any) -> Tables:
    """Return the rows of all tables; ``own`` are those that each plant makes: tools, people, start, stops."""
    common: Tables = {
        "orders": work_rows.order_rows(shop, programs, orders),
        "programs": work_rows.program_rows(shop, programs),
        "program_parts": work_rows.part_rows(shop, programs),
        "program_tools": work_rows.program_tool_rows(shop, programs),
        "materials": work_rows.material_rows(shop),
        "elements": cell_rows.element_rows(),
        "machines": cell_rows.machine_rows(),
        "calendar": (),
        "load_faults": cell_rows.load_fault_rows(),
        "upkeep": cell_rows.upkeep_rows(),
        "quality": cell_rows.quality_rows(),
    }
    return {**common, **own}
