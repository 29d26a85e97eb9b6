"""What a foil and its powder cost beyond a plain foil and the usual powder."""

from __future__ import annotations

from landwise.costs.loads import Line, Load

# Once a run, a share of what a foil costs: the zones are etched or milled into one that is bought anyway.
STEPPED_FOIL = Load(Line.STEP, ("foil", "step_zone"), 1.0, per_run=True)
BETTER_FOIL = Load(Line.BETTER_FOIL, ("foil", "better_foil"), 1.0, per_run=True)


def print_loads(stepped: bool, better_foil: bool, finer_powders: int) -> tuple[Load, ...]:
    """What a board's print costs beyond a plain foil of the line's own technology and its usual powder.

    Parameters
    ----------
    stepped, better_foil : bool
        Whether the foil has step zones, and whether it is of another technology than the line's usual one.
    finer_powders : int
        Classes of powder finer than the usual one; no more than none where it is coarser.

    Examples
    --------
    >>> [load.line.value for load in print_loads(True, False, 1)]
    ['stepped-foil', 'finer-powder']
    """
    found = [*([STEPPED_FOIL] if stepped else []), *([BETTER_FOIL] if better_foil else [])]
    if finer_powders > 0:
        found.append(Load(Line.POWDER, ("finer_powder",), float(finer_powders)))
    return tuple(found)
