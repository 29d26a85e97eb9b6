"""A sweep from its plan to its tables and maps: worked, kept, resumed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from landwise.disk import version
from landwise.sheets.files import write_atomic
from landwise.sweeping.cases import FAULT, Given, Row
from landwise.sweeping.changes import chosen_of, idle, influence, move_says, moves_of, rank_axes
from landwise.sweeping.cluster import run_cluster
from landwise.sweeping.journal import Journal
from landwise.sweeping.local import run_local
from landwise.sweeping.maps import cut_of, part_map
from landwise.sweeping.page import Found, page_html
from landwise.sweeping.plan import MOST_BATCH, Case, Plan
from landwise.sweeping.tables import parts_of, write_tables

PLAN = "sweep.json"
PAGE = "sweep.html"
MOST_MAPS = 24  # parts drawn for one study; the table holds them all
Tell = Callable[[int, int, int], None]


@dataclass(frozen=True)
class Swept:
    """What came of a sweep.

    Parameters
    ----------
    cases, before, worked : int
        Cases in all, finished by an earlier run, finished by this one.
    answers : mapping of str to int
        How many cases ended how.
    written : tuple of Path
    found : tuple of Found
        What each study's cases say together.
    stopped : bool
        Whether it ended before all cases were finished.
    """

    cases: int
    before: int
    worked: int
    answers: Mapping[str, int]
    written: tuple[Path, ...]
    found: tuple[Found, ...]
    stopped: bool


def _never() -> bool:
    return False


def _silent(*_: int) -> None:
    return None


def run_sweep(
    plan: Plan,
    folder: Path,
    *,
    jobs: int = 1,
    on: str | None = None,
    more: Mapping[str, object] | None = None,
    stop: Callable[[], bool] = _never,
    progress: Tell = _silent,
) -> Swept:
    """Work every case that is not finished yet, then write the tables and the maps.

    Parameters
    ----------
    plan : Plan
    folder : Path
        Holds the finished cases (`cases.jsonl`), from this plan and others, and what is written.
    jobs : int
        Processes on this machine. They are started afresh: a script that asks for more than one keeps its work under
        `if __name__ == "__main__"`.
    on : str, optional
        Address of a Dask scheduler; its workers then work the cases.
    more : mapping, optional
        What reviews are asked with.
    stop : callable
        True ends it early; what is finished is kept and written.
    progress : callable
        Called with (finished, of all, of them by an earlier run).

    Raises
    ------
    LandwiseError

    Examples
    --------
    >>> import tempfile
    >>> from landwise.sweeping.axes import read_axis
    >>> from landwise.sweeping.plan import Source, study_plan
    >>> gate = {"refs": ["U1"], "terminals": 5, "package": "SOT-23-5", "number": "1G08", "family": "LVC",
    ...         "options": [{"outline": "SOT-23-5", "price": 0.03}]}
    >>> plan = study_plan([Source("one gate", {"part": [gate]})], [read_axis("costs.run=100,1000")])
    >>> run_sweep(plan, Path(tempfile.mkdtemp())).answers
    {'decided': 2}
    """
    given = Given(plan.kind, plan.sources, plan.axes, dict(more or {}))
    with Journal(folder) as journal:
        left = np.fromiter((number for number in range(len(plan)) if _open(plan, journal, number)), np.int64)
        before = len(plan) - len(left)
        write_atomic(folder / PLAN, _plan_text(plan).encode())
        progress(before, len(plan), before)
        worked = 0
        rows = _rows(plan, given, left, jobs, on, stop)
        try:
            for number, row in rows:
                journal.add(plan.key(plan.case(number)), row)
                worked += row["answer"] != FAULT
                progress(before + worked, len(plan), before)
        finally:
            rows.close()
        written = write_tables(plan, journal, folder)
        answers = _answers(plan, journal)
        found, drawn = _found(plan, journal, folder)
        page = write_atomic(folder / PAGE, page_html(plan, answers, found, drawn).encode())
        return Swept(
            len(plan),
            before,
            worked,
            answers,
            (*written, page),
            found,
            sum(answers.values()) < len(plan),
        )


def _open(plan: Plan, journal: Journal, number: int) -> bool:
    row = journal.row(plan.key(plan.case(number)))
    return row is None or row.get("answer") == FAULT


def _rows(
    plan: Plan, given: Given, left: NDArray[np.int64], jobs: int, on: str | None, stop: Callable[[], bool]
) -> Any:  # a generator: it is closed where the work ends
    most = max(1, min(MOST_BATCH, len(left) // (4 * jobs) if on is None else MOST_BATCH, len(left)))
    if on is not None:
        most = max(1, min(10, len(left) // 16))  # small pieces: a lost worker loses little
    batches: Iterator[tuple[Case, ...]] = (
        tuple(plan.case(number) for number in numbers) for numbers in plan.batches(left, most)
    )
    if on is not None:
        return run_cluster(given, batches, on, stop)
    return run_local(given, batches, min(jobs, max(1, len(left))), stop)


def _answers(plan: Plan, journal: Journal) -> dict[str, int]:
    found: Counter[str] = Counter()
    for number in range(len(plan)):
        row: Row | None = journal.row(plan.key(plan.case(number)))
        if row is not None:
            found[str(row["answer"])] += 1
    return dict(sorted(found.items()))


def _found(plan: Plan, journal: Journal, folder: Path) -> tuple[tuple[Found, ...], dict[int, list[str]]]:
    """What each study's cases say together, and its maps."""
    if plan.kind != "study" or not plan.axes:
        return (), {}
    found: list[Found] = []
    drawn: dict[int, list[str]] = {}
    for source in range(len(plan.sources)):
        if not parts_of(plan, source):
            continue
        chosen = chosen_of(plan, journal, source)
        told = influence(plan, chosen)
        moves = tuple(move_says(plan, move) for move in moves_of(plan, chosen))
        still = tuple(
            f"{ref}: {chosen.packages[int(codes.max())]}"
            for p, (ref, codes) in enumerate(zip(chosen.parts, chosen.codes.T, strict=True))
            if p not in chosen.moving and len(codes) and codes.max() >= 0
        )
        without = tuple(plan.axes[n].path for n in idle(plan, chosen))
        found.append(Found(plan.sources[source].name, told, moves, still, without, chosen.read, chosen.whole))
        maps = drawn[len(found) - 1] = []
        if chosen.read == chosen.whole:
            cut = cut_of(plan, rank_axes(told))
            for p in chosen.moving[:MOST_MAPS]:
                maps.append(part_map(plan, chosen, p, cut, prefix=f"map{source}-{p}"))
                name = f"map-{source + 1}-{_file_name(chosen.parts[p])}.svg"
                write_atomic(folder / name, maps[-1].encode())
    return tuple(found), drawn


def _file_name(ref: str) -> str:
    return "".join(sign if sign.isalnum() or sign in "-_" else "_" for sign in ref)[:40]


def _plan_text(plan: Plan) -> str:
    """The plan as it was worked, for whoever reads the folder later."""
    told = {
        "landwise_sweep": 1,
        "version": version(),
        "kind": plan.kind,
        "sources": [{"name": source.name, "digest": source.digest} for source in plan.sources],
        "vary": [
            {
                "path": axis.path,
                "values": [value.says for value in axis.values],
                "range": None if axis.span is None else [axis.span.at(0.0).says, axis.span.at(1.0).says],
            }
            for axis in plan.axes
        ],
        "points": None if plan.points is None else len(plan.points),
        "cases": len(plan),
    }
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"
