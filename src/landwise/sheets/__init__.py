"""Drawings true to scale, charts, and the pages they stand on.

Drawn as data by `svg` in the look of `look`: `drawings` (the views of a part), `card` and `cards`, `chart` and its
kin, `boardmaps`, `placing`. Pages: `report` and `reviewreport` (HTML, PDF, data files), `pdf`, `files` (written whole
or not at all).
"""
