"""The designed print of parts whose lands tell what they are: proposed where the whole part's defects fall by it.

The same design as a study's (`designing/`), on the lands as they lie on the board. It is always asked about: it draws
the whole package anew, and what the lands stand under is read from the lands, not from the part's drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from landwise.assembly.lines import Line
from landwise.assembly.scatter import scatter
from landwise.designing import Design, Designer
from landwise.designing import Line as Printer
from landwise.designing.words import change_words
from landwise.errors import LandwiseError
from landwise.lands.model import Land
from landwise.memory import known
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Aperture, Powder
from landwise.review.families import PartRead, read_part
from landwise.review.mending.rules import Drawn
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.mending.sizes import DrawnOf
from landwise.shapes import rectangle

ASKED = "the whole package would be printed anew; its terminals are read from its lands"
NO_FAMILY = ("odd", "single", "row")
SAME_SHARE = 0.02  # of an opening's area: a smaller difference is none
BESIDE_MM = 0.02  # a side: how far a design may widen past a land, what lies nearest to it is not looked at
LEAST_SAVED = 1e-4  # defects on one board: below it no film is worth drawing anew


@dataclass(frozen=True)
class _Redrawn:
    """A package with its design."""

    design: Design
    openings: Mapping[str, Aperture]


def designs(sheet: Sheet, of: DrawnOf, line: Line, powder: Powder) -> Iterator[Draft]:
    """One draft for each package whose openings are still as they came.

    Parameters
    ----------
    sheet : Sheet
        With what nobody objects to: what that changes, and what is asked about, is left alone.
    of : callable
        The rules of a part.
    line : Line
        Gives technology and scatter.
    powder : str
    """
    foil = sheet.given.under.foil
    for package in np.unique(sheet.package).tolist():
        its = [int(part) for part in np.flatnonzero(sheet.package == package)]
        if not its or not all(_as_it_came(sheet, part) for part in its) or any(of(part).leave for part in its):
            continue
        found = _designed(sheet, its[0], of(its[0]), line, powder)
        if found is None:
            continue
        rows: dict[int, Outlines] = {}
        for part in its:
            rows.update(_rows(sheet, part, found))
        if rows:
            pad = "EP" in found.openings
            middle = not pad and found.design.changes.coverage != found.design.before.coverage
            what = change_words(found.design.changes, pad=pad, middle=middle)
            margin = found.design.margins.middle if found.design.margins else 0.0
            reason = f"designed for {foil.thickness_um:g} µm: {margin:.1f} standard deviations to the nearest defect"
            yield Draft("designed", tuple(its), rows, {}, what, reason, ASKED)


def _as_it_came(sheet: Sheet, part: int) -> bool:
    """Whether a part is of a known kind, printed on every land, and not changed by any other proposal."""
    one = sheet.given.parts[part]
    if one.kind in NO_FAMILY or len(one.centre) > 1:
        return False
    return all(len(sheet.rows_of(land)) and not sheet.touched(land) for land in one.lands)


def _designed(sheet: Sheet, part: int, drawn: Drawn, line: Line, powder: Powder) -> _Redrawn | None:
    read = _read(sheet, part)
    if read is None:
        return None
    # Rounded lands are designed as boxes of their sides; their print keeps the radius.
    radius = min((land.place.shape.corner_mm for land in read.pattern.lands), default=0.0)
    lands = tuple(_boxed(land) for land in read.pattern.lands)
    rules = ApertureRules(
        corner_mm=round(radius, 4),
        pane_coverage=drawn.centre_target,
        pane_from_mm=drawn.pane_from_mm,
        pane_bar_mm=drawn.pane_bar_mm,
        largest_pane_mm=drawn.pane_most_mm,
        toe_out_mm=drawn.grow_beyond_mm,
        published=False,
    )
    printer = Printer(scatter(line.print_offset_mm, line.placement_offset_mm), line.technology, powder)
    pattern, foil_um = replace(read.pattern, lands=lands), sheet.given.under.foil.thickness_um

    def work() -> Design:
        return Designer(read.outline, pattern, printer, rules).design(foil_um)

    try:
        design = known(work, "design of a film's part", read.outline, lands, foil_um, printer, rules)
    except (LandwiseError, ValueError, ZeroDivisionError, IndexError):
        return None  # lands that no package of the family can have
    if design.reason in ("not worked", "nothing printed", "overprinted"):
        return None
    return _Redrawn(design, {one.terminal: one for one in design.openings})


def _boxed(land: Land) -> Land:
    """A land as the box of its sides, with a mask opening a little larger; discs stay."""
    shape = land.place.shape
    if shape.kind == "circle":
        return land
    box = land.place.with_shape(rectangle(shape.length_mm, shape.width_mm))
    mask = land.place.with_shape(rectangle(shape.length_mm + 2 * BESIDE_MM, shape.width_mm + 2 * BESIDE_MM))
    return replace(land, place=box, copper=box, opening=mask)


def _read(sheet: Sheet, part: int) -> PartRead | None:
    one = sheet.given.parts[part]
    centre = [one.lands.index(land) for land in one.centre]
    try:
        return read_part(one.kind, sheet.lands(part), centre, one.pitch_mm)
    except (LandwiseError, ValueError):
        return None


def _rows(sheet: Sheet, part: int, found: _Redrawn) -> dict[int, Outlines]:
    """The design on the board: what stands in the place of each opening of a part; nothing where it stays the same."""
    import shapely

    read = _read(sheet, part)
    if read is None or set(read.terminal_of) - {""} != set(found.openings):
        return {}
    one = sheet.given.parts[part]
    turn = float(np.degrees(sheet.given.frames.turn_rad[part]))
    rows: dict[int, Outlines] = {}
    for land, terminal in zip(one.lands, read.terminal_of, strict=True):
        if not terminal:
            continue
        shapes = tuple(
            _on_board(opening.geometry(), turned=read.turned, turn_deg=turn, at=(one.x_mm, one.y_mm))
            for opening in found.openings[terminal].openings
        )
        own = [int(row) for row in sheet.rows_of(land)]
        before = shapely.union_all(sheet.given.paste.polygon[own])
        if shapely.union_all(shapes).symmetric_difference(before).area < SAME_SHARE * before.area:
            continue
        rows[own[0]] = shapes
        rows.update(dict.fromkeys(own[1:], ()))
    return rows


def _on_board(shape: Any, *, turned: bool, turn_deg: float, at: Sequence[float]) -> Any:
    """A shape of the part's frame, which a dual that lies on its side was read turned from, where the part stands."""
    import shapely
    from shapely import affinity

    placed = affinity.rotate(shape, (90.0 if turned else 0.0) + turn_deg, origin=(0, 0))
    return shapely.set_precision(affinity.translate(placed, at[0], at[1]), 1e-6)
