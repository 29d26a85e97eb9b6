"""What one good board costs, each rate visible with its range, reason and source.

`board` (cost of a part, its line items and what all parts share), `yields` (yield from defect rates, sigma levels,
learning curves).
"""
