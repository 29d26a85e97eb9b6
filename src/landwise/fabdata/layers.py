"""A job of fabrication files: a folder or zip opened safely, each file told for what it is, and by what.

Attributes in the file decide first, then what its comments and content say, then its name; the caller may
overrule all of them.
"""

from __future__ import annotations

import re
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from landwise.errors import FileError, InputError
from landwise.fabdata.drills import read_drill
from landwise.fabdata.gerber import read_gerber
from landwise.fabdata.layerroles import UNKNOWN_LAYER, recognise
from landwise.fabdata.productlayers import is_whole_board, product_layers

if TYPE_CHECKING:
    from landwise.fabdata.placements import Placements

MOST_FILES = 600
MOST_FILE_BYTES = 120_000_000
MOST_BYTES = 400_000_000
MOST_RATIO = 400.0  # unpacked over packed: text of coordinates packs 4 to 15 times
MOST_DEPTH = 6

ROLES = (
    "paste-top",
    "paste-bottom",
    "mask-top",
    "mask-bottom",
    "copper-top",
    "copper-bottom",
    "copper-inner",
    "legend-top",
    "legend-bottom",
    "outline",
    "drill",
    "placement",
    "bill",
    "other",
)
SINGLE = frozenset(
    role for role in ROLES if role.startswith(("paste", "mask", "legend")) or role in ("copper-top", "copper-bottom")
)


@dataclass(frozen=True)
class JobLayer:
    """One file of a job: its name, what it was taken for and why, and its content when first asked for."""

    file: str
    role: str
    why: str
    data: bytes = field(repr=False, default=b"")

    # openings or placements by the file's role, which whoever asks has looked at
    @cached_property
    def layer(self) -> Any:
        """The layer (openings), or for a placement file its `Placements`.

        Raises
        ------
        LandwiseError
            If it can't be read.
        """
        if self.role == "drill":
            if b"%FS" in self.data[:20_000]:
                return read_gerber(self.data, self.file)
            return read_drill(self.data, self.file)
        if self.role == "placement":
            return _placements(self.data, self.file)
        if self.role in ("bill", "other"):
            raise InputError("not a layer", file=self.file, found=self.role)
        return read_gerber(self.data, self.file)


@dataclass(frozen=True)
class Job:
    """All files of a job, in order of name."""

    name: str
    layers: tuple[JobLayer, ...]
    notes: tuple[str, ...]


def open_job(path: Path, overrides: Mapping[str, str] | None = None) -> Job:
    """Open a folder or a zip of fabrication files; nothing is unpacked to disk.

    Parameters
    ----------
    path : Path
        Folder, zip, or a single layer file.
    overrides : mapping, optional
        Role to file name, such as `{"paste-top": "board.gtp"}`; outranks what is recognised.

    Raises
    ------
    InputError
        For an unknown role, or a file that isn't there.
    FileError
        For what can't be opened, is damaged, or is larger than any board.
    """
    overrides = dict(overrides or {})
    for role in overrides:
        if role not in ROLES:
            raise InputError("unknown role of a layer", place="--layer", found=role, expected=", ".join(ROLES))
    path = Path(path)
    notes: list[str] = []
    if path.is_dir():
        files = _folder(path, notes)
    elif path.is_file():
        files = _zip(path, notes) if zipfile.is_zipfile(path) else {path.name: _bytes(path)}
    else:
        raise FileError("no such folder or file", file=str(path), expected="a folder or zip of fabrication files")
    if not files:
        raise FileError("no files in it", file=str(path), expected="Gerber layers")
    named = {_match(name, files, path): role for role, name in overrides.items()}
    layers: list[JobLayer] = []
    whole = {one: files.pop(one) for one in sorted(files) if is_whole_board(files[one])}
    for name in sorted(files):
        # A mark of byte order before plain text is not part of any of the formats.
        files[name] = files[name].removeprefix(b"\xef\xbb\xbf")
        role, why = (named[name], "told by --layer") if name in named else recognise(name, files[name])
        layers.append(JobLayer(name, role, why, files[name] if role != "bill" else b""))
    layers += _of_whole_boards(whole, layers, notes)
    _one_board(layers, set(named), path.name)
    layers = _numbered(layers, set(named))
    return Job(path.name, tuple(_one_each(layers, set(named), notes)), tuple(notes))


def _of_whole_boards(whole: Mapping[str, bytes], layers: list[JobLayer], notes: list[str]) -> list[JobLayer]:
    """The layers of files that hold a whole board; none beside paste films: a stencil is cut from those."""
    if any(one.role.startswith("paste") for one in layers):
        notes += [f"{name}: a whole board beside paste films; the films are read, and it is left out" for name in whole]
        return []
    found: list[JobLayer] = []
    for name, data in whole.items():
        its, left = product_layers(data, PurePosixPath(name).name)
        found += [JobLayer(file, role, why, content) for file, role, why, content in its]
        notes += left
    return found


def _numbered(layers: list[JobLayer], told: set[str]) -> list[JobLayer]:
    """Coppers named only by number (`L1` to `L6`): the first is the top, the last the bottom."""
    number = {
        one.file: int(match[1])
        for one in layers
        if one.file not in told
        and one.role in ("other", "copper-inner")
        and one.why in ("name", UNKNOWN_LAYER)
        and (match := re.fullmatch(r"l(\d{1,2})[a-z]?", PurePosixPath(one.file.lower()).stem))
    }
    if len(number) < 2:
        return layers
    ends = {min(number, key=lambda f: number[f]): "copper-top", max(number, key=lambda f: number[f]): "copper-bottom"}
    return [
        JobLayer(o.file, ends[o.file], "name: first or last of the numbered layers", o.data) if o.file in ends else o
        for o in layers
    ]


def _match(name: str, files: Mapping[str, bytes], path: Path) -> str:
    fits = [file for file in files if file == name or PurePosixPath(file).name == PurePosixPath(name).name]
    if len(fits) != 1:
        raise InputError(
            "no such file in the job" if not fits else "several files of that name",
            file=path.name,
            place="--layer",
            found=name,
            expected=", ".join(sorted(fits or files)[:8]),
        )
    return fits[0]


def _one_board(layers: list[JobLayer], told: set[str], name: str) -> None:
    """Refuse a folder that holds the films of two boards: which of them is meant can't be told."""
    twice: dict[str, list[str]] = {}
    for role in sorted(SINGLE):
        its = [one for one in layers if one.role == role]
        best = min((one.why[:1] != "a" for one in its), default=True)
        same = [one for one in its if (one.why[:1] != "a") == best]
        if len(same) > 1 and not told & {one.file for one in its} and len({one.data for one in same}) > 1:
            twice[role] = [one.file for one in same]
    if len(twice) < 2:
        return
    role, files = next(iter(twice.items()))
    raise InputError(
        "films of two boards in one place",
        file=name,
        found=f"{role}: {', '.join(files[:3])}; also two of {', '.join(list(twice)[1:4])}",
        expected="one board, or --layer ROLE=FILE for each film that is meant",
    )


def _one_each(layers: list[JobLayer], told: set[str], notes: list[str]) -> list[JobLayer]:
    """Of several files for one role, the told one first, then by attribute, content, name; the rest only named."""
    rank = {"t": 0, "a": 1, "c": 2, "n": 3}
    found: dict[str, list[JobLayer]] = {}
    for layer in layers:
        found.setdefault(layer.role, []).append(layer)
    out = []
    for role, its in found.items():
        if role in SINGLE and len(its) > 1:
            its.sort(key=lambda one: (0 if one.file in told else rank.get(one.why[:1], 4), one.file))
            notes.append(
                f"several files for {role}: {its[0].file} is taken, left out {', '.join(o.file for o in its[1:])}"
            )
            its = [its[0], *(JobLayer(o.file, "other", f"{role} already taken from {its[0].file}") for o in its[1:])]
        out += its
    return sorted(out, key=lambda one: one.file)


# -- opening ---------------------------------------------------------------------------------------------


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > MOST_FILE_BYTES:
            raise FileError(
                "the file is too long", file=path.name, found=f"{size} bytes", expected=f"at most {MOST_FILE_BYTES}"
            )
        return path.read_bytes()
    except FileError:
        raise
    except OSError as error:
        raise FileError("can't read the file", file=path.name, found=error.strerror or str(error)) from None


def _folder(path: Path, notes: list[str]) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    total = 0
    root = path.resolve()
    for one in sorted(path.rglob("*")):
        inner = one.relative_to(path)
        if len(inner.parts) > MOST_DEPTH or any(part.startswith((".", "__MACOSX")) for part in inner.parts):
            continue
        if one.is_symlink() or not one.resolve().is_relative_to(root):
            notes.append(f"{inner.as_posix()} points elsewhere and is left out")
            continue
        if not one.is_file():
            continue
        if len(found) >= MOST_FILES:
            raise FileError("too many files for one board", file=str(path), expected=f"at most {MOST_FILES}")
        total += one.stat().st_size
        if total > MOST_BYTES:
            raise FileError(
                "the folder is too large for one board", file=str(path), expected=f"at most {MOST_BYTES} bytes"
            )
        if zipfile.is_zipfile(one) and one.suffix.lower() == ".zip":
            notes.append(f"{inner.as_posix()}: a zip within the folder is not opened; give it by name")
            continue
        found[inner.as_posix()] = _bytes(one)
    if not any(b"%FS" in data[:20_000] for data in found.values()):
        zips = sorted(path.glob("*.zip"))
        if len(zips) == 1:
            notes[:] = [note for note in notes if zips[0].name not in note]
            notes.append(f"no layer lies in the folder itself, so its only zip {zips[0].name} is opened")
            return {**_zip(zips[0], notes), **found}
    return found


def _zip(path: Path, notes: list[str]) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    total = 0
    try:
        with zipfile.ZipFile(path) as archive:
            members = [info for info in archive.infolist() if not info.is_dir()]
            if len(members) > MOST_FILES:
                raise FileError(
                    "too many files for one board",
                    file=path.name,
                    found=str(len(members)),
                    expected=f"at most {MOST_FILES}",
                )
            for info in members:
                name = _safe_name(info, path.name)
                total += info.file_size
                _bounded(info, total, path.name)
                if name.lower().endswith(".zip") or stat.S_ISLNK(info.external_attr >> 16):
                    notes.append(f"{name}: a zip or a link within the zip is not opened")
                elif not any(part.startswith((".", "__MACOSX")) for part in PurePosixPath(name).parts):
                    found[name] = _member(archive, info, path.name)
    except FileError:
        raise
    except (zipfile.BadZipFile, zlib.error, OSError, RuntimeError, EOFError, ValueError) as error:
        raise FileError(
            "the zip can't be opened", file=path.name, found=str(error)[:80] or type(error).__name__
        ) from None
    return found


def _safe_name(info: zipfile.ZipInfo, file: str) -> str:
    name = info.filename.replace("\\", "/")
    if name.startswith("/") or ".." in PurePosixPath(name).parts or re.match(r"[A-Za-z]:", name):
        raise FileError("a name in the zip leads out of it", file=file, found=repr(name[:60]))
    return name


def _bounded(info: zipfile.ZipInfo, total: int, file: str) -> None:
    what = f"{info.filename[:60]}: {info.file_size} bytes"
    if info.flag_bits & 1:
        raise FileError("the zip is locked with a password", file=file, found=info.filename[:60])
    if info.file_size > MOST_FILE_BYTES or total > MOST_BYTES:
        raise FileError("the zip unpacks to more than any board", file=file, found=what)
    if info.file_size > 1_000_000 and info.file_size > MOST_RATIO * max(info.compress_size, 1):
        raise FileError("the zip is packed tighter than any board's files", file=file, found=what)


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, file: str) -> bytes:
    with archive.open(info) as member:
        # The stated size may lie: never read more than it.
        data = member.read(info.file_size + 1)
    if len(data) != info.file_size:
        raise FileError("the zip is damaged", file=file, found=f"{info.filename[:60]} is not as long as it says")
    return data


def _placements(data: bytes, file: str) -> Placements:
    from landwise.fabdata.placements import read_placements

    name = re.sub(r"[^\w. -]", "_", PurePosixPath(file).name) or "placement.csv"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return read_placements(path)


# -- recognising -----------------------------------------------------------------------------------------
