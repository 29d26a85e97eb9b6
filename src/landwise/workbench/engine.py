"""The engine with a memory, and with foresight: while nobody asks, it works out where a slider may go next.

Nothing here computes differently from the command line; it only computes earlier, and once.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from landwise.errors import LandwiseError
from landwise.lands import LandPattern
from landwise.outlines import find
from landwise.outlines.choice import proposals
from landwise.studies import Bench, Geometry, StudyResult, run_study
from landwise.studyfile import Study

MOST_LINES = 240  # lines whose geometry is kept
MOST_RESULTS = 240

Plan = Iterator[Callable[[], Study]]


class Engine:
    """Runs studies of one part, and keeps geometry by what it follows from.

    Parameters
    ----------
    foresight : bool
        Whether to work ahead in a thread of its own.
    """

    def __init__(self, *, foresight: bool = False) -> None:
        self._turn = threading.Lock()
        self._laid: dict[str, LandPattern] = {}
        self._lines: OrderedDict[Hashable, dict[str, Geometry]] = OrderedDict()
        self._results: OrderedDict[str, StudyResult] = OrderedDict()
        self._asking = 0
        self._plan: Plan | None = None
        self._news = threading.Condition()
        if foresight:
            threading.Thread(target=self._work_ahead, name="foresight", daemon=True).start()
        self.foresight = foresight

    def run(self, study: Study) -> StudyResult:
        """The study's result, from memory where the same was asked before.

        Raises
        ------
        LandwiseError
            As `run_study`.
        """
        # One at a time: with two at once both would be late, and the second often asks what the first has worked.
        with self._asked(), self._turn:
            return self._result(study)

    def ahead(self, plan: Iterable[Callable[[], Study]]) -> None:
        """Work these out while nobody asks, the first ones first; a new plan takes the place of the old."""
        if self.foresight:
            with self._news:
                self._plan = iter(plan)
                self._news.notify()

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
            make = next(plan, None)
            if make is None:
                with self._news:
                    if self._plan is plan:
                        self._plan = None
                continue
            try:
                self._in_pieces(make(), plan)
            except LandwiseError:
                continue  # who asks for it will be told

    def _in_pieces(self, study: Study, plan: Plan) -> None:
        """Work a study out an outline at a time, giving way to who asks."""
        if study.content.model_dump_json() in self._results:
            return
        bench = self._bench(study)
        part = study.content.part[0]
        present = find(part.package, bench.own) if part.package else None
        if isinstance(part.options, list):
            outlines = [find(option.outline, bench.own) for option in part.options]
        else:
            outlines = list(proposals(part.terminals or (present.terminals if present else 0), bench.own))
        for outline in [*outlines, *([present] if present else [])]:
            if not self._still(plan):
                return
            with self._turn:
                bench.geometry(outline)
        if self._still(plan):
            with self._turn:
                self._result(study)

    def _still(self, plan: Plan) -> bool:
        """Wait until nobody asks; whether the plan is still wanted then."""
        with self._news:
            self._news.wait_for(lambda: not self._asking)
            return self._plan is plan

    def _result(self, study: Study) -> StudyResult:
        key = study.content.model_dump_json()
        if key not in self._results:
            kept(self._results, key, run_study(study, bench=self._bench(study)), MOST_RESULTS)
        self._results.move_to_end(key)
        return self._results[key]

    def _bench(self, study: Study) -> Bench:
        bench = Bench.of(study)
        if bench.own:
            return bench
        # All that geometry could follow from, and more; only what surely changes no geometry is left out.
        key = study.content.model_dump_json(
            exclude={"part": True, "costs": True, "want": {"weights"}, "use": True}  # judged from geometry, not in it
        )
        if key not in self._lines:
            kept(self._lines, key, {}, MOST_LINES)
        self._lines.move_to_end(key)
        bench._worked, bench._laid = self._lines[key], self._laid
        return bench


def kept(shelf: OrderedDict[Any, Any], key: Hashable, value: object, most: int) -> None:
    """Put a value on a shelf that holds so many; the longest unused goes."""
    shelf[key] = value
    while len(shelf) > most:
        shelf.popitem(last=False)
