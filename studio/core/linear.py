"""A linear model as HiGHS takes it: the one place where rows become its sparse arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

TOLERANCE = 1e-6
"""How far from a whole number a whole column may be; every answer is rounded and checked after."""

Row = tuple[float, float, Mapping[int, int]]
"""Least and most of a sum, and the sum: column to coefficient."""


def highs_model(
    objective: Mapping[int, int],
    lower: Sequence[float],
    upper: Sequence[float],
    rows: Sequence[Row],
    *,
    whole: bool = True,
) -> Any:
    """Minimise `objective` over columns between `lower` and `upper`, whole numbers or not.

    highspy and numpy are read in here, since no start needs them.
    """
    import highspy
    import numpy as np

    lp = highspy.HighsLp()
    columns = len(lower)
    lp.num_col_, lp.num_row_ = columns, len(rows)
    cost = np.zeros(columns)
    for column, by in objective.items():
        cost[column] = by
    lp.col_cost_ = cost
    lp.col_lower_ = np.asarray(lower, dtype=np.float64)
    lp.col_upper_ = np.asarray(upper, dtype=np.float64)
    lp.row_lower_ = np.asarray([row[0] for row in rows], dtype=np.float64)
    lp.row_upper_ = np.asarray([row[1] for row in rows], dtype=np.float64)
    starts = [0]
    index: list[int] = []
    value: list[int] = []
    for _, _, terms in rows:
        index.extend(terms)
        value.extend(terms.values())
        starts.append(len(index))
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.asarray(starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.asarray(index, dtype=np.int32)
    lp.a_matrix_.value_ = np.asarray(value, dtype=np.float64)
    if whole:
        lp.integrality_ = [highspy.HighsVarType.kInteger] * columns
    return lp


def exact_highs(more: Mapping[str, object] | None = None) -> Any:
    """A solver with every source of chance and of rounding away turned off, and `more` set."""
    import highspy

    highs: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    options: dict[str, object] = {
        "output_flag": False,
        "threads": 1,
        "random_seed": 1,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 0.0,
        "mip_feasibility_tolerance": TOLERANCE,
    }
    for name, value in {**options, **(more or {})}.items():
        highs.setOptionValue(name, value)
    return highs
