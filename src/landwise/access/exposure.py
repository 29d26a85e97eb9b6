"""How open a part's terminals lie: to a probe, to moisture and particles; and what would hide them."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.access.inspection import sights
from landwise.lands.model import LandPattern
from landwise.outlines import GRIDS, LEADED, Outline, terminals

SOURCES = ("exposure-practice",)
# A needle of a hand-held probe is about this wide at its tip; narrower gaps between terminals are bridged.
NEEDLE_TIP_MM = 0.2


@dataclass(frozen=True)
class Exposure:
    """How open the terminals lie.

    Parameters
    ----------
    reachable : int
        Terminals whose metal a hand-held needle reaches beside the body.
    share : float
        The same as a share of all numbered terminals. [-]
    least_gap_mm : float
        Smallest gap between bare metal of neighbours, which a drop or a particle must bridge. [mm]
    under_body_um : float
        Height of the gap under the body, where residue stays and coating does not reach. [µm]
    coatable : bool
        Whether a coating reaches every joint.
    says : str
    """

    reachable: int
    share: float
    least_gap_mm: float
    under_body_um: float
    coatable: bool
    says: str


def exposure(outline: Outline, pattern: LandPattern) -> Exposure:
    """Judge how open the terminals of a mounted part lie.

    Notes
    -----
    Common practice: leads beside the body can be touched; a leadless land can be touched where it stands
    out past the body by more than the needle needs; terminals under the body can't be touched without
    lifting the part. Coating reaches what can be seen from above or from the side.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.lands import land_pattern
    >>> exposure(find("SO-14"), land_pattern(find("SO-14"))).reachable
    14
    """
    numbered = [terminal for terminal in terminals(outline) if terminal.number != "EP"]
    places = {land.terminal: land for land in pattern.lands}
    reachable = 0
    for terminal in numbered:
        if outline.drilled or outline.family in LEADED:
            reachable += 1
        elif outline.family not in GRIDS and terminal.side not in ("grid", "centre"):
            box = places[terminal.number].place.box
            half_x, half_y = outline.body_width_mm.nom / 2, outline.body_length_mm.nom / 2
            past = max(-half_x - box[0], box[2] - half_x, -half_y - box[1], box[3] - half_y)
            reachable += past >= NEEDLE_TIP_MM / 2
    seen = sights(outline)
    under = outline.standoff_mm.nom * 1000
    coatable = seen.not_at_all == 0
    share = reachable / len(numbered)
    if share == 1:
        says = "every terminal can be touched beside the body: easy to probe, open to a competitor and to dirt"
    elif share == 0:
        says = "no terminal can be touched without lifting the part: hidden from probes, and from repair"
    else:
        says = f"{reachable} of {len(numbered)} terminals can be touched beside the body"
    if not coatable:
        says += "; coating does not reach the joints under the body"
    return Exposure(reachable, share, pattern.least_copper_gap_mm, under, coatable, says)
