"""A line by name, with all that its line file says, for commands that read no study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from landwise.assembly.lines import Learned, Line, preset
from landwise.judging.bench import Bench
from landwise.study.file import study_from
from landwise.study.linefile import read_line_file


def named_line(name: str) -> Line:
    """A line by the name of its preset or of a line file.

    Raises
    ------
    FileError, InputError
        Naming the file, or the presets there are.

    Examples
    --------
    >>> named_line("fine").learned is None
    True
    """
    if not name.endswith(".toml"):
        return preset(name)
    path = Path(name)
    return line_of(read_line_file(path), file=path.name)


def line_of(table: Mapping[str, object], *, file: str) -> Line:
    """The line that a line file's `[line]` says, with all that was learned of it.

    Raises
    ------
    InputError
        Naming the file.

    Examples
    --------
    >>> line_of({"print_offset": "0.02 mm"}, file="line.toml").print_offset_mm
    0.02
    """
    bench = Bench.of(study_from({"line": dict(table)}, file=file))
    return replace(bench.line, learned=Learned(bench.scatter, bench.own_rates, bench.knowledge))
