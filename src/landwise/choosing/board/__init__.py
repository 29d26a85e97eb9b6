"""One choice for all parts of a board and for what they share: model, bounds, exact solver, explanations."""

from landwise.choosing.board.model import Ban, Problem, Row, Solution
from landwise.choosing.board.solve import solve

__all__ = ["Ban", "Problem", "Row", "Solution", "solve"]
