"""The look that all figures share."""

from __future__ import annotations

from textwrap import fill
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Patch

from simkit.report.palette import GREY_MARK, INK, MUTED, PAPER, RULE

LONGEST_NAME = 34
"""Signs after which the name of a row is broken."""
SMALL = 9.0
"""Points of the letters beside marks; the others have one more. No letter of a picture is smaller."""
STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Geneva", "sans-serif"],
    "font.size": SMALL + 1,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "figure.facecolor": PAPER,
    "hatch.linewidth": 0.6,
}


def bare_rows(axes: Axes, names: list[str]) -> None:
    """Name the rows of a bar chart from the top, and take away what carries no information."""
    axes.set_yticks(range(len(names)), labels=[fill(name, LONGEST_NAME) for name in names])
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x")


def legend_above(axes: Axes, colours: dict[str, str], columns: int = 5) -> None:
    """Put a legend of colours above the axes."""
    handles = [
        Patch(facecolor=colour, edgecolor=GREY_MARK, linewidth=0.5, label=name) for name, colour in colours.items()
    ]
    axes.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0, 1.01), ncols=columns, frameon=False,
        fontsize=SMALL, handlelength=1.1, handleheight=1.1, columnspacing=1.2, borderaxespad=0,
    )  # fmt: skip


def readable_on(colour: str) -> str:
    """Return white or ink, whichever can be read on a colour (relative luminance of the sRGB standard)."""
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (red, green, blue)]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return INK if luminance > 0.25 else PAPER
