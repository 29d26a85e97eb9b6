"""Does the paste leave the aperture: area ratio, aspect ratio, and the limits quoted for them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from landwise.errors import InputError
from landwise.printing.model import Technology
from landwise.shapes import Shape

ASPECT_LIMIT = 1.5
ASPECT_SOURCE = "area-ratio-makers"
# Least area ratio by foil technology, and where each is printed.
AREA_RATIO_LIMIT: Mapping[Technology, tuple[float, str]] = MappingProxyType(
    {
        "etched": (0.90, "stencil-sheet"),
        "laser-cut": (0.66, "stencil-sheet"),
        "laser-polished": (0.60, "coated-limit-memory"),
        "nano-coated": (0.55, "coated-limit-memory"),
        "electroformed": (0.50, "stencil-sheet"),
    }
)


def area_ratio(shape: Shape, foil_um: float) -> float:
    """Open area over wall area of one aperture. [-]

    Parameters
    ----------
    shape : Shape
        The opening; any polygon, arcs exact.
    foil_um : float
        Foil thickness. [µm]

    Raises
    ------
    InputError
        For a foil that isn't positive.

    Notes
    -----
    A / (P · t); for a rectangle L·W / [2 t (L + W)], for a disc or square d / (4 t).

    Examples
    --------
    >>> from landwise.shapes import circle, rectangle
    >>> print(f"{area_ratio(rectangle(0.60, 0.17), 100):.3f} {area_ratio(circle(0.25), 76):.3f}")
    0.662 0.822
    """
    if not foil_um > 0:
        raise InputError("a foil needs a positive thickness", found=f"{foil_um:g} µm", expected="> 0", about="foil")
    return shape.area_mm2 / (shape.perimeter_mm * foil_um / 1000)


def aspect_ratio(shape: Shape, foil_um: float) -> float:
    """Smaller side of the opening over foil thickness. [-]

    >>> from landwise.shapes import rectangle
    >>> aspect_ratio(rectangle(0.85, 0.20), 125)
    1.6
    """
    if not foil_um > 0:
        raise InputError("a foil needs a positive thickness", found=f"{foil_um:g} µm", expected="> 0", about="foil")
    return min(shape.length_mm, shape.width_mm) / (foil_um / 1000)


def thickest_for(shape: Shape, least_area_ratio: float) -> float:
    """The foil at which an opening just reaches an area ratio. [µm]

    >>> from landwise.shapes import rectangle
    >>> round(thickest_for(rectangle(0.60, 0.17), 0.66), 1)
    100.4
    """
    return shape.area_mm2 / shape.perimeter_mm / least_area_ratio * 1000
