"""From a folder or zip of fabrication files to the board a review is made of."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from landwise.errors import InputError, LandwiseError
from landwise.fabdata.gerber import Layer, Pads
from landwise.fabdata.layers import Job, JobLayer, open_job
from landwise.review.building import openings
from landwise.review.copies import Copies
from landwise.review.joblayers import Place, apart, first, outline_of, placements_of
from landwise.review.model import Array, BoardInput, Bools, Floats, Hole, Ints, Openings, PadColumns, Side, SideInput
from landwise.review.pastefilms import paste_films, too_many
from landwise.review.repeats import cell_of, copper_image, said, within
from landwise.review.seating import moved, seat_of, seated_share

INVERTED_SHARE = 0.4  # of a film: one shape that fills more of it is what lies between the openings
MISNAMED_SHARE = 0.9  # of the openings on the other side's copper or mask: a film of that side, told by a wrong name
STRANGE_SHARE = 0.3  # of the openings on copper or mask: fewer, and the films are not of one board
FILLED = 0.6  # strokes that fill less of their hull are a drawing or a letter, not a painted pad
MOST_OPENINGS = 200_000  # some 2 GB, with copper and mask
NO_END = "the file has no end mark (M02)"


@dataclass(frozen=True)
class Film:
    """A paste layer as read, and which of its rows are openings: `rows[k]` is the layer's row of opening `k`.

    `copies` are those of a film that draws its board again and again, `others` the copper and mask of its image.
    """

    layer: Layer
    rows: tuple[int, ...]
    pads: Openings
    array: Array | None = None
    copies: Copies | None = None
    others: Mapping[str, Pads] = field(default_factory=dict)


@dataclass(frozen=True)
class ReadBoard:
    """A board as read: for the review, and its paste films, to be written again."""

    board: BoardInput
    films: Mapping[Side, Film]


def read_board(
    path: Path, overrides: Mapping[str, str], most_openings: int = MOST_OPENINGS, *, once: bool = True
) -> ReadBoard:
    """Read a folder or zip.

    Layers other than paste help where they can be read; one that can't is left out with a note, because a
    stencil can be judged without it.

    Parameters
    ----------
    path : Path
    overrides : mapping of role to file name
        Outranks what is recognised.
    most_openings : int
        Of one paste film; a board takes some 10 kB of memory an opening.
    once : bool
        Whether a film that draws one board again and again is read as one image; see `copies`.

    Raises
    ------
    LandwiseError
        For paste that can't be read or isn't there.
    """
    job = open_job(path, overrides)
    notes = list(job.notes)
    films: dict[Side, Film] = {}
    placed = placements_of(job, notes)
    for side, found in paste_films(job, placed, once=once, most=most_openings).items():
        films[side] = replace(
            film_of(found.layer, notes, found.array, found.inside), copies=found.copies, others=found.others
        )
    for film in films.values():
        if len(film.pads) > most_openings:
            raise too_many(film.layer.file, len(film.pads), most_openings)
    if not any(len(film.pads) for film in films.values()):
        raise InputError(
            "no paste layer with openings",
            file=path.name or str(path),
            found=", ".join(f"{one.file} ({one.role})" for one in job.layers[:8]),
            expected="a paste layer; name it with --layer paste-top=FILE",
        )
    arrayed = next((film for film in films.values() if film.array is not None and len(film.pads)), None)
    outline = outline_of(job, notes, None if arrayed is None else arrayed.pads)
    made = tuple(_side_input(job, side, films, placed, notes) for side in tuple(films))
    notes += [f"{film.layer.file}: {note}" for film in films.values() for note in film.layer.notes]
    reading = tuple(f"{one.file}: {one.role}, {one.why}" for one in job.layers if one.role not in ("other", "bill"))
    board = BoardInput(path.resolve().stem or path.name, made, None, outline, reading, tuple(dict.fromkeys(notes)))
    return ReadBoard(board, films)


def _side_input(
    job: Job, side: Side, films: dict[Side, Film], placed: list[tuple[Side, Place]], notes: list[str]
) -> SideInput:
    """One side's layers, the paste laid on copper and mask where it lies elsewhere."""
    film = films[side]
    array = film.array
    copper = _pads(job, f"copper-{side}", notes, film)
    mask = _mask(_pads(job, f"mask-{side}", notes, film), job, side, notes)
    seat = seat_of(film.pads, copper, mask)
    pads, says = film.pads, ""
    others = [one for one in (copper, mask) if one is not None]
    if not others and len(film.pads):
        _other_side(job, side, film, notes)
    if seat is not None:
        pads, says = moved(film.pads, seat), seat.says
        notes.append(
            f"{film.layer.file}: {seat.says}; judged as if it lay on them ({100 * seat.share:.0f} % of it then does)"
        )
    elif others and len(film.pads) and seated_share(film.pads, others) < STRANGE_SHARE:
        share = seated_share(film.pads, others)
        notes.append(
            f"{film.layer.file}: only {100 * share:.0f} % of its openings lie on the copper or mask of this side,"
            " however they are turned: the films are of different boards or revisions; judged by itself"
        )
        copper = mask = None
    elif mask is not None:
        film = without_labels(film, mask, copper, notes)
        films[side] = film
        pads = film.pads
    if array is not None and film.copies is None and len(pads):
        cell = cell_of(pads.polygon, array)
        copper, mask = _clipped(copper, cell), _clipped(mask, cell)
    holes = _holes(job, side, [film.pads], notes, array)
    here = tuple(place for its, place in placed if its == side)
    came = first(job, f"paste-{side}")
    total = hashlib.sha256(came.data).hexdigest() if came is not None else ""
    return SideInput(side, pads, copper, mask, here, holes, says, array, film.layer.file, total)


def _other_side(job: Job, side: Side, film: Film, notes: list[str]) -> None:
    """Say it where a film whose side has no other layers lies on those of the other side."""
    other: Side = "bottom" if side == "top" else "top"
    layers = [one for one in (_pads(job, f"{what}-{other}", []) for what in ("copper", "mask")) if one is not None]
    if layers and seated_share(film.pads, layers) >= MISNAMED_SHARE:
        notes.append(
            f"{film.layer.file}: named a film of the {side}, for which no copper or mask is here, but it lies on those"
            f" of the {other}; if it is the {other}'s, give --layer paste-{other}={film.layer.file}"
        )


def _clipped(pads: PadColumns | None, cell: Floats) -> PadColumns | None:
    """One image's shapes of a film that holds all copies."""
    if pads is None or not len(pads.polygon):
        return pads
    kept = within(pads.x_mm, pads.y_mm, cell)
    its = Openings.of(pads)
    return Openings(**{name: getattr(its, name)[kept] for name in its.__dataclass_fields__})


def without_labels(film: Film, mask: PadColumns, copper: PadColumns | None, notes: list[str]) -> Film:
    """Without strokes and drawn shapes that lie on neither mask opening nor copper: words and marks on the film."""
    import shapely

    drawn = np.flatnonzero(film.pads.kind != "flash")
    if not len(drawn):
        return film
    over = np.zeros(len(film.pads), dtype=bool)
    over[film.pads.kind == "flash"] = True
    for other in (mask, copper):
        if other is not None and len(other.polygon):
            hit, _ = shapely.STRtree(other.polygon).query(film.pads.polygon[drawn], predicate="intersects")
            over[drawn[hit]] = True
    if over.all():
        return film
    rows = tuple(row for row, kept in zip(film.rows, over.tolist(), strict=True) if kept)
    notes.append(
        f"{film.layer.file}: {int((~over).sum())} drawn shapes lie on neither copper nor mask: taken as a label"
    )
    return replace(film, rows=rows, pads=_openings(film.layer.pads, np.array(rows, dtype=np.int64)))


def _mask(pads: PadColumns | None, job: Job, side: Side, notes: list[str]) -> PadColumns | None:
    """A mask film as openings: one that draws the mask itself is turned over."""
    import shapely

    if pads is None or not len(pads.polygon):
        return pads
    box = shapely.total_bounds(pads.polygon)
    whole = (box[2] - box[0]) * (box[3] - box[1])
    if pads.area_mm2.max() < INVERTED_SHARE * whole or whole < 4:
        return pads
    shape = shapely.union_all(pads.polygon)
    holes = [shapely.Polygon(ring) for part in shapely.get_parts(shape) for ring in part.interiors]
    if len(holes) < 2:
        return pads
    one = first(job, f"mask-{side}")
    notes.append(f"{one.file if one else 'mask'}: draws the mask itself; its {len(holes)} gaps are taken as openings")
    return openings(holes)


def film_of(layer: Layer, notes: list[str], array: Array | None = None, inside: Bools | None = None) -> Film:
    """A paste layer's openings; strokes that only draw an outline or a letter are left out, with a note.

    `array` and `inside` are of a film that repeats one image: rows outside of it are the panel's rim.
    """
    pads = layer.pads
    if layer.attributes.get(".FilePolarity", ("",))[0].lower() == "negative":
        raise InputError(
            "a negative paste film", file=layer.file, found="FilePolarity Negative", expected="openings drawn, Positive"
        )
    if NO_END in layer.notes:
        raise InputError(
            "the paste film may be cut short",
            file=layer.file,
            found="no end mark",
            expected="M02 as its last statement",
        )
    _not_inverted(pads, layer.file)
    drawn = _drawing(pads)
    if drawn.any():
        notes.append(f"{layer.file}: strokes that fill no pad left out, {int(drawn.sum())} drawn outlines or letters")
    kept = ~drawn if inside is None else ~drawn & inside
    if array is not None and inside is not None:
        notes.append(f"{layer.file}: {said(array, int((~drawn & ~inside).sum()), drawn=layer.copied)}")
    rows = np.flatnonzero(kept)
    return Film(layer, tuple(int(row) for row in rows), _openings(pads, rows), array)


def _not_inverted(pads: Pads, file: str) -> None:
    import shapely

    if len(pads) == 0:
        return
    box = shapely.total_bounds(pads.polygon)
    whole = (box[2] - box[0]) * (box[3] - box[1])
    widest = int(np.argmax(pads.area_mm2))
    if whole > 100 and pads.area_mm2[widest] > INVERTED_SHARE * whole and len(pads.polygon[widest].interiors) > 3:
        raise InputError(
            "a negative paste film",
            file=file,
            place=f"line {int(pads.line[widest])}",
            found=f"one shape over {100 * (pads.area_mm2[widest] / whole):.0f} % of the film, with gaps",
            expected="openings drawn, not the foil between them",
        )


def _drawing(pads: Pads) -> Bools:
    import shapely

    found: Bools = pads.stroked.copy()
    rows = np.flatnonzero(found)
    hull = np.asarray(shapely.area(shapely.convex_hull(pads.polygon[rows])), dtype=np.float64)
    found[rows] = pads.area_mm2[rows] < FILLED * np.maximum(hull, 1e-12)
    return found


def _openings(pads: Pads, rows: Bools | Ints) -> Openings:
    how = np.where(pads.code < 0, "region", np.where(pads.stroked, "stroke", "flash")).astype(object)
    its = Openings.of(pads)
    columns = {name: getattr(its, name)[rows] for name in its.__dataclass_fields__ if name != "kind"}
    return Openings(kind=how[rows], **columns)


def _pads(job: Job, role: str, notes: list[str], film: Film | None = None) -> PadColumns | None:
    one = first(job, role)
    if one is None:
        return None
    try:
        if film is not None and role in film.others:
            pads = film.others[role]
        else:
            pads = apart(one) if film is None or film.array is None else copper_image(one, film.array).pads
    except LandwiseError as error:
        notes.append(f"{role} is left out: {error}")
        return None
    return _openings(pads, np.arange(len(pads))) if len(pads) else None


def _holes(job: Job, side: Side, films: list[Openings], notes: list[str], array: Array | None = None) -> Hole | None:
    """Holes of all drill files that reach a side; a file whose holes lie beside the paste is left out, misread."""
    pads = [one for one in films if len(one)]
    if not pads:
        return None
    x, y = _reach(pads, array)
    air = 0.3 * max(float(np.ptp(x)), float(np.ptp(y)), 20.0)
    rows = []
    spans = {one.file: span_of(one) for one in job.layers if one.role == "drill"}
    deepest = max((span[1] for span in spans.values() if span), default=0)
    for one in job.layers:
        if one.role != "drill":
            continue
        span = spans[one.file]
        if span is not None and deepest > 2 and not (span[0] == 1 if side == "top" else span[1] == deepest):
            notes.append(f"{one.file}: layers {span[0]} to {span[1]}, does not reach the {side}")
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


def _reach(pads: list[Openings], array: Array | None) -> tuple[Floats, Floats]:
    """Where openings lie, the farthest copy of a panel's image included. [mm]"""
    x = np.concatenate([one.x_mm for one in pads])
    y = np.concatenate([one.y_mm for one in pads])
    if array is not None:
        x = np.append(x, x.max() + (array.columns - 1) * array.pitch_x_mm)
        y = np.append(y, y.max() + (array.rows - 1) * array.pitch_y_mm)
    return x, y


_SPAN = re.compile(rb"TF\.FileFunction,(?:Non)?Plated,(\d{1,2}),(\d{1,2})", re.I)
_SPAN_NAME = re.compile(r"(?:^|[^a-z0-9])l?(\d{1,2})[-_ ]?(?:to|-|_|:)[-_ ]?l?(\d{1,2})(?:[^0-9]|$)", re.I)


def span_of(one: JobLayer) -> tuple[int, int] | None:
    """The layers that a drill file's holes join, by its attribute or, for numbers of layers, its name.

    >>> span_of(JobLayer("board-L1-L2.drl", "drill", "name"))
    (1, 2)
    >>> span_of(JobLayer("board.drl", "drill", "name")) is None
    True
    """
    said = _SPAN.search(one.data[:20_000])
    named = _SPAN_NAME.search(one.file.rsplit("/", 1)[-1].rsplit(".", 1)[0])
    if said:
        first, last = int(said[1]), int(said[2])
    elif named:
        first, last = int(named[1]), int(named[2])
    else:
        return None
    return (min(first, last), max(first, last)) if 1 <= min(first, last) < max(first, last) <= 64 else None
