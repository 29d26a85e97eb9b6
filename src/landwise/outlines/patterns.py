"""Where a family puts its terminals and how it numbers them: geometry from the pattern, never typed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from landwise.errors import InputError
from landwise.outlines.model import GRIDS, SIDES, Outline, Range, Terminal

OUTWARD_DEG: Mapping[str, float] = {"left": 180.0, "bottom": 270.0, "right": 0.0, "top": 90.0}
# JEDEC row letters leave out those that look like digits or like each other.
ROW_LETTERS = "ABCDEFGHJKLMNPRTUVWY"


def occupancy(outline: Outline) -> dict[str, str]:
    """Which places of each side hold a terminal, in numbering order.

    Raises
    ------
    InputError
        If the count does not fit the family's plain pattern and no `sides` are given.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> occupancy(find("SOT-23-5"))
    {'left': '111', 'right': '101'}
    """
    if outline.sides:
        return {side: outline.sides[side] for side in SIDES if side in outline.sides}
    around = ("left", "right") if outline.family.endswith(("dual", "in-line")) else SIDES
    numbered = outline.terminals - (1 if outline.centre_terminal else 0)
    each, left_over = divmod(numbered, len(around))
    if left_over:
        raise InputError(
            "the terminals do not divide over the sides",
            place=f"outline {outline.name}, terminals",
            found=str(outline.terminals),
            expected=f"a multiple of {len(around)}, or a table `sides`",
        )
    return dict.fromkeys(around, "1" * each)


def terminals(outline: Outline) -> tuple[Terminal, ...]:
    """All terminals of an outline at nominal size, in numbering order, the exposed pad last.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> first = terminals(find("SO-14"))[0]
    >>> first.number, first.side, round(first.y_mm, 2)
    ('1', 'left', 3.81)
    """
    if outline.family in GRIDS:
        return tuple(_balls(outline))
    numbered = [*_rows(outline), *_exposed(outline)]
    return tuple(sorted(numbered, key=lambda terminal: int(terminal.number) if terminal.number != "EP" else 10**6))


def _balls(outline: Outline) -> list[Terminal]:
    across = outline.pitch_across_mm or outline.pitch_mm
    size = _required(outline, "terminal_width_mm", outline.terminal_width_mm).nom
    if not (0 < outline.rows <= len(ROW_LETTERS) and outline.columns > 0):
        raise InputError(
            "a grid needs its rows and columns",
            place=f"outline {outline.name}",
            found=f"{outline.rows} rows, {outline.columns} columns",
            expected=f"1 to {len(ROW_LETTERS)} rows and at least 1 column",
        )
    balls = []
    for row in range(outline.rows):
        for column in range(outline.columns):
            number = f"{ROW_LETTERS[row]}{column + 1}"
            if number in outline.absent:
                continue
            x = (column - (outline.columns - 1) / 2) * across
            y = ((outline.rows - 1) / 2 - row) * outline.pitch_mm
            balls.append(Terminal(number, "grid", x, y, size, size, 0.0, round=True))
    return balls


def _rows(outline: Outline) -> list[Terminal]:
    places = occupancy(outline)
    order = list(places)
    if outline.start in order:
        at = order.index(outline.start)
        order = order[at:] + order[:at]
    found: list[Terminal] = []
    number = 0
    for side in order:
        for place, taken in enumerate(places[side]):
            if taken != "1":
                continue
            number += 1
            if outline.centre_terminal == str(number):
                number += 1
            found.append(_on_side(outline, side, place, len(places[side]), str(number)))
    if "top" in places and outline.start in ("top", "top middle"):
        return _renumbered(found, _first_on_top(places["top"], outline.start))
    return found


def _first_on_top(top: str, start: str) -> int:
    """How many terminals of the top row, which runs from right to left, come after the one that is number 1.

    `top`: the long rows hold all but the end terminals; number 1 is the left one of the top. `top middle`: a
    carrier with its index in the middle of a side, as J-lead carriers have it.
    """
    count = top.count("1")
    return count - 1 if start == "top" else count // 2


def _renumbered(found: list[Terminal], before: int) -> list[Terminal]:
    first = int([terminal for terminal in found if terminal.side == "top"][before].number)
    return [replace(terminal, number=str((int(terminal.number) - first) % len(found) + 1)) for terminal in found]


def _on_side(outline: Outline, side: str, place: int, places: int, number: str) -> Terminal:
    along = ((places - 1) / 2 - place) * side_pitch(outline, side)
    length, middle = _length_and_middle(outline, side)
    width = outline.terminal_width_mm.nom
    outward = OUTWARD_DEG[side]
    # Numbers run counterclockwise: down the left, right along the bottom, up the right, left along the top.
    x, y = {
        "left": (-middle, along),
        "bottom": (-along, -middle),
        "right": (middle, -along),
        "top": (along, middle),
    }[side]
    return Terminal(number, side, x, y, length, width, outward)


def side_pitch(outline: Outline, side: str) -> float:
    """Pitch of the terminals of one side. [mm]

    >>> from landwise.outlines import find
    >>> side_pitch(find("QFN-16-3.5x4"), "left"), side_pitch(find("QFN-16-3.5x4"), "top")
    (0.5, 1.5)
    """
    return outline.end_pitch_mm if outline.end_pitch_mm and side in ("top", "bottom") else outline.pitch_mm


def _length_and_middle(outline: Outline, side: str) -> tuple[float, float]:
    """Length of a terminal on its land, and how far its middle lies from the body's. [mm]"""
    if outline.family == "dual in-line":
        spacing = _required(outline, "row_spacing_mm", outline.row_spacing_mm).nom
        thickness = _required(outline, "terminal_thickness_mm", outline.terminal_thickness_mm).nom
        return thickness, spacing / 2
    foot = _required(outline, "foot_mm", outline.foot_mm).nom
    return foot, tip_to_tip(outline, side).nom / 2 - foot / 2


def tip_to_tip(outline: Outline, side: str) -> Range:
    """Span across the row of that side: of the leads, or of a leadless part's terminal ends. [mm]"""
    across = side in ("left", "right")
    if outline.family.startswith("leadless"):
        body = outline.body_width_mm if across else outline.body_length_mm
        inset = 2 * outline.pull_back_mm
        return Range(body.min - inset, body.nom - inset, body.max - inset)
    span = outline.span_mm if across else (outline.span_length_mm or outline.span_mm)
    return _required(outline, "span_mm", span)


def _exposed(outline: Outline) -> list[Terminal]:
    length, width = outline.exposed_length_mm, outline.exposed_width_mm
    if length is None or width is None:
        return []
    number = outline.centre_terminal or "EP"
    return [Terminal(number, "centre", 0.0, 0.0, length.nom, width.nom, 90.0)]


def _required(outline: Outline, name: str, value: Range | None) -> Range:
    if value is None:
        raise InputError(
            f"a {outline.family} outline needs {name}",
            place=f"outline {outline.name}",
            expected=f"{name} = [min, nom, max]",
        )
    return value
