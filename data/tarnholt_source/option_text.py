"""The content of options.toml: every option as edits to the plant, plus money."""

from __future__ import annotations

from option_parts import Entry, with_explicit_zeros
from options_bought import bought_options
from options_calendar import calendar_options
from options_low_capital import Uses, low_capital_options


def option_settings(uses: Uses) -> list[Entry]:
    """Return all options: low-capital ones first, because they are compared first."""
    return [
        with_explicit_zeros(entry) for entry in (*low_capital_options(uses), *bought_options(), *calendar_options())
    ]
