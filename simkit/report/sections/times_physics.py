"""Findings of physics with their cautions, forces and speeds beside their limits, and what gas and power cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from simkit.analysis.sheet_times import ProgramTime
from simkit.base.units import SECONDS_PER_HOUR
from simkit.plant.tables import Material
from simkit.process.cutcheck import SpeedCheck
from simkit.process.lasercut import Severance
from simkit.process.lasernotes import speed_checks
from simkit.process.physicsnote import CAUTIONS, LEVELS, LOW, TOPICS, PhysicsNote
from simkit.process.pressnotes import PressUse, press_uses
from simkit.process.runningcost import NOZZLE, HourCost
from simkit.report.exhibits import Block, Row, paragraph, table
from simkit.report.timestudy import TimeStudy
from simkit.report.words import capitalised, listing, number, percent, plural, with_unit

FOLD_ABOVE = 8
"""Notes above which those of the lowest level are folded."""
MOST_FORCES = 8
NOTHING_SAFE = "Nothing here declares a press, a tool, a laser or a lift safe: the notes say where to look."


def findings_table(view: TimeStudy) -> list[Block]:
    """Every note of physics, what matters most first; those to know alone are folded when the list is long."""
    if not view.notes:
        return [paragraph(f"Physics finds nothing that stands out in this plant. {NOTHING_SAFE}")]
    shown = [note for note in view.notes if len(view.notes) <= FOLD_ABOVE or note.level != LOW]
    folded = [note for note in view.notes if note not in shown]
    blocks = [_notes_table(shown, f"{_counts(view.notes)}; what matters most first")] if shown else []
    if folded:
        summary = f"{plural(len(folded), 'note')} to know, folded"
        inner = _notes_table(folded, f"{plural(len(folded), 'note')} to know")
        blocks.append(Block("folded", {"summary": summary, "parts": [inner]}, summary))
    return [*blocks, *_silent(view)]


def _counts(notes: Sequence[PhysicsNote]) -> str:
    """How many notes each level has, in words."""
    counts = Counter(note.level for note in notes)
    levels = [f"{counts[level]} to {level}" for level in LEVELS if counts[level]]
    return f"{plural(len(notes), 'finding')} of physics: {listing(levels)}"


def _notes_table(notes: Sequence[PhysicsNote], title: str) -> Block:
    rows: list[Row] = []
    for level in LEVELS:
        own = [note for note in notes if note.level == level]
        if own:
            rows.append(Row(level, (), "group"))
            rows += [Row(note.topic, (note.finding.place, note.finding.why, note.finding.mend)) for note in own]
    columns = ["about", "place", "what stands out, and why", "what to do"]
    return table(title, columns, rows, words=True, note=NOTHING_SAFE)


def _silent(view: TimeStudy) -> list[Block]:
    quiet = [topic for topic in TOPICS if not view.notes_by_topic[topic]]
    if not quiet:
        return []
    return [
        paragraph(f"No finding about {listing(quiet)}: with the inputs given nothing stands out, which is no approval.")
    ]


def physics_cautions(view: TimeStudy) -> Block:
    """The caution that belongs beside each topic."""
    texts: dict[str, list[str]] = {}
    for topic in TOPICS:
        texts.setdefault(CAUTIONS[topic], []).append(topic)
    items = [{"head": capitalised(listing(topics)), "text": text} for text, topics in texts.items()]
    return Block("list", {"items": items}, "Cautions about the findings of physics")


def force_table(view: TimeStudy) -> Block:
    """Forces of the tools that need most of the press, each with its tool, figure and sheet."""
    plant = view.study.plant
    uses = press_uses(plant)
    if not uses:
        return paragraph("No cutting tool with known sides is used by a program, so that no press force is reckoned.")
    over = sum(bool(use.check.exceeded) for use in uses)
    machine = plant.settings.machine
    title = (
        f"{over} of {plural(len(uses), 'pair')} of tool and sheet exceed the press capacity of "
        f"{with_unit(machine.press_capacity_kn, 'kN')}; {uses[0].tool.tool_id} in {uses[0].material.material_id} needs "
        f"{percent(uses[0].share)}"
    )
    columns = ["tool and figure", "sheet", "programs", "punching, kN", "with stripping and margin, kN",
               "of capacity, %", "largest round hole at capacity, mm"]  # fmt: skip
    note = (
        f"Cut edge times thickness times shear strength; stripping {percent(machine.stripping_share)} and margin "
        f"{machine.force_margin:g} times as in plant.toml (common practice, no source). Forming forces are not "
        "estimated. The limits of the press and of each station are the maker's."
    )
    return table(title, columns, [_force_row(use) for use in uses[:MOST_FORCES]], words=[0], note=note)


def _force_row(use: PressUse) -> Row:
    check = use.check
    return Row(
        f"{use.tool.tool_id} {use.tool.shape} ({use.figure.how})",
        (
            f"{use.material.thickness_mm:g} mm {use.material.material_id}", number(len(use.programs), 0),
            number(float(check.punching_kn)), number(float(check.required_kn)), number(100 * use.share, 0),
            number(float(check.largest_round_mm), 0),
        ),
        "lost" if check.exceeded else "",
    )  # fmt: skip


def speed_table(view: TimeStudy) -> Block:
    """Cutting speeds held against the melt floor and published energies."""
    checks = speed_checks(view.study.plant)
    if not checks:
        return paragraph(
            "No cutting speed is compared: no program cuts a material whose metal of the printed tables is named "
            "(handbook in materials.csv), or there is no laser."
        )
    good = sum(check.finding(material.material_id) is None for material, check in checks)
    title = f"{good} of {plural(len(checks), 'cutting speed')} raise no question of plausibility"
    columns = ["material", "speed, m/min", "energy of the cut, J/mm²", "melt floor, J/mm²", "most by melting, m/min",
               "published, J/mm²", "verdict"]  # fmt: skip
    sources = dict.fromkeys(check.published.source for _, check in checks if check.published is not None)
    assumed = dict.fromkeys(check.assumed for _, check in checks if check.assumed)
    note = (
        "Effective speeds of materials.csv, corners included; a check of plausibility, no cutting parameters. Energy: "
        f"laser power over speed and thickness. Highest speed by melting {'; '.join(assumed) or 'not known'}. "
        f"Published: "
        f"{'; '.join(sources) or 'no range for these metals'}."
    )
    return table(title, columns, [_speed_row(*pair) for pair in checks], words=[5], note=note)


def _speed_row(material: Material, check: SpeedCheck) -> Row:
    floor = "–" if check.floor_j_mm2 is None else number(check.floor_j_mm2)
    most = "–" if check.limit_m_min is None else number(check.limit_m_min, 0)
    cells = (number(check.speed_m_min), number(check.severance_j_mm2), floor, most, _published(check.published))
    return Row(f"{material.material_id} with {material.gas}", (*cells, check.verdict))


def _published(row: Severance | None) -> str:
    if row is None:
        return "–"
    return f"mean {row.mean:g}" if row.low is None else f"{row.low:g} to {row.high:g}, mean {row.mean:g}"


# ---- gas and power ----


def energy_table(view: TimeStudy) -> Block:
    """Gas and power of an hour and of a mean sheet, by material of the book."""
    costs = view.hour_costs
    if not costs:
        return paragraph("No material of the order book takes run time, so that no gas or power is reckoned.")
    study, currency = view.study, view.study.currency
    money, machine = study.plant.settings.money, study.plant.settings.machine
    dearest = max(costs, key=lambda cost: cost.gas_per_running_h_high)
    title = (
        f"An hour of running costs up to {_money(dearest.gas_per_running_h_high)} {currency} of gas "
        f"({dearest.material_id}) and {_money(dearest.energy_per_running_h)} {currency} of power, an idle hour "
        f"{_money(dearest.energy_per_idle_h)} {currency} of power"
    )
    columns = ["material", "gas", "flow by", "flow, m³/h at 0 °C", "cutting, % of run time",
               f"gas, {currency} a cutting hour", f"gas, {currency} a running hour",
               f"gas and power, {currency} a running hour", "run time of a sheet, s",
               f"gas and power, {currency} a sheet"]  # fmt: skip
    running, idle = with_unit(machine.running_kw, "kW"), with_unit(machine.idle_kw, "kW")
    note = (
        f"By the mean times of the runs, {_money(money.gas_per_m3)} {currency}/m³ of gas and "
        f"{_money(money.energy_per_kwh)} {currency}/kWh (plant.toml); {running} running and {idle} idle. "
        f"{_laser(costs[0])} From a nozzle's opening and pressure the flow spans the usual discharge of 0.8 to 0.95 "
        f"and "
        "runs with the beam; the machine's figure runs through all of the cutting. Purging and leaks come on top. "
        f"What a simulated run is charged takes the machine's figure of {machine.gas_m3_per_h:g} m³/h."
    )
    return table(title, columns, [_energy_row(view, cost) for cost in costs], words=[0, 1], note=note)


def _energy_row(view: TimeStudy, cost: HourCost) -> Row:
    own = [row for row in view.times if row.program.material_id == cost.material_id]
    sheet_s = sheet_seconds(own)
    low, high = (gas + cost.energy_per_running_h for gas in (cost.gas_per_running_h_low, cost.gas_per_running_h_high))
    hours = sheet_s / SECONDS_PER_HOUR
    return Row(
        cost.material_id,
        (
            cost.gas, "nozzle" if cost.flow_source == NOZZLE else "plant.toml",
            _span(cost.flow_low_m3n_h, cost.flow_high_m3n_h, 1), number(100 * cost.cutting_share, 0),
            _span(cost.gas_per_cutting_h_low, cost.gas_per_cutting_h_high),
            _span(cost.gas_per_running_h_low, cost.gas_per_running_h_high), _span(low, high),
            number(sheet_s, 0), _span(low * hours, high * hours),
        ),
    )  # fmt: skip


def sheet_seconds(rows: Sequence[ProgramTime]) -> float:
    """Run time of a mean sheet of some programs, s, over the sheets of the book."""
    sheets = sum(row.estimate.sheets for row in rows)
    return sum(row.hours for row in rows) * SECONDS_PER_HOUR / sheets if sheets else 0.0


def _span(low: float, high: float, digits: int = 2) -> str:
    """Write a range, or one number where both ends read the same."""
    texts = number(low, digits), number(high, digits)
    return texts[0] if texts[0] == texts[1] else f"{texts[0]} to {texts[1]}"


def _money(value: float) -> str:
    return number(value, 2)


def _laser(cost: HourCost) -> str:
    if cost.laser_kw is None or cost.estimated_kw is None:
        return "The laser's efficiency is not given, so that no power is estimated beside it."
    return (
        f"With the beam on the laser alone draws {with_unit(cost.laser_kw, 'kW')} by its efficiency; with idle power "
        f"for "
        f"all else {cost.material_id} would run at {with_unit(cost.estimated_kw, 'kW')} on average."
    )
