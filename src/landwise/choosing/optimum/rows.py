"""A sparse matrix with its limits, put together row by row."""

from __future__ import annotations

import numpy as np

from landwise.choosing.optimum.model import Array, Index


class Rows:
    """Rows of a linear model.

    Examples
    --------
    >>> rows = Rows()
    >>> rows.add(np.array([0, 2]), np.array([1.0, -1.0]), 0.0, 0.0)
    >>> [part.tolist() for part in rows.packed()], [end.tolist() for end in rows.limits()]
    ([[0, 2], [0, 2], [1.0, -1.0]], [[0.0], [0.0]])
    """

    def __init__(self) -> None:
        self.columns: list[Index] = []
        self.values: list[Array] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def add(self, columns: Index, values: Array, lower: float, upper: float) -> None:
        """One row: lower ≤ values·x[columns] ≤ upper."""
        self.columns.append(columns)
        self.values.append(values)
        self.lower.append(lower)
        self.upper.append(upper)

    def packed(self) -> tuple[Index, Index, Array]:
        """Starts, columns and values, compressed by rows."""
        starts = np.concatenate([[0], np.cumsum([len(row) for row in self.columns])])
        return starts, np.concatenate(self.columns), np.concatenate(self.values)

    def limits(self) -> tuple[Array, Array]:
        """Lower and upper ends of the rows."""
        return np.array(self.lower), np.array(self.upper)
