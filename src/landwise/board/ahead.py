"""What a study will need and nobody has worked yet, worked by several processes before the judging begins.

Prints are designed option by option, on all foils at once, and take most of the time of a first run. The
processes leave them in the cache folder. This one works its share of them, and judges what is there already, for its
memory. The judging then finds all of it: it is told nothing else, so a result can't depend on whether, or how far, this
was done.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Sequence

from landwise.board.judged import Setups, bench_of, is_many, judge_ahead
from landwise.board.model import Decision, board_bench, decisions_of
from landwise.board.workers import Helpers
from landwise.errors import LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.buying import outlines_of
from landwise.memory import Memory, kept_on
from landwise.outlines import Outline, find
from landwise.study.file import PartTable, Study

WORTH = 30  # prints to be designed, below which starting processes takes longer than it saves
EACH = 12  # prints at least for every process
Piece = tuple[Outline, tuple[Decision, ...]]


def helpers_for(study: Study, jobs: int) -> Helpers[Setups]:
    """Processes that work what a study needs beside this one: so many in all; alone where nothing is kept on disk."""
    return Helpers(setups_ahead, study, jobs - 1 if kept_on() else 0)


def work_ahead(
    study: Study,
    helpers: Helpers[Setups],
    memory: Memory | None = None,
    *,
    stop: Callable[[], bool] | None = None,
    tell: Callable[[int, int, str], None] | None = None,
) -> int:
    """Work what is not known of the prints of all options under all shared decisions; of how many options.

    Parameters
    ----------
    study : Study
    helpers : Helpers
        From `helpers_for`. Without any, or where little is to be designed, nothing is worked ahead.
    memory : Memory, optional
        Where options are judged meanwhile, as soon as their prints are there; without, none is.
    stop : callable, optional
        True ends it early.
    tell : callable, optional
        Called with (done, in all, what).

    Notes
    -----
    A fault of the study is left to the judging, which says where it stands. Processes are started afresh, so a script
    that uses this keeps its work under `if __name__ == "__main__"`.
    """
    if not helpers.count:
        return 0
    try:
        setups = setups_ahead(study, memory)
        wanted = wanted_by(study, setups.bench)
        waiting = waiting_of(setups, [outline for outline, _ in wanted.values()])
    except LandwiseError:
        return 0
    prints = sum(len(decisions) for _, decisions in waiting)
    if prints < WORTH:
        return 0
    from concurrent.futures.process import BrokenProcessPool  # only where processes are started

    stop = stop or (lambda: False)
    helpers.at_most(prints // EACH - 1)
    # Judgements that are themselves shared out, later, are not made here.
    judges = memory is not None and not is_many(setups, sum(len(parts) for _, parts in wanted.values()), 1)
    done = 0
    # Where processes can't be started, or one is ended from outside, the judging works what is left.
    with contextlib.suppress(BrokenProcessPool, OSError):
        for (outline, _), _ in helpers.shared_out(_worked, waiting, setups, stop):
            done += 1
            if tell is not None:
                tell(done, len(waiting), "designing prints")
            for part in wanted[outline.name][1] if judges else ():
                with contextlib.suppress(LandwiseError):  # the judging meets it again, and says whose it is
                    if not stop():
                        judge_ahead(setups, part, outline)
    return done


def setups_ahead(study: Study, memory: Memory | None = None) -> Setups:
    """The line under every shared decision of a study whose parts nobody has judged yet."""
    bench = board_bench(study, memory)
    return Setups(bench, decisions_of(bench), (), ())


def wanted_by(study: Study, bench: Bench) -> dict[str, tuple[Outline, list[PartTable]]]:
    """The outlines that a study asks for by their names, each with the parts that could come in it."""
    found: dict[str, tuple[Outline, list[PartTable]]] = {}
    for part in study.content.part:
        if part.fitted:
            for outline in _offered(part, bench):
                found.setdefault(outline.name, (outline, []))[1].append(part)
    return found


def waiting_of(setups: Setups, outlines: Iterable[Outline]) -> tuple[Piece, ...]:
    """Prints that no run has designed yet: of outlines, each with a shared decision for each of its prints."""
    prints = {(one.foil_um, one.technology, one.powder, one.board.name): one for one in reversed(setups.decisions)}
    decisions = tuple(reversed(prints.values()))
    found = (
        (outline, tuple(one for one in decisions if not bench_of(setups, one, one.foil_um).design_known(outline)))
        for outline in outlines
    )
    return tuple(piece for piece in found if piece[1])


def _offered(part: PartTable, bench: Bench) -> Sequence[Outline]:
    present = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present.terminals if present else None)
    return () if terminals is None else outlines_of(part, terminals, present, bench)


def _worked(setups: Setups, piece: Piece) -> None:
    """Design an option's prints; a fault is met again by the judging, which says whose it is."""
    outline, decisions = piece
    with contextlib.suppress(LandwiseError):
        for decision in decisions:
            bench_of(setups, decision, decision.foil_um).printed(outline)
