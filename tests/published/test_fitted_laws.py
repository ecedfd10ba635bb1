"""Laws fitted to printed data sets against the printed estimates."""

from __future__ import annotations

import math
from operator import attrgetter

import numpy as np
import pytest

from simkit.analysis.laws_fitted import FAMILIES
from tests.published.rows import Row

FIT, LOG = "simkit.analysis.laws_fitted.", "simkit.analysis.log_times."
DIGITS = "half a unit of the last printed digit"
MEEKER = ("Meeker and Escobar, Statistical Methods for Reliability Data (1998), shock absorber data, table C.2 and "
          "ch. 8 (data and estimates from memory)")  # fmt: skip
NIST = "NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.2, maximum likelihood (data and estimates from memory)"
RATS = ("Gross and Clark, Survival Distributions (1975), survival of 20 male rats; gamma estimates as printed by "
        "Engelhardt and Bain, Technometrics (1977) (from memory)")  # fmt: skip

FAILED_KM = [6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490]
RUNNING_KM = [6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040, 17540, 17890,
              18450, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100]  # fmt: skip
"""Distances of 38 shock absorbers: of those that had failed, and of those that had not."""
READOUT_H = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
"""Hours to failure of 10 of 20 units; the others ran 500 h without one."""
RATS_WEEKS = [152, 152, 115, 109, 137, 88, 94, 77, 160, 165, 125, 40, 128, 123, 136, 101, 62, 153, 83, 69]


def shock(law, read, expected, tolerance):
    given = {"values": FAILED_KM, "cut_off": RUNNING_KM, "law": law}
    return Row(
        f"shock absorbers, {law}", FIT + "fit_law", given, expected, "log km", tolerance, DIGITS, MEEKER, read=read
    )


def location_and_scale(fitted):
    """Location and scale of the logarithm, as the book prints them for the Weibull law."""
    shape, scale = fitted.parameters
    return np.array([math.log(scale), 1 / shape])


def of_logarithm(fitted):
    """Mean and standard deviation of the logarithm."""
    sigma, scale = fitted.parameters
    return np.array([math.log(scale), sigma])


def shape_and_scale(fitted):
    return np.array(fitted.parameters)


PUBLISHED = [
    shock("weibull", location_and_scale, np.array([10.23, 0.3164]), 5e-3),
    shock("lognormal", of_logarithm, np.array([10.1448, 0.5301]), 1e-4),
    Row(
        "readout, weibull", FIT + "fit_law", {"values": READOUT_H, "cut_off": [500] * 10, "law": "weibull"},
        np.array([1.7208, 606.5280]), "-, h", 1e-3, "an optimum found to a tolerance", NIST, read=shape_and_scale,
    ),
    Row(
        "readout, exponential", FIT + "fit_law", {"values": READOUT_H, "cut_off": [500] * 10, "law": "exponential"},
        777.1, "h", 1e-9, "total time of 7771 h over 10 failures", NIST, read=attrgetter("mean"),
    ),
    Row(
        "rats, gamma", FIT + "fit_law", {"values": RATS_WEEKS, "law": "gamma"}, np.array([8.799, 12.893]), "-, weeks",
        5e-4, DIGITS, RATS, read=shape_and_scale,
    ),
    Row(
        "10 failures in 7771 h", FIT + "rate_interval", {"events": 10, "exposure": 7771.0},
        (9.591 / 15542, 36.781 / 15542), "1/h", 1e-6, "chi-square table, three decimals",
        "chi-square of 20 and 22 degrees of freedom, 2.5 and 97.5 %, by the usual table (from memory)",
        read=np.array,
    ),
    Row(
        "ratio of sums", LOG + "ratio_of_sums",
        {"measured": np.array([11.0, 19, 33]), "estimated": np.array([10.0, 20, 30])},
        (1.05, 1.05 - 4.30265 * math.sqrt(3 * 6.5 / 2) / 60, 1.05 + 4.30265 * math.sqrt(3 * 6.5 / 2) / 60), "-", 1e-6,
        "Student's t to five decimals", "residuals 0.5, -2, 1.5, squares 6.5: worked by hand", read=np.array,
    ),
]  # fmt: skip


def test_every_law_that_is_fitted_has_a_published_estimate():
    """And each but the gamma law one of observations that were cut off."""
    fitted = [row.inputs for row in PUBLISHED if row.function == FIT + "fit_law"]
    assert {given["law"] for given in fitted} == set(FAMILIES)
    assert {given["law"] for given in fitted if given.get("cut_off")} == set(FAMILIES) - {"gamma"}


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published(row):
    row.check()
