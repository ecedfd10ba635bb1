"""Every state has a colour of its own, and readers with a colour deficiency can tell neighbours apart."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from simkit.base.vocabulary import SKILLS, STATES
from simkit.report.palette import (
    LINES,
    PERSON_COLOURS,
    STATE_COLOURS,
    STATE_LABELS,
)

# Simulation of dichromats in linear RGB (Viénot, Brettel and Mollon 1999; numbers from memory).
DICHROMAT = {
    "protan": [[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]],
    "deutan": [[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]],
    "grey": [[0.2126, 0.7152, 0.0722]] * 3,
}
JUST_APART = 6.0
"""Least distance of colours that touch, in CIELAB units; about 2 is just noticeable side by side."""


def linear(colour: str) -> np.ndarray:
    srgb = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x, y, z = to_xyz @ np.clip(rgb, 0, 1) / np.array([0.9505, 1.0, 1.089])
    fx, fy, fz = (c ** (1 / 3) if c > 0.008856 else 7.787 * c + 16 / 116 for c in (x, y, z))
    return np.array([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)])


def distance(one: str, other: str, sight: str) -> float:
    matrix = np.array(DICHROMAT[sight]) if sight != "normal" else np.eye(3)
    return float(np.linalg.norm(lab(matrix @ linear(one)) - lab(matrix @ linear(other))))


def test_every_state_has_its_own_colour_and_label():
    assert set(STATE_COLOURS) == set(STATES) == set(STATE_LABELS)
    assert len(set(STATE_COLOURS.values())) == len(STATES)


def test_every_task_of_a_person_has_a_colour():
    assert set(PERSON_COLOURS) == set(SKILLS)


def too_close(pairs, sight: str) -> dict[tuple[str, str], float]:
    found = {(a, b): distance(STATE_COLOURS[a], STATE_COLOURS[b], sight) for a, b in pairs}
    return {pair: gap for pair, gap in found.items() if gap < JUST_APART}


@pytest.mark.parametrize("sight", ["normal", *DICHROMAT])
def test_neighbours_in_a_bar_stay_apart(sight):
    assert too_close(itertools.pairwise(STATE_COLOURS), sight) == {}


@pytest.mark.parametrize("sight", ["normal", "protan", "deutan"])
def test_any_two_states_stay_apart(sight):
    assert too_close(itertools.combinations(STATE_COLOURS, 2), sight) == {}


def test_lines_stay_apart_for_dichromats():
    for sight in ("normal", "protan", "deutan"):
        assert min(distance(a, b, sight) for a, b in itertools.combinations(LINES[:6], 2)) > JUST_APART


def test_the_check_sees_a_red_and_a_green_of_like_lightness():
    assert distance("#b04030", "#607020", "normal") > 25
    assert distance("#b04030", "#7d7d20", "deutan") < distance("#b04030", "#7d7d20", "normal") / 2
