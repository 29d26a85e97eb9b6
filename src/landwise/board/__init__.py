"""The whole board: options under shared decisions, one choice for all parts, how firm it is, where it lies.

`choice` (chosen, proven, explained), `model` and `build` (the board as numbers for the search), `objective` (what it
is chosen for), `firm` (what would change it), `placing` (whether the courtyards lie on it), `workers` (many parts
judged at once).
"""
