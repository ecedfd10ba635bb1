"""Tables about tools: what each fix is worth in hours, which tools cause changeovers, magazine places, wear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from simkit.analysis.standard_layout import Layout, find_layout
from simkit.analysis.subjects import bringing, on_top, touching
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
from simkit.desk.amounts import with_half
from simkit.desk.answers import Answer, Sentence, said
from simkit.desk.kept_answers import Question
from simkit.desk.shown import titled
from simkit.desk.weekly import PACKAGE, TODAY, Weekly, gap_cells, opposite
from simkit.experiment.glossary import NEEDED
from simkit.experiment.intervals import Estimate
from simkit.experiment.kept import runs_folder
from simkit.experiment.toolmeasures import HITS
from simkit.plant.scenarios import make_scenario
from simkit.report import cautions
from simkit.report import sentences_tools as say
from simkit.tooling.capacity import Deserving
from simkit.tooling.lives import limit_worths

if TYPE_CHECKING:
    from simkit.desk.plants import Changes, Plant, Scenario

BLIND = "Without look-ahead"
LOADS, DIES = ("tool_load", "magazine_exchange"), ("die_change", "magazine_die_change")
BY_HAND = ("tool_loads", "die_changes", "angle_changes")
"""Exchanges by hand: with a magazine they are those that it misses."""
COST = ("exchange_visible_h", "tool_fault_h")
"""Hours that tools cost: exchanges while the machine stands, putting wrong tools right."""
CARE = {
    "loaded_wrongly_per_week": "tool_faults", "found_late_per_week": "tool_faults_late",
    "putting_right_h_per_week": "tool_fault_h", "broken_per_week": "tools_broken",
    "failed_in_a_sheet_per_week": "tools_worn_out", "reground_per_week": "tools_reground",
}  # fmt: skip
MOST = 10
"""Rows of a table that shows those with the most."""
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
        question = Question((make_scenario(self.plant.inputs, ()).physics_hash,), Layout, runs_folder())
        found = question.known() or question.keep(find_layout(self.plant.inputs))
        rows = [(*pin.partition("@")[::2], worth_s / SECONDS_PER_HOUR)
                for pin, worth_s in zip(found.pins, found.worth_s, strict=True)]  # fmt: skip
        frame = pd.DataFrame(rows, columns=["tool", "die_clearance_mm", "worth_h_of_the_book"])
        pinned = [*self.plant.inputs.settings.rules.pinned, *found.pins]
        frame.attrs["changes"] = {"plant.rules.pinned": pinned} if found.pins else {}
        return titled(frame, say.layout(len(found.pins), found.saved_h), say.LAYOUT_NOTE)

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


class StudyTools(Weekly):
    """What a study tells about tools; amounts are those of a week, at the demand of the answers."""

    def fixes(self) -> pd.DataFrame:
        """One row per scenario: capital, tools and dies exchanged, hours standing for it, machine hours freed."""
        gaps = self.freed()
        rows = [
            {
                "scenario": name, "capital": self.capital(name),
                "tools_loaded_per_week": self.known(name, "tool_loads", "magazine_exchanges").mean,
                "dies_changed_per_week": self.known(name, "die_changes", "magazine_die_changes").mean,
                **with_half("standing_h_per_week", self.known(name, "exchange_visible_h")),
                **gap_cells("freed_h_per_week", gaps.get(name)),
            }
            for name in self.study.names
        ]  # fmt: skip
        standing = {name: self.known(name, "exchange_visible_h") for name in self.study.names}
        frame = titled(pd.DataFrame(rows), say.standing(standing), say.FIXES_NOTE)
        frame.attrs["picture"] = say.freed(_alone(gaps), "fixes")
        return frame

    def exchanges(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool that is exchanged, the most minutes first: minutes, share, tools and dies, hits."""
        name = scenario or self.base
        rows = self.rows("tools", name)
        times = self.means(rows, name, ["tool_id", "exchange"], ["times"])
        counts = times.pivot(index="tool_id", columns="exchange", values="times_per_week").fillna(0.0)
        found = self.means(rows[rows["exchange"] != HITS], name, ["tool_id"], ["visible_min"])
        found = found.rename(columns=lambda column: column.replace("visible_min", "standing_min")).set_index("tool_id")
        total = float(found["standing_min_per_week"].sum())
        frame = found.assign(
            tools_loaded_per_week=_summed(counts, LOADS), dies_changed_per_week=_summed(counts, DIES),
            standing_share=found["standing_min_per_week"] / (total or 1.0), hits_per_week=_summed(counts, (HITS,)),
        ).sort_values("standing_min_per_week", ascending=False, kind="stable")  # fmt: skip
        frame.insert(0, "tool", [self._tool_names()[tool] for tool in frame.index])
        frame.insert(3, "standing_share", frame.pop("standing_share"))
        half = int((frame["standing_share"].cumsum() < 0.5).sum()) + 1
        tail = float(frame["standing_share"].iloc[(len(frame) + 1) // 2 :].sum())
        title = say.exchanges(half, len(frame) if total else 0, total, tail)
        return titled(frame.reset_index(drop=True), title, say.EXCHANGES_NOTE)

    def _tool_names(self) -> dict[str, str]:
        return {tool.tool_id: f"{tool.shape} ({tool.tool_id})" for tool in self.study.plant.inputs.tools}

    def clearances(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool used at more than one clearance: dies changed for that alone, and the most frequent pair."""
        name = scenario or self.base
        uses = clearance_uses(self.plant_of(name))
        used = self.rows("tools", name)
        found = self.means(used[used["exchange"].isin(DIES)], name, ["tool_id"], ["times"]).set_index("tool_id")
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
        return titled(top, say.clearances(len(top), len(uses), share, total), say.CLEARANCES_NOTE)

    def sizes(self) -> pd.DataFrame:
        """One row per size of the magazine, of a study of :meth:`PlantTools.sizes`: what it misses and what that costs.

        ``enough`` marks the smallest that does not surely need half a per cent of the hours more than all places.
        """
        found = self.enough()
        rows = [
            {
                "places": point.places, **with_half("by_hand_per_week", self.known(point.scenario, *BY_HAND)),
                **with_half("standing_h_per_week", self.known(point.scenario, "exchange_visible_h")),
                **gap_cells("more_h_per_week", point.against_own),
                "enough": point == found,
            }
            for point in self._points()
        ]  # fmt: skip
        frame = pd.DataFrame(rows, columns=list(rows[0]) if rows else list(SIZES))
        return titled(frame, self._places_said(), say.PLACES_NOTE)

    def _places_said(self) -> str:
        """How many places are enough, and what the next smaller size costs."""
        found, own = self.enough(), _places(self.study.scenarios[0])
        less = [point for point in self._points() if found and point.places < found.places]
        fewer = (less[-1].places, less[-1].against_own) if less else None
        return say.places(found.places if found else None, own, fewer)

    def _points(self) -> list[SizePoint]:
        own = _places(self.study.scenarios[0])
        less = self.freed()
        points = [
            SizePoint(_places(one) / own, _places(one), one.name, opposite(less.get(one.name)))
            for one in self.study.scenarios if own
        ]  # fmt: skip
        return sorted(points, key=lambda point: point.places)

    def enough(self) -> SizePoint | None:
        """The smallest size of a magazine that is enough: what saves less than half a per cent of the hours is none."""
        return enough(self._points(), LEAST_GAIN_SHARE * self.known(self.base, NEEDED).mean)

    def contents(self, scenario: str = "") -> pd.DataFrame:
        """One row per tool or die that the book exchanges, in the order in which it deserves a magazine place."""
        plant = self.plant_of(scenario or self.base)
        listed = keep_rows(plant) if plant.settings.magazine.places else ()
        names = self._tool_names()
        frame = pd.DataFrame(
            [(row.size_mm, names[plant.tools[row.tool].tool_id], _what(row),
              ", ".join(f"{die:g} mm" for die in row.dies if die >= 0), row.loads, row.share, row.kept)
             for row in listed],
            columns=list(CONTENTS),
        )  # fmt: skip
        kept = frame["in_magazine"].astype(bool)
        title = say.contents(float(frame.loc[kept, "exchange_share"].sum()), int((~kept).sum()), len(frame))
        return titled(frame, title, say.CONTENTS_NOTE)

    def look_ahead(self) -> pd.DataFrame:
        """One row per family, most laser first: exchange minutes hidden and visible, with and without look-ahead.

        Of a study of :meth:`PlantTools.look_ahead`.
        """
        names = ["family", "laser_share", "hidden_min_per_week", "visible_min_per_week", "visible_without_min_per_week"]
        if BLIND not in self.study.names:
            return titled(pd.DataFrame(columns=names), say.look_ahead(0.0, Estimate(0.0, 0.0, 1)), "")
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
        title = say.look_ahead(hidden / (hidden + visible) if hidden else 0.0, gap)
        return titled(frame, title, say.LOOK_AHEAD_NOTE)

    def _families(self, name: str) -> pd.DataFrame:
        amounts = ["hidden_min", "visible_min", "punch_min", "cut_min", "fixed_min"]
        return self.means(self.rows("families", name), name, ["family"], amounts).set_index("family")

    def care(self) -> pd.DataFrame:
        """Wrong loads, broken and worn tools: today, and each scenario that surely changes one of them."""
        used = {column: m for column, m in CARE.items() if any(self.values(name, m).any() for name in self.study.names)}
        gaps = [self.freed((), "", measure) for measure in ("tool_faults", "tools_worn_out")]
        differs = [name for name in self.study.names if name == self.base or any(gap[name].tells for gap in gaps)]
        rows = []
        for name in differs:
            known = (with_half(column, self.known(name, measure)) for column, measure in used.items())
            rows.append({"scenario": name, **{key: value for cells in known for key, value in cells.items()}})
        title = say.care(self.known(self.base, "tool_faults"), self.known(self.base, "tools_worn_out"))
        return titled(pd.DataFrame(rows), title, say.CARE_NOTE)

    def regrinds(self, weeks: int = WEEKS) -> pd.DataFrame:
        """One row per tool that comes due for grinding in the coming weeks, if the book repeats; most work first."""
        columns = ["tool", "counted", "due", "regrinds", "failures", "grinding_h"]
        monday, forecast = book_forecast(self.study.plant.inputs, weeks)
        names = self._tool_names()
        rows = []
        for own in forecast:
            due = "" if own.due_week is None else f"{monday + dt.timedelta(weeks=own.due_week):%d %b}"
            rows.append((names[own.tool.tool_id], "yes" if own.tool.tracked else "no", due, own.planned.sum(),
                         own.failed.sum(), own.off_line_h.sum()))  # fmt: skip
        frame = pd.DataFrame(rows, columns=columns)
        off = frame["regrinds"] + frame["failures"]
        title = say.regrinds(float(off.sum()), weeks, float(frame["grinding_h"].sum()))
        ranked = frame.loc[off.sort_values(ascending=False, kind="stable").index]
        note = say.regrinds_note(limit_worths(self.study.plant.inputs))
        return titled(ranked[ranked["due"] != ""].reset_index(drop=True), title, note)

    def set_up(self, names: Sequence[str] = ()) -> pd.DataFrame:
        """Hours a week of set-up by what takes them, one row per scenario; the last one is what the title is about."""
        rows: list[dict[str, Any]] = [
            {
                "scenario": name, "exchanges_h_per_week": self.known(name, "exchange_visible_h").mean,
                "fixed_minutes_h_per_week": self._fixed_h(name),
                "first_pieces_h_per_week": self.known(name, "state_first_piece_h").mean,
            }
            for name in (names or self.study.names)
        ]  # fmt: skip
        frame = pd.DataFrame(rows)
        exchanges, fixed, first = (float(frame[column].iloc[-1]) for column in frame.columns[1:])
        share = (fixed + first) / (exchanges + fixed + first or 1.0)
        return titled(frame, say.set_up_left(rows[-1]["scenario"], fixed + first, share), say.SET_UP_NOTE)

    def _fixed_h(self, name: str) -> float:
        return float(self._families(name)["fixed_min_per_week"].sum()) / MINUTES_PER_HOUR

    def answer(self, sizes: StudyTools | None = None) -> Answer:
        """What tools cost, what the best fix frees, what the magazine adds, and how many places are enough."""
        first, *others = self._sentences(sizes)
        return Answer(first.text, tuple(others), (cautions.STANDING,))

    def _sentences(self, sizes: StudyTools | None) -> Iterator[Sentence]:
        cost, needed = self.known(self.base, *COST), self.known(self.base, NEEDED).mean
        loads, dies = (self.known(self.base, measure).mean for measure in ("tool_loads", "die_changes"))
        yield said(self.base, "cost of tools", cost, say.tool_cost(cost, cost.mean / needed, loads, dies))
        gaps = self.freed()
        fixes = _alone(gaps)
        cheap = {name: gap for name, gap in fixes.items() if not self._bought(name)}
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
            own = float(found.places if found else _places(sizes.study.scenarios[0]))
            yield Sentence(sizes.base, "magazine places", own, 0.0, "places", "", f"{sizes._places_said()}.")
        yield self._left()

    def _left(self) -> Sentence:
        title = str(self.set_up().attrs["title"])
        last = self.study.names[-1]
        rest = self.known(last, "state_first_piece_h")
        return Sentence(last, "what no tool fix touches", rest.mean + self._fixed_h(last), 0.0, "h", "", f"{title}.")

    def _bought(self, name: str) -> bool:
        known = self.study.plant.inputs.option_by_id
        return any(known[option].kind == "bought" for option in self.study.scenario(name).options)


def _alone(gaps: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Hours freed by fixes alone, without the package."""
    return {name: gap for name, gap in gaps.items() if not name.startswith(PACKAGE)}


def _summed(times: pd.DataFrame, kinds: Sequence[str]) -> pd.Series:
    return times.reindex(columns=list(kinds)).fillna(0.0).sum(axis="columns")


def _what(row: Deserving) -> str:
    return {0: "die alone", 1: "tool"}.get(row.copy, f"copy {row.copy}")
