"""A land pattern as a footprint file that open CAD programs read: the open footprint format of S-expressions.

Lands carry their terminals' names; mask and paste openings are written as they are, as shapes on those layers
alone, so that a program adds nothing of its own to them.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence

from landwise.lands.model import Land, LandPattern
from landwise.outlines import Outline, terminals
from landwise.printing.model import Print
from landwise.shapes import Placed, Shape

VERSION = 20211014  # of the format
ENDING = ".kicad_mod"  # by which programs know the format
COURTYARD_PEN_MM, BODY_PEN_MM, MARK_PEN_MM = 0.05, 0.10, 0.12
TEXT_MM, TEXT_PEN_MM = 1.0, 0.15  # common practice, no source
INDEX_MM = 0.5  # at most: corner cut that shows terminal 1
_NAMES = uuid.UUID("9f0d7a06-6b0e-5f5c-9b6b-6d3f6d1a2c11")  # the same pattern gives the same file
_FIGURES = 6


def footprint(outline: Outline, pattern: LandPattern, printed: Print | None = None) -> str:
    """The text of a footprint file.

    Parameters
    ----------
    outline : Outline
        Its body is drawn on the fabrication layer, the corner of terminal 1 cut.
    pattern : LandPattern
    printed : Print, optional
        Its openings go on the paste layer as they are printed; without it the footprint has no paste openings.

    Returns
    -------
    str
        Millimetres, the origin in the body's middle. The format's y axis runs down, so ours is turned over;
        angles keep their sense for the eye.

    Notes
    -----
    A mask-defined land is copper under the mask with its own opening. The format's description was recalled
    (`from memory`); the tests read the files back with an independent reader.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> outline = find("SOT-23-5")
    >>> text = footprint(outline, land_pattern(outline))
    >>> text.splitlines()[0]
    '(footprint "SOT-23-5" (version 20211014) (generator landwise)'
    >>> text.count("(pad \\"5\\"")
    1
    """
    half_x, half_y = pattern.courtyard_mm[0] / 2, pattern.courtyard_mm[1] / 2
    style = f"lands by {pattern.style}" + ("" if pattern.style == "published" else f", level {pattern.level}")
    said = f"{outline.family}, {outline.terminals} terminals, pitch {outline.pitch_mm:g} mm; {style}"
    if printed is not None:
        said += f"; paste openings for a foil of {printed.foil.thickness_um:g} um"
    kind = "through_hole" if pattern.drilled else "smd"
    lines = [
        f'(footprint "{_escaped(outline.name)}" (version {VERSION}) (generator landwise)',
        '  (layer "F.Cu")',
        f'  (descr "{_escaped(said)}")',
        f"  (attr {kind})",
        _text(outline.name, "reference", "REF**", -half_y - TEXT_MM, "F.SilkS"),
        _text(outline.name, "value", outline.name, half_y + TEXT_MM, "F.Fab"),
        *_closed(outline.name, _box(half_x, half_y), "F.CrtYd", COURTYARD_PEN_MM),
        *_closed(outline.name, _body(outline), "F.Fab", BODY_PEN_MM),
        _index(outline, half_x),
    ]
    lines += [_land(outline.name, land) for land in pattern.lands]
    faces = ("F.Mask", "B.Mask") if pattern.drilled else ("F.Mask",)
    lines += [_opening(outline.name, land.opening, face) for land in pattern.lands for face in faces]
    if printed is not None:
        openings = [opening for aperture in printed.apertures for opening in aperture.openings]
        lines += [_opening(outline.name, opening, "F.Paste") for opening in openings]
    return "\n".join([*lines, ")", ""])


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("×", "x").replace("µ", "u")


def _number(value: float) -> str:
    text = f"{value:.{_FIGURES}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _stamp(*of: object) -> str:
    return f"(tstamp {uuid.uuid5(_NAMES, repr(of))})"


def _text(name: str, kind: str, text: str, y_mm: float, layer: str) -> str:
    font = f"(effects (font (size {TEXT_MM:g} {TEXT_MM:g}) (thickness {TEXT_PEN_MM:g})))"
    at = f"(at 0 {_number(y_mm)})"
    return f'  (fp_text {kind} "{_escaped(text)}" {at} (layer "{layer}") {font} {_stamp(name, kind)})'


def _line(name: str, start: tuple[float, float], end: tuple[float, float], layer: str, pen_mm: float) -> str:
    """Points in the file's own axes, y down."""
    a, b = (f"{_number(x)} {_number(y)}" for x, y in (start, end))
    return f'  (fp_line (start {a}) (end {b}) (layer "{layer}") (width {pen_mm:g}) {_stamp(name, start, end, layer)})'


def _closed(name: str, corners: Sequence[tuple[float, float]], layer: str, pen_mm: float) -> list[str]:
    return [
        _line(name, start, end, layer, pen_mm) for start, end in zip(corners, [*corners[1:], corners[0]], strict=True)
    ]


def _box(half_x: float, half_y: float) -> list[tuple[float, float]]:
    return [(-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y)]


def _first(outline: Outline) -> tuple[float, float]:
    """Where terminal 1 (or ball A1) stands, in the file's axes. [mm]"""
    first = next(terminal for terminal in terminals(outline) if terminal.number in ("1", "A1"))
    return first.x_mm, -first.y_mm


def _body(outline: Outline) -> list[tuple[float, float]]:
    """The nominal body with the corner nearest to terminal 1 cut, in the file's axes."""
    half_x, half_y = outline.body_width_mm.nom / 2, outline.body_length_mm.nom / 2
    corners = _box(half_x, half_y)
    x, y = _first(outline)
    at = min(range(4), key=lambda k: (corners[k][0] - x) ** 2 + (corners[k][1] - y) ** 2)
    cut = min(INDEX_MM, half_x / 2, half_y / 2)
    corner = corners[at]
    before, after = corners[at - 1], corners[(at + 1) % 4]
    return [*corners[:at], _toward(corner, before, cut), _toward(corner, after, cut), *corners[at + 1 :]]


def _toward(start: tuple[float, float], end: tuple[float, float], by_mm: float) -> tuple[float, float]:
    reach = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    x, y = (a + (b - a) * by_mm / reach for a, b in zip(start, end, strict=True))
    return x, y


def _index(outline: Outline, half_x: float) -> str:
    """A short stroke beside terminal 1, outside the courtyard."""
    _, y = _first(outline)
    x = -half_x - MARK_PEN_MM
    return _line(outline.name, (x, y - INDEX_MM / 2), (x, y + INDEX_MM / 2), "F.SilkS", MARK_PEN_MM)


# --- shapes ---


def _land(name: str, land: Land) -> str:
    """Copper of a land; the solder mask's opening is written apart."""
    place = land.copper
    number = _escaped(land.terminal)
    if land.hole_mm is None:
        return _pad(number, "smd", place, ('"F.Cu"',), name)
    return _pad(number, "thru_hole", place, ('"*.Cu"',), name, drill=f" (drill {_number(land.hole_mm)})")


def _opening(name: str, place: Placed, layer: str) -> str:
    return _pad("", "smd", place, (f'"{layer}"',), name)


def _pad(number: str, kind: str, place: Placed, layers: Iterable[str], name: str, drill: str = "") -> str:
    shape = place.shape
    word, extra = _shape(shape)
    turn = place.angle_deg % 360
    at = f"(at {_number(place.x_mm)} {_number(-place.y_mm)}" + (f" {_number(turn)})" if turn else ")")
    size = _size(shape)
    stamp = _stamp(name, number, place, *layers)
    return f'  (pad "{number}" {kind} {word} {at} (size {size}){drill} (layers {" ".join(layers)}){extra} {stamp})'


def _size(shape: Shape) -> str:
    if shape.kind == "polygon":  # the anchor, which lies within the polygon
        anchor = min(shape.length_mm, shape.width_mm) / 4
        return f"{_number(anchor)} {_number(anchor)}"
    return f"{_number(shape.length_mm)} {_number(shape.width_mm)}"


def _shape(shape: Shape) -> tuple[str, str]:
    if shape.kind == "rounded":
        return "roundrect", f" (roundrect_rratio {_number(shape.corner_mm / min(shape.length_mm, shape.width_mm))})"
    if shape.kind == "polygon":
        points = " ".join(f"(xy {_number(x)} {_number(-y)})" for x, y in shape.points)
        primitive = f"(primitives (gr_poly (pts {points}) (width 0) (fill yes)))"
        return "custom", f" (options (clearance outline) (anchor rect)) {primitive}"
    return {"rectangle": "rect", "oblong": "oval", "circle": "circle"}[shape.kind], ""
