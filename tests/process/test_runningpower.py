"""Running power by the laser's efficiency, by hand from the small plant."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simkit.process.runningpower import beam_share, draw_kw, estimated_running_kw, mean_running_kw
from tests.small_plant import small_plant

CUT_S = 9000 / (11000 / 60)
RUN_S = 300 * 0.33 + 3 * 2.2 + 6.0 + CUT_S + 12 * 1.5 + 5.0


def only(program: str, **changes):
    """The small plant with the orders of one program."""
    plant = small_plant(**changes)
    return dataclasses.replace(plant, orders=tuple(order for order in plant.orders if order.program_id == program))


def test_the_beam_is_on_for_cuts_and_pierces() -> None:
    """P-1: 49.09 s of cuts and 12 pierces of 0.3 s with the beam, 12 moves of 1.2 s and 5 s of mode change without."""
    assert beam_share(only("P-1")) == pytest.approx((CUT_S + 12 * 0.3) / RUN_S)
    assert beam_share(dataclasses.replace(small_plant(), orders=())) == 0.0


def test_power_from_the_lasers_efficiency() -> None:
    """4 kW of light at 40 % draw 10 kW while the beam is on."""
    plant = only("P-1", machine={"laser_efficiency": 0.4, "idle_kw": 4.0})
    assert estimated_running_kw(plant) == pytest.approx(4.0 + 10.0 * beam_share(plant))
    assert estimated_running_kw(small_plant()) is None


def test_the_beam_counts_only_for_its_share() -> None:
    assert mean_running_kw(4, 0.4, np.array([0.0, 1.0]), 6).tolist() == [6.0, 16.0]


@pytest.mark.parametrize(("efficiency", "words"), [(0, "above zero"), (1.2, "at most 1")])
def test_an_efficiency_outside_its_range_is_refused(efficiency: float, words: str) -> None:
    with pytest.raises(ValueError, match=f"efficiency must be {words}"):
        draw_kw(4, efficiency)
