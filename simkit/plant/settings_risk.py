"""The risk section of ``plant.toml``: ranges of prices and terms, what moves together, past projects."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from simkit.plant.settings_base import AMOUNT_LIMIT, Section, SignedAmount

Planned = Annotated[float, Field(gt=0, le=AMOUNT_LIMIT)]
Weeks = Annotated[float, Field(gt=0, le=1040)]

RiskName = Literal[
    "operator_wage", "overtime_premium", "energy", "gas", "sheet", "scrap", "subcontract", "regrind", "yearly_cost",
    "wage_growth", "price_growth", "production_weeks", "residual", "ramp_start", "ramp_months", "lead_time", "demand",
    "persistence",
]  # fmt: skip
"""Inputs whose range is given here; ranges of capital stand in options.toml, of times in elements.csv."""

RangeLaw = Literal["triangular", "pert", "uniform"]
Basis = Literal["measured", "logged", "quoted", "estimated", "default"]


class RiskRange(Section):
    """Low and high of one input, in its own unit; the typical value is the plant's."""

    input: RiskName = Field(description="which input")
    low: SignedAmount = Field(description="low end, in the unit of the register")
    high: SignedAmount = Field(description="high end, in the unit of the register")
    basis: Basis = Field(default="estimated", description="where the range comes from")
    owner: str = Field(default="", description="who answers for it")
    source: str = Field(default="", description="what it rests on")
    law: RangeLaw | None = Field(default=None, description="law between low and high; none: the section's law")


class Correlation(Section):
    """Two inputs that move together."""

    first: str = Field(description="an input of the register by its name")
    second: str = Field(description="another one")
    coefficient: float = Field(ge=-1, le=1, description="correlation of the normal scores")
    source: str = Field(default="", description="what it rests on")


class PastProject(Section):
    """One of the plant's own finished investments: what was planned and what came."""

    name: str = Field(description="what was bought")
    year: int = Field(ge=1980, le=2100, description="year of acceptance")
    capital_planned: Planned = Field(description="capital in the request, money")
    capital_paid: Planned = Field(description="capital in the end, money")
    benefit_planned: float | None = Field(
        default=None, gt=0, le=AMOUNT_LIMIT, description="yearly benefit in the request, money"
    )
    benefit_reached: float | None = Field(
        default=None, ge=0, le=AMOUNT_LIMIT, description="yearly benefit after a year, money"
    )
    weeks_planned: float | None = Field(
        default=None, gt=0, le=1040, description="weeks from order to use in the request"
    )
    weeks_taken: Weeks | None = Field(default=None, description="weeks it took")


class Risk(Section):
    """How uncertain inputs are sampled. Without ranges the kit's own are taken and marked as default."""

    seed: int = Field(default=20407, ge=0, le=2**32 - 1, description="seed of the samples, printed with every result")
    samples: int = Field(default=2048, ge=64, le=65536, description="samples of the cash flow")
    law: RangeLaw = Field(
        default="triangular", description="law of all ranges: triangular and pert have their peak at the typical value"
    )
    payback_limit_years: float | None = Field(
        default=None, gt=0, le=40, description="the firm's limit on simple payback, years; none: no such limit"
    )
    ranges: tuple[RiskRange, ...] = Field(default=(), description="low and high of prices and terms")
    correlations: tuple[Correlation, ...] = Field(
        default=(), description="pairs that move together; all others are independent"
    )
    past_projects: tuple[PastProject, ...] = Field(
        default=(), description="the plant's last investments, the best guide to its own optimism"
    )
