"""The whole board: options under shared decisions, one choice for all parts, how firm it is, where it lies."""
