"""The designed print of parts whose lands tell what they are: proposed where the whole part's defects fall by it.

The same design as a study's (`designing/`), on the lands as they lie on the board. It is always asked about: it draws
the whole package anew, and what stands on the lands is read from them, or from the catalogue's outline where a file
names the package, not from the part's own drawing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from landwise.assembly.lines import Line
from landwise.designing import Design, Designer
from landwise.designing import Line as Printer
from landwise.designing.words import change_words
from landwise.errors import LandwiseError
from landwise.lands.model import Land
from landwise.memory import known
from landwise.printing.apertures import ApertureRules
from landwise.printing.model import Aperture, Powder
from landwise.review.catalogued import read_named
from landwise.review.families import PartRead
from landwise.review.frames import STEP_MM
from landwise.review.mending.rules import Drawn
from landwise.review.mending.sheet import Draft, Outlines, Sheet
from landwise.review.mending.sizes import DrawnOf
from landwise.review.model import Floats, Ints, Objects
from landwise.shapes import Geometry, rectangle

ASKED = "the whole package would be printed anew; its terminals come from its lands or its name, not from its drawing"
NO_FAMILY = ("odd", "single", "row")
SAME_SHARE = 0.02  # of an opening's area: a smaller difference is none
BESIDE_MM = 0.02  # a side: how far a design may widen past a land, what lies nearest to it is not looked at
MOST_COVER = 1.12  # of a land: beyond it a design that prints more than the film did is not proposed
TRIED = 8  # parts of one package, from twice as many on
MOVED_AT_ONCE = 1_000  # outlines: some 20 MB of corners while discs are moved
LEAST_SAVED = 1e-3  # defects on one board, as two foils are told apart by: below it no film is worth drawing anew


@dataclass(frozen=True)
class _Redrawn:
    """A package with its design."""

    design: Design
    openings: Mapping[str, Aperture]

    @cached_property
    def shapes(self) -> Mapping[str, tuple[Geometry, ...]]:
        """Outlines of each terminal's openings, in the frame that the pattern was read in."""
        return {name: tuple(o.geometry() for o in one.openings) for name, one in self.openings.items()}


def designs(
    sheet: Sheet,
    of: DrawnOf,
    line: Line,
    powder: Powder,
    pays: Callable[[Draft, float], bool],
    worth: Callable[[Sequence[int]], bool] = lambda _: True,
) -> Iterator[Draft]:
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
    pays : callable
        Whether a draft for some parts, of so many times as many alike, is worth drawing for all.
    worth : callable
        Whether alike parts could gain at all: asked before anything is designed for them.
    """
    foil, moved = sheet.given.under.foil, sheet.touched_lands
    order = np.argsort(sheet.package, kind="stable")
    cuts = np.flatnonzero(np.diff(sheet.package[order])) + 1
    for its in (some.tolist() for some in np.split(order, cuts)):
        if not its or not all(_as_it_came(sheet, part, moved) for part in its) or any(of(part).leave for part in its):
            continue
        if not worth(its):
            continue
        found = _designed(sheet, its[0], of(its[0]), line, powder)
        if found is None:
            continue
        if len(its) > 2 * TRIED:
            # Of very many alike parts a few are tried: where they gain nothing, the others are not drawn.
            tried = its[:: -(-len(its) // TRIED)]
            if not pays(_draft(found, tried, _rows(sheet, tried, found), foil.thickness_um), len(its) / len(tried)):
                continue
        rows = _rows(sheet, its, found)
        if rows:
            yield _draft(found, its, rows, foil.thickness_um)


def _draft(found: _Redrawn, its: Sequence[int], rows: dict[int, Outlines], foil_um: float) -> Draft:
    pad = "EP" in found.openings
    middle = not pad and found.design.changes.coverage != found.design.before.coverage
    what = change_words(found.design.changes, pad=pad, middle=middle)
    margin = found.design.margins.middle if found.design.margins else 0.0
    reason = f"designed for {foil_um:g} µm: {margin:.1f} sigma of the line's scatter to the nearest bridge or open"
    return Draft("designed", tuple(its), rows, {}, what, reason, ASKED)


def _as_it_came(sheet: Sheet, part: int, moved: Set[int]) -> bool:
    """Whether a part is of a known kind, printed on every land, and not changed by any other proposal."""
    one = sheet.given.parts[part]
    if one.kind in NO_FAMILY or len(one.centre) > 1:
        return False
    return moved.isdisjoint(one.lands) and bool(sheet.given.matched.printed[list(one.lands)].all())


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
    printer = Printer(line.scatter, line.technology, powder)
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
    return read_named(one.kind, sheet.lands(part), centre, one.pitch_mm, sheet.package_name(part))


def _rows(sheet: Sheet, its: Sequence[int], found: _Redrawn) -> dict[int, Outlines]:
    """The design on the board: what stands in the place of each opening of the parts; nothing where it stays the same.

    One part of each land pattern is read; the terminals of the others' lands are those at the same places of its frame.
    """
    import shapely

    by_key: dict[int, list[int]] = {}
    for part in its:
        by_key.setdefault(int(sheet.given.frames.key[part]), []).append(part)
    lands: list[int] = []
    drawn: list[object] = []
    owner: list[int] = []  # which of `lands` each drawn shape is for
    place: list[tuple[float, float, float]] = []
    for alike in by_key.values():
        for part, terminals, turned in _terminals(sheet, alike):
            if set(terminals) - {""} != set(found.openings):
                continue
            one = sheet.given.parts[part]
            turn = float(sheet.given.frames.turn_rad[part]) + turned * np.pi / 2
            for land, terminal in zip(one.lands, terminals, strict=True):
                for shape in found.shapes.get(terminal, ()):
                    drawn.append(shape)
                    owner.append(len(lands))
                    place.append((turn, one.x_mm, one.y_mm))
                lands += [land] if terminal else []
    if not lands:
        return {}
    placed = _on_board(np.array([*drawn, None], dtype=object)[:-1], np.array(place))
    start = np.searchsorted(owner, np.arange(len(lands) + 1))
    own = [sheet.rows_of(land) for land in lands]
    polygon = sheet.given.paste.polygon
    before, after = np.empty(len(lands), dtype=object), np.empty(len(lands), dtype=object)
    for k, rows in enumerate(own):
        its_shapes = placed[start[k] : start[k + 1]]
        before[k] = polygon[rows[0]] if len(rows) == 1 else shapely.union_all(polygon[rows])
        after[k] = its_shapes[0] if len(its_shapes) == 1 else shapely.union_all(its_shapes)
    if _overprints(sheet, np.array(lands), shapely.area(before), shapely.area(after)):
        return {}
    new = _apart_mm2(before, after) >= SAME_SHARE * shapely.area(before)
    changed: dict[int, Outlines] = {}
    for k in np.flatnonzero(new).tolist():
        changed[int(own[k][0])] = tuple(placed[start[k] : start[k + 1]])
        changed.update(dict.fromkeys((int(row) for row in own[k][1:]), ()))
    return changed


def _apart_mm2(before: Objects, after: Objects) -> Floats:
    """What two outlines of a land don't share, some thousands of lands at once. [mm²]"""
    import shapely

    found = np.empty(len(before))
    for start in range(0, len(before), MOVED_AT_ONCE):
        some = slice(start, start + MOVED_AT_ONCE)
        found[some] = shapely.area(shapely.symmetric_difference(before[some], after[some]))
    return found


def _overprints(sheet: Sheet, lands: Ints, before_mm2: Floats, after_mm2: Floats) -> bool:
    """Whether a design opens more than its land where the film did not: an overprint is for people to ask for."""
    return bool(((after_mm2 > MOST_COVER * sheet.given.lands.area_mm2[lands]) & (after_mm2 > before_mm2)).any())


def _terminals(sheet: Sheet, alike: Sequence[int]) -> Iterator[tuple[int, tuple[str, ...], int]]:
    """Parts of one pattern, the terminal of each of their lands, and by how many quarters the pattern was turned."""
    from scipy.spatial import cKDTree

    frames, parts = sheet.given.frames, sheet.given.parts
    read = _read(sheet, alike[0])
    if read is None:
        return
    first = np.array(parts[alike[0]].lands)
    tree = cKDTree(np.column_stack([frames.x_mm[first], frames.y_mm[first]]))
    for part in alike:
        lands = np.array(parts[part].lands)
        away, near = tree.query(np.column_stack([frames.x_mm[lands], frames.y_mm[lands]]))
        if len(lands) == len(first) == len(np.unique(near)) and away.max() <= 2 * STEP_MM:
            yield part, tuple(read.terminal_of[k] for k in near), read.turned
        elif (own := _read(sheet, part)) is not None:
            yield part, own.terminal_of, own.turned


def _on_board(shapes: Objects, place: Floats) -> Objects:
    """Shapes of the parts' frames where the parts stand: turned [rad], then moved [mm], one row each."""
    import shapely

    def moved(xy: Floats, at: Floats) -> Floats:
        turn, x, y = at.T
        cos, sin = np.cos(turn), np.sin(turn)
        there = np.column_stack([x + xy[:, 0] * cos - xy[:, 1] * sin, y + xy[:, 0] * sin + xy[:, 1] * cos])
        return np.round(there, 6)  # a film's nanometre

    made: Objects = np.empty(len(shapes), dtype=object)
    for start in range(0, len(shapes), MOVED_AT_ONCE):
        some = slice(start, start + MOVED_AT_ONCE)
        at = np.repeat(place[some], shapely.get_num_coordinates(shapes[some]), axis=0)
        made[some] = shapely.transform(shapes[some], lambda xy, at=at: moved(xy, at))
    return made
