"""The line file that a workbench was started with: the line of every page that names no other."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from landwise.assembly.lines import Line
from landwise.judging.namedline import line_of
from landwise.study.file import study_from
from landwise.study.linefile import laid_over, read_line_file
from landwise.untyped import Fields

MOST_NAMED = 8  # of what a file states, before the rest is a count


@dataclass(frozen=True)
class OwnLine:
    """A line file as `serve` read it.

    Parameters
    ----------
    path : str
        As it was given.
    table : mapping
        Its `[line]`.
    """

    path: str
    table: Mapping[str, object]

    @classmethod
    def read(cls, path: str) -> OwnLine:
        """Read and checked, so that what is wrong in it is said before any page is.

        Raises
        ------
        FileError, InputError
            Naming the file.
        """
        table = read_line_file(Path(path))
        study_from({"line": table}, file=Path(path).name)
        return cls(path, table)

    @property
    def name(self) -> str:
        """The file's name."""
        return Path(self.path).name

    @property
    def argument(self) -> str:
        """What names it on a command line."""
        return f"--line {shlex.quote(self.path)}"

    @cached_property
    def line(self) -> Line:
        """The line itself, for what reads no study; worked once."""
        return line_of(self.table, file=self.name)

    def instead(self, shipped: str) -> str:
        """That a shipped line was asked for.

        >>> OwnLine("our/line.toml", {}).instead("fine")
        'Worked with the shipped line fine, not with line.toml.'
        """
        return f"Worked with the shipped line {shipped}, not with {self.name}."

    def under(self, data: Fields) -> Fields:
        """A question with the file's line; what the question states of it stands before the file, as with `compare`."""
        return {**data, "line": laid_over(dict(self.table), _stated(data))}

    def over(self, data: Fields) -> Fields:
        """A study with the file's line, which stands before what the study states, as with `study --line`."""
        own = {key: value for key, value in _stated(data).items() if key != "file"}
        return {**data, "line": laid_over(own, dict(self.table))}

    def says(self, stated: Mapping[str, object]) -> str:
        """Which line a board is worked with; `stated` is the `[line]` of its study.

        >>> own = OwnLine("our/line.toml", {"print_offset": "0.02 mm", "foil": "100 um"})
        >>> own.says({})
        'Worked with line.toml.'
        >>> own.says({"foil": "80 um", "powder": "T4"})
        'Worked with line.toml, which stands before what the study says of its line: foil.'
        """
        both = [name for name in self.table if name in stated]
        more = f" and {len(both) - MOST_NAMED} more" if len(both) > MOST_NAMED else ""
        words = ", ".join(name.replace("_", " ") for name in both[:MOST_NAMED]) + more
        before = f", which stands before what the study says of its line: {words}" if both else ""
        return f"Worked with {self.name}{before}."


def _stated(data: Fields) -> Fields:
    line = data.get("line")
    return dict(line) if isinstance(line, dict) else {}
