"""What saved area makes possible where no panel makes money of it, in one sentence, and when room must be asked for."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.board.model import AREA
from landwise.board.result import BoardResult
from landwise.quantities import significant

LEAST_MM2 = 0.05  # below it nothing was saved
LEAST_ASKED_MM2 = 1.0  # more taken than this is asked about; less is within what one courtyard is rounded up by


@dataclass(frozen=True)
class Room:
    """Area that the chosen packages leave free, and what else of this board it would hold.

    Parameters
    ----------
    saved_mm2 : float
        What the parts take today (courtyards, test lands, margins of steps) less what those chosen take.
    share : float
        Of what the parts take today.
    fixed : bool
        Whether the outline stays as it is; else the board follows, and its area is paid.
    package, of : str
        The largest package chosen, and the part that has it.
    more : int
        How many more of it would take no more than was saved; by area alone, which is no layout.
    """

    saved_mm2: float
    share: float
    fixed: bool
    package: str
    of: str
    more: int


def room_of(result: BoardResult) -> Room | None:
    """The room that the choice leaves; None where a panel is stated, the size is not, or no board is chosen."""
    board = result.content.board
    if board.panel is not None or board.length is None or board.width is None:
        return None
    if result.before is None or result.after is None or result.choice is None or not result.choice.best.found:
        return None
    chosen = [(part, part.chosen) for part in result.parts if part.part.fitted and part.chosen is not None]
    if not chosen or not result.before.area_mm2:
        return None
    saved = result.before.area_mm2 - result.after.area_mm2
    part, largest = max(chosen, key=lambda one: one[1].area_mm2)
    more = int(max(0.0, saved) / largest.area_mm2 + 1e-9)
    return Room(saved, saved / result.before.area_mm2, not board.gives_way, largest.name, part.part.refs[0], more)


def room_says(room: Room) -> str:
    """What the room is worth, in the designer's own packages; empty where none was saved or taken.

    >>> room_says(Room(62.0, 0.31, True, "SOIC-14", "U3", 1))
    '62 mm² saved on a fixed outline: room, not money; as much as another SOIC-14 (as U3) takes, 31% of the logic'
    >>> room_says(Room(62.0, 0.31, False, "SOIC-14", "U3", 1))
    '62 mm² saved, counted as board area; [board.panel] would count it in boards a panel'
    >>> room_says(Room(-8.0, -0.1, True, "SOIC-14", "U3", 0))
    '8 mm² more taken of the room on a fixed outline'
    """
    if abs(room.saved_mm2) < LEAST_MM2:
        return ""
    area = f"{significant(abs(room.saved_mm2))} mm²"
    if not room.fixed:
        which = "saved" if room.saved_mm2 > 0 else "more"
        return f"{area} {which}, counted as board area; [board.panel] would count it in boards a panel"
    if room.saved_mm2 < 0:
        return f"{area} more taken of the room on a fixed outline"
    as_much = ""
    if room.more == 1:
        as_much = f" as much as another {room.package} (as {room.of}) takes,"
    elif room.more > 1:
        as_much = f" as much as {room.more} more {room.package} (as {room.of}) take,"
    return f"{area} saved on a fixed outline: room, not money;{as_much} {room.share:.0%} of the logic"


def room_line(result: BoardResult) -> str:
    """What saved area makes possible, in words; empty where there is nothing to say or a panel says it."""
    room = room_of(result)
    return "" if room is None else room_says(room)


def more_room_mm2(result: BoardResult) -> float:
    """By how much the chosen packages take more than today's where nothing says that there is room; else nothing. [mm²]

    A stated size is held against all courtyards by the placement check, a stated limit or panel by the choice.
    """
    board, found = result.content.board, result.choice
    if found is None or not found.best.found or result.before is None or result.after is None:
        return 0.0
    sized = board.length is not None and board.width is not None
    if sized or board.panel is not None or AREA in result.content.want.board_limits:
        return 0.0
    more = result.after.area_mm2 - result.before.area_mm2
    return more if more >= LEAST_ASKED_MM2 else 0.0
