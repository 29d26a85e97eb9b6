"""Fabrication data in and out: whole or not at all, every guess said.

Tables: `bills`, `placements` (through `grids` and `tables`: any delimiter, encoding and order of columns). Words:
`logic`, `packages`, `parts`, `references`. Films: `layers` (a folder or zip, each file told for what it is),
`gerber`, `drills`, and `partfilms` (the layers of one package).
"""
