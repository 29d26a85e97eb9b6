"""Does everything fit on the board? Proofs against it first, then a search for it, then a search of all there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from landwise.choosing.packing.bounds import demand, offer, too_large, weighed
from landwise.choosing.packing.check import faults
from landwise.choosing.packing.exact import settle
from landwise.choosing.packing.model import Answer, Item, Placed, Room, Strip
from landwise.choosing.packing.pack import Trial, pack

Stop = Callable[[], bool]
FEW = 12  # items up to which every arrangement is searched before the packer's longer search
MORE = 20  # items up to which it is searched after that
LARGEST = (4, 8, 12)  # how many of the largest are searched alone, to prove that even they don't fit
SHARE_OF_NODES = {True: 0.2, False: 0.6}  # of the branches: for some of the items, and for all
MOST_ITEMS = 10_000  # the packer's time grows with the square of their number: half a minute for so many
EFFORT = 8000  # items placed by the packer, over all its trials: about a second
NODES = 60000  # branches of the exact search: about as long


def check_packing(
    items: Sequence[Item],
    room: Room,
    *,
    effort: int = EFFORT,
    nodes: int = NODES,
    seed: int = 1,
    stop: Stop | None = None,
) -> Answer:
    """Say whether items fit on a board: yes with a placement, no with a proof, or not shown.

    Parameters
    ----------
    items : sequence of Item
        Courtyards and test lands.
    room : Room
    effort, nodes : int
        Bounds on the packer's and on the exact search's work; never on the clock, so that every run says the same.
    seed : int
    stop : callable, optional
        True ends the search early.

    Notes
    -----
    A packing check, not a layout: it knows no tracks, no heat, no signal and no place where a connector must be.
    A placement is given out only after `faults` found nothing wrong with it.

    Examples
    --------
    Squares of 1 to 5 fit into 5 by 12 and, though their area is only 55, into nothing of area 59 or less:

    >>> squares = [Item(f"U{n}", n, n) for n in range(1, 6)]
    >>> check_packing(squares, Room(12, 5)).verdict, check_packing(squares, Room(8, 7)).verdict
    ('fits', 'does not fit')
    """
    items = tuple(items)
    need, has = demand(items, room), offer(room)
    share = need / has if has else float("inf")
    impossible = _impossible(items, room, need, has)
    if len(items) > MOST_ITEMS:
        why = impossible or f"{len(items)} courtyards and test lands are more than the {MOST_ITEMS} that are tried"
        return Answer("does not fit" if impossible else "not shown", why, left_out=items, share=share)
    if impossible:
        tried = pack(items, room, effort=effort // 8, seed=seed, stop=stop)
        return _not(tried.best, impossible, share, tried.trials, 0)
    trials = branches = 0
    best: Trial | None = None
    for stage in _stages(len(items)):
        if isinstance(stage, float):
            found = pack(items, room, effort=round(stage * effort), seed=seed, stop=stop)
            trials += found.trials
            best = found.best if best is None else min(best, found.best, key=lambda trial: trial.missing)
            if not best.left_out:
                why = f"a placement was found and checked; {share:.0%} of the room is taken"
                return _fits(items, room, best.placement, best.strips, why, share, trials, branches)
            seed += 1
            continue
        settled = settle(
            _largest(items, stage), room, nodes=round(nodes * SHARE_OF_NODES[stage < len(items)]), stop=stop
        )
        branches += settled.nodes
        if settled.fits is False:
            who = "these parts" if stage == len(items) else f"the {stage} largest parts alone"
            why = f"no arrangement of {who} fits ({branches} branches searched)"
            return _not(best, why, share, trials, branches)
        if settled.fits and stage == len(items) and not room.reserved:
            why = f"the exact search found a placement, and it was checked; {share:.0%} of the room is taken"
            return _fits(items, room, settled.placement, (), why, share, trials, branches)
    return _open(best or Trial((), items, ()), share, trials, branches)


def _stages(items: int) -> list[float | int]:
    """What to do in turn: a share of the packer's effort, or an exact search over so many of the largest."""
    some: list[float | int] = [most for most in LARGEST if most < items]
    if items <= FEW:
        return [0.25, *some, items, 0.75]
    return [0.25, *some, 0.75, *([items] if items <= MORE else [])]


def _largest(items: tuple[Item, ...], most: int) -> list[Item]:
    return sorted(items, key=lambda item: -item.area)[:most]


def _fits(
    items: tuple[Item, ...],
    room: Room,
    placement: tuple[Placed, ...],
    strips: tuple[Strip, ...],
    why: str,
    share: float,
    trials: int,
    nodes: int,
) -> Answer:
    wrong = faults(items, room, placement, strips)
    if wrong:
        raise RuntimeError(f"a placement was made that is none: {wrong[0]}")
    return Answer("fits", why, placement, strips=strips, share=share, trials=trials, nodes=nodes)


def _not(best: Trial | None, why: str, share: float, trials: int, nodes: int) -> Answer:
    """Proven against; the best attempt shows what stays outside."""
    best = best or Trial((), (), ())
    return Answer("does not fit", why, best.placement, best.left_out, best.strips, share, trials, nodes)


def _open(best: Trial, share: float, trials: int, nodes: int) -> Answer:
    names = [item.name for item in best.left_out]
    told = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    why = f"the best of {trials} trials has no place for {told}; {share:.0%} of the room would be taken"
    return Answer("not shown", why, best.placement, best.left_out, best.strips, share, trials, nodes)


def _impossible(items: tuple[Item, ...], room: Room, need: int, has: int) -> str:
    """A proof that needs no search; empty where there is none."""
    if need > has:
        rest = f", {room.reserved / 1e6:.4g} mm² of it reserved," if room.reserved else ""
        return f"{need / 1e6:.4g} mm² are wanted{rest} and the board offers {has / 1e6:.4g} mm²"
    large = too_large(items, room)
    if large is not None:
        return (
            f"{large.name} with {large.length / 1000:.4g} by {large.width / 1000:.4g} mm is larger than any free "
            "rectangle of the empty board"
        )
    weight = weighed(items, room)
    if weight > 1:
        return (
            f"weighed by dual-feasible functions, which no placement exceeds, the parts take {float(weight):.4g} of 1"
        )
    return ""
