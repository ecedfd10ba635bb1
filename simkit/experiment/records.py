"""The records of one run, made once from its trace and kept with it; measures are sums over them. No pandas."""

from __future__ import annotations

from simkit.cell.trace import Trace
from simkit.experiment.backlog import Hour, Morning, by_hour, mornings
from simkit.experiment.nights import Night, night_table
from simkit.experiment.ordermeasures import OrderRow, order_table
from simkit.experiment.partmeasures import Picks, pick_table
from simkit.experiment.stops import StopRow, stop_table
from simkit.experiment.tables import Records
from simkit.experiment.toolmeasures import FamilyUse, Fault, ToolUse, tool_tables
from simkit.process.workload import Workload

ROWS = {
    "orders": OrderRow, "nights": Night, "mornings": Morning, "hours": Hour, "picks": Picks, "tools": ToolUse,
    "families": FamilyUse, "faults": Fault, "stops": StopRow,
}  # fmt: skip
"""What a row of each table is, by the name of the table."""


def record_run(trace: Trace, workload: Workload) -> Records:
    """All tables of one run."""
    span = (0.0, min(workload.span_s, trace.end_s))
    return {
        "orders": order_table(trace, workload), "nights": night_table(trace, workload),
        "mornings": mornings(trace.bench_level, trace.attended_spans, span), "hours": by_hour(trace.bench_level, span),
        "picks": pick_table(trace, workload), **tool_tables(trace, workload), "stops": stop_table(trace, workload),
    }  # fmt: skip
