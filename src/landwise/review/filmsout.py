"""The corrected paste films and step zones of a review, as files."""

from __future__ import annotations

from collections.abc import Mapping

from landwise.review.filmread import rewritten, zones_film
from landwise.review.jobs import ReadBoard
from landwise.review.reviews import Review


def films(result: Review, read: ReadBoard) -> tuple[Mapping[str, bytes], tuple[str, ...]]:
    """File name to content, and notes on changes that could not be written.

    A changed side becomes `paste-SIDE.gbr`; one without changes is handed on as it came. A step becomes
    `step-SIDE.gbr`.
    """
    found: dict[str, bytes] = {}
    notes = []
    for side in result.sides:
        film = read.films[side.side]
        changes = {change.aperture: change.after for change in side.changes}
        data, left = rewritten(film, changes, side.side) if changes else (film.text.encode("latin-1"), [])
        found[f"paste-{side.side}.gbr"] = data
        if left:
            rows = ", ".join(str(row) for row in left[:8])
            notes.append(f"{side.side}: apertures {rows} stand in a step and repeat and are left as they were")
        if side.choice.step is not None:
            found[f"step-{side.side}.gbr"] = zones_film(side.choice.step.zones, side.side, side.choice.step.thin_um)
    return found, tuple(notes)
