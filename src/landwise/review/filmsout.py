"""The corrected paste layers and step zones of a review, as files."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace

from landwise.fabdata.gerber import edited, write_gerber
from landwise.review.jobs import Film, ReadBoard
from landwise.review.model import Change
from landwise.review.outfilm import corrected, name_of
from landwise.review.reviews import Review, SideReview, expected_again
from landwise.version import __version__


def writable(result: Review, read: ReadBoard) -> Review:
    """The review without changes that its film can't carry alone.

    Those are of apertures that a repeat or a block made, or that share their strokes with ones that stay. They
    are named in the notes instead, so that nothing is listed as written that is not.
    """
    sides, notes = [], list(result.notes)
    for side in result.sides:
        kept = _alone(read.films[side.side], side.written)
        if len(kept) < len(side.written):
            notes.append(
                f"{side.side}: {len(side.written) - len(kept)} apertures stand in a step and repeat or block, or share "
                "their strokes with others, and are left as they were"
            )
            side = replace(
                side,
                written=kept,
                after=corrected(side.given.paste, kept),
                expected=expected_again(side, kept, result),
            )
        sides.append(side)
    return replace(result, sides=tuple(sides), notes=tuple(notes))


def _alone(film: Film, changes: tuple[Change, ...]) -> tuple[Change, ...]:
    users: dict[int, set[int]] = {}
    statements = film.layer.pads.statements
    for opening, row in enumerate(film.rows):
        for number in statements[row] or ():
            users.setdefault(number, set()).add(opening)
    changed = {change.aperture for change in changes if change.aperture >= 0}

    def alone(change: Change) -> bool:
        if change.aperture < 0:
            return True
        own = statements[film.rows[change.aperture]]
        return own is not None and not any(users[number] - changed for number in own)

    stuck = {(change.proposal, change.unit) for change in changes if not alone(change)}
    return tuple(change for change in changes if (change.proposal, change.unit) not in stuck)


def films(result: Review, read: ReadBoard) -> Mapping[str, bytes]:
    """File name to content: `paste-SIDE.gbr`, in the origin and unit of the input, and `step-SIDE.gbr` for a step.

    A paste layer is written for a side with changes to write; untouched apertures stay byte for byte, and comments at
    its head say that it was changed, by what, and from which file. Changes must have passed `writable`.
    """
    found: dict[str, bytes] = {}
    for side in result.sides:
        film = read.films[side.side]
        if side.written:
            rows = [film.rows[change.aperture] for change in side.written if change.aperture >= 0]
            shapes = [shape for change in side.written for shape in change.after]
            names = [name_of(side.given.paste, change) for change in side.written for _ in change.after]
            at = ((0.0, 0.0),) if film.copies is None else tuple(map(tuple, film.copies.at_mm.tolist()))
            found[f"paste-{side.side}.gbr"] = edited(
                film.layer, rows, shapes, names, head=head_of(side, film), places=at
            )
        if side.choice.step is not None:
            step = side.choice.step
            what = f"Step zones {side.side}; foil {step.thin_um:g} um within"
            found[f"step-{side.side}.gbr"] = write_gerber(list(step.zones), {".FileFunction": ("Other", what)})
    return found


def head_of(side: SideReview, film: Film) -> tuple[str, ...]:
    """The comments at the head of a corrected layer."""
    rules = sorted({side.proposals[change.proposal].rule for change in side.written})
    return (
        f"Changed by landwise {__version__}: {len(side.written)} openings; every other one as it came",
        f"From {film.layer.file}, {len(film.layer.data)} bytes, sha256 {hashlib.sha256(film.layer.data).hexdigest()}",
        f"For a foil of {side.choice.best_um:g} um; rules {' '.join(rules)}; each change stands in changes.csv",
    )
