"""Tables about tools: what each fix is worth in hours, which tools cause changeovers, magazine places, wear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from simkit.analysis.option_sets import bringing, on_top, touching
from simkit.analysis.standard_layout import StandardLayout, find_layout
from simkit.analysis.tool_questions import (
    LEAST_GAIN_SHARE,
    SHARES,
    WEEKS,
    SizePoint,
    book_forecast,
    clearance_uses,
    enough,
    keep_rows,
    size_changes,
)
from simkit.base.units import MINUTES_PER_HOUR, SECONDS_PER_HOUR
from simkit.desk.answer_cache import Question
from simkit.desk.answers import Answer, Sentence, answer_of, said
from simkit.desk.notebook_display import titled
from simkit.desk.simulated import PACKAGE, TODAY, Simulated, gap_cells, with_half
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.experiment.runsfolder import runs_folder
from simkit.experiment.toolmeasures import HITS
from simkit.plant.scenarios import make_scenario
from simkit.report import cautions
from simkit.report import sentences_tools as say
from simkit.tooling.lives import limit_worths

if TYPE_CHECKING:
    from simkit.desk.plants import Changes, Plant, Scenario

BLIND = "Without look-ahead"
DIES = ("die_change", "magazine_die_change")
COUNTED = {"tools_loaded": ("tool_load", "magazine_exchange"), "dies_changed": DIES, "hits": (HITS,)}
"""What the records of tools count, by kind of exchange."""
BY_HAND = ("tool_loads", "die_changes", "angle_changes")
"""Exchanges by hand: with a magazine they are those that it misses."""
COST = ("exchange_visible_h", "tool_fault_h")
"""Hours that tools cost: exchanges while the machine stands, putting wrong tools right."""
CARE = {
    "loaded_wrongly_per_week": "tool_faults", "found_late_per_week": "tool_faults_late",
    "putting_right_h_per_week": "tool_fault_h", "broken_per_week": "tools_broken",
    "failed_in_a_sheet_per_week": "tools_worn_out", "reground_per_week": "tools_reground",
}  # fmt: skip
COPIES = {0: "die alone", 1: "tool"}
"""What has a place in the magazine; from the second copy on it is called by its number."""
MOST = 10
"""Rows of a table that shows those with the most."""
EXCHANGED = ("tool", "standing_min_per_week", "standing_min_per_week_half_width", "standing_share",
             "tools_loaded_per_week", "dies_changed_per_week", "hits_per_week")  # fmt: skip
CLEARANCES = ("tool", "dies_changed_per_week", "dies_changed_per_week_half_width", "most_frequent_pair", "pair_share",
              "orders_at_each_clearance")  # fmt: skip
CONTENTS = ("station_size_mm", "tool", "what", "dies_kept", "exchanges_of_the_book", "exchange_share", "in_magazine")
SIZES = ("places", "by_hand_per_week", "standing_h_per_week", "more_h_per_week", "enough")


@dataclass(frozen=True, eq=False)
class PlantTools:
    """Scenarios of a plant that the questions about tools need; those that it cannot have are left out."""

    plant: Plant

    @property
    def magazine(self) -> tuple[str, ...] | None:
        """Options that bring a tool magazine: none if the plant has one, None where no option brings it."""
        return bringing(self.plant.inputs, "magazine")

    @cached_property
    def layout(self) -> pd.DataFrame:
        """The standard layout found: tool and die that stay in a station, and what each is worth in hours of the book.

        A greedy search on the book in order of release, of copies that the plant owns; ``attrs["changes"]`` are the
        changes of a scenario with it.
        """
        question = Question((make_scenario(self.plant.inputs, ()).physics_hash,), StandardLayout, runs_folder())
        found = question.known() or question.keep(find_layout(self.plant.inputs))
        rows = [(*pin.partition("@")[::2], worth_s / SECONDS_PER_HOUR)
                for pin, worth_s in zip(found.pins, found.worth_s, strict=True)]  # fmt: skip
        frame = pd.DataFrame(rows, columns=["tool", "die_clearance_mm", "worth_h_of_the_book"])
        pinned = [*self.plant.inputs.settings.rules.pinned, *found.pins]
        frame.attrs["changes"] = {"plant.rules.pinned": pinned} if found.pins else {}
        return titled(frame, *say.layout(len(found.pins), found.saved_h))

    def fixes(self, package: Sequence[str] = (), changes: Changes | None = None) -> tuple[Scenario, ...]:
        """Today, what costs nothing (order of work, layout found), every option that touches tools, then the package.

        Low-capital options stand before bought ones; the package comes alone and with the magazine.
        """
        inputs = self.plant.inputs
        sets: dict[str, Sequence[str]] = {TODAY: (), **touching(inputs, "tools")}
        if package:
            sets[PACKAGE] = package
        if both := on_top(inputs, package, self.magazine):
            sets[f"{PACKAGE} and magazine"] = both
        today, *others = self.plant.scenarios(sets, changes)
        return (today, *self._free(today), *others)

    def _free(self, today: Scenario) -> Iterator[Scenario]:
        if self.plant.inputs.tools and self.plant.inputs.settings.rules.dispatch != "searched":
            yield today.again({"plant.rules.dispatch": "searched"}).named("Order of work searched anew")
        if not self.layout.empty:
            yield today.again(self.layout.attrs["changes"]).named("Standard layout found")

    def sizes(
        self, shares: Sequence[float] = SHARES, package: Sequence[str] = (), changes: Changes | None = None
    ) -> tuple[Scenario, ...]:
        """The magazine with all its places, then at shares of them, on the package; today alone without a magazine."""
        if self.magazine is None:
            return self.plant.scenarios({TODAY: ()}, changes)
        options = tuple(dict.fromkeys((*package, *self.magazine)))
        (own,) = self.plant.scenarios({"all": options}, changes)
        magazine = own.made.plant.settings.magazine
        every = (own.again(size_changes(magazine, share)) for share in (1, *(s for s in shares if s != 1)))
        by_name = {_places_name(one): one for one in every}
        return tuple(one.named(name) for name, one in by_name.items())

    def look_ahead(self, changes: Changes | None = None) -> tuple[Scenario, ...]:
        """The magazine with and without look-ahead; today alone where the plant has no magazine that looks ahead."""
        today, *others = self.plant.scenarios({TODAY: ()} | ({"Magazine": self.magazine} if self.magazine else {}),
                                              changes)  # fmt: skip
        held = others[0] if others else today
        magazine = held.made.plant.settings.magazine
        if not (magazine.places and magazine.lookahead):
            return (today,)
        return (held.named("With look-ahead"), held.again({"plant.magazine.lookahead": False}).named(BLIND))


def _places(scenario: Scenario) -> int:
    return sum(scenario.made.plant.settings.magazine.places.values())


def _places_name(scenario: Scenario) -> str:
    return f"{_places(scenario)} places" if _places(scenario) else "No magazine"


class StudyTools(Simulated):
    """What a study tells about tools; amounts are those of a week, at the demand of the answers."""

    def fixes(self) -> pd.DataFrame:
        """One row per scenario: capital, tools and dies exchanged, hours standing for it, machine hours freed."""
        gaps = self.freed()
        rows = [
            {
                "scenario": name, "capital": self.scenario(name).capital,
                "tools_loaded_per_week": self.per_week(name, "tool_loads", "magazine_exchanges").mean,
                "dies_changed_per_week": self.per_week(name, "die_changes", "magazine_die_changes").mean,
                **with_half("standing_h_per_week", self.per_week(name, "exchange_visible_h")),
                **gap_cells("freed_h_per_week", gaps.get(name)),
            }
            for name in self.names
        ]  # fmt: skip
        standing = {name: self.per_week(name, "exchange_visible_h") for name in self.names}
        frame = titled(pd.DataFrame(rows), *say.standing(standing))
        frame.attrs["picture"] = say.freed(_alone(gaps), "fixes")
        return frame

    def exchanges(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool that is exchanged, the most minutes first: minutes, share, tools and dies, hits."""
        name = scenario or self.base
        rows = self.records("tools", name)
        exchanged = rows["exchange"] != HITS
        counts = {column: rows["times"].where(rows["exchange"].isin(kinds), 0.0) for column, kinds in COUNTED.items()}
        rows = rows.assign(standing_min=rows["visible_min"].where(exchanged, 0.0), **counts)
        rows = rows[rows["tool_id"].isin(rows.loc[exchanged, "tool_id"])]
        frame = self.records_per_week(name, rows, ["tool_id"], ["standing_min", *COUNTED])
        frame = frame.sort_values("standing_min_per_week", ascending=False, kind="stable", ignore_index=True)
        total = float(frame["standing_min_per_week"].sum())
        frame["tool"] = frame["tool_id"].map(self._tool_names())
        frame["standing_share"] = frame["standing_min_per_week"] / (total or 1.0)
        frame = frame[list(EXCHANGED)]
        half = int((frame["standing_share"].cumsum() < 0.5).sum()) + 1
        tail = float(frame["standing_share"].iloc[(len(frame) + 1) // 2 :].sum())
        return titled(frame, *say.exchanges(half, len(frame) if total else 0, total, tail))

    def _tool_names(self) -> dict[str, str]:
        return {tool.tool_id: f"{tool.shape} ({tool.tool_id})" for tool in self.plant.inputs.tools}

    def clearances(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool used at more than one clearance: dies changed for that alone, and the most frequent pair."""
        name = scenario or self.base
        uses = clearance_uses(self.inputs_of(name))
        used = self.records("tools", name)
        used = used[used["exchange"].isin(DIES)]
        found = self.records_per_week(name, used, ["tool_id"], ["times"]).set_index("tool_id")
        found.columns = ["changed_per_week", "changed_per_week_half_width"]
        rows = [
            {"tool": self._tool_names()[tool], **found.loc[tool].add_prefix("dies_").to_dict(),
             "most_frequent_pair": " and ".join(f"{c:g} mm" for c in next(iter(use.changes))),
             "pair_share": next(iter(use.changes.values())) / sum(use.changes.values()),
             "orders_at_each_clearance": ", ".join(f"{c:g} mm: {count}" for c, count in use.orders.items())}
            for tool, use in uses.items() if tool in found.index
        ]  # fmt: skip
        frame = pd.DataFrame(rows, columns=list(CLEARANCES)).sort_values(CLEARANCES[1], ascending=False)
        total, top = float(frame[CLEARANCES[1]].sum()), frame.head(MOST).reset_index(drop=True)
        share = float(top[CLEARANCES[1]].sum()) / (total or 1.0)
        return titled(top, *say.clearances(len(top), len(uses), share, total))

    def sizes(self) -> pd.DataFrame:
        """One row per size of the magazine, of a study of :meth:`PlantTools.sizes`: what it misses and what that costs.

        ``enough`` marks the smallest that does not surely need half a per cent of the hours more than all places.
        """
        found = self.enough()
        rows = [
            {
                "places": point.places, **with_half("by_hand_per_week", self.per_week(point.scenario, *BY_HAND)),
                **with_half("standing_h_per_week", self.per_week(point.scenario, "exchange_visible_h")),
                **gap_cells("more_h_per_week", point.against_own),
                "enough": point == found,
            }
            for point in self._points()
        ]  # fmt: skip
        frame = pd.DataFrame(rows, columns=list(rows[0]) if rows else list(SIZES))
        return titled(frame, self._places_said(), say.PLACES_NOTE)

    def _places_said(self) -> str:
        """How many places are enough, and what the next smaller size costs."""
        found, own = self.enough(), _places(self.scenarios[0])
        less = [point for point in self._points() if found and point.places < found.places]
        fewer = (less[-1].places, less[-1].against_own) if less else None
        return say.places(found.places if found else None, own, fewer)

    def _points(self) -> list[SizePoint]:
        own = _places(self.scenarios[0])
        more = self.gaps()
        points = [
            SizePoint(_places(one) / own, _places(one), one.name, more.get(one.name))
            for one in self.scenarios if own
        ]  # fmt: skip
        return sorted(points, key=lambda point: point.places)

    def enough(self) -> SizePoint | None:
        """The smallest size of a magazine that is enough: what saves less than half a per cent of the hours is none."""
        return enough(self._points(), LEAST_GAIN_SHARE * self.per_week(self.base, NEEDED).mean)

    def contents(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool or die that the book exchanges, in the order in which it deserves a magazine place."""
        plant = self.inputs_of(scenario or self.base)
        listed = keep_rows(plant) if plant.settings.magazine.places else ()
        names = self._tool_names()
        frame = pd.DataFrame(
            [(row.size_mm, names[plant.tools[row.tool].tool_id], COPIES.get(row.copy, f"copy {row.copy}"),
              ", ".join(f"{die:g} mm" for die in row.dies if die >= 0), row.loads, row.share, row.kept)
             for row in listed],
            columns=list(CONTENTS),
        )  # fmt: skip
        kept = frame["in_magazine"].astype(bool)
        share = float(frame.loc[kept, "exchange_share"].sum())
        return titled(frame, *say.contents(share, int((~kept).sum()), len(frame)))

    def look_ahead(self) -> pd.DataFrame:
        """One row per family, most laser first: exchange minutes hidden and visible, with and without look-ahead.

        Of a study of :meth:`PlantTools.look_ahead`.
        """
        names = ["family", "laser_share", "hidden_min_per_week", "visible_min_per_week", "visible_without_min_per_week"]
        if BLIND not in self.names:
            return titled(pd.DataFrame(columns=names), say.NOTHING_HIDDEN)
        with_it, without = (self._families(name) for name in (self.base, BLIND))
        busy = with_it["cut_min_per_week"] + with_it["punch_min_per_week"]
        frame = pd.DataFrame({
            "laser_share": (with_it["cut_min_per_week"] / busy.where(busy > 0)).fillna(0.0),
            "hidden_min_per_week": with_it["hidden_min_per_week"],
            "visible_min_per_week": with_it["visible_min_per_week"],
            "visible_without_min_per_week": without["visible_min_per_week"],
        }).sort_values("laser_share", ascending=False).reset_index()  # fmt: skip
        hidden, visible = (float(frame[f"{what}_min_per_week"].sum()) for what in ("hidden", "visible"))
        gap = self.freed([self.base], BLIND)[self.base]
        return titled(frame, *say.look_ahead(hidden / (hidden + visible) if hidden else 0.0, gap))

    def _families(self, name: str) -> pd.DataFrame:
        amounts = ["hidden_min", "visible_min", "punch_min", "cut_min", "fixed_min"]
        return self.records_per_week(name, self.records("families", name), ["family"], amounts).set_index("family")

    def care(self) -> pd.DataFrame:
        """Wrong loads, broken and worn tools: today, and each scenario that surely changes one of them."""
        used = {
            column: m for column, m in CARE.items() if any(self.weekly_values(name, m).any() for name in self.names)
        }
        gaps = [self.freed((), "", measure) for measure in ("tool_faults", "tools_worn_out")]
        differs = [name for name in self.names if name == self.base or any(gap[name].tells for gap in gaps)]
        rows = []
        for name in differs:
            known = (with_half(column, self.per_week(name, measure)) for column, measure in used.items())
            rows.append({"scenario": name, **{key: value for cells in known for key, value in cells.items()}})
        today = (self.per_week(self.base, measure) for measure in ("tool_faults", "tools_worn_out"))
        return titled(pd.DataFrame(rows), *say.care(*today))

    def regrinds(self, weeks: int = WEEKS) -> pd.DataFrame:
        """One row per tool that comes due for grinding in the coming weeks, if the book repeats; most work first."""
        columns = ["tool", "counted", "due", "regrinds", "failures", "grinding_h"]
        monday, forecast = book_forecast(self.plant.inputs, weeks)
        names = self._tool_names()
        rows = []
        for own in forecast:
            due = "" if own.due_week is None else f"{monday + dt.timedelta(weeks=own.due_week):%d %b}"
            rows.append((names[own.tool.tool_id], "yes" if own.tool.tracked else "no", due, own.planned.sum(),
                         own.failed.sum(), own.off_line_h.sum()))  # fmt: skip
        frame = pd.DataFrame(rows, columns=columns)
        off = frame["regrinds"] + frame["failures"]
        ranked = frame.loc[off.sort_values(ascending=False, kind="stable").index]
        worths, hours = limit_worths(self.plant.inputs), float(frame["grinding_h"].sum())
        told = say.regrinds(float(off.sum()), weeks, hours, worths)
        return titled(ranked[ranked["due"] != ""].reset_index(drop=True), *told)

    def set_up(self, names: Sequence[str] = ()) -> pd.DataFrame:
        """Hours a week of set-up by what takes them, one row per scenario; the last one is what the title is about."""
        rows: list[dict[str, Any]] = [
            {
                "scenario": name, "exchanges_h_per_week": self.per_week(name, "exchange_visible_h").mean,
                "fixed_minutes_h_per_week": self._families(name)["fixed_min_per_week"].sum() / MINUTES_PER_HOUR,
                "first_pieces_h_per_week": self.per_week(name, "state_first_piece_h").mean,
            }
            for name in (names or self.names)
        ]  # fmt: skip
        frame = pd.DataFrame(rows)
        exchanges, fixed, first = map(float, frame.iloc[-1, 1:])
        share = (fixed + first) / (exchanges + fixed + first or 1.0)
        return titled(frame, *say.set_up_left(rows[-1]["scenario"], fixed + first, share))

    def answer(self, sizes: StudyTools | None = None) -> Answer:
        """What tools cost, what the best fix frees, what the magazine adds, and how many places are enough."""
        return answer_of(self._sentences(sizes), cautions.STANDING)

    def _sentences(self, sizes: StudyTools | None) -> Iterator[Sentence]:
        cost, needed = self.per_week(self.base, *COST), self.per_week(self.base, NEEDED).mean
        loads, dies = (self.per_week(self.base, measure).mean for measure in ("tool_loads", "die_changes"))
        yield said(self.base, "cost of tools", cost, say.tool_cost(cost, cost.mean / needed, loads, dies))
        gaps = self.freed()
        fixes = _alone(gaps)
        kinds = {option.id: option.kind for option in self.plant.inputs.options}
        bought = {one.name for one in self.scenarios if "bought" in map(kinds.get, one.options)}
        cheap = {name: gap for name, gap in fixes.items() if name not in bought}
        asked = [("without a machine", cheap, "fixes without a machine"), ("all", fixes, "fixes")]
        for subject, chosen, among in asked if len(fixes) > len(cheap) else asked[:1]:
            best = max(chosen, key=lambda name: gaps[name].mean, default="")
            if best:
                yield said(best, subject, gaps[best], f"{say.freed(chosen, among)}.")
        both = f"{PACKAGE} and magazine"
        if both in gaps:
            gap = self.freed([both], PACKAGE)[both]
            yield said(both, "on the package", gap, say.on_top("the magazine", gap, "the package"))
        if sizes is not None:
            found = sizes.enough()
            own = float(found.places if found else _places(sizes.scenarios[0]))
            yield Sentence(sizes.base, "magazine places", own, 0.0, "places", "", f"{sizes._places_said()}.")
        left, last = self.set_up(), self.names[-1]
        rest = float(left[["fixed_minutes_h_per_week", "first_pieces_h_per_week"]].iloc[-1].sum())
        yield Sentence(last, "what no tool fix touches", rest, 0.0, "h", "", f"{left.attrs['title']}.")


def _alone(gaps: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Hours freed by fixes alone, without the package."""
    return {name: gap for name, gap in gaps.items() if not name.startswith(PACKAGE)}
