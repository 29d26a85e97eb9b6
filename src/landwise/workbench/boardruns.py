"""Runs of whole boards: one job a version, the choice shown before its reasons, what was worked kept for the next."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import partial
from itertools import count
from typing import Literal

from landwise.board.choice import choose_board
from landwise.board.model import NOTHING_TO_CHOOSE, board_bench
from landwise.board.result import BoardResult
from landwise.errors import InputError, UnknownNameError
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.results.file import options_csv, result_text
from landwise.sheets.cards import card_of
from landwise.sheets.report import annex_html, annex_pdf, html_text, pdf_bytes
from landwise.sheets.svg import Picture
from landwise.sheets.workbook import workbook
from landwise.workbench.boardmend import study_of
from landwise.workbench.engine import kept
from landwise.workbench.jobs import Job, Jobs, Stopped
from landwise.workbench.ownline import OwnLine
from landwise.workbench.workspace import Saved

SOON_S = 0.5  # how long an answer waits for the choice
DRAWN_S = 0.25  # how long the reasons wait for the choice to be drawn
MOST_RUNS = 12  # whose outcome is kept
MOST_DRAWN = 400

Shows = Literal["nothing", "choice", "all"]
FILES = {
    "report.html": "text/html",
    "report.pdf": "application/pdf",
    "annex.html": "text/html",
    "annex.pdf": "application/pdf",
    "tables.xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "result.json": "application/json",
    "options.csv": "text/csv",
}


@dataclass
class Run:
    """One version of a board being chosen for, or chosen.

    `early` is the choice without its reasons, `seen` once it was drawn; `job.result` the whole, once it is over.
    """

    job: Job
    text: str
    early: BoardResult | None = None
    shown: threading.Event = field(default_factory=threading.Event)
    seen: threading.Event = field(default_factory=threading.Event)
    superseded: bool = False
    cards: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)

    @property
    def result(self) -> BoardResult | None:
        """The most that is known by now."""
        whole: BoardResult | None = self.job.result
        return whole or self.early

    @property
    def shows(self) -> Shows:
        """How much there is to show."""
        return "all" if self.job.result is not None else "choice" if self.early is not None else "nothing"


class Runs:
    """All runs of the board page, with the workbench's line file where it has one."""

    def __init__(self, own: OwnLine | None = None) -> None:
        self.memory = Memory()
        self._own = own
        self._turn = threading.Lock()
        self._number = count()
        self._runs: OrderedDict[str, Run] = OrderedDict()
        self._latest: dict[str, Run] = {}
        self._drawn: OrderedDict[Hashable, tuple[object, Picture]] = OrderedDict()

    def run(self, jobs: Jobs, saved: Saved, *, again: bool = False) -> Run:
        """The run of a study as it stands: begun, under way, or over.

        Another version of the same study that is still worked gives way. One that was stopped stays so until
        somebody asks again.
        """
        key = hashlib.sha256(saved.content).hexdigest()
        with self._turn:
            run = self._runs.get(key)
            stale = run is not None and (run.superseded or (again and run.job.over.is_set() and _cut_short(run)))
            if run is None or stale:
                run = self._begin(jobs, key, saved)
            before = self._latest.get(saved.id)
            if before is not None and before is not run and not before.job.over.is_set():
                before.superseded = True
                jobs.stop(before.job)
            self._latest[saved.id] = run
            self._runs.move_to_end(key)
            return run

    def known(self, saved: Saved) -> Run | None:
        """The run of a study as it stands, if somebody began it."""
        return self._runs.get(hashlib.sha256(saved.content).hexdigest())

    def _begin(self, jobs: Jobs, key: str, saved: Saved) -> Run:
        ready = threading.Event()
        holder: list[Run] = []

        def work(job: Job) -> BoardResult:
            ready.wait()
            return self._work(holder[0])

        # A number of its own, since a job that was stopped would else be joined again.
        job = jobs.start(f"board {saved.id} {next(self._number)}", work)
        run = Run(job, saved.text)
        holder.append(run)
        ready.set()
        kept(self._runs, key, run, MOST_RUNS)
        return run

    def _work(self, run: Run) -> BoardResult:
        job = run.job
        try:
            study = study_of(run.text, self._own)
            self.memory.take_up(study.board_key)  # what the command line left of this board
            judged = run_study(
                study,
                bench=board_bench(study, self.memory),
                progress=lambda done, whole, name: job.progress(done, whole, f"judging {name}" if name else "judging"),
            )
            result = choose_board(
                judged,
                stop=job.stop_asked.is_set,
                memory=self.memory,
                progress=partial(_tell, job),
                early=partial(_hand_over, run),
            )
            if result.choice is None and not job.stop_asked.is_set():
                raise InputError(NOTHING_TO_CHOOSE, expected="a fitted part in the table of parts")
            if result.choice is None:
                raise Stopped
            return result
        finally:
            run.shown.set()

    def picture(self, key: Hashable, held: object, make: Callable[[], Picture]) -> Picture:
        """A drawing, made once for the object it shows."""
        whole = (key, id(held))
        with self._turn:
            found = self._drawn.get(whole)
            if found is None:
                found = (held, make())
                kept(self._drawn, whole, found, MOST_DRAWN)
            self._drawn.move_to_end(whole)
            return found[1]


def _cut_short(run: Run) -> bool:
    whole: BoardResult | None = run.job.result
    return run.job.state in ("stopped", "failed") or bool(whole and whole.choice and whole.choice.left_out)


def _tell(job: Job, part: int, whole: int, says: str) -> None:
    # A stop while choosing keeps what was found, so nothing is raised here.
    job.part, job.whole, job.says = part, whole, says


def _hand_over(run: Run, early: BoardResult) -> None:
    run.early = early
    run.shown.set()
    # The reasons wait until the choice has been drawn for whoever waits for it: both at once would be late.
    run.seen.wait(DRAWN_S)


def file_of(run: Run, name: str) -> bytes:
    """One of the files that `landwise study` writes, byte for byte."""
    result: BoardResult = run.job.result
    if name not in run.files:
        if name.startswith(("report.", "annex.")) and not run.cards:
            run.cards = [
                card_of(part, result.judged, prefix=f"card{number}") for number, part in enumerate(result.parts)
            ]
        makers: dict[str, Callable[[], bytes]] = {
            "report.html": lambda: html_text(result, run.cards).encode(),
            "report.pdf": lambda: pdf_bytes(result, run.cards),
            "annex.html": lambda: annex_html(result, run.cards).encode(),
            "annex.pdf": lambda: annex_pdf(result, run.cards),
            "tables.xlsx": lambda: workbook(result),
            "result.json": lambda: result_text(result).encode(),
            "options.csv": lambda: options_csv(result).encode(),
        }
        if name not in makers:
            raise UnknownNameError("no such file", found=name[:40], expected=" | ".join(makers))
        run.files[name] = makers[name]()
    return run.files[name]
