"""The print in section: the foil with its aperture full of paste, and what stays when the foil is lifted."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from landwise.errors import InputError, UnknownNameError
from landwise.lands.model import Land, LandPattern
from landwise.printing.model import Aperture, Deposit, Foil, Print
from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.lettering import line_mm
from landwise.sheets.look import FINE, FINE_DASHED, NARROW, SMALL, THIN, Stroke
from landwise.sheets.marks import mm_text, thinned
from landwise.sheets.profile import COPPER_MM
from landwise.sheets.svg import Mark, Picture, Text, line, points, rectangle

OVERHANG = 0.55  # of foil shown at each side, over the aperture's width
BOARD_ON_PAPER_MM = 2.6
STATES_APART_MM = 10.0
NOTE = "Deposit heights: paste volume over aperture area; form schematic."


def print_section(aperture: Aperture, deposit: Deposit, foil: Foil, land: Land, *, magnification: float) -> Picture:
    """Section across an aperture's width, before and after the foil is lifted, to one scale both ways.

    Parameters
    ----------
    aperture, deposit, foil, land
        Of one terminal. The first opening is shown where there are several.
    magnification : float
        Paper over part.

    Returns
    -------
    Picture
        Its origin under the left state's middle, at the land's upper face.
    """
    opening = aperture.openings[0].shape
    wide = min(opening.length_mm, opening.width_mm)
    land_shape = land.place.shape
    land_wide = land_shape.width_mm if opening.width_mm <= opening.length_mm else land_shape.length_mm
    if len(aperture.openings) > 1:
        land_wide = max(land_wide, wide)
    m = magnification
    thick = foil.thickness_um / 1000 * m
    half, land_half = wide / 2 * m, land_wide / 2 * m
    reach = max(half + OVERHANG * wide * m, min(land_half + 2.0, half + wide * m))

    full = Dimensioned(Picture((*_base(reach, land_half, m), *_foil(half, reach, thick))))
    full.above.add(-half, half, -thick, mm_text(wide))
    full.left.level = True
    full.left.add(-thick, 0.0, -reach, f"{foil.thickness_um:g}\u2009µm")
    left = full.picture()

    area = aperture.area_mm2
    mean, low, high = (v / area * m for v in (deposit.paste_mm3, deposit.paste_low_mm3, deposit.paste_high_mm3))
    marks = _base(reach, land_half, m)
    if mean > 0:
        shape = _mound(half, mean)
        marks.append(points(shape, "solder", None))
        marks.append(points(shape, "dots/graphite", thinned(THIN, mean) or Stroke("ink", FINE)))
    for height in (low, high):
        if height > 0 and abs(height - mean) > 0.15:
            marks.append(line(_mound(half, height), Stroke("graphite", NARROW, FINE_DASHED)))
    lifted = Dimensioned(Picture(tuple(marks)))
    heights = [v / area * 1000 for v in (deposit.paste_mm3, deposit.paste_low_mm3, deposit.paste_high_mm3)]
    lifted.right.level = True
    if mean > 0:
        lifted.right.add(
            -mean, 0.0, (half * 0.5, reach), f"{heights[0]:.0f} ({heights[1]:.0f}…{heights[2]:.0f})\u2009µm"
        )
    right = lifted.picture()
    right = right.moved(left.box[2] + STATES_APART_MM - right.box[0], 0.0)
    whole = left + right
    middle = (right.marks[0].box[0] + right.marks[0].box[2]) / 2
    top = whole.box[1] - 2.2
    captions = Picture(
        (
            Text(0.0, top, "filled", SMALL, "graphite", anchor="middle"),
            Text(middle, top, "lifted", SMALL, "graphite", anchor="middle"),
        )
    )
    return whole + captions


def _base(reach: float, land_half: float, m: float) -> list[Mark]:
    copper = COPPER_MM * m
    return [
        rectangle((-reach, copper, reach, copper + BOARD_ON_PAPER_MM), "board"),
        line([(-reach, copper), (reach, copper)], THIN),
        rectangle((-min(land_half, reach), 0.0, min(land_half, reach), copper), "ochre"),
    ]


def _foil(half: float, reach: float, thick: float) -> list[Mark]:
    marks: list[Mark] = [
        rectangle((-half, -thick, half, 0.0), "solder"),
        rectangle((-half, -thick, half, 0.0), "dots/graphite"),
    ]
    pen = thinned(THIN, max(thick, 1.0)) or THIN
    for one, other in ((-reach, -half), (half, reach)):
        marks.append(rectangle((one, -thick, other, 0.0), "hatch/ink", pen))
    return marks


def _mound(half: float, height: float) -> NDArray[np.float64]:
    """A deposit of given mean height with rounded shoulders: its area is width times height."""
    shoulder = min(0.25 * half, 0.8 * height)
    # A quarter circle's corner lacks (1 − π/4) r²: the top is raised by what two corners lack.
    top = height + 2 * (1 - math.pi / 4) * shoulder**2 / (2 * half)
    turn = np.linspace(0, math.pi / 2, 9)
    right = np.column_stack([half - shoulder + shoulder * np.cos(turn), -(top - shoulder) - shoulder * np.sin(turn)])
    left = right[::-1] * [-1, 1]
    return np.vstack([[(half, 0.0)], right, left, [(-half, 0.0)]])


def weakest(print_: Print) -> str:
    """The terminal whose aperture has the least area ratio."""
    if not print_.deposits:
        raise InputError("nothing is printed", found=print_.why, expected="a part with apertures")
    return min(print_.deposits, key=lambda deposit: deposit.area_ratio).terminal


def section_of(pattern: LandPattern, print_: Print, terminal: str | None = None, *, magnification: float) -> Picture:
    """The section of one terminal, of the weakest one unless named, with its facts in a line below."""
    terminal = terminal or weakest(print_)
    land = next((one for one in pattern.lands if one.terminal == terminal), None)
    aperture = next((one for one in print_.apertures if one.terminal == terminal), None)
    deposit = next((one for one in print_.deposits if one.terminal == terminal), None)
    if land is None or aperture is None or deposit is None:
        raise UnknownNameError(
            "no such printed terminal",
            found=terminal,
            expected=", ".join(one.terminal for one in print_.deposits),
        )
    drawn = print_section(aperture, deposit, print_.foil, land, magnification=magnification)
    share = deposit.transfer
    range_text = f"{share.low * 100:.0f}…{share.high:.0%}"
    facts = f"Area ratio {deposit.area_ratio:.2f}: {share.mean:.0%} ({range_text}) of the paste transfers."
    x, y = drawn.box[0], drawn.box[3] + 2.0
    return drawn + Picture((Text(x, y + line_mm(SMALL), facts, SMALL, "graphite"),))
