"""The cases of a sweep: which study, with which inputs, under which number and which key."""

from __future__ import annotations

import hashlib
import json
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from landwise.disk import version
from landwise.errors import FileError, InputError
from landwise.study.file import LARGEST_FILE_BYTES, read_study, read_text, study_from
from landwise.study.linefile import with_line_file
from landwise.sweeping.axes import Axis, Value, with_value
from landwise.untyped import Table

MOST_CASES = 100_000_000
MOST_BATCH = 50  # cases that travel together: a second to a minute of work


@dataclass(frozen=True)
class Source:
    """A study as it travels to whoever works its cases: its data, and the files that it names.

    Parameters
    ----------
    name : str
        As the table shows it.
    data : mapping
        The study's plain data, its line file put in.
    beside : mapping of str to str
        Text of each file of outlines or offers that it names.
    """

    name: str
    data: Table
    beside: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def digest(self) -> str:
        """A hash of all that its cases follow from beside the values varied."""
        # An offer runs out by the calendar: such a study is another one tomorrow.
        today = date.today().isoformat() if self.data.get("offer") or self.data.get("offers") else ""
        told = json.dumps([self.data, dict(self.beside), today], sort_keys=True, default=str)
        return hashlib.blake2b(told.encode(), digest_size=16).hexdigest()


@dataclass(frozen=True)
class Case:
    """One case: a source by its place, and a value for each axis."""

    number: int
    source: int
    values: tuple[Value, ...]


@dataclass(frozen=True)
class Plan:
    """All cases of a sweep, numbered; none of them is kept.

    Parameters
    ----------
    kind : str
        `study` or `review`: who works a case.
    sources : tuple of Source
    axes : tuple of Axis
    points : array or None
        Shares of each axis, one row a case, for a low-discrepancy design; None for the full grid.
    """

    kind: str
    sources: tuple[Source, ...]
    axes: tuple[Axis, ...]
    points: NDArray[np.float64] | None = None

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Values of each axis on the grid."""
        return tuple(len(axis.values) for axis in self.axes)

    @cached_property
    def per_source(self) -> int:
        """Cases of each source."""
        return len(self.points) if self.points is not None else math.prod(self.shape)

    def __len__(self) -> int:
        return self.per_source * len(self.sources)

    def case(self, number: int) -> Case:
        """A case by its number: sources one after the other, the last axis fastest."""
        source, at = divmod(number, self.per_source)
        if self.points is not None:
            shares = self.points[at]
            return Case(number, source, tuple(axis.at(float(s)) for axis, s in zip(self.axes, shares, strict=True)))
        places = np.unravel_index(at, self.shape) if self.axes else ()
        return Case(number, source, tuple(axis.values[int(p)] for axis, p in zip(self.axes, places, strict=True)))

    def key(self, case: Case) -> bytes:
        """Sixteen bytes that tell a case from every other, in this plan and any other: what it follows from."""
        stated = sorted((axis.path, value.stated) for axis, value in zip(self.axes, case.values, strict=True))
        told = json.dumps([self.kind, version(), self.sources[case.source].digest, stated], default=str)
        return hashlib.blake2b(told.encode(), digest_size=16).digest()

    def batches(self, numbers: Sequence[int] | NDArray[np.int64], most: int) -> Iterator[tuple[int, ...]]:
        """The numbers in the order in which they are worked: what shares geometry together, at most `most`."""
        slow = [n for n, axis in enumerate(self.axes) if not axis.quick]
        if self.points is not None or not self.axes or len(slow) == len(self.axes):
            for start in range(0, len(numbers), most):
                yield tuple(int(n) for n in numbers[start : start + most])
            return
        left = np.asarray(numbers, dtype=np.int64)
        source, at = np.divmod(left, self.per_source)
        places = np.unravel_index(at, self.shape)
        group = source
        for n in slow:
            group = group * self.shape[n] + places[n]
        order = np.lexsort((left, group))
        left, group = left[order], group[order]
        ends = np.flatnonzero(np.diff(group)) + 1
        for run in np.split(left, ends):
            for start in range(0, len(run), most):
                yield tuple(int(n) for n in run[start : start + most])


def read_source(path: str | Path, line: str | Path | None = None) -> Source:
    """A study file as a source, checked whole.

    Raises
    ------
    LandwiseError
    """

    path = Path(path)
    study = read_study(path, line=line)
    data = with_line_file(tomllib.loads(read_text(path, LARGEST_FILE_BYTES)), path.parent, line)
    beside = {}
    for name in (*study.content.outlines, *study.content.offers):
        named = (path.parent / name).resolve()
        if not named.is_relative_to(path.parent.resolve()):
            raise InputError("must lie beside the study", file=path.name, found=name, expected="a file in its folder")
        beside[name] = read_text(named, 20 * LARGEST_FILE_BYTES)
    return Source(str(path), data, beside)


def study_plan(sources: Sequence[Source], axes: Sequence[Axis], *, points: int | None = None, seed: int = 1) -> Plan:
    """A sweep over studies: every value of every axis tried once on each study, so that a wrong one shows at once.

    Parameters
    ----------
    sources, axes : sequences
    points : int, optional
        A low-discrepancy design of so many cases (scrambled Sobol points) instead of the full grid.
    seed : int
        Of that design.

    Raises
    ------
    InputError
    """
    if not sources:
        raise InputError("no study to sweep", expected="at least one study file")
    paths = [axis.path for axis in axes]
    twice = next((path for path in paths if paths.count(path) > 1), None)
    if twice is not None:
        raise InputError("an input is varied twice", place="--vary", found=twice, expected="each input once")
    for axis in axes:
        if points is None and not axis.values:
            raise InputError(
                "a range on a grid needs a count", place=axis.path, expected="FROM..TO/COUNT, or --points COUNT"
            )
    for source in sources:
        for axis in axes:
            tried = axis.values or (axis.at(0.0), axis.at(1.0))
            for value in tried if len(tried) <= 200 else (tried[0], tried[-1]):
                study_from(with_value(source.data, axis, value, file=source.name), file=source.name)
    design = None if points is None else _sobol(len(axes), points, seed)
    plan = Plan("study", tuple(sources), tuple(axes), design)
    if len(plan) > MOST_CASES:
        raise InputError("too many cases", found=f"{len(plan):,}", expected=f"at most {MOST_CASES:,}")
    return plan


def _sobol(axes: int, points: int, seed: int) -> NDArray[np.float64]:
    """Scrambled Sobol points (I. M. Sobol 1967, scrambled after A. B. Owen; the scientific library's generator)."""
    from scipy.stats import qmc

    if axes == 0 or points < 1:
        raise InputError("nothing to spread points over", place="--points", expected="at least one --vary, and a count")
    power = max(0, math.ceil(math.log2(points)))
    made: NDArray[np.float64] = qmc.Sobol(axes, rng=np.random.default_rng(seed)).random_base2(power)[:points]
    return made


def folder_sources(folder: Path, asked: Mapping[str, object]) -> tuple[Source, ...]:
    """Every folder and zip of a folder as a source of a review, by name; what is asked is part of each.

    Raises
    ------
    FileError
    """
    if not folder.is_dir():
        raise FileError("not a folder", file=str(folder), expected="a folder of boards, each a folder or a zip")
    found = sorted(
        one
        for one in folder.iterdir()
        if not one.name.startswith(".") and (one.is_dir() or one.suffix.lower() == ".zip")
    )
    if not found:
        raise FileError("no board in the folder", file=str(folder), expected="folders or zips of fabrication files")
    told = {**asked, "line": _line_text(str(asked.get("line", "")))}
    return tuple(
        Source(one.name, {"board": str(one.resolve()), "content": _content(one), "asked": told}) for one in found
    )


def _line_text(line: str) -> str:
    """A line's name, or the text of its file: another file under the same name is another line."""
    return read_text(Path(line), LARGEST_FILE_BYTES) if line.endswith(".toml") else line


def _content(board: Path) -> str:
    """A hash of a board's files by their content."""
    digest = hashlib.blake2b(digest_size=16)
    for path in [board] if board.is_file() else sorted(board.rglob("*")):
        if path.is_file():
            digest.update(str(path.relative_to(board.parent)).encode())
            with path.open("rb") as file:
                while block := file.read(1 << 20):
                    digest.update(block)
    return digest.hexdigest()
