"""What must not happen in a picture: texts over texts, lines through texts."""

from __future__ import annotations

import numpy as np

from landwise.sheets.svg import Area, Box, Disc, Many, Mark, Picture, Text


def texts_clash(picture: Picture, slack: float = 0.05) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes overlap by more than `slack` [mm] both ways. Empty when all is well."""
    found = []
    placed = [(text.text, text.box) for text in picture.texts if text.text.strip()]
    for at, (one, a) in enumerate(placed):
        for other, b in placed[at + 1 :]:
            if min(a[2], b[2]) - max(a[0], b[0]) > slack and min(a[3], b[3]) - max(a[1], b[1]) > slack:
                found.append((one, other))
    return found


def lines_through_texts(picture: Picture, slack: float = 0.3) -> list[str]:
    """Texts that a drawn line runs through, their boxes shrunk by `slack` [mm]. Empty when all is well.

    Lines that an opaque disc or rectangle hides below the text don't count.
    """
    ends = [
        (run[at][0], run[at][1], run[at + 1][0], run[at + 1][1], order)
        for order, mark in enumerate(picture.marks)
        if isinstance(mark, Area) and mark.stroke is not None
        for run in ((*one, one[0]) if mark.closed else one for one in mark.runs)
        for at in range(len(run) - 1)
    ]
    if not ends:
        return []
    x1, y1, x2, y2, drawn = np.array(ends).T
    covers = [(at, mark) for at, mark in enumerate(picture.marks) if _is_opaque(mark)]
    found = []
    for order, text in enumerate(picture.marks):
        if not isinstance(text, Text):
            continue
        box = left, top, right, bottom = text.box
        covered = max((at for at, mark in covers if at < order and _covers(mark, box)), default=-1)
        # Liang and Barsky: the stretch of each line, from 0 to 1, that lies within the box.
        enter, leave = np.zeros_like(x1), np.ones_like(x1)
        for start, step, low, high in (
            (x1, x2 - x1, left + slack, right - slack),
            (y1, y2 - y1, top + slack, bottom - slack),
        ):
            with np.errstate(divide="ignore", invalid="ignore"):
                one, other = (low - start) / step, (high - start) / step
            still, within = np.abs(step) < 1e-12, (start > low) & (start < high)
            first = np.where(still, np.where(within, -np.inf, np.inf), np.minimum(one, other))
            last = np.where(still, np.where(within, np.inf, -np.inf), np.maximum(one, other))
            enter, leave = np.maximum(enter, first), np.minimum(leave, last)
        if bool(((enter < leave) & (drawn > covered)).any()):
            found.append(text.text)
    return found


def _is_opaque(mark: Mark) -> bool:
    """Whether a mark is a disc or rectangle that hides what lies below it."""
    if isinstance(mark, Text | Many) or not mark.fill or "/" in mark.fill or mark.opacity < 1:
        return False
    return isinstance(mark, Disc) or (len(mark.runs) == 1 and len(mark.runs[0]) == 4)


def _covers(mark: Mark, box: Box) -> bool:
    """Whether the box lies wholly within an opaque mark."""
    if isinstance(mark, Disc):
        far = max((x - mark.x) ** 2 + (y - mark.y) ** 2 for x in box[::2] for y in box[1::2])
        return far <= mark.radius**2
    left, top, right, bottom = mark.box
    return left <= box[0] and top <= box[1] and right >= box[2] and bottom >= box[3]
