"""Write `lands_compared.md`: landwise's land patterns beside those that makers print.

Run from anywhere: `python docs/make_lands_compared.py`. `--check` only says whether the page is up to date.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from landwise.errors import LandwiseError
from landwise.evidence import source
from landwise.lands import LandPattern, land_pattern
from landwise.outlines import GRIDS, Outline, catalogue
from landwise.proving.gathered import data, printed_land
from landwise.proving.measures.lands import mask_defined_copper, plain_method
from landwise.proving.tables import tables

HERE = Path(__file__).parent
PAGE = HERE / "lands_compared.md"
LETTERS = {"most": "A", "nominal": "B", "least": "C"}

HEAD = """# Lands compared with what makers print

Written by `docs/make_lands_compared.py`; do not edit. All sizes in mm; differences are ours minus printed.

## 1. The plain method against printed lands

Outer span, inner gap and width by toe, heel and side goals, before rounding, heel trimming and minimum gaps,
fabrication and placement tolerance 0.10 each. A number in **bold** is a gate: the test suite fails if the
difference exceeds 0.05. The others are comparisons: makers print by house rules, and no goal is bent to
meet them. Levels A, B, C: most, nominal, least.

What the table shows. The outer span of SO-8, SO-14, wide SO-20, SOT-23-5 and -6, SC-70-5 and -6, VSSOP, TSSOP,
TVSOP and J-lead lands follows the goals, and so does the width down to 0.65 mm pitch; at 0.4 mm the gap of 0.20
decides the width. The inner gap of gull-wings follows the goals in case S2 only; the others end near the body's
edge, which is why heels are trimmed there by default. Leadless lands by the goals are longer than most makers' own:
three house rules explain those (0.20 or 0.15 mm past the nominal terminal, 0.15 mm past the body). Where a maker
prints a shorter land, the goals are not bent to it.

| case | package | level | outer: ours, printed, difference | inner | width | mark | printed by |
|---|---|---|---|---|---|---|---|
"""

HEAD_2 = """
## 2. Land patterns of the catalogue against printed lands

Each outline that carries a maker's land: the pattern by goals at level nominal (balls: the ball-to-land
table), all minimum gaps held, beside the printed one. Comparisons only.

| outline | length: ours, printed, difference | width or diameter | centres | courtyard: ours, printed | mark | by |
|---|---|---|---|---|---|---|
"""

HEAD_3 = """
## 3. Mask-defined ball lands

Copper around an opening of the printed size at the printed pitch: 0.05 mm under the mask, less where the
covered copper would come closer than 0.10 mm. Gates. Source: SPRAA99C table 2-1 (`verified`).

| pitch | opening | copper: ours, printed, difference |
|---|---|---|
"""


def cases() -> list[dict[str, Any]]:
    """The printed lands of `lands_cases.toml`."""
    found: list[dict[str, Any]] = data("lands_cases")["case"]
    return found


def triple(ours: float, theirs: float, gate: bool = False) -> str:
    """`ours, printed, difference`, bold for a gate."""
    text = f"{ours:.3f}, {theirs:.3f}, {ours - theirs:+.3f}"
    return f"**{text}**" if gate else text


def case_rows() -> Iterable[str]:
    """Section 1."""
    for case in cases():
        ours, theirs, gates = plain_method(case), printed_land(case), set(case["gates"])
        spans = ("centre", "length") if "centre" in gates else ("outer", "inner")
        cells = [triple(ours[name], theirs[name], name in gates) for name in (*spans, "width")]
        if "centre" in gates:
            cells[:2] = [f"centre distance {cells[0]}", f"length {cells[1]}"]
        where = case["printed_by"] + (f" ({case['note']})" if case.get("note") else "")
        level = LETTERS[case["level"]]
        yield f"| {case['id']} | {case['title']} | {level} | {' | '.join(cells)} | {case['mark']} | {where} |"


def side_size(pattern: LandPattern, outline: Outline) -> tuple[float, float, float]:
    """Length, width and centre distance of the left row's lands (a ball's diameter, diameter, pitch)."""
    land = pattern.lands[0].place
    if outline.family in GRIDS:
        return land.shape.length_mm, land.shape.width_mm, outline.pitch_mm
    return land.shape.length_mm, land.shape.width_mm, 2 * max(abs(one.place.x_mm) for one in pattern.lands)


def catalogue_rows() -> Iterable[str]:
    """Section 2."""
    for outline in catalogue().values():
        land = outline.published_land
        if land is None:
            continue
        theirs = land_pattern(outline, style="published")
        try:
            ours = land_pattern(outline, style="goals")
        except LandwiseError as error:
            yield f"| {outline.name} | {error.message} | – | – | – | – | {land.source} |"
            continue
        sizes = zip(side_size(ours, outline), side_size(theirs, outline), strict=True)
        cells = [triple(a, b) for a, b in sizes]
        yards = [f"{one.courtyard_mm[0]:.2f} × {one.courtyard_mm[1]:.2f}" for one in (ours, theirs)]
        mark = source(land.source).mark
        yield f"| {outline.name} | {' | '.join(cells)} | {', '.join(yards)} | {mark} | {source(land.source).title} |"


def page() -> str:
    """The whole page."""
    rows_3 = (
        f"| {p} | {o} | {triple(mask_defined_copper(p, o), c, gate=True)} |"
        for p, o, c in tables()["mask-defined"]["rows"]
    )
    parts = (HEAD, "\n".join(case_rows()), "\n", HEAD_2, "\n".join(catalogue_rows()), "\n", HEAD_3, "\n".join(rows_3))
    return "".join(parts) + "\n"


def main() -> int:
    """Write the page, or check it."""
    if "--check" in sys.argv[1:]:
        current = PAGE.exists() and PAGE.read_text(encoding="utf-8") == page()
        print("up to date" if current else "lands_compared.md is stale: run docs/make_lands_compared.py")
        return 0 if current else 1
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
