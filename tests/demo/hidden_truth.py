"""What really holds on the invented shop floor; the analyst's first guess does not know it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SEED, STREAMS, LOG_STREAM = 41017, 5, 4
"""The log stream is the fifth stream of the book's seed; the generator of the plant does not use it."""


@dataclass(frozen=True)
class Truth:
    """Minutes where the name does not say otherwise. Values of the description; the others as guessed."""

    search: float = 2.0
    search_cv: float = 0.6
    fit: float = 2.7
    fit_cv: float = 0.3
    first_piece: float = 7.5
    first_piece_cv: float = 0.4
    load: float = 2.2
    heavy_load: float = 2.6
    bench_s_per_part: float = (6.5 + 4.0 + 3.0) * 1.14
    run_ratio: float = 1.07
    run_ratio_of: tuple[tuple[str, float], ...] = (("LOUV", 1.18),)
    short_losses: float = 0.095
    running_h_between_breakdowns: float = 55.0
    repair_h: float = 1.3
    monday_first_hour: float = 1.3
    order_fixed: float = 9.0
    die_change: float = 1.5
    angle_change: float = 0.3
    nozzle_change: float = 4.0
    fetch: float = 6.0
    pull_out: float = 1.3
    tool_fault_share: float = 0.005
    tool_fault: float = 25.0
    care_per_day: float = 10.0
    bin_per_running_h: float = 5.0 / 8.0
    check_per_running_h: float = 1.0 / 4.0
    overtime_above_h: float = 4.0
    give_out_above_h: float = 26.0
    give_out_cap_h: float = 10.0
    refuse_above_h: float = 40.0

    def ratio(self, family: str) -> float:
        """True run time over the estimate, by family."""
        return dict(self.run_ratio_of).get(family, self.run_ratio)


class Luck:
    """Draws from the log stream, one after the other."""

    def __init__(self) -> None:
        child = np.random.SeedSequence(SEED).spawn(STREAMS)[LOG_STREAM]
        self.rng = np.random.default_rng(child)

    def lognormal(self, mean: float, cv: float) -> float:
        """Return a lognormal value with this mean and coefficient of variation."""
        sigma2 = float(np.log1p(cv * cv))
        return float(self.rng.lognormal(np.log(mean) - sigma2 / 2, np.sqrt(sigma2)))

    def exponential(self, mean: float) -> float:
        """Return an exponential value with this mean."""
        return float(self.rng.exponential(mean))

    def happens(self, share: float) -> bool:
        """Return whether something with this chance happens."""
        return bool(self.rng.random() < share)
