"""The corrected paste layers and step zones of a review, as files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from landwise.fabdata.gerber import edited, write_gerber
from landwise.review.corrections import corrected
from landwise.review.jobs import Film, ReadBoard
from landwise.review.model import Change
from landwise.review.reviews import Review, SideReview, after_of


def writable(result: Review, read: ReadBoard) -> Review:
    """The review without changes that its film can't carry alone.

    Those are of apertures that a repeat or a block made, or that share their strokes with ones that stay. They
    are named in the notes instead, so that nothing is listed as changed that is not.
    """
    sides, notes = [], list(result.notes)
    for side in result.sides:
        kept = _alone(read.films[side.side], side.changes)
        if len(kept) < len(side.changes):
            notes.append(
                f"{side.side}: {len(side.changes) - len(kept)} apertures stand in a step and repeat or block, or share "
                "their strokes with others, and are left as they were"
            )
            side = _judged_again(side, kept)
        sides.append(side)
    return replace(result, sides=tuple(sides), notes=tuple(notes))


def _alone(film: Film, changes: tuple[Change, ...]) -> tuple[Change, ...]:
    users: dict[int, set[int]] = {}
    statements = film.layer.pads.statements
    for opening, row in enumerate(film.rows):
        for number in statements[row] or ():
            users.setdefault(number, set()).add(opening)
    changed = {change.aperture for change in changes}
    return tuple(
        change
        for change in changes
        if (own := statements[film.rows[change.aperture]]) is not None
        and not any(users[number] - changed for number in own)
    )


def _judged_again(side: SideReview, kept: tuple[Change, ...]) -> SideReview:
    after = corrected(side.given.paste, kept)
    return replace(side, changes=kept, after=after, after_row=after_of(side.given, after))


def films(result: Review, read: ReadBoard) -> Mapping[str, bytes]:
    """File name to content: `paste-SIDE.gbr`, in the origin and unit of the input, and `step-SIDE.gbr` for a step.

    Untouched apertures stay byte for byte; a side without changes is handed on as it came. Changes must have
    passed `writable`.
    """
    found: dict[str, bytes] = {}
    for side in result.sides:
        film = read.films[side.side]
        rows = [film.rows[change.aperture] for change in side.changes]
        shapes = [shape for change in side.changes for shape in change.after]
        names = [str(side.given.paste.component[change.aperture]) for change in side.changes for _ in change.after]
        found[f"paste-{side.side}.gbr"] = edited(film.layer, rows, shapes, names) if rows else film.layer.data
        if side.choice.step is not None:
            step = side.choice.step
            what = f"Step zones {side.side}; foil {step.thin_um:g} um within"
            found[f"step-{side.side}.gbr"] = write_gerber(list(step.zones), {".FileFunction": ("Other", what)})
    return found
