"""What a kind of part is called: its package where a file names it, else what its lands look like."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from landwise.review.frames import Frames
from landwise.review.model import Component, Ints


def packages_of(parts: Sequence[Component], where: Frames) -> tuple[tuple[str, ...], Ints]:
    """The words and the number of each part's package; parts of one number have one land pattern.

    Examples
    --------
    >>> from landwise.review.frames import Frames
    >>> part = Component("R1", "chip", (0, 1), (), None, 0.0, 0.0, "placement", "R_0402")
    >>> blank = np.zeros(1)
    >>> packages_of([part], Frames(blank, blank.astype(np.uint64), blank, blank, blank))[0]
    ('R_0402',)
    """
    if not parts:
        return (), np.zeros(0, dtype=np.int64)
    number = np.unique(where.key, return_inverse=True)[1].astype(np.int64)
    named: dict[int, Counter[str]] = {}
    for part, its in zip(parts, number.tolist(), strict=True):
        if part.package:
            named.setdefault(its, Counter())[part.package] += 1
    words = []
    for part, its in zip(parts, number.tolist(), strict=True):
        if its in named:
            words.append(part.package or named[its].most_common(1)[0][0])
        else:
            words.append(looks(part))
    return tuple(words), number


def looks(part: Component) -> str:
    """A part by its lands.

    >>> looks(Component("t1", "gull-wing dual", tuple(range(14)), (), 0.65, 0.0, 0.0, "geometry"))
    'gull-wing dual, 14 lands at 0.65 mm'
    """
    outer = len(part.lands) - len(part.centre)
    text = f"{part.kind}, {outer} lands" if outer != 1 else f"{part.kind} land"
    if part.pitch_mm:
        text += f" at {part.pitch_mm:.2f} mm"
    return text + (" and a centre pad" if part.centre else "")
