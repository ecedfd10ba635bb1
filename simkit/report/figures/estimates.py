"""Points of an estimate against the plant's own time, and lines of a ramp-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.ticker import LogLocator, NullLocator

from simkit.report.exhibits import Exhibit
from simkit.report.figures.style import canvas
from simkit.report.palette import INK, LINES, MARKERS, MUTED, PAPER, RULE
from simkit.report.words import number, percent

LINE_STYLES = ("-", "--", ":")
TICKS = (1.0, 2.0, 5.0)
NAME_PLACES = ((-6, -15), (6, 6))
"""Where a point's name stands, in turn, so that names of neighbours do not lie on each other."""
ROOM = 1.15
"""Room around the points, as a factor."""


@dataclass(frozen=True)
class Point:
    """A program: its name and family, the plant's time and the estimate in s a sheet, whether it was measured."""

    name: str
    family: str
    plant_s: float
    estimate_s: float
    measured: bool

    @property
    def ratio(self) -> float:
        """Estimate over the plant's time."""
        return self.estimate_s / self.plant_s


def estimate_points(
    points: Sequence[Point], *, named: Sequence[str], tolerance: float, title: str, note: str = ""
) -> Exhibit:
    """Draw the estimate against the plant's time, and their ratio below it, one mark a program and one look a family.

    ``named`` points carry their names; the ratio's band is 1 plus and minus ``tolerance``. Points with a time of zero
    on either side have no place on such axes and are left out. Measured times are filled, those of element rows hollow.
    """
    drawn = [point for point in points if point.plant_s > 0 and point.estimate_s > 0]
    families = list(dict.fromkeys(point.family for point in drawn))
    with canvas(6.4, 2) as (figure, (above, below)):
        for place, family in enumerate(families):
            own = [point for point in drawn if point.family == family]
            _draw_family(above, own, [point.estimate_s for point in own], place)
            _draw_family(below, own, [point.ratio for point in own], place)
        _both_axes(above, [value for point in drawn for value in (point.plant_s, point.estimate_s)])
        _ratio_axes(below, above, tolerance)
        for place, point in enumerate(sorted((p for p in drawn if p.name in named), key=lambda p: p.plant_s)):
            below.annotate(point.name, (point.plant_s, point.ratio), xytext=NAME_PLACES[place % len(NAME_PLACES)],
                           textcoords="offset points", fontsize=7.5, color=MUTED)  # fmt: skip
        above.set_ylabel("estimate by the motion, s a sheet")
        below.set_ylabel("estimate over the plant's time")
        below.set_xlabel("the plant's time (measured, else element rows), s a sheet")
        above.legend(loc="lower left", bbox_to_anchor=(0, 1.01), ncols=7, frameon=False, fontsize=8, borderaxespad=0)
    return Exhibit(figure, title, _alt(drawn, families), note=note, marks=2 * len(drawn))


def _draw_family(axes: Axes, points: Sequence[Point], heights: Sequence[float], place: int) -> None:
    colour, marker = LINES[place % len(LINES)], MARKERS[(place + place // len(LINES)) % len(MARKERS)]
    label = points[0].family or "no family"
    for measured in (False, True):
        own = [(point.plant_s, height) for point, height in zip(points, heights, strict=True)
               if point.measured == measured]  # fmt: skip
        if own:
            axes.plot(
                *zip(*own, strict=True), linestyle="none", marker=marker, markersize=5.5, markeredgewidth=1.2,
                markeredgecolor=colour, markerfacecolor=colour if measured else PAPER, label=label,
            )  # fmt: skip
            label = "_nolegend_"


def _both_axes(axes: Axes, values: Sequence[float]) -> None:
    """Log axes of seconds with the line on which both agree."""
    low, high = min(values, default=1.0) / ROOM, max(values, default=10.0) * ROOM
    axes.plot([low, high], [low, high], color=INK, linewidth=1)
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(low, high)
    axes.set_ylim(low, high)
    for axis in (axes.xaxis, axes.yaxis):
        _second_ticks(axis)
    axes.grid(visible=True)


def _second_ticks(axis: Axis) -> None:
    axis.set_major_locator(LogLocator(subs=TICKS))
    axis.set_major_formatter(lambda value, _: number(value, 0))
    axis.set_minor_locator(NullLocator())


def _ratio_axes(axes: Axes, above: Axes, tolerance: float) -> None:
    """The axes of the ratio under those of the seconds, with a band around 1."""
    axes.axhspan(1 - tolerance, 1 + tolerance, color=RULE, alpha=0.5, linewidth=0)
    axes.axhline(1.0, color=INK, linewidth=1)
    axes.set_xscale("log")
    axes.set_xlim(above.get_xlim())
    _second_ticks(axes.xaxis)
    axes.margins(y=0.15)
    axes.grid(visible=True)


def _alt(points: Sequence[Point], families: Sequence[str]) -> str:
    parts = []
    for family in families:
        own = [point for point in points if point.family == family]
        ratios = [point.ratio for point in own]
        parts.append(
            f"{family or 'no family'}: {len(own)}, estimate {number(min(ratios), 2)} to {number(max(ratios), 2)} times "
            "the plant's time"
        )
    return (
        "Points of the estimate by the motion against the plant's time, and of their ratio. Programs by "
        "family: " + "; ".join(parts) + "."
    )


def ramp_lines(weeks: Sequence[int], lines: Mapping[str, Sequence[float]], *, title: str, note: str = "") -> Exhibit:
    """Draw the output of each week as a share of the standard's, one line a way of reckoning."""
    with canvas(3.0) as (figure, (axes,)):
        for place, (name, shares) in enumerate(lines.items()):
            axes.plot(weeks, [100 * share for share in shares], color=LINES[place], label=name, linewidth=1.7,
                      linestyle=LINE_STYLES[place % len(LINE_STYLES)], marker=MARKERS[place], markersize=4)  # fmt: skip
        axes.axhline(100, color=INK, linewidth=1)
        axes.set_ylim(bottom=0)
        axes.set_xlabel("week after acceptance")
        axes.set_ylabel("% of the standard's output")
        axes.grid(axis="y")
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1.01), ncols=3, frameon=False, fontsize=8, borderaxespad=0)
    parts = [
        f"{name}: {percent(shares[0])} in week {weeks[0]}, {percent(shares[-1])} in week {weeks[-1]}"
        for name, shares in lines.items()
    ]
    return Exhibit(figure, title, "Lines of output by week after acceptance. " + "; ".join(parts) + ".", note=note)
