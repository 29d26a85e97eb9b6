"""The study file: what a board, its line, its use and its wishes are. TOML, read once, checked whole.

Every quantity carries its unit (`"80 um"`); every field has a default with a reason, or is required. The
JSON Schema of this model ships as `landwise.schema.json` so that editors can check and complete.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import Field, ValidationError

from landwise.errors import FileError, InputError, LandwiseError
from landwise.study.boardtable import Board as Board
from landwise.study.boardtable import BoardClass as BoardClass
from landwise.study.boardtable import BoardKeepout as BoardKeepout
from landwise.study.fields import Table
from landwise.study.grouptable import KindTable as KindTable
from landwise.study.grouptable import RegroupTable as RegroupTable
from landwise.study.linefile import with_line_file
from landwise.study.linetable import LineTable as LineTable
from landwise.study.linetable import OwnRateTable as OwnRateTable
from landwise.study.offers import OfferTable as OfferTable
from landwise.study.parttable import OptionTable as OptionTable
from landwise.study.parttable import PartTable as PartTable
from landwise.study.plainwords import plainly
from landwise.study.scenariotable import ScenarioTable as ScenarioTable
from landwise.study.usetable import CycleTable as CycleTable
from landwise.study.usetable import Use as Use
from landwise.study.wanttable import CostsTable as CostsTable
from landwise.study.wanttable import Want as Want
from landwise.untyped import Fields

FORMAT = 1
LARGEST_FILE_BYTES = 5_000_000  # a study of a thousand parts is below 500 kB


class StudyFile(Table):
    """A whole study."""

    landwise: int = FORMAT
    board: Board = Field(default_factory=Board)
    line: LineTable = Field(default_factory=LineTable)
    use: Use = Field(default_factory=Use)
    want: Want = Field(default_factory=Want)
    costs: CostsTable = Field(default_factory=CostsTable)
    outlines: list[str] = Field(default_factory=list, description="TOML files with your own outlines, beside this file")
    offers: list[str] = Field(
        default_factory=list, description="TOML files with offers, beside this file; see `landwise offers`"
    )
    offer: list[OfferTable] = Field(
        default_factory=list, description="what somebody sells a part for, in which package"
    )
    part: list[PartTable] = Field(default_factory=list)
    regroup: list[RegroupTable] = Field(
        default_factory=list, description="parts near each other whose gates may come in other packages"
    )
    scenario: list[ScenarioTable] = Field(
        default_factory=list, description="how volumes, money, prices or the assembler may turn out"
    )


@dataclass(frozen=True)
class Study:
    """A study file with the place it came from."""

    content: StudyFile
    file: str
    folder: Path

    @property
    def board_key(self) -> str:
        """Tells its board from others by its parts, whatever else of the study changes from run to run."""
        return repr([(part.refs, part.number, part.package, part.terminals) for part in self.content.part])


def read_study(path: str | Path, *, line: str | Path | None = None) -> Study:
    """Read and check a study file.

    Parameters
    ----------
    path : str or Path
    line : str or Path, optional
        A line file to take instead of the one that the study names.

    Raises
    ------
    FileError
        If it can't be read, is a folder, is empty, or is too large.
    InputError
        Naming file, table and field: not TOML, unknown or missing field, bad unit, duplicate reference.
    """
    path = Path(path)
    text = read_text(path, LARGEST_FILE_BYTES)
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # no TOML, or a number of too many digits
        raise InputError("not a TOML file", file=path.name, found=str(error), expected="a study file") from None
    return study_from(with_line_file(data, path.parent, line), file=path.name, folder=path.parent)


def read_text(path: Path, limit: int) -> str:
    """The text of a small UTF-8 file, or one clear message."""
    try:
        if path.is_dir():
            raise FileError("a folder, not a file", file=str(path), expected="a file")
        size = path.stat().st_size
        if size > limit:
            raise FileError(
                "too large",
                file=str(path),
                found=f"{size / 1e6:.1f} MB",
                expected=f"at most {limit / 1e6:g} MB",
            )
        if size == 0:
            raise FileError("the file is empty", file=str(path))
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError("not UTF-8 text", file=str(path), place=f"byte {error.start}", expected="a text file") from None
    except LandwiseError:
        raise
    except OSError as error:
        raise FileError(error.strerror or "can't be read", file=str(path)) from None


def study_from(data: Fields, *, file: str = "study", folder: Path = Path()) -> Study:
    """A study from plain data, checked as a file would be."""
    version = data.get("landwise", FORMAT)
    if version != FORMAT:
        raise InputError(
            "a study of another format",
            file=file,
            place="landwise",
            found=repr(version),
            expected=f"landwise = {FORMAT}",
        )
    try:
        content = StudyFile.model_validate(data)
    except ValidationError as error:
        raise _first_problem(error, data, file) from None
    if content.line.file is not None:
        raise InputError(
            "a line file is read beside a study file only",
            file=file,
            place="line, file",
            found=content.line.file,
            expected="the values of the line file's [line] in the study's own [line]",
        )
    _require_unique_references(content, file)
    return Study(content, file, folder)


def _first_problem(error: ValidationError, data: Fields, file: str) -> InputError:
    # Of a field that may be one of two kinds, the deepest complaint is the one that helps.
    problem = max(error.errors(include_url=False), key=lambda found: len(found["loc"]))
    place = ", ".join(_places(problem["loc"], data))
    cause = problem.get("ctx", {}).get("error")
    if isinstance(cause, LandwiseError):
        inner = cause.within(file=file, place=place)
        return InputError(inner.message, file=file, place=inner.place, found=inner.found, expected=inner.expected)
    found = problem.get("input")
    kind = problem["type"]
    if kind == "extra_forbidden":
        return InputError(
            "unknown field",
            file=file,
            place=place,
            expected="a field of the study file (see `landwise defaults`)",
        )
    if kind == "missing":
        return InputError("a field is missing", file=file, place=place)
    shown = repr(found) if not isinstance(found, (dict, list)) else type(found).__name__
    return InputError("not a valid value", file=file, place=place, found=shown, expected=plainly(problem["msg"]))


def _places(loc: tuple[int | str, ...], data: Fields) -> Iterator[str]:
    node: object = data
    for step in loc:
        if isinstance(step, int) and isinstance(node, list) and step < len(node):
            node = node[step]
            refs = node.get("refs") if isinstance(node, dict) else None
            name = f" ({refs[0]}…)" if isinstance(refs, list) and refs else ""
            yield f"number {step + 1}{name}"
            continue
        if isinstance(node, dict) and step in node:
            node = node[step]
        elif not (isinstance(node, dict) and step not in node and isinstance(step, str)):
            continue
        if str(step).startswith(("literal[", "list[")):
            continue
        yield f"[[{step}]]" if step == "part" else str(step)


def _require_unique_references(content: StudyFile, file: str) -> None:
    seen: dict[str, int] = {}
    for number, part in enumerate(content.part, start=1):
        for ref in part.refs:
            if ref in seen:
                raise InputError(
                    "a reference stands in two parts",
                    file=file,
                    place=f"[[part]], number {number}, refs",
                    found=ref,
                    expected=f"each reference once; it is also in part number {seen[ref]}",
                )
            seen[ref] = number


def schema() -> dict[str, object]:
    """JSON Schema of the study file.

    >>> schema()["title"]
    'StudyFile'
    """
    return StudyFile.model_json_schema()
