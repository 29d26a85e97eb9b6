"""The layer after its changes, as openings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from landwise.review.model import Change, Openings


def corrected(paste: Openings, changes: Sequence[Change]) -> Openings:
    """The layer after the changes: untouched apertures first in file order, then the new outlines."""
    from landwise.review.building import openings

    gone = np.zeros(len(paste), dtype=bool)
    gone[[change.aperture for change in changes if change.aperture >= 0]] = True
    kept = {name: getattr(paste, name)[~gone] for name in Openings.__dataclass_fields__}
    shapes = [shape for change in changes for shape in change.after]
    names = [name_of(paste, change) for change in changes for _ in change.after]
    pins = [str(paste.pin[c.aperture]) if c.aperture >= 0 else "" for c in changes for _ in c.after]
    new = openings(shapes, names, pins)
    return Openings(**{name: np.concatenate([kept[name], getattr(new, name)]) for name in kept})


def name_of(paste: Openings, change: Change) -> str:
    """The component that the film names for a changed opening; nothing for a new one where the film names none."""
    if change.aperture >= 0:
        return str(paste.component[change.aperture])
    return change.component if len(paste) and bool((paste.component != "").any()) else ""
