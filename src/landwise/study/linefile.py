"""The line file: what a line's own data say of it, kept apart from any board, taken by a study."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

from landwise.errors import FileError, InputError
from landwise.untyped import Fields

LARGEST_LINE_FILE = 1_000_000
# Beside [line], what it was learned from: kept for the reader and for the next calibration, not for the study.
TABLES = frozenset({"line", "columns", "learned"})


def read_line_file(path: Path) -> Fields:
    """The `[line]` table of a line file, not yet checked: the study checks it with its own.

    Raises
    ------
    FileError, InputError
        Naming the file.
    """
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a line file")
        if path.stat().st_size > LARGEST_LINE_FILE:
            raise FileError("too large", file=str(path), expected=f"at most {LARGEST_LINE_FILE / 1e6:g} MB")
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None
    except ValueError as error:  # no text, no TOML, or a number of too many digits
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="a line file") from None
    table = data.get("line")
    if not isinstance(table, dict) or set(data) - TABLES or "file" in table:
        raise InputError(
            "not a line file",
            file=path.name,
            found=", ".join(data) or "nothing",
            expected="a [line] table, as `landwise calibrate` writes it",
        )
    return table


def with_line_file(data: Mapping[str, object], folder: Path, named: str | Path | None = None) -> Fields:
    """A study's plain data with its line file put in.

    Parameters
    ----------
    data : mapping
        The study as read.
    folder : Path
        Where `[line] file` is looked for.
    named : str or Path, optional
        A line file named outside the study: it stands before what the study states. The study's own `file` is then not
        read; without a named one, what the study states stands before its file.

    Raises
    ------
    FileError, InputError
    """
    stated = data.get("line", {})
    if not isinstance(stated, dict) or (named is None and not isinstance(stated.get("file"), str)):
        return dict(data)
    own = {key: value for key, value in stated.items() if key != "file"}
    measured = read_line_file(Path(named) if named is not None else folder / stated["file"])
    return {**data, "line": laid_over(own, measured) if named is not None else laid_over(measured, own)}


def laid_over(below: Fields, above: Fields) -> Fields:
    """One `[line]` table over another; single terms of scatter likewise.

    >>> laid_over({"foil": "100 um", "scatter": {"edge": "5 um"}}, {"foil": "80 um", "scatter": {"tilt": "3 deg"}})
    {'foil': '80 um', 'scatter': {'edge': '5 um', 'tilt': '3 deg'}}
    """
    line = {**below, **above}
    scatter = [table.get("scatter", {}) for table in (below, above)]
    if all(isinstance(table, dict) for table in scatter) and any(scatter):
        line["scatter"] = {**scatter[0], **scatter[1]}
    return line
