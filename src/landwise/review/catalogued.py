"""Parts whose package a file names: the catalogue's outline, where its terminals lie on the part's lands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from landwise.errors import LandwiseError
from landwise.fabdata.packageoutlines import of_other_length, outline_for
from landwise.fabdata.packages import read_package
from landwise.lands.model import Land
from landwise.outlines.model import GRIDS, Outline, Range, Terminal
from landwise.outlines.patterns import terminals
from landwise.review.families import PartRead, Spot, pattern_of, quarter_turned, read_part, spot_land

OFF_LAND_MM = 0.06  # half the circle in which the house places parts, 0.05, and a rounding step of lands, 0.01
OFF_PITCH_MM = 0.03  # 0.65 and 0.635 are written for each other
OFF_GRID = 0.1  # of the pitch: how far a ball may lie from its land's middle
MOST_TOE_MM = (
    0.9  # that a land reaches beyond its terminal, lands for soldering by hand included; common practice, no source
)
BALL_ON_LAND = (0.6, 1.3)  # land over ball
PAD_OFF_MM = 0.15  # an exposed pad whose land differs more is another maker's: its size is taken from the land


def read_named(
    kind: str, lands: Sequence[Spot], centre: Sequence[int], pitch_mm: float | None, package: str
) -> PartRead | None:
    """A part by its package's name where the catalogue has its outline and it fits the lands, else by its lands alone.

    Parameters
    ----------
    kind, lands, centre, pitch_mm
        As of `read_part`.
    package : str
        What a file calls the package; empty if none does.

    Notes
    -----
    Rows or sides, count and pitch must be those of the lands, and terminals must lie on them: within `OFF_LAND_MM`
    at toe and sides, at the heel also by half the tolerance of the foot.

    Examples
    --------
    >>> rows = [Spot(s * 2.905, 0.65 * (k - 3), 1.51, 0.43, 0.0, 0.6493) for s in (-1, 1) for k in range(7)]
    >>> named = read_named("gull-wing dual", rows, (), 0.65, "TSSOP-14")
    >>> named.outline.name, named.outline.terminal_width_mm.nom, named.terminal_of[6]
    ('TSSOP-14', 0.245, '1')
    >>> read_named("gull-wing dual", rows, (), 0.65, "SOIC-14").outline.name
    'gull-wing dual 14'
    """
    try:
        by_lands = read_part(kind, lands, centre, pitch_mm)
    except (LandwiseError, ValueError):
        by_lands = None
    if by_lands is None or not package:
        return by_lands
    outline = _outline(package, len(lands) - len(centre))
    if outline is None or not _agrees(outline, by_lands.outline):
        return by_lands
    for turns in range(4):
        found = _fitted(outline, lands, tuple(centre), turns)
        if found is not None:
            return found
    return by_lands


@cache
def _outline(package: str, count: int) -> Outline | None:
    reading = read_package(package)
    if reading is None or reading.style == "chip":
        return None
    return outline_for(reading, count)[0] or of_other_length(reading, count)


def _agrees(ours: Outline, read: Outline) -> bool:
    # Lands tell two rows from four sides; whether leads or flush terminals stand on them, the name tells better.
    family = read.family.rsplit(" ", 1)[-1] == ours.family.rsplit(" ", 1)[-1]
    if ours.family in GRIDS:
        family = read.family in GRIDS
    count = ours.terminals - (1 if ours.centre_terminal and ours.family not in GRIDS else 0)
    return family and count == read.terminals and abs(ours.pitch_mm - read.pitch_mm) <= OFF_PITCH_MM


def _fitted(outline: Outline, lands: Sequence[Spot], centre: tuple[int, ...], turns: int) -> PartRead | None:
    """The outline on lands turned by so many quarters, or None where a terminal lies off its land."""
    spots = list(lands)
    for _ in range(turns):
        spots = [quarter_turned(one) for one in spots]
    if len(centre) == 1 and outline.family.startswith("gull-wing") and not outline.has_exposed_pad:
        # Bodies with a pad below share the leads of those without; how large the pad is the land tells.
        pad = spot_land("EP", spots[centre[0]], 90.0).place.shape
        sizes = Range.exact(pad.length_mm), Range.exact(pad.width_mm)
        outline = replace(outline, exposed_length_mm=sizes[0], exposed_width_mm=sizes[1])
    numbered = terminals(outline)
    outer = [k for k in range(len(spots)) if k not in centre]
    inner = [one for one in numbered if one.side == "centre"]
    rows = [one for one in numbered if one.side != "centre"]
    if len(inner) != len(centre) or len(rows) != len(outer):
        return None
    terminal_of = [""] * len(spots)
    made: list[Land] = []
    for terminal in rows:
        k = min(outer, key=lambda n: math.hypot(spots[n].x_mm - terminal.x_mm, spots[n].y_mm - terminal.y_mm))
        land = spot_land(terminal.number, spots[k], terminal.outward_deg)
        if terminal_of[k] or not _lies_on(outline, terminal, land):
            return None
        terminal_of[k] = terminal.number
        made.append(land)
    for terminal, k in zip(inner, centre, strict=True):
        terminal_of[k] = terminal.number
        land = spot_land(terminal.number, spots[k], terminal.outward_deg)
        made.append(land)
        outline = _with_pad(outline, terminal, land)
    order = {one.number: k for k, one in enumerate(numbered)}
    made.sort(key=lambda land: order[land.terminal])
    return PartRead(outline, pattern_of(outline.name, made), tuple(terminal_of), turns)


def _lies_on(outline: Outline, terminal: Terminal, land: Land) -> bool:
    place = land.place
    dx, dy = terminal.x_mm - place.x_mm, terminal.y_mm - place.y_mm
    if outline.family in GRIDS:
        share = place.shape.length_mm / terminal.length_mm
        near = math.hypot(dx, dy) <= OFF_GRID * outline.pitch_mm
        return near and BALL_ON_LAND[0] <= share <= BALL_ON_LAND[1]
    angle = math.radians(terminal.outward_deg)
    ahead = dx * math.cos(angle) + dy * math.sin(angle)
    aside = abs(dy * math.cos(angle) - dx * math.sin(angle))
    longer = (terminal.length_mm - place.shape.length_mm) / 2
    wider = (terminal.width_mm - place.shape.width_mm) / 2
    foot = outline.foot_mm.tolerance / 2 if outline.foot_mm else 0.0
    return (
        -MOST_TOE_MM <= longer + ahead <= OFF_LAND_MM + 1e-9
        and wider + aside <= OFF_LAND_MM + 1e-9
        and longer - ahead <= OFF_LAND_MM + foot + 1e-9
    )


def _with_pad(outline: Outline, terminal: Terminal, land: Land) -> Outline:
    size = land.place.shape
    off = max(abs(size.length_mm - terminal.length_mm), abs(size.width_mm - terminal.width_mm))
    if off <= PAD_OFF_MM or not outline.has_exposed_pad:
        return outline
    return replace(outline, exposed_length_mm=Range.exact(size.length_mm), exposed_width_mm=Range.exact(size.width_mm))
