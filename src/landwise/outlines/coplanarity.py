"""How far a terminal may stand off the plane that the others stand on: the one home of these limits.

A drawing's own limit outranks what drawings of its kind usually allow. Printing (is the foil thick enough?), joints
(does the solder reach?), the defect rates and the review of films all ask here.
"""

from __future__ import annotations

from landwise.outlines.model import GRIDS, LEADED, LEADLESS, Outline

SOURCE = "jedec-coplanarity-memory"
USUAL_MM, FINE_MM, TINY_MM = 0.10, 0.08, 0.05
FINE_PITCH_MM = 0.5  # leads up to this pitch are held closer
TINY_BODY_MM = 1.6  # longest side up to which a leadless or wafer-level outline counts as tiny
COARSE_GRID_MM = 0.8  # balls from this pitch on may stand as leads do
PRINTED = LEADED | LEADLESS  # families whose terminals only printed paste reaches: balls bring solder of their own
_NEARLY = 1e-9  # a pitch that was worked out may miss its round number by so much


def coplanarity_limit_mm(outline: Outline) -> float:
    """The coplanarity a drawing states, or what drawings of its kind allow. [mm]

    >>> from landwise.outlines import find
    >>> coplanarity_limit_mm(find("SO-14")), coplanarity_limit_mm(find("TSSOP-48"))
    (0.1, 0.08)
    """
    if outline.coplanarity_mm is not None:
        return outline.coplanarity_mm
    longest = max(outline.body_length_mm.nom, outline.body_width_mm.nom)
    return usual_coplanarity_mm(outline.family, outline.pitch_mm, longest)


def usual_coplanarity_mm(family: str, pitch_mm: float, longest_mm: float) -> float:
    """What drawings of a family allow where nothing else is stated. [mm]

    Parameters
    ----------
    family : str
        One of `FAMILIES`.
    pitch_mm : float
        Between neighbouring terminals. [mm]
    longest_mm : float
        The body's longest side. [mm]

    Notes
    -----
    Leads 0.10, up to 0.5 mm pitch 0.08; leadless 0.08; balls from 0.8 mm pitch on 0.10, closer ones 0.08; leadless and
    balls under bodies of up to 1.6 mm 0.05. Recalled from JEDEC outlines. Drawings read since bear out the leads but
    for one: the source tells which.

    Examples
    --------
    >>> usual_coplanarity_mm("leadless dual", 0.5, 2.0), usual_coplanarity_mm("leadless dual", 0.35, 1.0)
    (0.08, 0.05)
    """
    if family in LEADED:
        return USUAL_MM if pitch_mm > FINE_PITCH_MM + _NEARLY else FINE_MM
    if longest_mm <= TINY_BODY_MM:
        return TINY_MM
    return USUAL_MM if family in GRIDS and pitch_mm > COARSE_GRID_MM - _NEARLY else FINE_MM
