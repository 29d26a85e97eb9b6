"""The engine with a memory, and with foresight: while nobody asks, it works out where a slider may go next.

Nothing here computes differently from the command line; it only computes earlier, and once.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from landwise.errors import LandwiseError
from landwise.judging.bench import Bench
from landwise.judging.results import StudyResult
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.outlines import Outline, find
from landwise.outlines.choice import proposals
from landwise.study.file import PartTable, Study

MOST_RESULTS = 240

Plan = Iterator[Callable[[], Study]]
After = Callable[[StudyResult], Iterable[Callable[[], object]]]


class StaleError(LandwiseError):
    """A question that its asker has replaced by a newer one."""


class Engine:
    """Runs studies of one part, and keeps what it worked by what it follows from.

    Parameters
    ----------
    foresight : bool
        Whether to work ahead in a thread of its own.
    after : callable
        Pieces of work that follow from a result and that its page will want, such as shapes of joints to be drawn.
    """

    def __init__(self, *, foresight: bool = False, after: After = lambda _: ()) -> None:
        self.memory = Memory()
        self.foresight = foresight
        self._after = after
        self._done: set[str] = set()
        self._turn = threading.Lock()
        self._results: OrderedDict[str, StudyResult] = OrderedDict()
        self._asking = 0
        self._plan: Plan | None = None
        self._news = threading.Condition()
        if foresight:
            threading.Thread(target=self._work_ahead, name="foresight", daemon=True).start()

    def knows(self, study: Study) -> bool:
        """Whether the study's result and what follows from it are there already."""
        return study.content.model_dump_json() in self._done

    def run(self, study: Study, wanted: Callable[[], bool] = lambda: True) -> StudyResult:
        """The study's result, from memory where the same was asked before.

        Parameters
        ----------
        study : Study
            Of one part.
        wanted : callable
            Asked between the options; the work stops when the answer is no longer wanted.

        Raises
        ------
        StaleError
            If it stopped.
        LandwiseError
            As `run_study`.
        """
        with self._asked():
            for step in self._steps(study):
                if not wanted():
                    raise StaleError("a newer question has come")
                # One at a time: with two at once both would be late, and the second often needs what the first works.
                with self._turn:
                    step()
            return self._results[study.content.model_dump_json()]

    def bench(self, study: Study) -> Bench:
        """The bench of a study with the engine's memory."""
        return Bench.of(study, self.memory)

    def ahead(self, plan: Iterable[Callable[[], Study]]) -> None:
        """Work these out while nobody asks, the first ones first; a new plan takes the place of the old."""
        if self.foresight:
            with self._news:
                self._plan = iter(plan)
                self._news.notify()

    def _steps(self, study: Study) -> Iterator[Callable[[], object]]:
        """The study's work in pieces: the geometry of each outline, the study, what follows from its result."""
        key = study.content.model_dump_json()
        if key not in self._results:
            bench = self.bench(study)
            for outline in outlines_of(study.content.part[0], bench):
                yield partial(bench.geometry, outline)
        yield lambda: self._finish(study, key)
        if key not in self._done:
            yield from self._after(self._results[key])
            self._done.add(key)

    def _finish(self, study: Study, key: str) -> None:
        if key not in self._results:
            kept(self._results, key, run_study(study, bench=self.bench(study)), MOST_RESULTS)
            self._done &= self._results.keys()
        self._results.move_to_end(key)

    @contextmanager
    def _asked(self) -> Iterator[None]:
        with self._news:
            self._asking += 1
        try:
            yield
        finally:
            with self._news:
                self._asking -= 1
                self._news.notify()

    def _work_ahead(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._plan is not None and not self._asking)
                plan = self._plan
            assert plan is not None
            try:
                make = next(plan, None)
                if make is None:
                    self._drop(plan)
                    continue
                for step in self._steps(make()):
                    if not self._still(plan):
                        break
                    with self._turn:
                        step()
            except LandwiseError:
                continue  # who asks for it will be told

    def _drop(self, plan: Plan) -> None:
        with self._news:
            if self._plan is plan:
                self._plan = None

    def _still(self, plan: Plan) -> bool:
        """Wait until nobody asks; whether the plan is still wanted then."""
        with self._news:
            self._news.wait_for(lambda: not self._asking)
            return self._plan is plan


def outlines_of(part: PartTable, bench: Bench) -> list[Outline]:
    """The outlines that a part will be judged in; empty where the study will say what is missing."""
    present = find(part.package, bench.own) if part.package else None
    if isinstance(part.options, list):
        offered = [find(option.outline, bench.own) for option in part.options]
    else:
        terminals = part.terminals or (present.terminals if present else None)
        offered = list(proposals(terminals, bench.own)) if terminals else []
    return [*offered, *([present] if present else [])]


def kept(shelf: OrderedDict[Any, Any], key: Hashable, value: object, most: int) -> None:
    """Put a value on a shelf that holds so many; the longest unused goes."""
    shelf[key] = value
    while len(shelf) > most:
        shelf.popitem(last=False)
