"""What comes in on the board page: a bill, placement files, or a study; what was read of it, to show and to keep."""

from __future__ import annotations

import json
import re
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path, PurePosixPath, PureWindowsPath

from landwise.errors import FileError, InputError, LandwiseError
from landwise.fabdata.bills import read_bill
from landwise.fabdata.parts import Recognition, recognise
from landwise.fabdata.placements import joined, read_placements
from landwise.study.file import FORMAT, study_from
from landwise.study.start import KIND_WORDS, study_text
from landwise.untyped import Table
from landwise.workbench.tomltext import read_toml

MOST_TEXT = 110  # of one line that is shown
MOST_LEFT = 400  # lines left aside that are listed
CHECKOUT = Path(__file__).resolve().parents[3]
EXAMPLE = "greenhouse logger (invented)"


@dataclass(frozen=True)
class Account:
    """What a bill held, as the board page shows it.

    Parameters
    ----------
    bill, placement : str
        Names of the files.
    counts : mapping of str to int
        References by kind, in words.
    left : sequence of mapping
        Lines left aside: row, refs, text, reason.
    said : mapping of str to mapping
        For each logic part, by its first reference: row, part number and package as the bill wrote them.
    notes : sequence of str
        On how the bill was read.
    """

    bill: str = ""
    placement: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    left: Sequence[Table] = ()
    said: Mapping[str, Table] = field(default_factory=dict)
    notes: Sequence[str] = ()

    def text(self) -> bytes:
        """To be kept beside the study."""
        return json.dumps(vars(self), ensure_ascii=False, indent=1).encode()


@dataclass(frozen=True)
class Begun:
    """A study to keep: its text, its title, and what was read of its bill."""

    text: str
    title: str
    did: str
    account: Account = Account()


def account_from(content: bytes | None) -> Account:
    """What was kept beside a study; an empty account where nothing was."""
    return Account(**json.loads(content)) if content else Account()


def plain_name(name: str, usual: str) -> str:
    """The last part of an upload's name in plain letters: a name to show and to tell files apart by.

    >>> plain_name("C:\\\\boards\\\\bom v2.csv", "bill"), plain_name("../../x.csv", "bill"), plain_name("", "bill")
    ('bom v2.csv', 'x.csv', 'bill')
    """
    last = PurePosixPath(PureWindowsPath(name).name).name
    return re.sub(r"[^\w. ()+-]", "_", last).strip(". ")[:80] or usual


def begin(bill: tuple[str, bytes], placements: Sequence[tuple[str, bytes]], name: str) -> Begun:
    """The study that `landwise start` writes for the same files.

    Parameters
    ----------
    bill : (name, content)
    placements : sequence of (name, content)
    name : str
        What the board is called; the bill's name where it is empty.

    Raises
    ------
    LandwiseError
        With `bill` or `placement` as its place.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = _laid_down(Path(folder), plain_name(bill[0], "bill.csv"), bill[1])
        try:
            read = read_bill(path)
        except LandwiseError as error:
            raise _at("bill", error) from None
        placed, names = [], []
        for number, (given, content) in enumerate(placements):
            inner = Path(folder) / str(number)
            inner.mkdir()
            file = _laid_down(inner, plain_name(given, "placement.csv"), content)
            try:
                placed.append(read_placements(file))
            except LandwiseError as error:
                raise _at("placement", error) from None
            names.append(file.name)
    found = recognise(read, joined(placed) if placed else None)
    board = " ".join(name.split()) or path.stem
    text = study_text(found, bill=path.name, placement=", ".join(names) or None, board=board)
    study_from({"landwise": FORMAT, **tomllib.loads(text)}, file="study")  # what is kept must be readable
    return Begun(text, board, f"begun from {path.name}", _account(found, path.name, ", ".join(names)))


def bring(content: bytes) -> Begun:
    """A study file as it came.

    Raises
    ------
    LandwiseError
        With `study` as its place.
    """
    try:
        text = content.decode("utf-8-sig")
        data = read_toml(text)
        if data.get("outlines"):
            raise InputError(
                "own outlines are not read in the workbench", place="outlines", expected="the command line"
            )
        title = study_from(data, file="study").content.board.name
    except UnicodeDecodeError as error:
        raise InputError("not UTF-8 text", place="study", found=f"byte {error.start}") from None
    except ValueError as error:  # no TOML, or a number of too many digits
        raise InputError("not a TOML file", place="study", found=str(error), expected="a study file") from None
    except LandwiseError as error:
        where = f"{error.place}: " if error.place else ""
        raise InputError(where + error.message, place="study", found=error.found, expected=error.expected) from None
    return Begun(text, title, "brought")


def example(kind: str) -> Begun:
    """The invented board: its bill as an assembler would get it, or its finished study."""
    if kind == "bill":
        return begin(("bom.csv", _example_file("bom.csv")), (), EXAMPLE)
    return bring(_example_file("board.toml"))


def _example_file(name: str) -> bytes:
    inside = resources.files("landwise.workbench").joinpath("example", name)
    # An installed package carries the example; a checkout has it beside the sources.
    path = inside if inside.is_file() else CHECKOUT / "examples" / "logger" / name
    if not path.is_file():
        raise FileError("the example is not installed", file=name, expected="a study or a bill of your own")
    return path.read_bytes()


def _laid_down(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def _at(place: str, error: LandwiseError) -> LandwiseError:
    """The same, about a field of the form; where in the file it was stays in the message."""
    where = f"{error.place}: " if error.place else ""
    return InputError(where + error.message, place=place, found=error.found, expected=error.expected)


def _account(found: Recognition, bill: str, placement: str) -> Account:
    counts = found.count()
    left = [
        {"row": one.row, "refs": list(one.references), "text": one.text[:MOST_TEXT], "reason": one.reason}
        for one in found.unread
    ]
    left += [
        {
            "row": one.row,
            "refs": list(one.references),
            "text": one.part_number[:MOST_TEXT],
            "reason": "taken as no logic",
        }
        for one in found.parts
        if one.kind == "other IC"
    ]
    said = {
        one.references[0]: {"row": one.row, "number": one.part_number[:60], "package": one.package_text[:60]}
        for one in found.logic
    }
    shown = {words: counts[kind] for kind, words in KIND_WORDS.items() if counts.get(kind)}
    return Account(bill, placement, shown, left[:MOST_LEFT], said, list(found.notes))
