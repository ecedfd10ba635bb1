"""Verdicts on cutting speeds: each can be reached, names its numbers, and changes nothing."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.process import cutcheck
from simkit.process.cutcheck import VERDICTS, check_speed

FEW = settings(max_examples=60, deadline=None, derandomize=True)


@pytest.mark.parametrize(
    ("metal", "gas", "thickness_mm", "speed_m_min", "verdict"),
    [
        ("stainless", "nitrogen", 1, 320, "IMPOSSIBLE"),  # 0.75 J/mm2, floor 0.768
        ("stainless", "nitrogen", 1, 200, "BEYOND"),  # at most 187.4 m/min at a coupling of 0.6
        ("stainless", "nitrogen", 1, 40, "FASTER"),  # 6 J/mm2, published 8 to 20
        ("stainless", "nitrogen", 1, 30, "INSIDE"),  # 8 J/mm2, the low end
        ("stainless", "nitrogen", 1, 12, "INSIDE"),  # 20 J/mm2, the high end
        ("stainless", "nitrogen", 1, 11.9, "SLOWER"),
        ("mild steel", "oxygen", 1, 400, "BURNING"),
        ("mild steel", "oxygen", 1, 220, "FASTER"),  # beyond the coupling, but the metal burns
        ("aluminium", "nitrogen", 2, 8, "UNPUBLISHED"),
        ("aluminium", "oxygen", 2, 8, "UNPUBLISHED"),  # a mean is no range
        ("zinc", "nitrogen", 1, 10, "UNKNOWN"),
        ("acrylic", "air", 5, 24, "INSIDE"),  # 2 J/mm2
    ],
)
def test_each_verdict_with_4_kw(metal, gas, thickness_mm, speed_m_min, verdict):
    assert check_speed(metal, gas, 4000, thickness_mm, speed_m_min).verdict == getattr(cutcheck, verdict)


def test_the_note_names_the_numbers_and_their_origin():
    note = check_speed("stainless", "nitrogen", 4000, 1, 40).finding("materials.csv SS-1.0")
    assert note.severity == "note"
    assert str(note) == (
        'materials.csv SS-1.0 cutting_speed_m_min "40": 40 m/min through 1 mm stainless with 4000 W and nitrogen takes '
        "6 J/mm2, faster than the published range; melt floor 0.768 J/mm2, at most 187 m/min (kerf 0.1 mm, coupling "
        "0.6: assumed); published 8 to 20, mean 13 J/mm2 (Steen and Mazumder, Laser Material Processing, table after "
        "Powell, CO2 lasers (from memory)). The range was measured with CO2 lasers, and other lasers on thin sheet are "
        "faster; compare it with a timed sheet."
    )


def test_with_oxygen_the_floor_is_called_no_bound():
    assert "without burning metal" in check_speed("mild steel", "oxygen", 4000, 3, 5).words
    assert "without burning metal" not in check_speed("mild steel", "nitrogen", 4000, 3, 5).words


@FEW
@given(st.floats(500, 20_000), st.floats(0.5, 20), st.floats(0.05, 400), st.sampled_from(["nitrogen", "oxygen"]))
def test_a_slower_speed_is_never_judged_faster(power_w, thickness_mm, speed_m_min, gas):
    order = {verdict: place for place, verdict in enumerate(VERDICTS)}
    fast = check_speed("mild steel", gas, power_w, thickness_mm, speed_m_min)
    slow = check_speed("mild steel", gas, power_w, thickness_mm, speed_m_min / 2)
    assert order[slow.verdict] >= order[fast.verdict]


def test_a_speed_of_zero_is_refused():
    with pytest.raises(ValueError, match="speed_m_min"):
        check_speed("stainless", "nitrogen", 4000, 1, 0)
