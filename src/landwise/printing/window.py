"""The print window: between which foil thicknesses a part prints, as its apertures are made smaller."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from landwise.errors import LandwiseError
from landwise.lands.model import LandPattern
from landwise.outlines.model import Outline
from landwise.printing.apertures import ApertureRules
from landwise.printing.foils import foil_window
from landwise.printing.model import Powder, Technology


@dataclass(frozen=True)
class PrintWindow:
    """Limits of the foil over the reduction of every land's edges.

    Parameters
    ----------
    reductions_um : tuple of float
        Taken off every edge. [µm]
    holds_um, works_um : tuple of float
        Thickest foil on which every land's release holds, and the thickest on which none fails. [µm]
    least_um : float or None
        Thinnest foil whose paste bridges the part's own unevenness; None where that is no matter. [µm]
    moved : bool
        Whether a reduction changes anything: a maker's own apertures stay as printed.
    """

    reductions_um: tuple[float, ...]
    holds_um: tuple[float, ...]
    works_um: tuple[float, ...]
    least_um: float | None
    moved: bool


def print_window(
    pattern: LandPattern,
    reductions_um: Sequence[float],
    technology: Technology = "laser-cut",
    powder: Powder = "T4",
    *,
    rules: ApertureRules | None = None,
    outline: Outline | None = None,
) -> PrintWindow | None:
    """The window of a part; None where nothing is printed or no thickness ever holds.

    Parameters
    ----------
    pattern : LandPattern
    reductions_um : sequence of float
        Rising. Those that leave no aperture are left out. [µm]
    technology, powder : str
    rules, outline
        As for `foil_window`, whose limits these are.

    Examples
    --------
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> window = print_window(land_pattern(find("QFN-20-2.5x4.5")), [0, 20, 40], outline=find("QFN-20-2.5x4.5"))
    >>> [round(um) for um in window.holds_um]
    [130, 112, 93]
    """
    found = []
    least = None
    for um in reductions_um:
        made = replace(rules or ApertureRules(), reduction_mm=um / 1000)
        try:
            at = foil_window(pattern, [100.0], technology, powder, rules=made, outline=outline)
        except LandwiseError:
            break  # nothing is left of an aperture; nor is it for any larger reduction
        if at.thickest_holds_um is None or at.thickest_works_um is None:
            return None
        least = at.thinnest_works_um
        found.append((float(um), at.thickest_holds_um, at.thickest_works_um))
    if len(found) < 2:
        return None
    reductions, holds, works = zip(*found, strict=True)
    return PrintWindow(reductions, holds, works, least, moved=abs(works[0] - works[-1]) > 1e-9)
