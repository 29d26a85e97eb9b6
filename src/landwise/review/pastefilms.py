"""The paste films of a job as they are reviewed: a panel as one image, whether its copies are stated or drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from landwise.errors import InputError, LandwiseError
from landwise.fabdata.gerber import Drawn, Layer, Pads, read_gerber
from landwise.fabdata.layers import Job, JobLayer
from landwise.review.copies import Copies, copies_of, within_image
from landwise.review.joblayers import Place, closed_lines, first
from landwise.review.model import SIDES, Array, Bools, Side
from landwise.review.repeats import REPEAT, images

PLACED_OVER = 1.5  # of a pitch: parts placed over more of it are not those of one board
FLASHES = 2  # of one opening, where flashes overlap: more is hardly ever drawn
ABOUT_ONE = 1.5  # of a pitch: a wider edge goes about several images


@dataclass(frozen=True)
class Paste:
    """A paste film as it is reviewed: all of it, or one image and the rim of a panel.

    `inside` tells which rows are of the image, `others` holds the image's copper and mask by role.
    """

    layer: Layer
    array: Array | None = None
    inside: Bools | None = None
    copies: Copies | None = None
    others: Mapping[str, Pads] = field(default_factory=dict)


def too_many(file: str, found: int, most: int) -> InputError:
    """Why a film with more openings than there is room for is refused."""
    return InputError(
        "more openings than the review was given room for",
        file=file,
        found=str(found),
        expected=f"at most {most}; --most-openings raises it, at some 10 kB of memory each",
    )


def paste_films(
    job: Job, placed: Sequence[tuple[Side, Place]], *, once: bool = True, most: int | None = None
) -> Mapping[Side, Paste]:
    """The paste films of both sides, those of panels as one image.

    Copies that are drawn one by one are taken for boards where both sides have as many, copper and mask come again
    with them, the placement file names the parts of one, and the outline, where it has closed lines, goes about one.

    Raises
    ------
    LandwiseError
        For a paste film that can't be read, or that flashes more than `FLASHES` times as often as `most` openings and
        is of no panel: before any outline is made, for they are what takes the memory.
    """
    found: dict[Side, Paste] = {}
    for side in SIDES:
        one = first(job, f"paste-{side}")
        if one is None:
            continue
        stated = REPEAT in one.data
        found[side] = Paste(*images(one)) if stated or not once else _drawn(one, side, job, most)
    panels = [one for one in found.values() if len(one.layer.pads)]
    boards = {one.array.boards if one.array is not None else 1 for one in panels}
    for side, its in tuple(found.items()):
        if its.copies is not None and (len(boards) > 1 or not _one_board(job, side, its, placed)):
            found[side] = Paste(_layer(job, f"paste-{side}"))
    return found


def _layer(job: Job, role: str) -> Layer:
    one = first(job, role)
    assert one is not None
    return read_gerber(one.data, one.file)


def _one_board(job: Job, side: Side, paste: Paste, placed: Sequence[tuple[Side, Place]]) -> bool:
    """Whether placements and outline, where there are any, are those of one image."""
    array = paste.array
    assert array is not None
    assert paste.inside is not None
    spots = [(place[1], place[2]) for its, place in placed if its == side]
    for axis, (count, pitch) in enumerate(((array.columns, array.pitch_x_mm), (array.rows, array.pitch_y_mm))):
        at = [spot[axis] for spot in spots]
        if count > 1 and at and max(at) - min(at) > PLACED_OVER * pitch:
            return False
    import shapely

    image = shapely.box(*shapely.total_bounds(paste.layer.pads.polygon[paste.inside]))
    try:
        edges = closed_lines(job, image)
        if not len(edges):
            return not len(closed_lines(job))
    except LandwiseError:
        return True  # the reader of outlines says it
    about = [one.bounds for one in edges if one.envelope.contains(image)]
    return any(
        (array.columns == 1 or box[2] - box[0] < ABOUT_ONE * array.pitch_x_mm)
        and (array.rows == 1 or box[3] - box[1] < ABOUT_ONE * array.pitch_y_mm)
        for box in about
    )


def _drawn(paste: JobLayer, side: Side, job: Job, most: int | None) -> Paste:
    """One image of a film that draws its board again and again; all of it where it doesn't, or copper or mask don't."""
    held: list[tuple[Copies, set[int]]] = []

    def pick(objects: Sequence[Drawn]) -> Sequence[Drawn]:
        found = copies_of(objects)
        if found is None:
            flashes = sum(one.flash and one.dark for one in objects)
            if most is not None and flashes > FLASHES * most:
                raise too_many(paste.file, flashes, most)
            return objects
        copies, image, rest = found
        held.append((copies, {number for one in image for number in one.statements[:1]}))
        return [*image, *rest]

    layer = read_gerber(paste.data, paste.file, pick=pick)
    if not held:
        return Paste(layer)
    copies, starts = held[0]
    inside = np.array([bool(starts & set(its or ())) for its in layer.pads.statements], dtype=bool)
    others: dict[str, Pads] = {}
    for role in (f"copper-{side}", f"mask-{side}"):
        one = first(job, role)
        its = None if one is None else _image_of(one, copies)
        if its is not None:
            others[role] = its
        elif one is not None:
            return Paste(read_gerber(paste.data, paste.file))
    return Paste(layer, copies.array, inside, copies, others)


def _image_of(one: JobLayer, copies: Copies) -> Pads | None:
    """A copper or mask film within the image's cell; None where its copies are not alike."""
    alike = True

    def pick(objects: Sequence[Drawn]) -> Sequence[Drawn]:
        nonlocal alike
        found = within_image(objects, copies)
        alike = found is not None
        return found or ()

    try:
        pads = read_gerber(one.data, one.file, merge=False, pick=pick).pads
    except LandwiseError:
        return None
    return pads if alike else None
