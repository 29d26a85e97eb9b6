"""The corrected paste layers and step zones of a review, as files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from landwise.fabdata.gerber import edited, write_gerber
from landwise.review.jobs import ReadBoard
from landwise.review.reviews import Review, SideReview


def writable(result: Review, read: ReadBoard) -> Review:
    """The review without changes that no film can carry alone: apertures that a repeat or a block made.

    They are named in the notes instead, so that nothing is listed as changed that is not.
    """
    sides, notes = [], list(result.notes)
    for side in result.sides:
        statements = read.films[side.side].pads.statements
        kept = tuple(change for change in side.changes if statements[change.aperture] is not None)
        if len(kept) < len(side.changes):
            notes.append(
                f"{side.side}: {len(side.changes) - len(kept)} apertures stand in a step and repeat or block and are "
                "left as they were"
            )
            side = _judged_again(side, kept)
        sides.append(side)
    return replace(result, sides=tuple(sides), notes=tuple(notes))


def _judged_again(side: SideReview, kept: tuple) -> SideReview:  # type: ignore[type-arg]
    from landwise.review.corrections import corrected
    from landwise.review.reviews import after_of

    after = corrected(side.given.paste, kept)
    return replace(side, changes=kept, after=after, after_row=after_of(side.given, after))


def films(result: Review, read: ReadBoard) -> Mapping[str, bytes]:
    """File name to content: `paste-SIDE.gbr`, in the origin and unit of the input, and `step-SIDE.gbr` for a step.

    Untouched apertures stay byte for byte; a side without changes is handed on as it came.
    """
    found: dict[str, bytes] = {}
    for side in result.sides:
        layer = read.films[side.side]
        rows = [change.aperture for change in side.changes]
        shapes = [shape for change in side.changes for shape in change.after]
        names = [str(side.given.paste.component[change.aperture]) for change in side.changes for _ in change.after]
        found[f"paste-{side.side}.gbr"] = edited(layer, rows, shapes, names) if rows else layer.data
        if side.choice.step is not None:
            attributes = {".FileFunction": ("Other", f"Step zones {side.side}")}
            found[f"step-{side.side}.gbr"] = write_gerber(side.choice.step.zones, attributes)
    return found
