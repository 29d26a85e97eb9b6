"""One small integer model, given to the solver quietly: our own narrow interface."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib import import_module

import numpy as np

from landwise.choosing.optimum.model import Array, Index
from landwise.untyped import Untyped

ROW_SCALE = 1000.0  # the solver's tolerances are absolute: rows are scaled to this size


@dataclass(frozen=True)
class Answer:
    """Values (None if none was found), a proven lower bound, and whether the search was finished."""

    values: Array | None
    bound: float
    finished: bool


@contextmanager
def _quiet() -> Iterator[None]:
    """Send file descriptor 1 to nowhere: the solver's first construction prints before it can be told not to."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


@cache
def _highspy() -> Untyped:
    highspy: Untyped = import_module("highspy")
    with _quiet():
        highspy.Highs().setOptionValue("output_flag", False)
    return highspy


def quiet_solver() -> Untyped:
    """A solver of linear models that prints nothing, on one thread, with tight tolerances."""
    solver = _highspy().Highs()
    for name, value in (
        ("output_flag", False),
        ("threads", 1),
        ("primal_feasibility_tolerance", 1e-9),
        ("dual_feasibility_tolerance", 1e-9),
    ):
        solver.setOptionValue(name, value)
    return solver


def minimise(
    cost: Array,
    rows: tuple[Index, Index, Array],
    lower: Array,
    upper: Array,
    *,
    integer: Index | None = None,
    absolute_gap: float = 0.0,
    seconds: float = float("inf"),
    stop: Callable[[], bool] | None = None,
) -> Answer:
    """Minimise cost·x over binary x with lower ≤ A x ≤ upper.

    Parameters
    ----------
    cost : array (columns,)
    rows : (starts, columns, values)
        The matrix by rows, compressed.
    lower, upper : array (rows,)
    integer : array of 0 and 1, optional
        Which columns are integer; all unless given.
    absolute_gap : float
        Gap at which the search may end.
    seconds : float
        Time after which it ends with what it has.
    stop : callable, optional
        Asked now and then; true ends the search.
    """
    highspy = _highspy()
    solver = quiet_solver()
    for name, value in (
        ("mip_rel_gap", 0.0),
        ("mip_abs_gap", max(absolute_gap, 1e-10)),
        ("mip_feasibility_tolerance", 1e-9),
    ):
        solver.setOptionValue(name, value)
    if np.isfinite(seconds):
        solver.setOptionValue("time_limit", max(seconds, 0.01))
    starts, columns, values = rows
    count = len(cost)
    kinds = np.ones(count, dtype=np.int32) if integer is None else integer.astype(np.int32)
    solver.passModel(
        count,
        len(lower),
        len(values),
        int(highspy.MatrixFormat.kRowwise),
        int(highspy.ObjSense.kMinimize),
        0.0,
        np.ascontiguousarray(cost, dtype=np.float64),
        np.zeros(count),
        np.ones(count),
        np.ascontiguousarray(lower, dtype=np.float64),
        np.ascontiguousarray(upper, dtype=np.float64),
        starts.astype(np.int32),
        columns.astype(np.int32),
        np.ascontiguousarray(values, dtype=np.float64),
        kinds,
    )
    if stop is not None:
        solver.cbMipInterrupt.subscribe(lambda event: event.interrupt() if stop() else None)
    solver.run()
    status = solver.getModelStatus()
    info = solver.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return Answer(None, float("inf"), True)
    finished = status == highspy.HighsModelStatus.kOptimal
    found = info.primal_solution_status == 2
    solution = np.array(solver.getSolution().col_value) if found else None
    bound = float(info.mip_dual_bound) if info.mip_dual_bound > -1e29 else -float("inf")
    return Answer(solution, bound, finished)
