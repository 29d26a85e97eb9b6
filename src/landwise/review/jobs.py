"""From a folder or zip of fabrication files to the board a review is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from landwise.errors import InputError, LandwiseError
from landwise.fabdata.gerber import Layer
from landwise.fabdata.layers import Job, JobLayer, open_job
from landwise.fabdata.placements import Placements
from landwise.review.filmread import read_film
from landwise.review.model import BoardInput, Hole, Openings, PadColumns, Side, SideInput

SIDES: tuple[Side, ...] = ("top", "bottom")
Listed = tuple[Side, tuple[str, float, float, float, str]]


@dataclass(frozen=True)
class ReadBoard:
    """A board as read: for the review, and its paste layers, to be written again."""

    board: BoardInput
    films: Mapping[Side, Layer]


def read_board(path: Path, overrides: Mapping[str, str]) -> ReadBoard:
    """Read a folder or zip.

    Parameters
    ----------
    path : Path
    overrides : mapping of role to file name
        Outranks what is recognised.

    Raises
    ------
    LandwiseError
        For paste that can't be read or isn't there.

    Notes
    -----
    Other layers help where they can be read; one that can't is left out with a note, because a stencil can
    be judged without it.
    """
    job = open_job(path, overrides)
    notes = list(job.notes)
    films: dict[Side, Layer] = {}
    for side in SIDES:
        found = _first(job, f"paste-{side}")
        if found is not None:
            films[side] = found.layer
    if not any(len(film.pads) for film in films.values()):
        raise InputError(
            "no paste layer with openings", file=job.name,
            found=", ".join(one.file for one in job.layers[:8]) or "no files",
            expected="a paste layer; name it with --layer paste-top=FILE",
        )  # fmt: skip
    placed = _placements(job, notes)
    made = tuple(
        SideInput(
            side, Openings.of(film.pads), _copper(job, side, notes), _mask(job, side, notes),
            tuple(place for its, place in placed if its == side),
        )
        for side, film in films.items()
    )  # fmt: skip
    notes += [f"{film.file}: {note}" for film in films.values() for note in film.notes]
    holes = _holes(job, films, notes)
    reading = tuple(f"{one.file}: {one.role}, by {one.why}" for one in job.layers if one.role not in ("other", "bill"))
    board = BoardInput(path.resolve().stem or path.name, made, holes, _outline(job, notes), reading, tuple(notes))
    return ReadBoard(board, films)


def _first(job: Job, role: str) -> JobLayer | None:
    return next((one for one in job.layers if one.role == role), None)


def _mask(job: Job, side: Side, notes: list[str]) -> PadColumns | None:
    one = _first(job, f"mask-{side}")
    if one is None:
        return None
    try:
        pads = Openings.of(one.layer.pads)
    except LandwiseError as error:
        notes.append(f"mask-{side} is left out: {error}")
        return None
    return pads if len(pads) else None


def _copper(job: Job, side: Side, notes: list[str]) -> PadColumns | None:
    """Copper with its flashes kept apart: merged with tracks and planes they would no longer tell the lands."""
    one = _first(job, f"copper-{side}")
    if one is None:
        return None
    pads: Openings
    try:
        pads = read_film(one.data, one.file, merge=False).pads
    except LandwiseError:
        try:
            pads = Openings.of(one.layer.pads)
        except LandwiseError as error:
            notes.append(f"copper-{side} is left out: {error}")
            return None
    return pads if len(pads) else None


def _outline(job: Job, notes: list[str]) -> Any:
    """The board's area: the largest closed line of the outline, filled."""
    import shapely

    one = _first(job, "outline")
    if one is None:
        return None
    try:
        shapes = one.layer.pads.polygon
    except LandwiseError as error:
        notes.append(f"the outline is left out: {error}")
        return None
    parts = (
        [part for part in shapely.get_parts(shapely.union_all(shapes)) if len(part.interiors)] if len(shapes) else []
    )
    if not parts:
        notes.append("the outline holds no closed line")
        return None
    return shapely.Polygon(max(parts, key=lambda part: part.convex_hull.area).exterior)


def _placements(job: Job, notes: list[str]) -> list[Listed]:
    found: list[Listed] = []
    for one in job.layers:
        if one.role != "placement":
            continue
        try:
            read = one.layer
        except LandwiseError as error:
            notes.append(f"placement file is left out: {error}")
            continue
        if not isinstance(read, Placements):
            continue
        name = one.file.lower()
        below = "bot" in name or name.endswith(".mnb")
        for place in read.by_reference.values():
            side: Side = "bottom" if below or place.side == "bottom" else "top"
            found.append((side, (place.reference, place.x_mm, place.y_mm, place.rotation_deg, place.package)))
    return found


def _holes(job: Job, films: Mapping[Side, Layer], notes: list[str]) -> Hole | None:
    """Holes of all drill files; a file whose holes lie beside the paste is left out, its format misread."""
    pads = [film.pads for film in films.values() if len(film.pads)]
    x = np.concatenate([one.x_mm for one in pads])
    y = np.concatenate([one.y_mm for one in pads])
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
        air = 0.3 * max(float(np.ptp(x)), float(np.ptp(y)), 20.0)
        inside = (np.abs(holes.x_mm - (x.min() + x.max()) / 2) < np.ptp(x) / 2 + air) & (
            np.abs(holes.y_mm - (y.min() + y.max()) / 2) < np.ptp(y) / 2 + air
        )
        if inside.mean() < 0.8:
            notes.append(f"{one.file} is left out: its holes do not lie where the paste does")
            continue
        rows.append(np.column_stack([holes.x_mm, holes.y_mm, holes.width_mm]))
    if not rows:
        return None
    table = np.concatenate(rows)
    return Hole(table[:, 0], table[:, 1], table[:, 2])
