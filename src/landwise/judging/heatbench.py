"""All heat of a study's board on one field: parts where they sit, those without a place and all else spread evenly."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from landwise.errors import LandwiseError
from landwise.judging.boardcase import FILM, heat_board_of, places_of
from landwise.outlines import Outline, find
from landwise.service.board_heat import HeatBoard, HeatField, Source
from landwise.service.families import family_of
from landwise.service.heatfield import background

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from landwise.study.file import PartTable, StudyFile

USUAL_SIDE_MM = 5.0  # of a part whose package is not known: a rule of ours
MOST_LOGIC_V = 7.0  # a stated voltage above it is no logic supply


def supply_of(part: PartTable, content: StudyFile) -> float | None:
    """Supply a part runs at: its own, else the study's stated voltage where logic stands it, else its family's. [V]"""
    if part.supply is not None:
        return part.supply
    use = content.use
    if "voltage" in use.model_fields_set and 0 < use.voltage <= MOST_LOGIC_V:
        return use.voltage
    family = family_of(part.family)
    return family.supply_v if family else None


def footprint_mm(outline: Outline | None) -> tuple[float, float]:
    """Across and along of a part as a heat source. [mm]"""
    if outline is None:
        return USUAL_SIDE_MM, USUAL_SIDE_MM
    across = (outline.body_width_mm, outline.span_mm, outline.row_spacing_mm)
    return max(r.nom for r in across if r is not None), outline.body_length_mm.nom


def outline_of(part: PartTable, own: Sequence[Outline]) -> Outline | None:
    """The package a part is taken to come in while another part is judged: today's, else its first option."""
    names = [part.package, *(() if part.options == "any" else (option.outline for option in part.options))]
    for name in names:
        try:
            if name:
                return find(name, own)
        except LandwiseError:
            continue
    return None


def heat_at(
    content: StudyFile,
    own: Sequence[Outline],
    part: PartTable,
    end: int,
    power_of: Callable[[PartTable], tuple[float, float, float] | None],
) -> float | None:
    """Rise of the board by everything but one part, at that part's warmest place. [K]

    Parameters
    ----------
    power_of : callable
        Low, taken and high power of a part, None where it isn't known. [W]
    end : {0, 1, 2}
        Low end (generous film, least powers), as taken, high end.

    Returns
    -------
    float or None
        None where the board's size isn't stated.
    """
    board = content.board
    if board.length is None or board.width is None:
        return None
    placed: list[Source] = []
    spread = board.other_power
    for other in content.part:
        if other is part or not other.fitted:
            continue
        power = power_of(other)
        if power is None:
            continue
        across, along = footprint_mm(outline_of(other, own))
        places = list(places_of(other))
        for place in places:
            placed.append(_source(place, (across, along), (board.length, board.width), power[end]))
        # Parts without a place warm the board evenly: their heat is not lost.
        spread += power[end] * (len(other.refs) - len(places))
    # Others of the same number warm it too, from their own places.
    mine = power_of(part)
    here = list(places_of(part))
    film = FILM[2 - end]
    if mine is not None and len(part.refs) > 1:
        spread += mine[end] * (len(part.refs) - max(len(here), 1))
    if not placed and spread == 0 and len(here) < 2:
        return 0.0
    size = footprint_mm(outline_of(part, own))
    found = []
    for number, place in enumerate(here or [(board.length / 2, board.width / 2)]):
        rest = [p for k, p in enumerate(here) if k != number]
        same = [_source(p, size, (board.length, board.width), mine[end]) for p in rest] if mine is not None else []
        field = _field(heat_board_of(board, film), (*placed, *same), spread)
        found.append(field.under(_source(place, size, (board.length, board.width), 0.0)))
    return max(found)


@lru_cache(maxsize=512)
def _field(board: HeatBoard, sources: tuple[Source, ...], other_w: float) -> HeatField:
    return background(board, sources, other_w)


def _source(
    place: tuple[float, float], size: tuple[float, float], board: tuple[float, float], power_w: float
) -> Source:
    across, along = min(size[0], board[0]), min(size[1], board[1])
    x = min(max(place[0], across / 2), board[0] - across / 2)
    y = min(max(place[1], along / 2), board[1] - along / 2)
    return Source(x, y, across, along, power_w)
