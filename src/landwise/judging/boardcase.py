"""The study's board as the service room takes it: a plate that is held, a stack that spreads heat, what shakes it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from landwise.errors import InputError
from landwise.service.board_heat import HeatBoard, stack
from landwise.service.plate import Plate
from landwise.service.shaking import Shaken, Shaking, shaken_board

if TYPE_CHECKING:
    from landwise.study.file import Board, PartTable, Use

LAMINATE_G_CM3 = 1.85
COPPER_G_CM3 = 8.96
MODULUS_MPA = (13790.0, 20680.0)  # plain epoxy glass, and with planes: 2.0e6 and 3.0e6 psi
POISSON = (0.12, 0.18)
MODULUS_FACTOR = 1.45  # either way: 10 to 30 GPa around the handbook's values
PARTS_SHARE = (0.1, 0.5, 2.0)  # mass of parts over that of the bare board: least, taken, most
SCREW_INSET_MM = 4.0
FILM = (6.0, 10.0, 15.0)  # W/m²K: least, taken, most
MATERIAL_SOURCES = ("board-material", "board-parts-practice", "board-q", "kirchhoff-plate")


@dataclass(frozen=True)
class Shakes:
    """A board's answer as taken, when softer or heavier, stiffer or lighter, and with screws that hold it level too."""

    taken: Shaken
    soft: Shaken
    stiff: Shaken
    held: Shaken


def copper_shares(board: Board) -> tuple[float, ...]:
    """Share of connected copper on each layer."""
    if board.copper_share:
        return tuple(board.copper_share)
    if board.layers <= 2:
        return (0.4,) * board.layers
    return (0.3, *(0.8,) * (board.layers - 2), 0.3)


def bare_mass_mg(board: Board) -> float:
    """Laminate and copper. [mg]

    Raises
    ------
    InputError
        Where the board's size isn't stated.
    """
    length, width = _size(board)
    copper = COPPER_G_CM3 * board.copper * 1e-3 * sum(copper_shares(board))
    return length * width * (LAMINATE_G_CM3 * board.thickness + copper)


def _size(board: Board) -> tuple[float, float]:
    if board.length is None or board.width is None:
        raise InputError("the board's size isn't stated", place="[board]", expected="length and width")
    return board.length, board.width


def plate_of(board: Board) -> Plate:
    """The board as it is taken to be held.

    Raises
    ------
    InputError
        Without a size, or with screws off the board.
    """
    length, width = _size(board)
    planes = board.layers > 2
    screws = board.screws
    if screws is None:
        inset = min(SCREW_INSET_MM, length / 4, width / 4)
        corners = [(x, y) for x in (inset, length - inset) for y in (inset, width - inset)]
        screws = corners if set(board.edges.lower()) == {"f"} else []
    bare = bare_mass_mg(board)
    return Plate(
        length,
        width,
        board.thickness,
        board.modulus or MODULUS_MPA[planes],
        POISSON[planes],
        bare + (PARTS_SHARE[1] * bare if board.parts_mass is None else board.parts_mass),
        board.edges.lower(),
        tuple(screws),
    )


def shaking_of(use: Use) -> Shaking:
    """What the study says of vibration and shock.

    Raises
    ------
    InputError
        For a level without its time, or both kinds of level.
    """
    if (use.random or use.sine) and not use.vibrated:
        raise InputError("a vibration level without its time", place="[use]", expected='vibrated, such as "20 h"')
    if use.random and use.sine:
        raise InputError("two vibration levels", place="[use]", expected="random or sine")
    hours = (use.vibrated or 0.0) / 3600
    pulse = (use.shock or 0.0, use.shock_time, use.shock_shape, tuple(use.shock_pulse))
    return Shaking(tuple(use.random), use.sine or 0.0, hours, *pulse)


def shakes_of(board: Board, use: Use) -> Shakes:
    """The board's answers over what is not known of it."""
    plate, shaking = plate_of(board), shaking_of(use)
    bare = bare_mass_mg(board)
    low, high = (bare * (1 + share) for share in (PARTS_SHARE[0], PARTS_SHARE[2]))
    lighter, heavier = (
        (0.0, 0.0) if board.parts_mass is not None else (math.log(plate.mass_mg / low), math.log(high / plate.mass_mg))
    )
    material = math.log(MODULUS_FACTOR) if board.modulus is None else math.log(1.1)
    # Frequency goes as √(E/m): both doubts in one factor on the modulus, as independent ones add.
    soft = replace(plate, modulus_mpa=plate.modulus_mpa * math.exp(-math.hypot(material, heavier)))
    stiff = replace(plate, modulus_mpa=plate.modulus_mpa * math.exp(math.hypot(material, lighter)))
    held = replace(plate, screws_hold=True) if plate.supports else plate
    return Shakes(*(shaken_board(each, shaking) for each in (plate, soft, stiff, held)))


def heat_board_of(board: Board, film: float) -> HeatBoard:
    """The board as a stack of copper sheets.

    Raises
    ------
    InputError
        Without a size, or with shares that don't fit the layers.
    """
    length, width = _size(board)
    copper, gaps = stack(board.layers, board.copper, copper_shares(board), board.thickness)
    return HeatBoard(length, width, copper, gaps, film, film)


def places_of(part: PartTable) -> list[tuple[float, float]]:
    """Where the study says the part's references sit.

    Raises
    ------
    InputError
        For a place of a reference that the part doesn't have.
    """
    for ref in part.at:
        if ref not in part.refs:
            raise InputError("a place of a reference that isn't there", place=f"{part.refs[0]}, at", found=ref)
    return list(part.at.values())
