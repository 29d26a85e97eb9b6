"""Ways joints fail that no mechanism here works: part of the other causes alone, and listed at the rate they belong to.

The one home of this list; its words stand in `judging.ratewords`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType

from landwise.outlines import LEADLESS


class LeftOut(StrEnum):
    """One way to fail that is not modelled."""

    SMEAR = "smear"
    NON_WET = "non-wet"
    BENT_LEAD = "bent-lead"
    CUT_FLANK = "cut-flank"
    HEAD_IN_PILLOW = "head-in-pillow"
    TOMBSTONE = "tombstone"


# Of each class of joints, by the rate in which a line would count it.
_BRIDGES = (LeftOut.SMEAR,)
_OPENS: Mapping[str, tuple[LeftOut, ...]] = MappingProxyType(
    {
        "lead": (LeftOut.NON_WET, LeftOut.BENT_LEAD),
        "leadless": (LeftOut.NON_WET, LeftOut.CUT_FLANK),
        "ball": (LeftOut.HEAD_IN_PILLOW, LeftOut.NON_WET),
    }
)


def left_out(kind: str, family: str) -> Mapping[str, tuple[LeftOut, ...]]:
    """What no mechanism works, by the rate it belongs to.

    Parameters
    ----------
    kind : str
        Class of the joints: `lead`, `leadless` or `ball`.
    family : str
        Of the package.

    Notes
    -----
    A small leadless part that is pulled up on one row counts as tilted where the model finds it; that it stands up
    altogether takes one row that melts before the other, and no oven here tells rows apart.

    Examples
    --------
    >>> [str(one) for one in left_out("ball", "wafer-level")["opens"]]
    ['head-in-pillow', 'non-wet']
    """
    moved = (LeftOut.TOMBSTONE,) if family in LEADLESS and family.endswith("dual") else ()
    return MappingProxyType({"bridges": _BRIDGES, "opens": _OPENS[kind], "moved": moved})


def at_rate(found: Mapping[str, Sequence[LeftOut]], what: str, own: bool = False) -> tuple[LeftOut, ...]:
    """What one rate leaves out; of `defects` all, each once.

    Parameters
    ----------
    found : mapping
        By rate, as `left_out` gives it.
    what : str
        `bridges`, `opens`, `moved` or `defects`.
    own : bool
        Whether bridges and opens were counted: a count leaves nothing out.

    Examples
    --------
    >>> [str(one) for one in at_rate(left_out("lead", "gull-wing dual"), "defects")]
    ['smear', 'non-wet', 'bent-lead']
    """
    rates = found if what == "defects" else (what,)
    kept = [one for one in rates if not (own and one in ("bridges", "opens"))]
    return tuple(dict.fromkeys(one for rate in kept for one in found.get(rate, ())))
