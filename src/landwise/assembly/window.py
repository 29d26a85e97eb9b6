"""The process window of a part: which foils and aperture reductions keep both bridges and opens under a target."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from landwise.assembly.knowledge import PER_MILLION, Knowledge, default_knowledge, joint_class
from landwise.assembly.partmodel import part_model
from landwise.assembly.points import seed_of
from landwise.assembly.rare import rates
from landwise.assembly.scatter import Scatter
from landwise.errors import InputError
from landwise.lands.model import LandPattern
from landwise.outlines import Outline
from landwise.printing.apertures import ApertureRules
from landwise.printing.deposits import print_part
from landwise.printing.model import Foil, Powder, Technology

Array = NDArray[np.float64]
FOILS_UM = (50.0, 65.0, 80.0, 100.0, 125.0, 150.0, 180.0)
REDUCTIONS_MM = (0.0, 0.015, 0.03, 0.045, 0.06)
LEAST_LEFT = 0.5  # of a land's width: a narrower opening is no reduction any more
FLOOR = 1e-3  # per million joints: below it a rate is drawn as this


@dataclass(frozen=True)
class Window:
    """Rates over foil and reduction.

    Parameters
    ----------
    foils_um, reductions_mm : tuple of float
        The grid. A reduction is taken off every edge of an aperture.
    bridges, opens : array
        Per million joints, (reductions, foils).
    target : float
        What both must keep under, per million joints.
    """

    foils_um: tuple[float, ...]
    reductions_mm: tuple[float, ...]
    bridges: Array
    opens: Array
    target: float

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Where both rates keep the target."""
        found: NDArray[np.bool_] = (self.bridges <= self.target) & (self.opens <= self.target)
        return found

    @property
    def says(self) -> str:
        """The window in words."""
        inside = self.inside
        if not inside.any():
            worst = np.maximum(self.bridges, self.opens)
            row, column = np.unravel_index(int(np.argmin(worst)), worst.shape)
            return (
                f"no foil and reduction tried keep both under {self.target:g} per million joints; nearest is "
                f"{self.foils_um[column]:g} µm with {self.reductions_mm[row] * 1000:g} µm off every edge"
            )
        columns = np.flatnonzero(inside.any(axis=0))
        foils = f"{self.foils_um[columns[0]]:g}" + (f" to {self.foils_um[columns[-1]]:g}" if len(columns) > 1 else "")
        least = [self.reductions_mm[int(np.argmax(inside[:, k]))] for k in columns]
        need = "" if not any(least) else ", some only with smaller apertures"
        return f"both keep under {self.target:g} per million joints on foils of {foils} µm{need}"


@dataclass(frozen=True)
class Grid:
    """What a window is worked over, and what it is held to.

    Parameters
    ----------
    foils_um : tuple of float
        [µm]
    reductions_mm : tuple of float
        Taken off every edge of an aperture. [mm]
    target : float
        Bridges, and opens, per million joints.

    Raises
    ------
    InputError
        For a target that isn't positive, or an empty grid.
    """

    foils_um: tuple[float, ...] = FOILS_UM
    reductions_mm: tuple[float, ...] = REDUCTIONS_MM
    target: float = 100.0

    def __post_init__(self) -> None:
        if not self.target > 0 or not self.foils_um or not self.reductions_mm:
            raise InputError("a window needs a target and a grid", found=f"{self.target:g}")


WHOLE = Grid()


def process_window(
    outline: Outline,
    pattern: LandPattern,
    scatter: Scatter,
    *,
    technology: Technology = "laser-cut",
    powder: Powder = "T4",
    stand_mm: float | None = None,
    knowledge: Knowledge | None = None,
    grid: Grid = WHOLE,
) -> Window | None:
    """Rates of bridges and opens over foil thickness and aperture reduction; None where nothing is printed.

    Parameters
    ----------
    outline, pattern, scatter
        The part, its lands, and the line's scatter.
    technology, powder
        Of the print, by the house's own apertures: a maker's can't be reduced any further.
    stand_mm : float, optional
        Computed height of a grid on its balls. [mm]
    knowledge : Knowledge, optional
        At whose middle the part is worked, and by how much the line's own counts lift its level; the shipped draws by
        default.
    grid : Grid
        Foils and reductions to try, and the target.

    Examples
    --------
    >>> from landwise.assembly.scatter import scatter
    >>> from landwise.lands import land_pattern
    >>> from landwise.outlines import find
    >>> part = find("TSSOP-14")
    >>> window = process_window(part, land_pattern(part), scatter(0.03, 0.05), grid=Grid((80, 100, 150)))
    >>> window.says
    'both keep under 100 per million joints on foils of 80 to 150 µm, some only with smaller apertures'
    """
    own, target, foils_um = ApertureRules(published=False), grid.target, grid.foils_um
    narrowest = min(min(land.place.shape.length_mm, land.place.shape.width_mm) for land in pattern.lands)
    cuts = tuple(
        cut for cut in grid.reductions_mm if narrowest - 2 * (own.reduction_mm + cut) >= LEAST_LEFT * narrowest
    )
    known = knowledge or default_knowledge()
    middle, kind = known.middle(scatter), joint_class(outline.family)
    lifted = {name: known.lift(outline.name, kind, name) for name in ("bridges", "opens", "moved")}
    seed = seed_of(outline.name, middle.seeding)  # one for the whole map: its lines follow the print, not the points
    bridges, opens = np.empty((2, len(cuts), len(foils_um)))
    for row, cut in enumerate(cuts):
        reduced = replace(own, reduction_mm=own.reduction_mm + cut)
        for column, foil in enumerate(foils_um):
            printed = print_part(pattern, Foil(foil, technology), powder, rules=reduced, outline=outline)
            model = part_model(outline, pattern, printed, middle, stand_mm=stand_mm)
            if model is None:
                return None
            found = rates(model, floor=max(FLOOR, target / 300) / PER_MILLION, seed=seed, yields=False)
            per_joint = PER_MILLION / max(1, found.joints)
            open_or_floated = found.opens.value * lifted["opens"] + found.floated.value * lifted["moved"]
            bridges[row, column] = max(FLOOR, found.bridges.value * lifted["bridges"] * per_joint)
            opens[row, column] = max(FLOOR, open_or_floated * per_joint)
    return Window(foils_um, tuple(own.reduction_mm + cut for cut in cuts), bridges, opens, target)
