"""Whether the chosen board's courtyards lie on the board: from the study to the packing check and back.

A packing check, not a layout: tracks, heat, signals, connectors and which part belongs near which are not in it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from landwise.access.probing import DEFAULT_PROFILE, PROFILES
from landwise.board.model import BoardModel
from landwise.choosing.optimum.front import Point
from landwise.choosing.optimum.model import Solution
from landwise.choosing.packing import BOTTOM, NO_PRINT, TOP, Answer, Item, Keepout, Rect, Room, check_packing
from landwise.choosing.packing.answer import EFFORT, NODES
from landwise.judging.results import OptionResult, PartResult
from landwise.printing.foils import step_keep_out
from landwise.study.file import Board

Stop = Callable[[], bool]
UM = 1000  # micrometres in a millimetre
NOT_A_LAYOUT = "a packing check, not a layout"
SIDES = {"both": (TOP, BOTTOM), "top": (TOP,), "bottom": (BOTTOM,)}
BRIEF = 2000  # effort and branches for today's board, and for each board of the trade-off
MOST_TRIED = 60  # boards of the trade-off


@dataclass(frozen=True)
class WayOut:
    """The cheapest board of the trade-off for which a placement was found, where the choice has none.

    Parameters
    ----------
    number : int
        Of the board in the trade-off, from 1.
    point : Point
    more : float
        What it costs more than the choice, in money per board.
    differs : tuple of str
        What it does otherwise.
    """

    number: int
    point: Point
    more: float
    differs: tuple[str, ...]


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
    way_out : WayOut or None
    money : str
        Unit of what the way out costs.
    """

    answer: Answer
    room: Room
    options: dict[str, OptionResult]
    foils_um: tuple[float, ...]
    unplaced: tuple[str, ...]
    today: Answer | None
    way_out: WayOut | None = None
    money: str = ""

    @property
    def says(self) -> str:
        """The answer in one sentence."""
        said = f"{self.answer.verdict}: {self.answer.why}"
        if self.today is not None and self.today.verdict != self.answer.verdict:
            said += f"; today's packages: {self.today.verdict}"
        if self.way_out is not None:
            out = self.way_out
            said += (
                f"; board {out.number} of the trade-off fits and costs {max(0.0, out.more):.3g} {self.money} more: "
                f"{', '.join(out.differs)}"
            )
        if self.unplaced:
            said += f"; left out, as no package is known: {', '.join(self.unplaced)}"
        return said


Standing = dict[str, tuple[OptionResult, float]]  # what stands at each reference, and the foil over it


def place_board(
    model: BoardModel,
    best: Solution,
    parts: Sequence[PartResult],
    *,
    points: Sequence[Point] = (),
    differs: Callable[[Solution], tuple[str, ...]] | None = None,
    stop: Stop | None = None,
) -> Placing | None:
    """Check whether the chosen options' courtyards lie on the board; None where the study gives no board size.

    Parameters
    ----------
    model : BoardModel
    best : Solution
        The choice.
    parts : sequence of PartResult
        All parts of the study: those outside the choice are taken as they are today.
    points : sequence of Point
        The trade-off by rising cost, searched for a board that fits where the choice does not.
    differs : callable, optional
        What another solution does otherwise, in words.
    stop : callable, optional
        True ends the search; the answer is then "not shown" unless it was found before.
    """
    board = model.bench.content.board
    if board.length is None or board.width is None:
        return None
    standing, unplaced = _standing(model, best, parts)
    base = model.decisions[best.decision].foil_um
    foils = _foils(base, standing)
    room = room_of(board, foils)
    answer = _checked(model, standing, foils, room, EFFORT, NODES, stop)
    today: Standing = {}
    for part in parts:
        if part.part.fitted and part.present is not None:
            today.update(dict.fromkeys(part.part.refs, (part.present, base)))
    before = None
    if today and all(ref in today for part in parts if part.part.fitted for ref in part.part.refs):
        before = _checked(model, today, foils, room, BRIEF, BRIEF, stop)
    options = {ref: option for ref, (option, _) in standing.items()}
    money = f"{model.bench.content.costs.unit} per board"
    placing = Placing(answer, room, options, foils, tuple(unplaced), before, money=money)
    if answer.verdict != "fits":
        placing = replace(placing, way_out=_way_out(model, best, parts, points, differs, stop))
    return placing


def _way_out(
    model: BoardModel,
    best: Solution,
    parts: Sequence[PartResult],
    points: Sequence[Point],
    differs: Callable[[Solution], tuple[str, ...]] | None,
    stop: Stop | None,
) -> WayOut | None:
    cost = model.problem.value(best.decision, best.choice)
    tried = 0
    for number, point in enumerate(points, start=1):
        found = point.found
        if (found.decision, found.choice) == (best.decision, best.choice):
            continue
        if tried == MOST_TRIED or (stop is not None and stop()):
            break
        tried += 1
        standing, _ = _standing(model, found, parts)
        foils = _foils(model.decisions[found.decision].foil_um, standing)
        answer = _checked(model, standing, foils, room_of(model.bench.content.board, foils), BRIEF, BRIEF, stop)
        if answer.verdict == "fits":
            return WayOut(number, point, point.values[0] - cost, differs(found) if differs else ())
    return None


def _standing(model: BoardModel, found: Solution, parts: Sequence[PartResult]) -> tuple[Standing, list[str]]:
    """What stands at each reference in one solution, and references without a known package."""
    index = {part.part.refs[0]: p for p, part in enumerate(model.parts)}
    base = model.decisions[found.decision].foil_um
    standing: Standing = {}
    unplaced: list[str] = []
    for part in parts:
        if not part.part.fitted:
            continue
        p = index.get(part.part.refs[0])
        option, um = part.present, base
        if p is not None:
            option = model.judged[found.decision, p, found.choice[p]]
            if model.steps[found.decision, p, found.choice[p]]:
                um = option.geometry.printed.foil.thickness_um
        if option is None:
            unplaced += part.part.refs
        else:
            standing.update(dict.fromkeys(part.part.refs, (option, um)))
    return standing, unplaced


def _foils(base: float, standing: Standing) -> tuple[float, ...]:
    return tuple(sorted({base, *(um for _, um in standing.values())}, reverse=True))


def _checked(
    model: BoardModel,
    standing: Standing,
    foils: Sequence[float],
    room: Room,
    effort: int,
    nodes: int,
    stop: Stop | None,
) -> Answer:
    """The check, remembered where the caller asks again and again; an answer that was cut off is not kept."""
    items = items_of(standing, foils, model.bench.content.want.probe_access)

    def check() -> Answer:
        return check_packing(items, room, effort=effort, nodes=nodes, stop=stop)

    memory = model.bench.memory
    if memory is None or (stop is not None and stop()):
        return check()
    try:
        return memory.recalled(("placing", items, room, effort, nodes), None, lambda: _whole(check(), stop))
    except _CutOff as cut:
        return cut.answer


class _CutOff(Exception):  # noqa: N818 - carries an answer past the memory, never seen outside
    def __init__(self, answer: Answer) -> None:
        super().__init__()
        self.answer = answer


def _whole(answer: Answer, stop: Stop | None) -> Answer:
    if stop is not None and stop():
        raise _CutOff(answer)
    return answer


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
    gaps = tuple(
        (one, other, _um(max(deep[one], deep[other])))
        for one in range(len(foils_um))
        for other in range(one + 1, len(foils_um))
    )
    return Room(
        *size,
        edge=_um(board.edge_clearance),
        keepouts=tuple(outs),
        sides=board.sides,
        reserved=round(board.reserved * UM * UM),
        gaps=gaps,
    )


def items_of(standing: Standing, foils_um: Sequence[float], probed: bool) -> tuple[Item, ...]:
    """Courtyards, and where every net is to be probed the squares of the probes' grid for its test lands."""
    items = []
    square = _um(PROFILES[DEFAULT_PROFILE].spacing_mm)
    for ref, (option, um) in standing.items():
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
