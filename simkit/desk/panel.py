"""A panel for notebooks: move an input, see the difference; and ways to keep what was found outside the mouse."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from html import escape
from itertools import count
from pathlib import Path
from pprint import pformat
from typing import Any

import ipywidgets as widgets

from simkit.base.messages import BadInput, ScenarioFailed
from simkit.desk.answers import answer as answer_of
from simkit.desk.copies import OPTIONS, write_option
from simkit.desk.plants import Scenario
from simkit.desk.study import Study, simulate
from simkit.desk.time_tables import MOST, levers
from simkit.finance.riskinputs import RiskInput

QUICK = {"replications": 4, "weeks": 2.0}
"""What a quick answer runs: enough for a sign, within about a second; the band is wide, and shown. Common practice, no
source."""
WIDE, BOX = widgets.Layout(width="34em"), widgets.Layout(width="24em")


def what_if(study: Study, levers_shown: int = MOST) -> Panel:
    """Return a panel over a study: sliders of its main inputs, its demand, and the plant's options as boxes.

    What is chosen is compared with the study's first scenario as it is. The panel writes nothing into the plant's
    folder; without widgets the same is ``plant.scenario(...)`` and ``sk.simulate(...)``.
    """
    return Panel(study, levers(study, levers_shown))


class Panel(widgets.VBox):  # type: ignore[misc]
    """The panel; ``chosen`` is the scenario that it stands at, ``answer`` the last quick or full study."""

    def __init__(self, study: Study, shown: tuple[RiskInput, ...]) -> None:
        self.study, self.levers = study, shown
        self.answer: Study | None = None
        self.sliders = {lever.name: _slider(lever) for lever in shown}
        level = study.numbers.level
        self.demand = widgets.FloatSlider(
            value=level, min=min(0.6, level), max=max(1.6, level), step=0.05, description="Demand",
            continuous_update=False, layout=WIDE,
        )  # fmt: skip
        self.options = {
            key: widgets.Checkbox(value=False, description=f"{key} {name}", indent=False, layout=BOX)
            for key, name in study.plant.options.items()
        }  # fmt: skip
        self.told = widgets.HTML()
        self.full = widgets.Button(description="Run in full", icon="play")
        self.copy = widgets.Button(description="Copy as a cell")
        self.write = widgets.Button(description="Write as an option")
        self.folder = widgets.Text(value=f"{study.plant.folder.name}-changed", description="into folder", layout=WIDE)
        self.text = widgets.Textarea(layout=widgets.Layout(width="60em", height="8em"))
        super().__init__([self.told, *self._rows(), widgets.HBox([self.full, self.copy]),
                          widgets.HBox([self.write, self.folder]), self.text])  # fmt: skip
        for control in (*self.sliders.values(), self.demand, *self.options.values()):
            control.observe(lambda _: self.ask(), "value")
        self.full.on_click(lambda _: self.ask(in_full=True))
        self.copy.on_click(lambda _: setattr(self.text, "value", self.as_cell()))
        self.write.on_click(lambda _: self._write())
        self.ask()

    @property
    def changes(self) -> dict[str, float]:
        """Inputs that were moved from where the plant has them."""
        moved = ((lever, float(self.sliders[lever.name].value)) for lever in self.levers)
        return {lever.name: value for lever, value in moved if abs(value - lever.typical) > 1e-9}

    @property
    def ticked(self) -> list[str]:
        """Options that are ticked."""
        return [key for key, box in self.options.items() if box.value]

    @property
    def chosen(self) -> Scenario:
        """What the panel stands at, as a scenario. Raises BadInput where it cannot be."""
        return self.study.plant.scenario("Chosen", self.ticked, self.changes)

    def ask(self, in_full: bool = False) -> None:
        """Compare what is chosen with the study's first scenario, quickly or with the study's own numbers."""
        numbers = self.study.numbers
        size: Mapping[str, Any] = QUICK
        if in_full:
            size = {"replications": numbers.replications, "weeks": numbers.weeks}
        try:
            self.answer = simulate(
                [self.study.scenarios[0], self.chosen], demand=float(self.demand.value), seed=numbers.seed,
                workers=None if in_full else 1, progress=in_full, **size,
            )  # fmt: skip
            self.told.value = "".join(_told(self.answer, in_full))
        except (BadInput, ScenarioFailed) as error:
            self.answer = None
            self.told.value = f"<pre>{escape(str(error))}</pre>"

    def as_cell(self) -> str:
        """The choice as a cell of the notebook, which says what the panel says, and as parameters of another one."""
        options, changes, demand = self.ticked, pformat(self.changes), float(self.demand.value)
        return (
            f'chosen = cell.scenario("Chosen", options={options!r}, changes={changes})\n'
            f"sk.simulate([scenarios[0], chosen], demand={demand!r}).differences()\n"
            "# the same as parameters of scenario.ipynb, which changes all that it compares:\n"
            f"# options = {options!r}; changes = {self.changes!r}; demand = {demand!r}\n"
        )

    def _rows(self) -> Iterator[widgets.Widget]:
        for lever in self.levers:
            span = f"low {lever.low:.3g} · typical {lever.typical:.3g} · high {lever.high:.3g}"
            words = widgets.HTML(f"<small>{escape(f'{span} {lever.unit} ({lever.basis})')}</small>")
            yield widgets.HBox([self.sliders[lever.name], words])
        yield self.demand
        boxes = widgets.GridBox(
            list(self.options.values()), layout=widgets.Layout(grid_template_columns="repeat(3, 25em)")
        )
        yield widgets.Accordion([boxes], titles=("Options",))

    def _write(self) -> None:
        """Write the moved inputs as an option into a copy of the plant's folder, under the next free id."""
        try:
            place = Path(self.folder.value)
            option_id = self._free_id(place)
            write_option(self.study.plant, place, option_id, "Changes from the panel", self.changes, self.ticked)
            self.text.value = (
                f"Option {option_id} was written to {place.resolve() / OPTIONS}; its price is not entered."
            )
        except (BadInput, OSError, tomllib.TOMLDecodeError) as error:
            self.text.value = str(error)

    def _free_id(self, place: Path) -> str:
        """The first of X1, X2, ... that neither the plant nor an earlier copy has."""
        file = place / OPTIONS
        earlier = tomllib.loads(file.read_text(encoding="utf-8")).get("option", []) if file.is_file() else []
        taken = {*self.study.plant.options, *(option["id"] for option in earlier)}
        return next(name for number in count(1) if (name := f"X{number}") not in taken)


def _slider(lever: RiskInput) -> widgets.FloatSlider:
    return widgets.FloatSlider(
        value=lever.typical, min=lever.low, max=lever.high, step=(lever.high - lever.low) / 40 or 0.01,
        description=lever.title, continuous_update=False, readout_format=".3g", layout=WIDE,
        style={"description_width": "14em"},
    )  # fmt: skip


def _told(answer: Study, in_full: bool) -> Iterator[str]:
    numbers = answer.numbers
    how = "In full" if in_full else "Quick answer"
    yield (
        f"<b>{how}</b>: {numbers.replications} replications of {numbers.weeks:g} weeks at demand {numbers.level:g}, "
        f"against {escape(answer.base)} as it is.{'' if answer.plant.inputs.calibration else ' Uncalibrated.'}"
    )
    yield from (f"<br>{escape(sentence.text)}" for sentence in answer_of(answer).sentences)
