"""Whether the chosen board's courtyards lie on the board: from the study to the packing check and back.

A packing check, not a layout: tracks, heat, signals, connectors and which part belongs near which are not in it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from landwise.access.probing import DEFAULT_PROFILE, PROFILES
from landwise.boardmodel import BoardModel
from landwise.choosing.board.model import Solution
from landwise.choosing.packing import BOTTOM, NO_PRINT, TOP, Answer, Item, Keepout, Rect, Room, check_packing
from landwise.printing.foils import step_keep_out
from landwise.studies import OptionResult, PartResult
from landwise.studyfile import Board

Stop = Callable[[], bool]
UM = 1000  # micrometres in a millimetre
NOT_A_LAYOUT = "a packing check, not a layout"
SIDES = {"both": (TOP, BOTTOM), "top": (TOP,), "bottom": (BOTTOM,)}
TODAYS_EFFORT = 2000  # today's board is checked more briefly


@dataclass(frozen=True)
class Placing:
    """The packing check of a chosen board.

    Parameters
    ----------
    answer : Answer
    room : Room
    options : dict of str to OptionResult
        What stands at each reference.
    foils_um : tuple of float
        The foil over the parts of each number in `Item.foil`; the first is the board's.
    unplaced : tuple of str
        References of fitted parts whose package is not known, which the check leaves out.
    today : Answer or None
        The same for today's packages, where all are known.
    """

    answer: Answer
    room: Room
    options: dict[str, OptionResult]
    foils_um: tuple[float, ...]
    unplaced: tuple[str, ...]
    today: Answer | None

    @property
    def says(self) -> str:
        """The answer in one sentence."""
        said = f"{self.answer.verdict}: {self.answer.why}"
        if self.today is not None and self.today.verdict != self.answer.verdict:
            said += f"; today's packages: {self.today.verdict}"
        if self.unplaced:
            said += f"; left out, as no package is known: {', '.join(self.unplaced)}"
        return said


def place_board(
    model: BoardModel, best: Solution, parts: Sequence[PartResult], *, stop: Stop | None = None
) -> Placing | None:
    """Check whether the chosen options' courtyards lie on the board; None where the study gives no board size.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        The choice.
    parts : sequence of PartResult
        All parts of the study: those outside the choice are taken as they are today.
    stop : callable, optional
        True ends the search; the answer is then "not shown" unless it was found before.
    """
    content = model.bench.content
    board = content.board
    if board.length is None or board.width is None:
        return None
    index = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    base = model.decisions[best.decision].foil_um
    chosen: dict[str, tuple[OptionResult, float]] = {}
    today: dict[str, tuple[OptionResult, float]] | None = {}
    unplaced: list[str] = []
    for part in parts:
        if not part.part.fitted:
            continue
        p = index.get(part.part.refs[0])
        option, um = part.present, base
        if p is not None:
            option = model.judged[best.decision, p, best.choice[p]]
            if model.steps[best.decision, p, best.choice[p]]:
                um = option.geometry.printed.foil.thickness_um
        if option is None:
            unplaced += part.part.refs
        else:
            chosen.update(dict.fromkeys(part.part.refs, (option, um)))
        if part.present is None:
            today = None
        elif today is not None:
            today.update(dict.fromkeys(part.part.refs, (part.present, base)))
    foils = tuple(sorted({base, *(um for _, um in chosen.values())}, reverse=True))
    room = room_of(board, foils)
    probed = content.want.probe_access
    answer = check_packing(items_of(chosen, foils, probed), room, stop=stop)
    before = None
    if today:
        before = check_packing(
            items_of(today, foils, probed), room, effort=TODAYS_EFFORT, nodes=TODAYS_EFFORT, stop=stop
        )
    options = {ref: option for ref, (option, _) in chosen.items()}
    return Placing(answer, room, options, foils, tuple(unplaced), before)


def room_of(board: Board, foils_um: Sequence[float]) -> Room:
    """The board as the packing check sees it; the first foil is the board's, the others are its steps.

    Examples
    --------
    >>> room = room_of(Board(length="50 mm", width="30 mm", edge_clearance="1 mm"), (120.0, 100.0))
    >>> room.inside, room.gap(0, 1)
    (Rect(x1=1000, y1=1000, x2=49000, y2=29000), 720)
    """
    if board.length is None or board.width is None:
        raise ValueError("the board has no size")
    size = _um(board.length), _um(board.width)
    outs = []
    for out in board.keepouts:
        rect = Rect(_um(out.x), _um(out.y), _um(out.x + out.length), _um(out.y + out.width))
        outs.append(Keepout(out.name, rect.within(Rect(0, 0, *size)) or rect, SIDES[out.side]))
    # A zone's clear margin may lie over anything but an aperture that the other foil prints.
    deep = [step_keep_out(foils_um[0] - um) if um < foils_um[0] else 0.0 for um in foils_um]
    gaps = {
        (one, other): _um(max(deep[one], deep[other]))
        for one in range(len(foils_um)) for other in range(one + 1, len(foils_um))
    }  # fmt: skip
    return Room(
        *size, edge=_um(board.edge_clearance), keepouts=tuple(outs), sides=board.sides,
        reserved=round(board.reserved * UM * UM), gaps=gaps,
    )  # fmt: skip


def items_of(
    placed: dict[str, tuple[OptionResult, float]], foils_um: Sequence[float], probed: bool
) -> tuple[Item, ...]:
    """Courtyards, and where every net is to be probed the squares of the probes' grid for its test lands."""
    items = []
    square = _um(PROFILES[DEFAULT_PROFILE].spacing_mm)
    for ref, (option, um) in placed.items():
        outline = option.geometry.outline
        x, y = (_um(edge) for edge in option.geometry.pattern.courtyard_mm)
        foil = NO_PRINT if outline.drilled else foils_um.index(um)
        items.append(Item(ref, x, y, foil, outline.drilled, "part", outline.name))
        lands = option.geometry.probing.test_lands if probed else 0
        items += [
            Item(f"test land {n} of {ref}", square, square, NO_PRINT, False, "test land", DEFAULT_PROFILE)
            for n in range(1, lands + 1)
        ]
    return tuple(items)


def _um(mm: float) -> int:
    return round(mm * UM)
