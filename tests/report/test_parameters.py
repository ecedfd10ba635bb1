from __future__ import annotations

import math

import pytest

from simkit.base.messages import BadInput
from simkit.report.parameters import SCHEMAS, check_parameters, check_studies


def test_all_studies_by_default_in_the_order_of_the_index():
    assert check_studies(None) == ("today", "options", "nights", "times", "payback")
    assert check_studies(["payback", "today"]) == ("today", "payback")


def test_an_unknown_study_is_refused_with_the_nearest():
    with pytest.raises(BadInput, match="did you mean 'payback'"):
        check_studies(["paybak"])


def test_each_study_takes_what_it_knows():
    checked = check_parameters(["today", "payback"], {"demand_factor": 1.25, "drawn": "A1"})
    assert checked == {"today": {"demand_factor": 1.25}, "payback": {"demand_factor": 1.25, "drawn": "A1"}}


def test_a_whole_number_is_a_float():
    assert check_parameters(["today"], {"demand_factor": 1}) == {"today": {"demand_factor": 1}}


def test_a_misspelt_name_is_refused_with_the_nearest():
    with pytest.raises(BadInput, match="did you mean 'demand_factor'"):
        check_parameters(["today"], {"demand_facto": 1.25})


def test_a_name_that_no_chosen_study_knows_is_refused():
    with pytest.raises(BadInput, match="drawn"):
        check_parameters(["today"], {"drawn": "A1"})


@pytest.mark.parametrize("value", ["fast", True, None, math.nan, math.inf, (1, 2)])
def test_a_value_of_another_type_is_refused(value):
    with pytest.raises(BadInput, match="demand_factor"):
        check_parameters(["today"], {"demand_factor": value})


def test_all_problems_are_told_at_once():
    with pytest.raises(BadInput) as error:
        check_parameters(["payback"], {"demand": 1.0, "drawn": 3})
    assert len(error.value.findings) == 2


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_hold_only_plain_types(name):
    assert {type(value) for value in vars(SCHEMAS[name]()).values()} <= {str, int, float, bool}
