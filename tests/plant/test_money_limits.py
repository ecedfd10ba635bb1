"""Limits on every number of money, financing, risk and options: a percentage where a fraction belongs is refused."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from simkit.plant.options import Option
from simkit.plant.settings import People
from simkit.plant.settings_money import Finance, Financing, Money
from simkit.plant.settings_risk import Risk
from simkit.plant.toml_files import validate

SECTIONS = (Money, Finance, Financing, Risk, Option)
LIMITS = (("ge", "gt"), ("le", "lt"))


def limits_of(field: FieldInfo) -> set[str]:
    """Which ends of a field's numbers are bounded: low, high."""
    return {
        end
        for end, names in zip(("low", "high"), LIMITS, strict=True)
        if any(hasattr(mark, name) for mark in field.metadata for name in names)
    }


def numbers(kind: Any, known: set[str]) -> Iterator[set[str]]:
    """For every number inside a type, the bounds that hold for it."""
    if kind in (float, int):
        yield known
    arguments = typing.get_args(kind)
    own = {end for mark in arguments if isinstance(mark, FieldInfo) for end in limits_of(mark)}
    for inner in arguments:
        yield from numbers(inner, own or known)


def unbounded(section: type[BaseModel]) -> Iterator[str]:
    """Fields of a section, and of the sections in it, with a number that has no limit at one end."""
    for name, field in section.model_fields.items():
        for inner in models_in(field.annotation):
            yield from (f"{name}.{found}" for found in unbounded(inner))
        for known in numbers(field.annotation, limits_of(field)):
            if known != {"low", "high"}:
                yield name


def models_in(kind: Any) -> list[type[BaseModel]]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return [kind]
    return [model for inner in typing.get_args(kind) for model in models_in(inner)]


@pytest.mark.parametrize("section", SECTIONS)
def test_every_number_has_a_limit_at_both_ends(section):
    assert list(unbounded(section)) == []


def test_premiums_on_wages_have_limits_too():
    assert not {"overtime_premium", "night_premium", "standby_share"} & set(unbounded(People))


def test_the_walk_finds_a_number_without_a_limit():
    class Bare(BaseModel):
        share: float = 0.0
        rates: dict[str, float] = {}
        whole: typing.Annotated[float, FieldInfo(annotation=float)] = 0.0

    assert list(unbounded(Bare)) == ["share", "rates", "whole"]


PERCENT = [
    (Finance, {"wage_growth": 8}, "8 means 800 % a year; 0.08 is 8 % a year"),
    (Finance, {"growth_of_lines": {"energy": 8.0}}, "8 means 800 % a year; 0.08 is 8 % a year"),
    (Finance, {"price_growth": -3}, "-3 means -300 % a year; -0.03 is -3 % a year"),
    (Finance, {"inflation": 2.5}, "2.5 means 250 % a year; 0.025 is 2.5 % a year"),
    (Finance, {"discount_rate": 9}, "9 means 900 % a year; 0.09 is 9 % a year"),
    (Finance, {"tax_rate": 22}, "22 means 2200 %; 0.22 is 22 %"),
    (Finance, {"residual_share": 10}, "10 means 1000 %; 0.1 is 10 %"),
    (Finance, {"ramp_start": 60}, "60 means 6000 %; 0.6 is 60 %"),
    (Finance, {"payments": [["order", 60], ["delivery", 40]]}, "60 means 6000 %; 0.6 is 60 %"),
    (Finance, {"payments": [["order", 1.5], ["delivery", -0.5]]}, "1.5 means 150 %; 0.015 is 1.5 %"),
    (Finance, {"payments_at": [0, 90, 100]}, "90 means 9000 %; 0.9 is 90 %"),
    (Finance, {"demand": [{"from_year": 1, "factor": 115}]}, "115 means 11500 %; 1.15 is 115 %"),
    (Finance, {"stop_bundle_share": 30}, "30 means 3000 %; 0.3 is 30 %"),
    (Financing, {"lease_rent_share": 22.5}, "22.5 means 2250 %; 0.225 is 22.5 %"),
    (Financing, {"loan_share": 70}, "70 means 7000 %; 0.7 is 70 %"),
    (Financing, {"loan_rate": 5.5}, "5.5 means 550 % a year; 0.055 is 5.5 % a year"),
    (People, {"overtime_premium": 35}, "35 means 3500 %; 0.35 is 35 %"),
    (Option, {"persistence": {"low": 50, "quoted": 80, "high": 100}}, "80 means 8000 %; 0.8 is 80 %"),
    (Option, {"grant_share": 20}, "20 means 2000 %; 0.2 is 20 %"),
]
NAMED = {"id": "A1", "name": "x", "kind": "bought"}


def faults(section: type[BaseModel], content: dict[str, Any]) -> str:
    content = {**NAMED, **content} if section is Option else content
    return "; ".join(f"{fault.why}: {fault.mend}" for _, fault in validate(section, content)[1])


@pytest.mark.parametrize(("section", "content", "both"), PERCENT)
def test_a_percentage_for_a_fraction_is_refused_and_both_readings_named(section, content, both):
    assert both in faults(section, content)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (
            {"depreciation_percent": [0.2, 0.32, 0.48]},
            "writes off 1 % of the cost; if fractions are meant, 0.2 is 20 %",
        ),
        ({"depreciation_percent": [20, 32, 19.2, 11.52, 11.52, 5.77]}, "sums to 100.01 %, more than the cost"),
        ({"depreciation_percent": [120]}, "less than or equal to 100"),
        ({"depreciation_percent": [-5, 100]}, "greater than or equal to 0"),
        ({"payments": [["order", 1.2], ["rest", -0.2]]}, "greater than or equal to 0"),
        ({"capital_budgets": [-1.0]}, "greater than or equal to 0"),
        ({"season": [[-5, 1.0]]}, "greater than 0"),
        ({"ramp_months": 600}, "less than or equal to 120"),
    ],
)
def test_lists_of_numbers_are_checked_one_by_one_and_together(content, why):
    assert why in faults(Finance, content)


def test_what_is_meant_is_accepted():
    good = {
        "depreciation_percent": [14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46], "wage_growth": 0.08,
        "payments": [["order", 0.6], ["delivery", 0.4]], "payments_at": [0.0, 1.2], "growth_of_lines": {"energy": -0.1},
        "season": [[35, 1.05], [12, 0.854]], "discount_rate": -0.02,
    }  # fmt: skip
    assert faults(Finance, good) == ""
    assert faults(Option, {"persistence": {"low": 0.5, "quoted": 0.8, "high": 1}, "once": [
        {"line": "press sold", "amount": -2e3}], "bundle_adjustment": -500.0, "life_years": 0.5}) == ""  # fmt: skip
