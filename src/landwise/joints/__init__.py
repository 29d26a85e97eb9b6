"""Molten solder: the shape of each joint, and how a whole part stands on them.

Single joints: `ball`, `pad` (flat land, with `padtable` for the bulk), `gullwing` with `acceptance`, `barrel`; pulled
apart: `pull`. Leads: `leadform`, `lead`. Whole parts: `standing` (grids), `settling` (leadless), `contact`
(coplanarity, warpage), and `mounted`, which gathers them. Nothing is imported here, so that the formula book lists
its keys without loading numerics.
"""
