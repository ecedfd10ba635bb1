"""Tables about how parts leave the machine: by hand against a device, who breaks out, nights, lifting."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simkit.analysis.exposure import TOTAL, exposures, mass_bands
from simkit.analysis.option_sets import bringing, nights, on_top, touching
from simkit.analysis.part_clocks import book_clocks, break_even, family_clocks, gained_per_sheet_s, pick_elements
from simkit.analysis.removal_inputs import PICKED, reason_rows, whole_sheets
from simkit.base.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from simkit.base.vocabulary import BENCH
from simkit.desk.answers import Answer, Sentence, answer_of, said
from simkit.desk.notebook_display import titled
from simkit.desk.part_inputs import REMOVAL, input_cases, inputs_table
from simkit.desk.simulated import PACKAGE, SPAN, TODAY, Simulated, gap_cells, with_half
from simkit.experiment.glossary import NEEDED, UNATTENDED
from simkit.experiment.intervals import Estimate
from simkit.experiment.results import Results
from simkit.process.programs import program_tables
from simkit.report import cautions
from simkit.report import sentences_parts as say
from simkit.report.sentences_tools import freed
from simkit.report.sentences_tools import on_top as said_on_top

if TYPE_CHECKING:
    from simkit.desk.money import CashFlow
    from simkit.desk.plants import Changes, Plant, Scenario

ON_PACKAGE = f"{PACKAGE} and removal"
MUST_LOSE = "Must lose: no part fits"
NOTHING_FITS = {"plant.removal.max_mass_kg": 1e-6}
PICK_SHARES = (0.5, 1.0, 2.0, 4.0)
"""Times of a pick that are tried, as multiples of what is on offer: common practice, no source."""
BENCH_H = "person_bench_h"
HANDS = ("work", "counted_per", "seconds_each", "times_of_the_book")
REASONS = ("why_not", "parts", "part_share", "sheets", "sheet_share", "bench_of_the_book_h")
CLOCKS = {"machine_s": "machine_min", "person_s": "person_min", "person_bound": "person_slower_share",
          "removal_s": "machine_with_removal_min", "pick_s": "picker_min", "pick_bound": "waits_for_picker_share",
          "slower": "slower_with_removal_share"}  # fmt: skip
"""Columns of the table of clocks by those of families; what is without removal comes first."""
NIGHTS = ("scenario", "allowed_h_per_week", "run_h_per_week", "run_h_per_week_half_width", "more_h_per_week",
          "more_h_per_week_half_width", "how_sure", "lost_at_output_h_per_week", "stacks_taken_per_week",
          "sheets_waiting_in_the_morning", "pick_stopped_share")  # fmt: skip


@dataclass(frozen=True, eq=False)
class PlantParts:
    """Scenarios of a plant that the questions about parts need; those that it cannot have are left out."""

    plant: Plant

    @property
    def removal(self) -> tuple[str, ...] | None:
        """Options that bring part removal: none if the plant has it, None where no option brings it."""
        return bringing(self.plant.inputs, "removal")

    def ways(self, package: Sequence[str] = (), changes: Changes | None = None) -> tuple[Scenario, ...]:
        """Today, every option that touches how parts leave, removal on the package, and removal where it must lose."""
        sets: dict[str, Sequence[str]] = {TODAY: (), **touching(self.plant.inputs, "parts")}
        if self.removal:
            sets = {name: options for name, options in sets.items() if tuple(options) != self.removal}
            sets[REMOVAL] = self.removal
        if package:
            sets[PACKAGE] = package
        if both := on_top(self.plant.inputs, package, self.removal):
            sets[ON_PACKAGE] = both
        made = self.plant.scenarios(sets, changes)
        losing = (one.again(NOTHING_FITS).named(MUST_LOSE) for one in made if one.name == REMOVAL)
        return (*made, *losing)

    def picks(self, shares: Sequence[float] = PICK_SHARES, changes: Changes | None = None) -> tuple[Scenario, ...]:
        """Today, and removal with picks that take these multiples of the time on offer; today alone without any."""
        today, *others = self._alone(changes)
        elements = pick_elements(others[0].made.plant) if others else ()
        slower = (
            one.again({f"elements[{name}].typical*": share for name in elements}).named(f"Picks at {share:.0%}")
            for one in others for share in shares if elements
        )  # fmt: skip
        return (today, *slower)

    def inputs(self, changes: Changes | None = None) -> tuple[Scenario, ...]:
        """Today and removal as told, then removal with each input that may decide at its low and at its high value."""
        made = self._alone(changes)
        return input_cases(*made) if len(made) == 2 else made

    def _alone(self, changes: Changes | None) -> tuple[Scenario, ...]:
        """Today, and removal by itself where there is an option for it."""
        return self.plant.scenarios({TODAY: (), **({REMOVAL: self.removal} if self.removal else {})}, changes)

    def nights(self, package: Sequence[str] = (), changes: Changes | None = None) -> tuple[Scenario, ...]:
        """Unattended nights by how sheets leave, the whole-sheet stack first; today alone where none is possible."""
        found = nights(self.plant.inputs, tuple(package))
        return self.plant.scenarios(found or {TODAY: ()}, changes)


@dataclass(frozen=True, eq=False, repr=False)
class StudyParts(Simulated):
    """What a study tells about parts; amounts are those of a week, at the demand of the answers."""

    money: Callable[[], CashFlow]
    """The cash flow of the study."""

    @property
    def removal(self) -> str:
        """Name of the scenario with removal: the last but the one that must lose, or an empty text."""
        held = [name for name in self.names if self.inputs_of(name).settings.removal.pickers and name != MUST_LOSE]
        return REMOVAL if REMOVAL in held else held[0] if held else ""

    def ways(self) -> pd.DataFrame:
        """One row per scenario: capital, people's hours at the bench, blocked machine, entries, hours freed."""
        gaps = self.freed()
        lost = [name for name in self.results.measures if name.startswith("lost_kg_")] or ["sheets_scrapped"]
        rows = [
            {
                "scenario": name, "capital": self.scenario(name).capital,
                **with_half("bench_h_per_week", self.per_week(name, BENCH_H)),
                "rework_h_per_week": self.per_week(name, "rework_h").mean,
                "blocked_h_per_week": self.per_week(name, "state_blocked_h").mean,
                "entries_per_week": self.per_week(name, "cell_entries").mean,
                "lost_kg_per_week": self.per_week(name, *lost).mean,
                **gap_cells("freed_h_per_week", gaps.get(name)),
            }
            for name in self.names
        ]  # fmt: skip
        left = self.per_week(self.removal, BENCH_H) if self.removal else None
        entries = self.per_week(self.removal or self.base, "cell_entries")
        told = say.ways(self.per_week(self.base, BENCH_H), left, entries, gaps.get(MUST_LOSE))
        frame = titled(pd.DataFrame(rows), *told)
        frame.attrs["picture"] = freed(_ways_alone(gaps), "ways to hand over")
        return frame

    def hands(self) -> pd.DataFrame:
        """One row per work at the bench: what it is counted by, seconds each, times and hours of the book.

        Also with removal, where there is any. At mean times, each sheet of the order book.
        """
        frame = self._bench_work(self.base).sort_values("book_h", ascending=False)
        before, after = float(frame["book_h"].sum()), None
        if self.removal:
            left = self._bench_work(self.removal)["book_h"].reindex(frame.index).fillna(0.0)
            frame["book_with_removal_h"], after = left, float(left.sum())
        people = [row.person_id for row in self.inputs_of().people if BENCH in row.skills]
        return titled(frame.reset_index(), *say.hands(people, before, after))

    def _bench_work(self, name: str) -> pd.DataFrame:
        """Seconds each, times and hours of the book, by element and what it is counted by."""
        plant = self.inputs_of(name)
        tables = program_tables(plant)
        sheets = np.array([plant.sheets_of[program.program_id] for program in plant.programs]) / tables.filled
        rows = [
            (use.name.replace("_", " "), use.driver.replace("_", " "), use.law.mean,
             float(sum(use.count * sheets)))
            for use in tables.uses if use.state == BENCH
        ]  # fmt: skip
        frame = pd.DataFrame(rows, columns=list(HANDS))
        frame["book_h"] = frame["times_of_the_book"] * frame["seconds_each"] / SECONDS_PER_HOUR
        by_work = frame.groupby(list(HANDS[:2]), sort=False)
        return by_work.agg({"seconds_each": "last", "times_of_the_book": "sum", "book_h": "sum"})

    def clocks(self) -> pd.DataFrame:
        """Mean minutes a sheet of machine and person by family, today and with removal, and who is the slower clock."""
        today = book_clocks(self.inputs_of())
        removal = book_clocks(self.inputs_of(self.removal)) if self.removal else today
        found = family_clocks(today, removal)
        minutes = [f"{clock}_s" for clock in ("machine", "person", "removal", "pick")]
        frame = found.rename(columns=CLOCKS)
        frame[[CLOCKS[name] for name in minutes]] = found[minutes] / SECONDS_PER_MINUTE
        bound, slower = (float(found[name].iloc[-1]) if len(found) else 0.0 for name in ("person_bound", "slower"))
        told = say.clocks(len(found), bound, slower if self.removal else None, shared=today.shared)
        return titled(frame if self.removal else frame.iloc[:, :5], *told)

    def not_picked(self) -> pd.DataFrame:
        """One row per reason why parts of the book cannot be picked: parts, sheets, and today's bench hours on them."""
        if not self.removal:
            return titled(pd.DataFrame(columns=list(REASONS)), say.NO_REMOVAL)
        plant, clocks = self.inputs_of(self.removal), book_clocks(self.inputs_of())
        names = [program.program_id for program in plant.programs]
        bench_s = {names[at]: float(s) for at, s in zip(clocks.program, clocks.bench_s, strict=True)}
        whole, sheets = whole_sheets(plant)
        found = reason_rows(plant, bench_s)
        parts = sum(row.parts for row in found)
        rows = [(row.reason or "can be picked", row.parts, row.parts / parts, row.sheets, row.sheets / sheets,
                 row.bench_h) for row in sorted(found, key=lambda row: (row.reason != PICKED, -row.parts))]  # fmt: skip
        picked = sum(row.parts for row in found if row.reason == PICKED)
        told = say.picked(picked / parts if parts else 0.0, parts, whole / sheets if sheets else 0.0, sheets)
        return titled(pd.DataFrame(rows, columns=list(REASONS)), *told)

    def picks(self) -> pd.DataFrame:
        """One row per time of a pick, of a study of :meth:`PlantParts.picks`: hours freed, and the closed form."""
        today, gaps = book_clocks(self.inputs_of()), self.freed()
        per_week = self.per_week(self.base, "sheets").mean / SECONDS_PER_HOUR
        start, points, rows = self.weekly_values(self.base, NEEDED), [], []
        for name, gap in gaps.items():
            clocks = book_clocks(self.inputs_of(name))
            points.append((clocks.mean_pick_s, start - self.weekly_values(name, NEEDED)))
            rows.append({"pick_s": clocks.mean_pick_s, **gap_cells("freed_h_per_week", gap),
                         "closed_form_h_per_week": gained_per_sheet_s(today, clocks) * per_week})  # fmt: skip
        columns = ["pick_s", "freed_h_per_week", "freed_h_per_week_half_width", "how_sure", "closed_form_h_per_week"]
        frame = pd.DataFrame(rows, columns=columns).sort_values("pick_s", ignore_index=True)
        return titled(frame, say.pick_time(break_even(points, "s") if points else None), say.PICKS_NOTE)

    def inputs(self) -> pd.DataFrame:
        """One row per input that may decide whether removal pays, of a study of :meth:`PlantParts.inputs`."""
        return inputs_table(self)

    def nights(self) -> pd.DataFrame:
        """One row per way of a night, of a study of :meth:`PlantParts.nights`: hours run and lost at the output."""
        held = [name for name in self.names if self.inputs_of(name).settings.calendar.night.rule == "allowed"]
        gaps = self.gaps(held, "", UNATTENDED) if held else {}
        rows = []
        for name in held:
            rows.append({
                "scenario": name, "allowed_h_per_week": self.per_week(name, "night_allowed_h").mean,
                **with_half("run_h_per_week", self.per_week(name, UNATTENDED)),
                **gap_cells("more_h_per_week", gaps.get(name)),
                "lost_at_output_h_per_week": self.per_week(name, "night_lost_output_h").mean,
                "stacks_taken_per_week": self.per_week(name, "stacks_exchanged").mean,
                "sheets_waiting_in_the_morning": self.per_week(name, "bench_morning_mean").mean,
                "pick_stopped_share": self._stopped(name),
            })  # fmt: skip
        frame = pd.DataFrame(rows, columns=list(NIGHTS))
        if len(held) < 2:
            frame = frame.drop(columns=["more_h_per_week", "more_h_per_week_half_width", "how_sure"])
        runs = {name: self.per_week(name, UNATTENDED) for name in held}
        return titled(frame, *say.nights(runs, {n: self.per_week(n, "night_lost_output_h") for n in held}))

    def _stopped(self, name: str) -> float:
        """Share of the sheets with picks on which a pick failed at least once; not a number without picks."""
        rows = self.records("picks", name)
        sheets = float(rows["sheets"].sum())
        return float(rows["stopped"].sum()) / sheets if sheets else float("nan")

    def lifting(self) -> pd.DataFrame:
        """One row per scenario: lifts and kilograms by hand in a shift, and how much of today's it takes away."""
        names = [name for name in self.names if name != MUST_LOSE]
        weeks = float(self.results.raw(self.base, SPAN, self.numbers.level).mean())
        frame = self.results.frame
        weekly = Results(frame.assign(value=frame["value"] / weeks))
        options = {name: self.scenario(name).options for name in names}
        found = exposures(self.plant.inputs, options, self.base, weekly, self.numbers.level)
        rows = [
            {"scenario": name, **with_half("lifts_per_shift", row.asked[TOTAL].lifts),
             **with_half("kg_per_shift", row.asked[TOTAL].kg),
             **with_half("less_lifts_per_shift", row.taken_away[TOTAL].lifts),
             **with_half("less_kg_per_shift", row.taken_away[TOTAL].kg)}
            for name, row in found.items()
        ]  # fmt: skip
        today = found[self.base].asked[TOTAL] if self.base in found else None
        best = max(found, key=lambda name: found[name].taken_away[TOTAL].kg.mean, default="")
        less = found[best].taken_away[TOTAL] if best else None
        return titled(pd.DataFrame(rows), say.lifting(today, best, less), say.LIFTING_NOTE)

    def masses(self) -> pd.DataFrame:
        """Sheets of the book by mass, in steps of the limit for one person, and who loads them by the plant's rules."""
        plant = self.inputs_of()
        bands = mass_bands(plant)
        every = sum(band.sheets for band in bands)
        rows = [(f"{band.low_kg:g} to {min(band.high_kg, band.heaviest_kg):.0f} kg", band.sheets, band.sheets / every,
                 band.heaviest_kg, band.who) for band in bands]  # fmt: skip
        frame = pd.DataFrame(rows, columns=["mass", "sheets", "sheet_share", "heaviest_kg", "who_loads"])
        limit = plant.settings.machine.one_person_kg
        heavy = sum(band.sheets for band in bands if limit and band.low_kg >= limit)
        return titled(frame, *say.masses(heavy / every if every else 0.0, limit), folded=True)

    def answer(
        self, picks: StudyParts | None = None, nights: StudyParts | None = None, inputs: StudyParts | None = None
    ) -> Answer:
        """What the bench takes, what removal can take and frees, where it stops paying in hours, and the nights."""
        return answer_of(self._sentences(picks, nights, inputs), cautions.STANDING)

    def _sentences(
        self, picks: StudyParts | None, nights: StudyParts | None, inputs: StudyParts | None
    ) -> Iterator[Sentence]:
        gaps = self.freed()
        yield from self._of_removal(gaps)
        bench, clocks = self.per_week(self.base, BENCH_H), self.clocks()
        slower = float(clocks["person_slower_share"].iloc[-1]) if len(clocks) else 0.0
        yield said(self.base, "bench", bench, say.bench(bench, slower))
        if not self.removal:
            yield said(self.base, "removal", None, f"{say.NO_REMOVAL}.")
        if ways := _ways_alone(gaps):
            best = max(ways, key=lambda name: ways[name].mean)
            yield said(best, "ways", ways[best], f"{freed(ways, 'ways to hand over')}.")
        if picks is not None and self.removal:
            yield said(self.removal, "time of a pick", None, f"{picks.picks().attrs['title']}.")
        if inputs is not None and self.removal:
            yield said(self.removal, "what decides", None, f"{inputs.inputs().attrs['title']}.")
        if nights is not None:
            yield said(nights.base, "nights", None, f"{nights.nights().attrs['title']}.")

    def _of_removal(self, gaps: Mapping[str, Estimate]) -> Iterator[Sentence]:
        """What removal frees alone and on top of the package, and what it can pick; nothing without it."""
        if self.removal in gaps:
            hands = self.freed([self.removal], "", BENCH_H)[self.removal]
            yield said(self.removal, "machine hours", gaps[self.removal], say.removal(gaps[self.removal], hands))
        if ON_PACKAGE in gaps:
            more = self.freed([ON_PACKAGE], PACKAGE)[ON_PACKAGE]
            yield said(self.removal, "on the package", more, said_on_top("part removal", more, "the package"))
        if self.removal:
            yield said(self.removal, "what can be picked", None, f"{self.not_picked().attrs['title']}.")


def _ways_alone(gaps: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Hours freed by ways to hand over alone: without the package, and without removal that must lose."""
    return {name: gap for name, gap in gaps.items() if name not in (MUST_LOSE, PACKAGE, ON_PACKAGE)}
