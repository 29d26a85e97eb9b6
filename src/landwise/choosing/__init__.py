"""The pure search: what counts besides money (`values`), one optimum with proof (`optimum`), room (`packing`)."""

from landwise.choosing.values import CRITERIA, Criterion, weights_with

__all__ = ["CRITERIA", "Criterion", "weights_with"]
