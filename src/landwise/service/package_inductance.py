"""What a package's terminals add in inductance, from its geometry: lead, finger or track, bond wire or ball."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from landwise.errors import InputError
from landwise.outlines import GRIDS, Outline
from landwise.outlines.model import LEADLESS, Terminal
from landwise.outlines.patterns import terminals
from landwise.service.filaments import Piece, inductance_matrix, shared_inductance

# What no outline drawing shows, as a band; ours, from the trade. [mm]
DIE_SHARE = (0.25, 0.55)  # side of the die over the body's shorter side
LARGEST_DIE_MM = 3.0
LEAST_DIE_MM = 0.35
PAD_PITCH_MM = 0.12
WIRE_MM = (0.8, 1.6)  # bond wire of a leaded part, along its loop, shorter where there is no room
WIRE_DIAMETER_MM = 0.025
LEAST_LOOP_MM = 0.15
TRACK = (0.10, 0.018)  # of a ball grid's substrate, width and thickness
SOURCES = ("grover-bar", "neumann-mutual", "die-size-practice")


@dataclass(frozen=True)
class PackageInductance:
    """Inductance of a package's terminals. [nH]

    Parameters
    ----------
    ground_low, ground_high : float
        Partial inductance of the ground terminal (the longest, where it isn't known which).
    least, most : float
        Of all terminals, middle of the band.
    effective_low, effective_high : float
        Die ground's voltage over the rate of one output's current, returns and mutuals counted.
    coupling : float
        Mean mutual inductance of neighbours over their own.
    grounds : tuple of str
        Terminals taken as ground.
    guessed : bool
        Whether those are landwise's guess.
    """

    ground_low: float
    ground_high: float
    least: float
    most: float
    effective_low: float
    effective_high: float
    coupling: float
    grounds: tuple[str, ...]
    guessed: bool


def usual_ground(outline: Outline) -> tuple[str, ...]:
    """Ground terminals of standard logic in that package, as far as the numbering tells (recalled).

    >>> from landwise.outlines import find
    >>> usual_ground(find("SO-14")), usual_ground(find("SOT-23-5"))
    (('7',), ('3',))
    """
    count = outline.terminals
    if outline.family in GRIDS or count < 5:
        return ()
    if count == 5:
        return ("3",)
    if count == 6:
        return ("2",)
    if count == 48:
        return ("4", "10", "15", "21", "28", "34", "39", "45")
    if count == 56:
        return ("4", "11", "18", "25", "32", "39", "46", "53")
    return (str(count // 2),) if count <= 28 and count % 2 == 0 else ()


def package_inductance(outline: Outline, grounds: tuple[str, ...] = (), height_mm: float = 0.0) -> PackageInductance:
    """Inductance of an outline's terminals and of its ground, as a band over what its drawing leaves open.

    Parameters
    ----------
    grounds : tuple of str
        Ground terminals; the usual ones of standard logic where empty.
    height_mm : float
        Height of molten balls, zero to take the drawing's standoff. [mm]

    Notes
    -----
    Each terminal is a row of straight pieces: lead from foot to body, finger towards the die, bond wire; or ball,
    substrate track, wire; or ball alone on the die. The die's size is not drawn: a quarter to half of the body. No
    measurement of logic packages backs the result; published tables of other packages stand in the tests.

    Raises
    ------
    InputError
        For a ground that the outline doesn't have.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> dip, tiny = (package_inductance(find(name)) for name in ("DIP-14", "WLP-5-0.5"))
    >>> dip.ground_low > 10 * tiny.ground_high
    True
    """
    places = [place for place in terminals(outline) if place.number != "EP"]
    numbers = [place.number for place in places]
    chosen = grounds or usual_ground(outline)
    for name in chosen:
        if name not in numbers:
            raise InputError("no such terminal", place=outline.name, found=name, expected=", ".join(numbers[:12]))
    if chosen:
        at = tuple(numbers.index(name) for name in chosen)
    elif len(places) >= 48:
        at = tuple(range(2, len(places), 6))  # one terminal in six is ground on wide parts (recalled)
    else:
        at = ()
    sides = tuple(place.side for place in places)
    low, high = (
        _solved(tuple(tuple(_path(outline, place, die, wire, height_mm)) for place in places), at, sides)
        for die, wire in ((DIE_SHARE[1], WIRE_MM[0]), (DIE_SHARE[0], WIRE_MM[1]))
    )
    return PackageInductance(
        ground_low=min(low[0], high[0]),
        ground_high=max(low[0], high[0]),
        least=math.sqrt(low[1] * high[1]),
        most=math.sqrt(low[2] * high[2]),
        effective_low=min(low[3], high[3]),
        effective_high=max(low[3], high[3]),
        coupling=(low[4] + high[4]) / 2,
        grounds=tuple(numbers[i] for i in (at or high[5])),
        guessed=not grounds,
    )


@lru_cache(maxsize=512)
def _solved(
    paths: tuple[tuple[Piece, ...], ...], grounds: tuple[int, ...], sides: tuple[str, ...]
) -> tuple[float, float, float, float, float, tuple[int, ...]]:
    """Ground's own, least, most, effective inductance, coupling of neighbours, and which were the grounds."""
    matrix = inductance_matrix(paths)
    count = range(len(paths))
    own = [float(matrix[i, i]) for i in count]
    at = grounds or (max(count, key=lambda i: own[i]),)
    rest = [i for i in count if i not in at]
    effective = shared_inductance(matrix, at, rest) if rest else own[at[0]]
    pairs = [float(matrix[i, i + 1]) / own[i] for i in count[:-1] if sides[i] == sides[i + 1]]
    return max(own[i] for i in at), min(own), max(own), effective, sum(pairs) / max(1, len(pairs)), at


def _path(outline: Outline, place: Terminal, die_share: float, wire_mm: float, height_mm: float) -> list[Piece]:
    """Pieces of one terminal from the board to the die."""
    if outline.family in GRIDS:
        return _ball(outline, place, die_share, wire_mm, height_mm)
    thickness = outline.terminal_thickness_mm.nom if outline.terminal_thickness_mm else 0.2
    out = math.radians(place.outward_deg)
    inward = (-math.cos(out), -math.sin(out))
    width = place.width_mm
    middle = outline.height_mm.nom / 2
    if outline.family in LEADLESS:
        tip = (place.x_mm, place.y_mm, 0.1)
        return _to_die(outline, tip, die_share, wire_mm, None)
    across = place.side in ("left", "right")
    half = (outline.body_width_mm.nom if across else outline.body_length_mm.nom) / 2
    here = place.x_mm if across else place.y_mm
    run = max(abs(here) - half, 0.05)
    edge = (place.x_mm + inward[0] * run, place.y_mm + inward[1] * run, middle)
    knee = (place.x_mm, place.y_mm, middle)
    foot = (place.x_mm, place.y_mm, 0.0)
    pieces = [Piece(foot, knee, width, thickness), Piece(knee, edge, width, thickness)]
    return [*pieces, *_to_die(outline, edge, die_share, wire_mm, (width, thickness))]


def _to_die(
    outline: Outline,
    start: tuple[float, float, float],
    die_share: float,
    wire_mm: float,
    finger: tuple[float, float] | None,
) -> list[Piece]:
    """Finger and bond wire from a point towards the body's middle; a wire alone where there is no finger."""
    shorter = min(outline.body_length_mm.nom, outline.body_width_mm.nom)
    # Many terminals need a die with room for their bond pads, whatever it does.
    pads = outline.terminals / 4 * PAD_PITCH_MM
    die = min(max(min(die_share * shorter, LARGEST_DIE_MM), LEAST_DIE_MM, pads), 0.7 * shorter)
    x, y, z = start
    reach = max(abs(x), abs(y), 1e-9)
    # The pad lies on the die's edge, on the line from the terminal to the middle.
    pad_x, pad_y = (x * die / 2 / reach, y * die / 2 / reach) if reach > die / 2 else (0.8 * x, 0.8 * y)
    whole = math.hypot(x - pad_x, y - pad_y)
    if whole < 0.15:  # terminals under the die's edge: the wire still loops
        return [Piece(start, (x, y, z + 2 * LEAST_LOOP_MM), WIRE_DIAMETER_MM, WIRE_DIAMETER_MM, round=True)]
    wire = whole if finger is None else min(wire_mm, 0.6 * whole)
    share = 1 - wire / whole
    bond = (x + (pad_x - x) * share, y + (pad_y - y) * share, z)
    top = ((bond[0] + pad_x) / 2, (bond[1] + pad_y) / 2, z + max(LEAST_LOOP_MM, 0.25 * min(wire, 1.0)))
    pieces = [] if finger is None or share <= 0.02 else [Piece(start, bond, *finger)]
    for a, b in ((bond, top), (top, (pad_x, pad_y, z))):
        pieces.append(Piece(a, b, WIRE_DIAMETER_MM, WIRE_DIAMETER_MM, round=True))
    return pieces


def _ball(outline: Outline, place: Terminal, die_share: float, wire_mm: float, height_mm: float) -> list[Piece]:
    height = height_mm or outline.standoff_mm.nom
    top = (place.x_mm, place.y_mm, height)
    ball = Piece((place.x_mm, place.y_mm, 0.0), top, place.width_mm, place.width_mm, round=True)
    if outline.family == "wafer-level":
        # A redistribution track of up to half a pitch joins ball and pad.
        track = (0.5 - die_share) * outline.pitch_mm
        if track <= 0.02:
            return [ball]
        return [ball, Piece(top, (place.x_mm + track, place.y_mm, height), 0.05, 0.005)]
    return [ball, *_to_die(outline, top, die_share, wire_mm, TRACK)]
