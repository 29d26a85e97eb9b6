"""From a folder or zip of fabrication files to the board a review is made of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from landwise.errors import InputError, LandwiseError
from landwise.fabdata.gerber import Layer, Pads, read_gerber
from landwise.fabdata.layers import Job, JobLayer, open_job
from landwise.review.model import BoardInput, Bools, Hole, Openings, PadColumns, Side, SideInput

FILLED = 0.6  # strokes that fill less of their hull are a drawing or a letter, not a painted pad
SIDES: tuple[Side, ...] = ("top", "bottom")
Place = tuple[str, float, float, float, str]


@dataclass(frozen=True)
class Film:
    """A paste layer as read, and which of its rows are openings: `rows[k]` is the layer's row of opening `k`."""

    layer: Layer
    rows: tuple[int, ...]
    pads: Openings


@dataclass(frozen=True)
class ReadBoard:
    """A board as read: for the review, and its paste films, to be written again."""

    board: BoardInput
    films: Mapping[Side, Film]


def read_board(path: Path, overrides: Mapping[str, str]) -> ReadBoard:
    """Read a folder or zip.

    Layers other than paste help where they can be read; one that can't is left out with a note, because a
    stencil can be judged without it.

    Parameters
    ----------
    path : Path
    overrides : mapping of role to file name
        Outranks what is recognised.

    Raises
    ------
    LandwiseError
        For paste that can't be read or isn't there.
    """
    job = open_job(path, overrides)
    notes = list(job.notes)
    films: dict[Side, Film] = {}
    for side in SIDES:
        found = _first(job, f"paste-{side}")
        if found is not None:
            films[side] = film_of(found.layer, notes)
    if not any(len(film.pads) for film in films.values()):
        raise InputError(
            "no paste layer with openings",
            file=path.name or str(path),
            found=", ".join(f"{one.file} ({one.role})" for one in job.layers[:8]),
            expected="a paste layer; name it with --layer paste-top=FILE",
        )
    placed = _placements(job, notes)
    made = tuple(
        SideInput(
            side,
            film.pads,
            _pads(job, f"copper-{side}", notes),
            _pads(job, f"mask-{side}", notes),
            tuple(place for its, place in placed if its == side),
        )
        for side, film in films.items()
    )
    notes += [f"{film.layer.file}: {note}" for film in films.values() for note in film.layer.notes]
    holes = _holes(job, films, notes)
    reading = tuple(f"{one.file}: {one.role}, {one.why}" for one in job.layers if one.role not in ("other", "bill"))
    board = BoardInput(path.resolve().stem or path.name, made, holes, _outline(job, notes), reading, tuple(notes))
    return ReadBoard(board, films)


def film_of(layer: Layer, notes: list[str]) -> Film:
    """A paste layer's openings; strokes that only draw an outline or a letter are left out, with a note."""
    pads = layer.pads
    drawn = _drawing(pads)
    if drawn.any():
        notes.append(f"{layer.file}: {int(drawn.sum())} drawn outlines or letters left out: strokes that fill no pad")
    rows = np.flatnonzero(~drawn)
    return Film(layer, tuple(int(row) for row in rows), _openings(pads, rows))


def _drawing(pads: Pads) -> Bools:
    import shapely

    found: Bools = pads.stroked.copy()
    rows = np.flatnonzero(found)
    hull = np.asarray(shapely.area(shapely.convex_hull(pads.polygon[rows])), dtype=np.float64)
    found[rows] = pads.area_mm2[rows] < FILLED * np.maximum(hull, 1e-12)
    return found


def _openings(pads: Pads, rows: Any) -> Openings:
    how = np.where(pads.code < 0, "region", np.where(pads.stroked, "stroke", "flash")).astype(object)
    its = Openings.of(pads)
    columns = {name: getattr(its, name)[rows] for name in its.__dataclass_fields__ if name != "kind"}
    return Openings(kind=how[rows], **columns)


def _first(job: Job, role: str) -> JobLayer | None:
    return next((one for one in job.layers if one.role == role), None)


def _apart(one: JobLayer) -> Pads:
    """Shapes as drawn: on copper and mask, a land is told from its track only while they are apart."""
    return read_gerber(one.data, one.file, merge=False).pads


def _pads(job: Job, role: str, notes: list[str]) -> PadColumns | None:
    one = _first(job, role)
    if one is None:
        return None
    try:
        pads = _apart(one)
    except LandwiseError as error:
        notes.append(f"{role} is left out: {error}")
        return None
    return _openings(pads, np.arange(len(pads))) if len(pads) else None


def _outline(job: Job, notes: list[str]) -> Any:
    """The board's area: the largest closed line of the outline, filled."""
    import shapely

    one = _first(job, "outline")
    if one is None:
        return None
    try:
        shapes = _apart(one).polygon
    except LandwiseError as error:
        notes.append(f"the outline is left out: {error}")
        return None
    parts = [part for part in shapely.get_parts(shapely.union_all(shapes)) if len(part.interiors)]
    if not parts:
        notes.append("the outline holds no closed line")
        return None
    return shapely.Polygon(max(parts, key=lambda part: part.convex_hull.area).exterior)


def _placements(job: Job, notes: list[str]) -> list[tuple[Side, Place]]:
    found: list[tuple[Side, Place]] = []
    for one in job.layers:
        if one.role != "placement":
            continue
        try:
            read = one.layer
        except LandwiseError as error:
            notes.append(f"placement file is left out: {error}")
            continue
        below = bool(re.search(r"bot|\.mnb$", one.file.lower()))
        for place in read.by_reference.values():
            side: Side = "bottom" if below or place.side == "bottom" else "top"
            found.append((side, (place.reference, place.x_mm, place.y_mm, place.rotation_deg, place.package)))
    return found


def _holes(job: Job, films: Mapping[Side, Film], notes: list[str]) -> Hole | None:
    """Holes of all drill files; a file whose holes lie beside the paste is left out, its format misread."""
    pads = [film.pads for film in films.values() if len(film.pads)]
    x = np.concatenate([one.x_mm for one in pads])
    y = np.concatenate([one.y_mm for one in pads])
    air = 0.3 * max(float(np.ptp(x)), float(np.ptp(y)), 20.0)
    rows = []
    for one in job.layers:
        if one.role != "drill":
            continue
        try:
            holes = one.layer.pads
        except LandwiseError as error:
            notes.append(f"drill file is left out: {error}")
            continue
        if not len(holes):
            continue
        guessed = any(note.startswith("guess") for note in one.layer.notes)
        for factor in (1.0, 0.1, 10.0) if guessed else (1.0,):
            inside = (np.abs(factor * holes.x_mm - (x.min() + x.max()) / 2) < np.ptp(x) / 2 + air) & (
                np.abs(factor * holes.y_mm - (y.min() + y.max()) / 2) < np.ptp(y) / 2 + air
            )
            if inside.mean() >= 0.8:
                break
        if inside.mean() < 0.8:
            notes.append(f"{one.file} is left out: its holes do not lie where the paste does")
            continue
        if factor != 1.0:
            notes.append(
                f"{one.file}: states no digits; read so that its holes lie where the paste does (times {factor:g})"
            )
        rows.append(np.column_stack([factor * holes.x_mm, factor * holes.y_mm, holes.width_mm]))
    if not rows:
        return None
    table = np.concatenate(rows)
    return Hole(table[:, 0], table[:, 1], table[:, 2])
