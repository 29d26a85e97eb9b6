"""One choice for all parts of a board and for what they share: model, bounds, exact solver, explanations."""

from landwise.choosing.optimum.model import Ban, Charge, Problem, Row, Solution
from landwise.choosing.optimum.solve import solve

__all__ = ["Ban", "Charge", "Problem", "Row", "Solution", "solve"]
