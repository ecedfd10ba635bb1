"""Table schemas for pandera, made from the field definitions. Loaded only when a folder is read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pandera.pandas as pa

from simkit.base.fields import MISSING, Column, columns_of
from simkit.plant.values import Fault, read_value


def fault_of(text: str, kind: str, spec: Column, default: Any) -> Fault | None:
    """Return why a cell is refused, or None."""
    try:
        read_value(text, kind, spec, default)
    except Fault as fault:
        return fault
    return None


def _legal(kind: str, spec: Column, default: Any) -> Callable[[str], bool]:
    return lambda text: fault_of(text, kind, spec, default) is None


def schema_of(row_type: type) -> pa.DataFrameSchema:
    """Return the schema of a table as text: required columns, no unknown ones, every cell legal."""
    columns = {
        name: pa.Column(
            checks=pa.Check(_legal(kind, spec, default), element_wise=True, name="legal"),
            required=default is MISSING,
            title=spec.meaning,
        )
        for name, (spec, kind, default) in columns_of(row_type).items()
    }
    return pa.DataFrameSchema(columns, strict=True)


def failures(frame: pd.DataFrame, row_type: type) -> list[tuple[str, str, int | None]]:
    """Return every failure as (check, column, position of the row or None), all at once.

    ``check`` is ``column_in_dataframe`` (missing), ``column_in_schema`` (unknown) or ``legal``.
    """
    try:
        schema_of(row_type).validate(frame, lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases
        return [_failure(case) for case in cases.to_dict("records")]
    return []


def _failure(case: dict[Any, Any]) -> tuple[str, str, int | None]:
    if case["check"] in ("column_in_dataframe", "column_in_schema"):
        return case["check"], str(case["failure_case"]), None
    return str(case["check"]), str(case["column"]), int(case["index"])
