"""Fabrication data in and out: whole or not at all, every guess said.

Tables: `bills`, `placements` (through `grids` and `tables`: any delimiter, encoding and order of columns). Words:
`partnumbers` (the one reader of part numbers), `functions` and `functionwords` (what they do), `ordercodes` (makers'
package letters), `packages` and `packageoutlines` (package texts and the outlines they mean), `references`, `kinds`,
`presentpackage`, and `parts`, which puts them together. Films: `layers` (a folder or zip, each file told for what it
is), `gerber`, `drills`, and `partfilms` (the layers of one package).
"""
