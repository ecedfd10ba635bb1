"""The records of one run, made once from its trace and kept with it; measures are sums over them. No pandas."""

from __future__ import annotations

from simkit.cell.trace import Trace
from simkit.experiment.nights import Night, night_table
from simkit.experiment.ordermeasures import OrderRow, order_table
from simkit.experiment.partmeasures import Hour, Morning, Picks, hour_table, morning_table, pick_table
from simkit.experiment.tables import Records
from simkit.experiment.toolmeasures import FamilyUse, Fault, ToolUse, tool_tables
from simkit.process.workload import Workload

ROWS = {
    "orders": OrderRow, "nights": Night, "mornings": Morning, "hours": Hour, "picks": Picks, "tools": ToolUse,
    "families": FamilyUse, "faults": Fault,
}  # fmt: skip
"""What a row of each table is, by the name of the table."""


def record_run(trace: Trace, workload: Workload) -> Records:
    """All tables of one run."""
    end_s = min(workload.span_s, trace.end_s)
    return {
        "orders": order_table(trace, workload), "nights": night_table(trace, workload),
        "mornings": morning_table(trace, end_s), "hours": hour_table(trace, end_s),
        "picks": pick_table(trace, workload), **tool_tables(trace, workload),
    }  # fmt: skip
