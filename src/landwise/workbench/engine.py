"""The engine with a memory: the answer of the command line to a question about one part, worked once.

Nothing here computes differently from the command line. What is worked is kept; work that nobody wants any longer
stops at the next package; and where a neighbour works ahead (`ahead`), what it worked is taken over.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import Any

from landwise.board.choice import choose_board
from landwise.board.result import BoardResult
from landwise.errors import LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.results import StudyResult
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.answer import hangs_on, sure_line
from landwise.study.file import Study
from landwise.workbench.ahead import Neighbour, houses

MOST_RESULTS = 80
MOST_HANGS = 3
ASK_AGAIN_S = 0.1  # how often who waits for the engine looks whether the answer is still wanted

Wanted = Callable[[], bool]
Tell = Callable[[int, int, str], None]
After = Callable[[StudyResult], Iterable[Callable[[], object]]]


def nobody() -> bool:
    """Nobody stops it."""
    return True


class StaleError(LandwiseError):
    """A question that its asker has replaced by a newer one."""


@dataclass(frozen=True)
class Answered:
    """What the command line says of a question about one part.

    Parameters
    ----------
    judged : StudyResult
        Its part with all options, set to its option of the choice.
    sure : str
        How sure the choice is; empty where nothing could be chosen.
    hangs : tuple of str
        What it hangs on, what matters most first.
    """

    judged: StudyResult
    sure: str = ""
    hangs: tuple[str, ...] = ()

    @classmethod
    def of(cls, result: BoardResult) -> Answered:
        """From the whole result, which is let go: it holds every option under every shared decision."""
        answer = result.choice.answer if result.choice else None
        sure = (
            sure_line(answer.parts[0], result.parts[0], result.content.costs.unit)
            if answer is not None and answer.parts
            else ""
        )
        return cls(result.judged, sure, tuple(hangs_on(result)[:MOST_HANGS]))


class Engine:
    """Runs studies of one part, and keeps what it worked by what it follows from.

    Parameters
    ----------
    neighbour : Neighbour, optional
        Who works ahead in a process of its own.
    after : callable
        Pieces of work that follow from a result and that its page will want, such as shapes of joints to be drawn.
    """

    def __init__(self, *, neighbour: Neighbour | None = None, after: After = lambda _: ()) -> None:
        self.memory = Memory()
        self.neighbour = neighbour
        self._after = after
        self._work = threading.Lock()
        self._shelf = threading.Lock()
        self._results: OrderedDict[str, Answered] = OrderedDict()

    def knows(self, study: Study) -> bool:
        """Whether the study's answer is there already."""
        return study.content.model_dump_json() in self._results

    def run(self, study: Study, wanted: Wanted = nobody, tell: Tell = lambda *_: None) -> Answered:
        """The study's answer, from memory where the same was asked before: that one never waits for other work.

        Parameters
        ----------
        study : Study
            Of one part.
        wanted : callable
            Asked between packages; the work stops when the answer is no longer wanted.
        tell : callable
            Told (done, in all, what) meanwhile.

        Raises
        ------
        StaleError
            If it stopped.
        LandwiseError
            As `choose_board`.
        """
        key = study.content.model_dump_json()
        found = self._known(key)
        if found is not None:
            return found
        # One at a time: with two at once both would be late, and the second often needs what the first works.
        while not self._work.acquire(timeout=ASK_AGAIN_S):
            if not wanted():
                raise StaleError("a newer question has come")
        try:
            found = self._known(key)
            if found is None:
                if self.neighbour is not None:
                    self.neighbour.help(study)
                found = Answered.of(self.whole(study, wanted, tell))
                with self._shelf:
                    kept(self._results, key, found, MOST_RESULTS)
            return found
        finally:
            self._work.release()

    def whole(self, study: Study, wanted: Wanted = nobody, tell: Tell = lambda *_: None) -> BoardResult:
        """The whole result, with the reasons of the choice, for the files that are taken along.

        Raises
        ------
        StaleError
            If it is no longer wanted.
        LandwiseError
            As `choose_board`.
        """
        asked = _Asked(wanted)
        self.memory.take_up(study.board_key)  # what the command line left of this question
        bench = self.bench(study)
        outlines = houses(study.content.part[0], bench)
        for number, outline in enumerate(outlines):
            tell(number, len(outlines), f"{outline.name} on this foil")
            asked.check()
            bench.geometry(outline)
        judged = run_study(study, bench=bench)
        asked.check()
        result = choose_board(
            judged,
            memory=self.memory,
            stop=asked.stop,
            progress=lambda done, whole, what: tell(
                done, whole, what.removeprefix(f"{study.content.part[0].refs[0]} ")
            ),
        )
        for piece in self._after(result.judged):
            asked.check()
            piece()
        asked.check()
        return result

    def bench(self, study: Study) -> Bench:
        """The bench of a study with the engine's memory."""
        return Bench.of(study, self.memory)

    def ahead(self, studies: Iterable[Study]) -> None:
        """What may be asked next, the likeliest first; a new list takes the place of the old."""
        if self.neighbour is not None:
            self.neighbour.ahead(studies)

    def _known(self, key: str) -> Answered | None:
        with self._shelf:
            found = self._results.get(key)
            if found is not None:
                self._results.move_to_end(key)
            return found


class _Asked:
    """Whether an answer is still wanted; once it was not, it is not."""

    def __init__(self, wanted: Wanted) -> None:
        self._wanted = wanted
        self._over = False

    def stop(self) -> bool:
        """Whether to stop."""
        self._over = self._over or not self._wanted()
        return self._over

    def check(self) -> None:
        """Raise where it is to stop."""
        if self.stop():
            raise StaleError("a newer question has come")


# a shelf of any keys and values, told apart by its holder
def kept(shelf: OrderedDict[Any, Any], key: Hashable, value: object, most: int) -> None:
    """Put a value on a shelf that holds so many; the longest unused goes."""
    shelf[key] = value
    while len(shelf) > most:
        shelf.popitem(last=False)
