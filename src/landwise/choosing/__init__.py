"""Choosing: hard limits first, then values and weights, and how firm the order is."""

from landwise.choosing.ranking import Flip, Ranking, RankInput, RateRange, rank
from landwise.choosing.values import CRITERIA, Criterion, weights_with

__all__ = ["CRITERIA", "Criterion", "Flip", "RankInput", "Ranking", "RateRange", "rank", "weights_with"]
