"""Steps from nothing to a sum: what each kind of amount adds to it or takes away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import bare_rows, canvas
from simkit.report.palette import ACCENT, GAIN, INK, LOSS, MUTED, PAPER
from simkit.report.words import money, number, signed

ROOM_FOR_NUMBERS = 0.12
"""Share of the axis kept free at its right end for the number of the longest bar."""


@dataclass(frozen=True)
class Step:
    """An amount with its name; with ``total`` it is the sum so far instead of an amount."""

    name: str
    amount: float
    total: bool = False


def money_steps(steps: Sequence[Step], *, title: str, currency: str, axis_label: str) -> Exhibit:
    """Draw amounts one below the other, each beginning where the one before ends; totals begin at zero.

    Raises ValueError if a total is not the sum of the amounts above it.
    """
    with canvas(0.8 + 0.31 * len(steps)) as (figure, (axes,)):
        so_far = 0.0
        for row, step in enumerate(steps):
            if step.total and abs(step.amount - so_far) > 1e-6 * max(1.0, abs(so_far)):
                raise ValueError(f"{step.name}: {step.amount} is not the sum {so_far} of the steps above it")
            start = 0.0 if step.total else so_far
            _draw(axes, row, start, step)
            so_far = start + step.amount
        bare_rows(axes, [step.name for step in steps])
        axes.axvline(0, color=INK, linewidth=1)
        axes.set_xlabel(axis_label)
        axes.xaxis.set_major_formatter(lambda value, _: number(value, 0))
        axes.margins(x=0.02)
        low, high = axes.get_xlim()
        axes.set_xlim(low, high + ROOM_FOR_NUMBERS * (high - low))
    words = "; ".join(f"{s.name} {money(s.amount, currency) if s.total else signed(s.amount, 0)}" for s in steps)
    return Exhibit(figure, title, f"Bars that follow one another, in {currency}: {words}.")


def _draw(axes: Axes, row: int, start: float, step: Step) -> None:
    colour = ACCENT if step.total else GAIN if step.amount >= 0 else LOSS
    axes.barh(row, step.amount, left=start, color=colour, edgecolor=PAPER, linewidth=0.8, height=0.62)
    if not step.total:
        axes.plot([start, start], [row - 0.7, row + 0.3], color=MUTED, linewidth=0.7)
    text = number(step.amount, 0) if step.total else signed(step.amount, 0)
    axes.annotate(
        text, (max(start, start + step.amount), row), xytext=(4, 0), textcoords="offset points", va="center",
        fontsize=7.5, color=INK,
    )  # fmt: skip
