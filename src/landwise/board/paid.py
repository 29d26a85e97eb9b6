"""What a whole board pays for, as loads: the places of its parts, its print, its room, and what is paid once.

Pure functions of values. The ledger that is searched and the trails of the board's totals are made of the same ones.
"""

from __future__ import annotations

from collections.abc import Sequence

from landwise.costs.board import area_loads
from landwise.costs.loads import Line, Load
from landwise.lands import LandPattern
from landwise.printing.foils import step_keep_out

FEEDER_LOAD = Load(Line.FEEDER, ("feeder",), 1.0, per_run=True)
OUTLINE_LOAD = Load(Line.OUTLINE, ("outline",), 1.0, per_run=True)
PROCESS_LOADS = (
    Load(Line.SECOND_PROCESS, ("second_process",), 1.0),
    Load(Line.SECOND_PROCESS, ("second_process_setup",), 1.0, per_run=True),
)
PRINTING_LOADS = (
    Load(Line.PRINTING, ("printing",), 1.0),
    Load(Line.PRINTING, ("printing_setup",), 1.0, per_run=True),
    Load(Line.PRINTING, ("foil",), 1.0, per_run=True),
)


def keep_out_area(pattern: LandPattern, step_um: float) -> float:
    """Area that a step's clear margin adds around a courtyard; none where there is no step. [mm²]"""
    if not step_um:
        return 0.0
    width, height = pattern.courtyard_mm
    margin = 2 * step_keep_out(step_um)
    return (width + margin) * (height + margin) - width * height


def placed_loads(
    loads: Sequence[Load],
    count: int,
    area_rate: float,
    keep_out_mm2: float,
    layers: int,
    changed: bool,
    beside: Sequence[Load] = (),
    feeder: bool = True,
) -> tuple[Load, ...]:
    """What all places of a part pay.

    Parameters
    ----------
    loads : sequence of Load
        Of one place.
    count : int
        Places.
    area_rate : float
        What the class of board costs, as a factor on the rate of area.
    keep_out_mm2 : float
        Paid area that the part's step adds at each place. [mm²]
    layers : int
    changed : bool
        Whether an existing board takes this package in place of another.
    beside : sequence of Load
        What all places pay in any package: capacitors, tie-offs and tracks of a way of grouping.
    feeder : bool
        Whether it takes a feeder of its own; a reel that several parts may share is paid once, by `once_loads`.

    Examples
    --------
    >>> [(load.line.value, load.units) for load in placed_loads([Load(Line.PLACEMENT, ("placement",), 1.0)], 3, 1.0,
    ...                                                         0.0, 2, False)]
    [('placement', 3.0), ('feeder', 1.0)]
    """
    found = [load.times(count * (area_rate if load.line == Line.AREA else 1.0)) for load in loads]
    if keep_out_mm2:
        found += [load.times(count * area_rate) for load in area_loads(keep_out_mm2, layers)]
    if feeder:
        found.append(FEEDER_LOAD)
    if changed:
        found.append(Load(Line.CHANGE, ("change",), 1.0, per_run=True))
    return (*found, *beside)


def board_loads(sides: int, rest_mm2: float | None, layers: int, area_rate: float) -> tuple[Load, ...]:
    """What the board itself costs: its second side, and the room that these parts leave of it.

    Parameters
    ----------
    sides : int
    rest_mm2 : float or None
        Board area without the courtyards that are counted with the parts; None where its size is not stated. [mm²]
    layers : int
    area_rate : float
        Of its class.
    """
    found = [Load(Line.SECOND_SIDE, ("second_side",), 1.0)] if sides > 1 else []
    if rest_mm2 is not None:
        found += [load.times(area_rate) for load in area_loads(max(0.0, rest_mm2), layers)]
    return tuple(found)


def panel_loads(
    panel_mm2: float, panels: float, layers: int, area_rate: float, price: float | None = None
) -> tuple[Load, ...]:
    """What a board pays for the panel that it comes on.

    Parameters
    ----------
    panel_mm2 : float
        Of the whole panel, border and all. [mm²]
    panels : float
        Panels that one board takes.
    layers : int
    area_rate : float
        Of the class of board.
    price : float, optional
        Of one panel of this class; its area is paid at the rate where it is not stated. [money]

    Examples
    --------
    >>> [(load.line.value, load.rates, load.units) for load in panel_loads(30000.0, 0.1, 2, 1.0)]
    [('panel', ('board_area',), 30.0)]
    >>> [(load.rates, load.units) for load in panel_loads(30000.0, 0.1, 2, 1.0, 12.0)]
    [((), 1.2000000000000002)]
    """
    if price is not None:
        return (Load(Line.PANEL, (), price * panels),)
    return tuple(Load(Line.PANEL, one.rates, one.units * panels * area_rate) for one in area_loads(panel_mm2, layers))


def once_loads(
    outlines: Sequence[str], stocked: Sequence[str], drilled: bool, printed: bool = False, reels: Sequence[str] = ()
) -> tuple[Load, ...]:
    """What is paid once, however many parts need it: new outlines, a second process, a print, a reel's feeder.

    Parameters
    ----------
    outlines : sequence of str
        Of the chosen options.
    stocked : sequence of str
        That the board carries already.
    drilled : bool
        Whether drilled parts ask for a soldering process that the board does not have anyway.
    printed : bool
        Whether printed parts ask for a print and a reflow that the board does not have anyway.
    reels : sequence of str
        Number and package of the parts whose reel others may share; each of them takes one feeder.

    Examples
    --------
    >>> [load.line.value for load in once_loads(["SO-14", "SO-14", "DIP-8"], ["SO-14"], True)]
    ['outline', 'second-process', 'second-process']
    >>> [load.rates for load in once_loads(["SO-14"], ["SO-14"], False, True)]
    [('printing',), ('printing_setup',), ('foil',)]
    >>> [load.line.value for load in once_loads(["SO-14"], ["SO-14"], False, reels=["LVC 08, SO-14", "LVC 08, SO-14"])]
    ['feeder']
    """
    new = [name for name in dict.fromkeys(outlines) if name not in stocked]
    shared = [FEEDER_LOAD for _ in dict.fromkeys(reels)]
    processes = (*(PROCESS_LOADS if drilled else ()), *(PRINTING_LOADS if printed else ()))
    return (*(OUTLINE_LOAD for _ in new), *processes, *shared)
