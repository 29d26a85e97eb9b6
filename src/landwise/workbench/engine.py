"""The engine with a memory: what was worked for one position of a slider is still there for the next."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import Any

from landwise.lands import LandPattern
from landwise.studies import Bench, Geometry, StudyResult, run_study
from landwise.studyfile import Study

MOST_LINES = 60  # lines whose geometry is kept
MOST_RESULTS = 60


class Engine:
    """Runs studies of one part, and keeps geometry by what it follows from."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._laid: dict[str, LandPattern] = {}
        self._lines: OrderedDict[Hashable, dict[str, Geometry]] = OrderedDict()
        self._results: OrderedDict[str, StudyResult] = OrderedDict()

    def run(self, study: Study) -> StudyResult:
        """The study's result, from memory where the same was asked before.

        Raises
        ------
        LandwiseError
            As `run_study`.
        """
        key = study.content.model_dump_json()
        # One at a time: with two at once both would be late, and the second often asks what the first has worked.
        with self._turn:
            if key not in self._results:
                kept(self._results, key, run_study(study, bench=self._bench(study)), MOST_RESULTS)
            self._results.move_to_end(key)
            return self._results[key]

    def _bench(self, study: Study) -> Bench:
        bench = Bench.of(study)
        if bench.own:
            return bench
        # All that geometry could follow from, and more; only what surely changes no geometry is left out.
        key = study.content.model_dump_json(exclude={"part": True, "costs": True, "want": {"weights"}})
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
