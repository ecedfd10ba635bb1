"""Measures of tools: exchanges by kind, hidden and visible time, wear, tools loaded wrongly."""

from __future__ import annotations

from simkit.base.units import SECONDS_PER_HOUR
from simkit.cell.trace import Trace
from simkit.cell.wrongtools import LATER
from simkit.process.workload import EXCHANGES


def tool_totals(trace: Trace) -> dict[str, float]:
    """Exchanges by kind over the whole run, hidden and visible time, wear."""
    plural = {kind: f"{kind}s" for kind in EXCHANGES}
    measures = {name: float(sum(counts.kinds.get(kind, 0) for counts in trace.tools)) for kind, name in plural.items()}
    measures["magazine_misses"] = float(sum(counts.misses for counts in trace.tools))
    measures["magazine_loads"] = float(sum(counts.magazine_loads for counts in trace.tools))
    measures["exchange_hidden_h"] = sum(counts.hidden_s for counts in trace.tools) / SECONDS_PER_HOUR
    measures["exchange_visible_h"] = sum(counts.visible_s for counts in trace.tools) / SECONDS_PER_HOUR
    wear = [counts.wear for counts in trace.tools]
    measures["tools_reground"] = float(sum(sum(each.reground.values()) for each in wear))
    measures["tools_replaced"] = float(sum(sum(each.replaced.values()) for each in wear))
    measures["tool_lives"] = measures["tools_reground"] + measures["tools_replaced"]
    measures["tools_worn_out"] = float(sum(each.worn_out for each in wear))
    found = [item for counts in trace.tools for item in counts.faults.found.items()]
    measures["tool_faults"] = float(sum(count for _, count in found))
    measures["tool_faults_late"] = float(sum(count for (_, where), count in found if where == LATER))
    measures["tool_fault_h"] = sum(counts.faults.repair_s for counts in trace.tools) / SECONDS_PER_HOUR
    measures["tools_broken"] = float(sum(counts.broken for counts in trace.tools))
    return measures
