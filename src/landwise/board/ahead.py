"""What a study will need and nobody has worked yet, worked by several processes before the judging begins.

Prints are designed option by option, on all foils at once, and take most of the time of a first run. The
processes leave them in the cache folder, where the judging then finds them: it is told nothing else, so a result can't
depend on whether, or how far, this was done.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence

from landwise.board.judged import Setups, bench_of
from landwise.board.model import Decision, decisions_of
from landwise.board.workers import shared_out
from landwise.errors import LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.buying import outlines_of
from landwise.memory import kept_on
from landwise.outlines import Outline, find
from landwise.study.file import PartTable, Study

WORTH = 30  # prints to be designed, below which starting processes takes longer than it saves
EACH = 12  # prints at least for every process
Piece = tuple[Outline, tuple[Decision, ...]]


def work_ahead(
    study: Study,
    *,
    jobs: int,
    stop: Callable[[], bool] | None = None,
    tell: Callable[[int, int, str], None] | None = None,
) -> int:
    """Work what is not known of the prints of all options under all shared decisions; of how many options.

    Parameters
    ----------
    study : Study
    jobs : int
        Processes; with one, or where nothing is kept on disk, nothing is worked ahead.
    stop : callable, optional
        True ends it early.
    tell : callable, optional
        Called with (done, in all, what).

    Notes
    -----
    A fault of the study is left to the judging, which says where it stands. Processes are started afresh, so a script
    that uses this keeps its work under `if __name__ == "__main__"`.
    """
    if jobs < 2 or kept_on() is None:
        return 0
    try:
        waiting = waiting_of(study)
    except LandwiseError:
        return 0
    prints = sum(len(decisions) for _, decisions in waiting)
    if prints < WORTH:
        return 0
    from concurrent.futures.process import BrokenProcessPool  # only where processes are started

    done, jobs = 0, min(jobs, prints // EACH, len(waiting))
    given = study, waiting
    # Where processes can't be started, or one is ended from outside, the judging works what is left.
    with contextlib.suppress(BrokenProcessPool, OSError):
        for _ in shared_out(_prepared, given, _worked, len(waiting), jobs, stop or (lambda: False)):
            done += 1
            if tell is not None:
                tell(done, len(waiting), "designing prints")
    return done


def waiting_of(study: Study) -> tuple[Piece, ...]:
    """Prints that the study asks for and no run has designed yet: outlines, each with a shared decision for each."""
    bench = Bench.of(study)
    setups = Setups(bench, decisions_of(bench), (), ())
    outlines: dict[str, Outline] = {}
    for part in study.content.part:
        if part.fitted:
            outlines |= {outline.name: outline for outline in _offered(part, bench)}
    prints = {(one.foil_um, one.technology, one.powder, one.board.name): one for one in reversed(setups.decisions)}
    decisions = tuple(reversed(prints.values()))
    found = (
        (outline, tuple(one for one in decisions if not bench_of(setups, one, one.foil_um).design_known(outline)))
        for outline in outlines.values()
    )
    return tuple(piece for piece in found if piece[1])


def _offered(part: PartTable, bench: Bench) -> Sequence[Outline]:
    present = find(part.package, bench.own) if part.package else None
    terminals = part.terminals or (present.terminals if present else None)
    return () if terminals is None else outlines_of(part, terminals, present, bench)


def _prepared(given: tuple[Study, tuple[Piece, ...]]) -> tuple[Setups, tuple[Piece, ...]]:
    study, pieces = given
    bench = Bench.of(study)
    return Setups(bench, decisions_of(bench), (), ()), pieces


def _worked(state: tuple[Setups, tuple[Piece, ...]], number: int) -> bool:
    setups, pieces = state
    outline, decisions = pieces[number]
    try:
        for decision in decisions:
            bench_of(setups, decision, decision.foil_um).printed(outline)
    except LandwiseError:
        return False  # the judging meets it again, and says whose it is
    return True
