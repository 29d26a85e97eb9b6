"""The example board worked once for all tests of a run that only read what it gives, whichever process needs it first.

`landwise study` in full: its folder, what it prints and the result behind both lie in the run's own cache folder.
Nobody writes to them; a test that does takes a copy.
"""

from __future__ import annotations

import contextlib
import copyreg
import io
import os
import pickle
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar
from unittest import mock

from filelock import FileLock

from landwise.board.result import BoardResult
from landwise.cli import main
from landwise.judging.results import StudyResult
from landwise.judging.study import run_study
from landwise.memory import Memory
from landwise.study.file import read_study

T = TypeVar("T")

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "logger" / "board.toml"


@dataclass(frozen=True)
class WorkedExample:
    """Exit code, files, text and result of `landwise study EXAMPLE -o FOLDER --full`."""

    code: int
    folder: Path
    out: str
    err: str
    result: BoardResult


@cache
def worked_example() -> WorkedExample:
    """What the example gives; the first process that asks works it, the others read it."""
    return _once("run", _worked)


@cache
def judged_example() -> StudyResult:
    """The example's parts judged each by itself, before any choice: likewise."""
    return _once("judged", lambda _: run_study(read_study(EXAMPLE)))


def _once(name: str, work: Callable[[Path], T]) -> T:
    """What one process of the run works, given a folder to write in, and the others read."""
    root = Path(os.environ["LANDWISE_TEST_CACHE"]) / "example"
    root.mkdir(exist_ok=True)
    kept = root / f"{name}.pickle"
    with FileLock(root / f"{name}.lock"):
        if not kept.exists():
            kept.write_bytes(_packed(work(root / "out")))
    found: T = pickle.loads(kept.read_bytes())
    return found


def _read_only(value: dict[object, object]) -> MappingProxyType[object, object]:
    # The type itself has no name to be pickled by.
    return MappingProxyType(value)


def _packed(done: object) -> bytes:
    into = io.BytesIO()
    writer = pickle.Pickler(into, protocol=5)
    # A memory holds a lock, and nothing that a result says.
    writer.dispatch_table = copyreg.dispatch_table | {
        MappingProxyType: lambda value: (_read_only, (dict(value),)),
        Memory: lambda _: (Memory, ()),
    }
    writer.dump(done)
    return into.getvalue()


def _worked(folder: Path) -> WorkedExample:
    from landwise.sheets import report

    real, drawn = report.write_report, []

    def write(result: BoardResult, *more: object, **named: object) -> object:
        drawn.append(result)
        return real(result, *more, **named)

    out, err, code = io.StringIO(), io.StringIO(), 0
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(report, "write_report", write),
    ):
        try:
            main(["study", str(EXAMPLE), "-o", str(folder), "--full"])
        except SystemExit as end:
            code = int(end.code or 0)
    (result,) = drawn
    return WorkedExample(code, folder, out.getvalue(), err.getvalue(), result)
