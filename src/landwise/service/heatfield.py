"""Junctions on one field: the board warmed by all its parts and all else on it, each junction above its own place.

Heat that a part gives to the board warms every other part; so a junction is never colder than the board under it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from landwise.errors import InputError
from landwise.service.bands import Band
from landwise.service.board_heat import HeatBoard, HeatField, Source, board_heat
from landwise.service.resistances import sheets

# Data sheets of one package differ by about two times between dice, boards and makers: half of it either way.
SHEET_FACTOR = math.sqrt(2.0)
# Sheets imply 1.1 to 1.8 times what the conduction model gives for a standard test board (docs/service_board.md).
# Only a part's own spot is doubted so: what reaches it from afar is ruled by the balance of energy.
SPOT_DOUBT = Band(0.9, 1.0, 1.8)


@dataclass(frozen=True)
class HeatPart:
    """One part as the board feels it.

    Parameters
    ----------
    name : str
    source : Source
        Place, size and power as taken.
    power_w : Band
        Power with its interval; its value is the source's. [W]
    over_board_k_w : Band
        Junction over the board under it. [K/W]
    """

    name: str
    source: Source
    power_w: Band
    over_board_k_w: Band

    def __post_init__(self) -> None:
        if self.power_w.low < 0 or self.over_board_k_w.low < 0:
            raise InputError("power and resistance can't be negative", place=self.name)


@dataclass(frozen=True)
class Junction:
    """One part's temperatures. [°C]

    `board_c` is the mean of the board under it, `junction_c` never below that; `others_k` is what all else adds.
    """

    name: str
    board_c: Band
    junction_c: Band
    others_k: Band


def sheet_spread(k_w: float) -> Band:
    """A resistance of one sheet with the spread between sheets. [K/W]

    >>> band = sheet_spread(100.0)
    >>> round(band.high / band.low, 6)
    2.0
    """
    return Band(k_w / SHEET_FACTOR, k_w, k_w * SHEET_FACTOR)


def share_over_board() -> Band:
    """Junction over board as a share of θJA, over every row that prints both: extremes and the median. [-]

    >>> band = share_over_board()
    >>> 0 < band.low < band.value < band.high <= 1
    True
    """
    shares = sorted(
        row.to_board / row.ja for sheet in sheets().values() for row in sheet.rows.values() if row.to_board is not None
    )
    return Band(max(shares[0], 0.0), shares[len(shares) // 2], min(shares[-1], 1.0))


def over_board(ja_k_w: float, to_board_k_w: float | None) -> Band:
    """Junction over the board under a part, from one row of a sheet, with the spread between sheets. [K/W]

    Parameters
    ----------
    ja_k_w, to_board_k_w : float, float or None
        θJA, and ψJB or θJB where the sheet prints one.

    Notes
    -----
    Without a figure to the board it is a share of θJA, as wide as the sheets that print both make it.

    >>> known, guessed = over_board(94.0, 55.0), over_board(94.0, None)
    >>> guessed.high / guessed.low > known.high / known.low
    True
    """
    if ja_k_w <= 0 or (to_board_k_w is not None and to_board_k_w <= 0):
        raise InputError("thermal resistances must be positive", found=f"{ja_k_w:g}, {to_board_k_w} K/W")
    if to_board_k_w is not None:
        return sheet_spread(to_board_k_w)
    share = share_over_board()
    return Band(share.low * ja_k_w / SHEET_FACTOR, share.value * ja_k_w, share.high * ja_k_w * SHEET_FACTOR)


def even_source(board: HeatBoard, power_w: float) -> Source:
    """Heat of everything that is no part of the study, spread over the whole board."""
    middle = (board.length_mm / 2, board.width_mm / 2)
    return Source(*middle, board.length_mm, board.width_mm, power_w)


def background(board: HeatBoard, sources: Sequence[Source], other_w: float) -> HeatField:
    """Field of so many sources and an even rest.

    Raises
    ------
    InputError
        As `board_heat`; also for a negative rest.

    Examples
    --------
    All that goes in comes out to the air:

    >>> board = HeatBoard(80, 50, (14.0, 14.0), (1.5,))
    >>> field = background(board, [Source(20, 20, 5, 5, 0.4)], 0.6)
    >>> round(field.lost_w, 9)
    1.0
    """
    if other_w < 0:
        raise InputError("power can't be negative", found=f"{other_w:g} W")
    return board_heat(board, (*sources, *((even_source(board, other_w),) if other_w > 0 else ())))


def junctions(
    boards: tuple[HeatBoard, HeatBoard, HeatBoard], parts: Sequence[HeatPart], ambient_c: float, other_w: float = 0.0
) -> tuple[Junction, ...]:
    """Junction of every part on one board.

    Parameters
    ----------
    boards : (least, taken, most)
        The board with its least, its taken and its most generous film to the air.
    parts : sequence of HeatPart
    ambient_c, other_w : float
        Air [°C], and heat of all else on the board [W].

    Notes
    -----
    One linear field a film: the sum over all sources. The low end takes the generous film and every power at its least,
    the high end the meagre film and every power at its most, the part's own spot times `SPOT_DOUBT`.

    Examples
    --------
    >>> def board(film): return HeatBoard(80, 50, (14.0, 14.0), (1.5,), film, film)
    >>> hot = HeatPart("U1", Source(20, 25, 5, 5, 0.5), Band.exact(0.5), Band(20, 30, 40))
    >>> idle = HeatPart("U2", Source(28, 25, 5, 5, 0.0), Band.exact(0.0), Band(20, 30, 40))
    >>> found = junctions((board(6), board(10), board(15)), (hot, idle), 60.0)
    >>> all(one.junction_c.value >= one.board_c.value > 60 for one in found)
    True
    """
    ends = []
    for board, end in zip((boards[2], boards[1], boards[0]), ("low", "value", "high"), strict=True):
        powers = [float(getattr(part.power_w, end)) for part in parts]
        placed = [replace(part.source, power_w=power) for part, power in zip(parts, powers, strict=True)]
        field = background(board, placed, other_w)
        doubt = float(getattr(SPOT_DOUBT, end))
        rows = []
        for part, source, power in zip(parts, placed, powers, strict=True):
            whole = field.under(source)
            own = board_heat(board, (source,)).under(source) if power > 0 else 0.0
            under = ambient_c + max(whole - own, 0.0) + doubt * own
            rows.append((under, under + power * float(getattr(part.over_board_k_w, end)), max(whole - own, 0.0)))
        ends.append(rows)
    low, value, high = ends
    return tuple(
        Junction(part.name, *(Band(*sorted((a, b, c))) for a, b, c in zip(one, two, three, strict=True)))
        for part, one, two, three in zip(parts, low, value, high, strict=True)
    )
