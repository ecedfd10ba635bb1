"""Sections about wrong tools, wear, and what no tool fix touches: fixed minutes and first pieces."""

from __future__ import annotations

from simkit.analysis.record_tables import ALL
from simkit.analysis.record_tables import WEEKS as PERIOD_WEEKS
from simkit.analysis.regrinds import WEEKS, book_forecast, grinding_s
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.experiment.glossary import describe
from simkit.experiment.intervals import Estimate
from simkit.plant.tables import LoadFault
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.sections.trust import setting_rows
from simkit.report.studydata import TODAY
from simkit.report.toolstudy import PER_4_WEEKS, ToolStudy
from simkit.report.words import capitalised, number, percent, plural, plus_minus, scaled
from simkit.tooling.forecast import Forecast, ToolOutlook

FOUND = {
    "first_hit": "at the first hit (tool broken)",
    "first_piece": "when a first piece is measured",
    "later": "later",
}
WEAR_MEASURES = ("tool_faults", "tool_faults_late", "tool_fault_h", "tools_broken", "tools_worn_out", "tools_reground",
                 "tools_replaced")  # fmt: skip
ASSUMED = ("default", "estimated")
MOST_TOOLS = 12
RULES_OF_TOOLS = ("eviction", "pinned", "lookahead_orders", "lookahead_sheets", "dispatch", "first_piece")
EXACT = (
    "Keeping the tool needed soonest is optimal for tools of one size in a given order of work (Tang and Denardo "
    "1988); with several station sizes, barred neighbours or wide tools it is a good rule, not an optimum (Crama et "
    "al. 2007). The search for a standard layout is greedy and not exact either. What the rules cost is simulated "
    "exchange by exchange."
)
CAUTIONS = (
    (
        "Sharp and heavy tools",
        "punches and dies cut and pinch; sets above the site's limit are lifted by two or with a device; local limits "
        "apply (ISO 11228: named from memory)",
    ),
    (
        "Press",
        "nobody reaches into the turret or the sheet's way while the drive is live; isolation before work on tools is "
        "never planned as zero at a hazard (ISO 12100 and local codes: named from memory)",
    ),
    (
        "Laser",
        "look-ahead exchanges run while the laser cuts: the enclosure stays closed, and the maker says what may be "
        "loaded meanwhile (IEC 60825-1, ISO 11553-1: named from memory)",
    ),
    ("Grinding", "eye protection, dust and a guarded wheel are the tool room's matter under local rules"),
    (
        "Wrong tools",
        "a punch and die that do not belong together can burst; the kit counts such loads and makes none of them safe",
    ),
)


def wear_measures(view: ToolStudy) -> Block:
    """Wrong loads, broken and worn tools a week, for the main cases."""
    study = view.study
    shown = [m for m in WEAR_MEASURES if all(study.has(name, m) for name in view.main_cases)]
    rows = [
        Row(_with_unit(m), tuple(plus_minus(view.per_week(name, m)) for name in view.main_cases))
        for m in shown
        if any(view.per_week(name, m).mean for name in view.main_cases)
    ]
    if not rows:
        return paragraph(
            "No tool is loaded wrongly and none wears out in any simulated case: no row of the plant says so."
        )
    faults = view.per_week(TODAY, "tool_faults") if "tool_faults" in shown else Estimate(0.0, 0.0, 1)
    worn = view.per_week(TODAY, "tools_worn_out") if "tools_worn_out" in shown else Estimate(0.0, 0.0, 1)
    title = (
        f"{number(faults.mean)} tools a week are loaded wrongly today, and {number(worn.mean)} fail in the middle of "
        "a sheet"
    )
    columns = ["what", *(view.named(name) for name in view.main_cases)]
    return table(title, columns, rows, note=f"Per week, mean ± 95 %. {study.package_note}")


def _with_unit(measure: str) -> str:
    known = describe(measure)
    return f"{known.meaning}, {known.unit}"


def fault_table(view: ToolStudy) -> Block:
    """Faults of loading by kind: how often they happen, and where they are found today."""
    faults = view.study.plant.load_faults
    if not faults:
        return paragraph(
            "No load_faults.csv was handed in: no tool is loaded wrongly in any case, which is rarely true."
        )
    if not view.counted:
        return paragraph(f"Faults were counted by kind at demand {view.study.run.tool_demand:g} only.")
    rows = [_fault_row(view, fault) for fault in faults]
    guesses = sum(fault.basis in ASSUMED for fault in faults)
    every = view.study.table("tool_faults", TODAY)
    late = every.loc[every["found"] == "later", "times"].sum()
    total = every["times"].sum()
    title = (
        f"{number(float(total))} wrong loads {PER_4_WEEKS} today, {number(float(late))} of them found after the first "
        f"piece; {guesses} of {plural(len(faults), 'kind')} rest on assumed rates"
    )
    columns = ["fault", "for", "rate, % of exchanges", *(f"found {where}" for where in FOUND.values()), "to put "
                                                                                                        "right, min",
               "basis; source"]  # fmt: skip
    return table(title, columns, rows, words=[0, 1, 6], note=(
        f"Found: number {PER_4_WEEKS}, mean ± 95 %. Assumed: default or estimated, not measured in this plant. A kind "
        "with several rows counts the loads of all of them."))  # fmt: skip


def _fault_row(view: ToolStudy, fault: LoadFault) -> Row:
    basis = "assumed" if fault.basis in ASSUMED else fault.basis
    rate = f"{number(100 * fault.rate)} ({basis})"
    at = f"{', '.join(fault.exchanges)}{'; ' + fault.applies_to if fault.applies_to else ''}"
    found = (plus_minus(view.faults(fault.fault, where)) for where in FOUND)
    source = f"{fault.basis}; {fault.source}"
    cells = (at, rate, *found, number(fault.repair_min), source)
    return Row(fault.fault.replace("_", " "), cells, "grey" if fault.basis == "default" else "")


def regrind_table(view: ToolStudy) -> Block:
    """Which tools come due for a regrind in which week, and the hours of grinding away from the machine."""
    forecast = book_forecast(view.study.plant)
    if forecast is None or not forecast.rows:
        return paragraph("No tool that wears is used: nothing comes due for a regrind.")
    ranked = _by_work(forecast)
    rows = [_outlook_row(forecast, outlook) for outlook in ranked[:MOST_TOOLS]]
    sums = forecast.sums
    hours = [week.off_line_h for week in sums]
    rows.append(Row("all tools: hours of grinding", ("", "", *(number(h, 1) for h in hours)), "total"))
    rows.append(
        Row("all tools: swaps and failures", ("", "", *(number(w.planned + w.failed, 1) for w in sums)), "total")
    )
    each = grinding_s(view.study.plant) / SECONDS_PER_MINUTE
    title = (
        f"{number(sum(w.planned + w.failed for w in sums))} tools come off for grinding in {WEEKS} weeks if the book "
        f"repeats: {number(sum(hours))} h away from the machine"
    )
    columns = [
        "tool",
        "counted hits",
        "due in week",
        *(f"week of {forecast.monday(week):%d %b}" for week in range(WEEKS)),
    ]
    return table(title, columns, rows, words=[0, 1], note=(
        f"Expected number of regrinds and failures by week, from hits and life laws, the {MOST_TOOLS} tools with the "
        f"most; {number(each)} min each. Counted: reground at its limit; not counted: it fails when its life ends. A "
        "forecast by formula, all hits on one copy, no run of the cell; from wear at the start as "
        "start.csv has it."))  # fmt: skip


def _by_work(forecast: Forecast) -> list[ToolOutlook]:
    total: dict[str, float] = {}
    for row in forecast.rows:
        total[row.tool_id] = total.get(row.tool_id, 0.0) + row.planned + row.failed
    used = [outlook for outlook in forecast.outlooks if total.get(outlook.tool_id)]
    return sorted(used, key=lambda outlook: -total[outlook.tool_id])


def _outlook_row(forecast: Forecast, outlook: ToolOutlook) -> Row:
    weeks = [row for row in forecast.rows if row.tool_id == outlook.tool_id]
    due = "later" if outlook.due_week is None else f"{forecast.monday(outlook.due_week):%d %b}"
    cells = (number(row.planned + row.failed, 2) for row in sorted(weeks, key=lambda row: row.week))
    return Row(outlook.tool_id, ("yes" if outlook.tracked else "no", due, *cells))


def residue_table(view: ToolStudy) -> Block:
    """Fixed minutes per order and first pieces that stay, beside exchanges, for the main cases."""
    if not view.counted:
        return paragraph(f"Fixed minutes were counted at demand {view.study.run.tool_demand:g} only.")
    rows = [_residue_row(view, name) for name in view.main_cases]
    last = view.main_cases[-1]
    fixed, first = fixed_h(view, last), view.per_week(last, "state_first_piece_h")
    exchange = view.per_week(last, "exchange_visible_h")
    share = (fixed.mean + first.mean) / max(fixed.mean + first.mean + exchange.mean, 1e-9)
    title = (
        f"{view.named(last)} still spends {number(fixed.mean + first.mean)} h a week on fixed minutes and first "
        f"pieces, {percent(share)} of its set-up with tools; exchanges take {number(exchange.mean)} h"
    )
    columns = ["case", "exchanges with the machine standing, h", "fixed minutes per order, h", "first pieces, h",
               "fixed and first piece together, h"]  # fmt: skip
    return table(title, columns, rows, note=(
        "Per week, mean ± 95 % (the last column: mean). Fixed minutes: program, papers and what else each order "
        "takes once at the machine. First pieces: made, measured and released. Both are touched only by rules and by "
        f"preparation outside. {view.study.package_note}"))  # fmt: skip


def _residue_row(view: ToolStudy, name: str) -> Row:
    fixed, first = fixed_h(view, name), view.per_week(name, "state_first_piece_h")
    cells = (plus_minus(view.per_week(name, "exchange_visible_h")), plus_minus(fixed), plus_minus(first),
             number(fixed.mean + first.mean))  # fmt: skip
    return Row(view.named(name), cells)


def fixed_h(view: ToolStudy, name: str) -> Estimate:
    """Fixed minutes of orders as hours per week."""
    return scaled(view.of_family(name, ALL, "fixed"), SECONDS_PER_MINUTE / SECONDS_PER_HOUR / PERIOD_WEEKS)


def tool_rules(view: ToolStudy) -> Block:
    """The rules about tools in force today, and what is exact about them."""
    settings = view.study.plant.settings
    rules = [row for row in setting_rows(settings.rules) if row.head in RULES_OF_TOOLS]
    rows = [
        Row("orders and turret", (), "group"),
        *rules,
        Row("tool magazine", (), "group"),
        *setting_rows(settings.magazine),
    ]
    pinned = plural(len(settings.rules.pinned), "station")
    title = f"Tools leave the turret by “{settings.rules.eviction}”; {pinned} pinned today"
    return table(title, ["setting", "value", "meaning"], rows, words=True, note=EXACT)


def tool_cautions() -> Block:
    """What to mind when tools are handled, first of all."""
    items = [{"head": head, "text": f"{capitalised(text)}."} for head, text in CAUTIONS]
    return Block("list", {"items": items}, "Cautions about tools")
