"""Fabrication layers of one package: its lands, mask openings, stencil openings and holes, around its own origin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from landwise.fabdata.gerber.writer import write_gerber
from landwise.lands.model import LandPattern
from landwise.printing.model import Print
from landwise.shapes import Placed, circle

FUNCTIONS: Mapping[str, tuple[str, ...]] = {
    "copper": ("Copper", "L1", "Top"),
    "mask": ("Soldermask", "Top"),
    "paste": ("Paste", "Top"),
    "holes": ("Plated", "1", "2", "PTH"),
}


def part_films(pattern: LandPattern, printed: Print) -> Mapping[str, bytes]:
    """Gerber X2 layers of one package, by kind: copper, mask, paste, holes. Kinds without a shape are left out.

    Parameters
    ----------
    pattern : LandPattern
    printed : Print
        Its openings, under one foil.

    Notes
    -----
    The origin is the body's middle, millimetres, seen from above. Every shape carries the outline's name and its
    terminal as component and pin. Mask shapes are the openings, so the layer's polarity is negative. Holes are
    finished sizes on a Gerber drill layer. Gerber layer format specification, 2023.03, 5.6.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> from landwise.printing import print_part
    >>> from landwise.printing.model import Foil
    >>> pattern = land_pattern(find("SO-14"))
    >>> sorted(part_films(pattern, print_part(pattern, Foil(120.0))))
    ['copper', 'mask', 'paste']
    """
    lands = pattern.lands
    holes = [(Placed(circle(land.hole_mm), land.place.x_mm, land.place.y_mm), land) for land in lands if land.hole_mm]
    shapes: Mapping[str, Sequence[tuple[Placed, str]]] = {
        "copper": [(land.copper, land.terminal) for land in lands],
        "mask": [(land.opening, land.terminal) for land in lands],
        "paste": [(opening, aperture.terminal) for aperture in printed.apertures for opening in aperture.openings],
        "holes": [(place, land.terminal) for place, land in holes],
    }
    films = {}
    for kind, its in shapes.items():
        if its:
            polarity = {".FilePolarity": ("Negative" if kind == "mask" else "Positive",)}
            films[kind] = write_gerber(
                [place.geometry() for place, _ in its],
                {".FileFunction": FUNCTIONS[kind], **polarity},
                components=[pattern.outline] * len(its),
                pins=[terminal for _, terminal in its],
                flashes=[flash_of(place) for place, _ in its],
            )
    return films


def flash_of(place: Placed) -> tuple[str, float, float] | None:
    """The standard aperture that is exactly this shape where it lies: its text and its middle [mm]; None if none is.

    Examples
    --------
    >>> from landwise.shapes import oblong
    >>> flash_of(Placed(oblong(0.6, 0.3), 1.0, 0.0, 90.0))
    ('O,0.300000X0.600000', 1.0, 0.0)
    """
    shape = place.shape
    if shape.kind == "circle":
        return f"C,{shape.length_mm:.6f}", place.x_mm, place.y_mm
    quarter, rest = divmod(round(place.angle_deg, 9) % 360, 90)
    if shape.kind not in ("rectangle", "oblong") or rest:
        return None
    sides = (shape.length_mm, shape.width_mm) if quarter % 2 == 0 else (shape.width_mm, shape.length_mm)
    return f"{'R' if shape.kind == 'rectangle' else 'O'},{sides[0]:.6f}X{sides[1]:.6f}", place.x_mm, place.y_mm
