"""Laws from a log by hand: attended and unattended causes apart, measurements before the log, too few values."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from simkit.analysis.laws_fitted import TooFew
from simkit.analysis.log_laws import LogLaws, _acts, laws_from_measurements, set_law
from simkit.plant.tables import Measured, Stop
from tests.small_plant import small_plant


@pytest.mark.parametrize(
    ("acts", "kept"), [("both", [True, True]), ("attended", [True, False]), ("unattended", [False, True])]
)
def test_a_cause_counts_in_the_time_in_which_it_acts(acts, kept):
    row = Stop(cause="jam", acts=acts, exposure="running_hour", rate=1, repair_min=5)
    assert list(_acts(row, pd.DataFrame({"attended": [True, False]}))) == kept


def measured(values: list[float], cut_off: list[float]) -> tuple[Measured, ...]:
    seen = [(value, False) for value in values] + [(value, True) for value in cut_off]
    return tuple(
        Measured(number=number, element="load", value=value, cut_off=cut) for number, (value, cut) in enumerate(seen, 1)
    )


def test_measured_elements_get_their_law_with_n_and_interval():
    values = [1.6, 1.9, 2.0, 2.1, 2.2, 2.3, 2.4, 2.6, 2.9, 3.1]
    found = laws_from_measurements(dataclasses.replace(small_plant(), measured=measured(values, [2.0, 2.5])))
    (law,) = found.laws
    assert (law.path, law.n, law.censored, law.source) == ("elements[load|]", 10, 2, "measured")
    assert sum(values) / 10 < law.mean < 2.6
    assert law.low < law.mean < law.high
    assert {edit.path.rsplit(".", 1)[1]: edit.value for edit in found.edits}["basis"] == "measured"


def test_too_few_measurements_leave_the_guess_and_say_so():
    found = laws_from_measurements(dataclasses.replace(small_plant(), measured=measured([2.0] * 7, [])))
    assert (found.laws, found.edits) == ([], [])
    assert found.notes == ["elements[load|]: 7 whole observations, 8 are needed; the guess stands"]
    with pytest.raises(TooFew):
        set_law(LogLaws(), small_plant().elements[0], [1.0] * 7)
