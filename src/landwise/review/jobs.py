"""A folder or zip of fabrication files: what each file is, and the board a review is made of."""

from __future__ import annotations

import re
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from landwise.errors import FileError, InputError, LandwiseError
from landwise.quantities import INCH_MM
from landwise.review.filmread import MOST_BYTES, Film, read_film
from landwise.review.model import BoardInput, Hole, Openings, PadColumns, Side, SideInput

MOST_FILES, MOST_TOTAL = 400, 400_000_000
ROLES = ("paste-top", "paste-bottom", "copper-top", "copper-bottom", "mask-top", "mask-bottom", "outline", "drill",
         "placement")  # fmt: skip
# What file names say, tried in order; habits of design programs and of people.
NAMES: tuple[tuple[str, str], ...] = (
    (r"(pos|pick|place|centroid|body.?center|xyrs).*\.(csv|txt|pos|xy)$|\.mnt$", "placement-any"),
    (r"\.mnb$", "placement-any"),
    (r"\.(csv|xlsx?|md|pdf|html?|zip|json|step|gbrjob|png)$|licen[cs]e|readme|commit", "other"),
    (r"\.(drl|xln|exc|drd)$|\.nc$|holes?\.txt$|drill", "drill"),
    (r"silk|legend|overlay|\.gt[om]$|\.gbo$|document|courtyard|fab\b", "other"),
    (r"in\d+[._]?cu|inner|\.g\d+l?$", "other"),
    (r"\.(gtp|tp|crc)$|past.*top|top.*past|f[._ ]paste|paste[._-]?f|sppr", "paste-top"),
    (r"\.(gbp|bp|crs)$|past.*bot|bot.*past|b[._ ]paste|spse", "paste-bottom"),
    (r"\.(gts|stc)$|mask.*top|top.*mask|f[._ ]mask|smpr", "mask-top"),
    (r"\.(gbs|sts)$|mask.*bot|bot.*mask|b[._ ]mask|smse", "mask-bottom"),
    (r"\.(gko|gm1|gml|dim|oln)$|edge[._ ]cuts|outline|profile|board.?shape", "outline"),
    (r"\.(gtl|cmp)$|f[._ ]cu|copper.*top|top.*copper|^top\.(art|gbr)$|^l1\.(art|gbr)$", "copper-top"),
    (r"\.(gbl|sol)$|b[._ ]cu|copper.*bot|bot.*copper|^bottom\.(art|gbr)$", "copper-bottom"),
)  # fmt: skip
_FUNCTION = re.compile(r"TF\.FileFunction,([A-Za-z]+)(?:,([A-Za-z0-9]+))?(?:,([A-Za-z]+))?")


@dataclass(frozen=True)
class JobFile:
    """One file, what it was taken for, and why."""

    name: str
    role: str
    why: str
    data: bytes


@dataclass(frozen=True)
class ReadBoard:
    """A board as read: for the review, and its paste films, to be written again."""

    board: BoardInput
    films: Mapping[Side, Film]


def read_board(path: Path, overrides: Mapping[str, str]) -> ReadBoard:
    """Read a folder or zip.

    Parameters
    ----------
    path : Path
    overrides : mapping of role to file name
        Outranks what is recognised.

    Raises
    ------
    LandwiseError
        For paste that can't be read or isn't there.
    """
    files = job_files(path, overrides)
    notes: list[str] = []
    films: dict[Side, Film] = {}
    sides: tuple[Side, ...] = ("top", "bottom")
    for side in sides:
        found = _first(files, f"paste-{side}", notes)
        if found is not None:
            films[side] = read_film(found.data, found.name)
    if not any(len(film.pads) for film in films.values()):
        raise InputError(
            "no paste layer with openings", file=path.name or str(path),
            found=", ".join(sorted(file.name for file in files)[:8]) or "no files",
            expected="a paste layer; name it with --layer paste-top=FILE",
        )  # fmt: skip
    placed = _placements(files, notes)
    made = tuple(
        SideInput(
            side, film.pads, _pads(files, f"copper-{side}", notes), _pads(files, f"mask-{side}", notes),
            tuple(place for its, place in placed if its == side),
        )
        for side, film in films.items()
    )  # fmt: skip
    notes += [f"{film.file}: {note}" for film in films.values() for note in film.notes]
    holes = _holes(files, films, notes)
    reading = tuple(f"{file.name}: {file.role}, {file.why}" for file in files if file.role in ROLES)
    board = BoardInput(path.resolve().stem or path.name, made, holes, _outline(files, notes), reading, tuple(notes))
    return ReadBoard(board, films)


# --- files and their roles ---


def job_files(path: Path, overrides: Mapping[str, str] | None = None) -> tuple[JobFile, ...]:
    """Every file of a folder or zip with its role.

    Raises
    ------
    FileError, InputError
        For a path that isn't there, a broken or oversized zip, an override of no file.
    """
    wanted = dict(overrides or {})
    unknown = [role for role in wanted if role not in ROLES]
    if unknown:
        raise InputError("unknown layer role", place="--layer", found=unknown[0], expected=" | ".join(ROLES))
    raw = _unpacked(path)
    by_name = {name.lower(): role for role, name in wanted.items()}
    for role, name in wanted.items():
        if not any(own.lower() in (name.lower(), Path(name).name.lower()) for own, _ in raw):
            raise InputError("no such file in the job", place=f"--layer {role}", found=name,
                             expected=", ".join(own for own, _ in raw[:8]))  # fmt: skip
    found = []
    for name, data in raw:
        given = by_name.get(name.lower())
        role, why = (given, "as said on the command line") if given else role_of(name, data)
        if not given and role in wanted:
            role, why = "other", "another file was named for its role"
        found.append(JobFile(name, role, why, data))
    return tuple(found)


def role_of(name: str, data: bytes) -> tuple[str, str]:
    """What a file is, and what told so: its attributes first, then its name.

    >>> role_of("x.gbr", b"%TF.FileFunction,Paste,Top*%")
    ('paste-top', 'by its attributes')
    >>> role_of("PAST_BOT.art", b"")
    ('paste-bottom', 'by its name')
    """
    match = _FUNCTION.search(data[:20_000].decode("latin-1"))
    if match:
        function, one, other = match[1].lower(), (match[2] or "").lower(), (match[3] or "").lower()
        side = {"top": "top", "bot": "bottom"}.get(one) or {"top": "top", "bot": "bottom"}.get(other)
        kind = {"paste": "paste", "soldermask": "mask", "copper": "copper"}.get(function)
        if kind and side:
            return f"{kind}-{side}", "by its attributes"
        if function == "profile":
            return "outline", "by its attributes"
        return "other", f"by its attributes ({function})"
    for pattern, role in NAMES:
        if re.search(pattern, Path(name).name.lower()):
            return (role, "by its name") if role != "placement-any" else ("placement", "by its name")
    return "other", "not recognised"


def _unpacked(path: Path) -> list[tuple[str, bytes]]:
    if path.is_dir():
        inner = sorted(file for file in path.iterdir() if file.is_file())
        found = [(file.name, file.read_bytes()) for file in inner[:MOST_FILES] if file.stat().st_size <= MOST_BYTES]
        packed = [(name, data) for name, data in found if name.lower().endswith(".zip")]
        if packed and not any(role_of(name, data)[0].startswith("paste") for name, data in found):
            # Films are often handed over as a zip beside the tables.
            import io

            return [*found, *_zipped(io.BytesIO(packed[0][1]), packed[0][0])]
        return found
    if not path.is_file():
        raise FileError("no such folder or zip", file=str(path))
    if not zipfile.is_zipfile(path):
        raise FileError("not a folder or zip", file=str(path))
    return _zipped(path, path.name)


def _zipped(source: Any, name: str) -> list[tuple[str, bytes]]:
    """Members of a zip, read in memory: nothing is unpacked, so no path can escape."""
    found: list[tuple[str, bytes]] = []
    total = 0
    try:
        with zipfile.ZipFile(source) as packed:
            members = [member for member in packed.infolist() if not member.is_dir()]
            if len(members) > MOST_FILES:
                raise FileError(
                    "too many files in the zip", file=name, found=f"{len(members)}", expected=f"≤ {MOST_FILES}"
                )
            for member in members:
                with packed.open(member) as stream:
                    data = stream.read(MOST_BYTES + 1)
                total += len(data)
                if len(data) > MOST_BYTES or total > MOST_TOTAL:
                    raise FileError("the zip unpacks to too much", file=name, expected=f"≤ {MOST_TOTAL} bytes")
                found.append((Path(member.filename.replace("\\", "/")).name, data))
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError("can't read the zip", file=name, found=str(error)) from None
    return found


def _first(files: tuple[JobFile, ...], role: str, notes: list[str]) -> JobFile | None:
    mine = [file for file in files if file.role == role]
    if len(mine) > 1:
        notes.append(
            f"{role}: {mine[0].name} is taken, {', '.join(file.name for file in mine[1:4])} not; --layer chooses"
        )
    return mine[0] if mine else None


def _pads(files: tuple[JobFile, ...], role: str, notes: list[str]) -> PadColumns | None:
    file = _first(files, role, notes)
    if file is None:
        return None
    try:
        pads: Openings = read_film(file.data, file.name, merge=False).pads
    except LandwiseError as error:
        notes.append(f"{role} is left out: {error}")
        return None
    return pads if len(pads) else None


# --- what stands beside the films ---


def _outline(files: tuple[JobFile, ...], notes: list[str]) -> Any:
    """The board's area: the largest closed line of the outline, filled."""
    import shapely

    file = _first(files, "outline", notes)
    if file is None:
        return None
    try:
        shapes = read_film(file.data, file.name, merge=False).pads.polygon
    except LandwiseError as error:
        notes.append(f"the outline is left out: {error}")
        return None
    parts = [part for part in shapely.get_parts(shapely.union_all(shapes)) if len(part.interiors)]
    if not parts:
        notes.append("the outline holds no closed line")
        return None
    return shapely.Polygon(max(parts, key=lambda part: part.convex_hull.area).exterior)


def _placements(
    files: tuple[JobFile, ...], notes: list[str]
) -> list[tuple[Side, tuple[str, float, float, float, str]]]:
    from landwise.fabdata.placements import read_placements

    found: list[tuple[Side, tuple[str, float, float, float, str]]] = []
    for file in files:
        if file.role != "placement":
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder, file.name)
            path.write_bytes(file.data)
            try:
                read = read_placements(path)
            except LandwiseError as error:
                notes.append(f"placement file is left out: {error}")
                continue
        below = bool(re.search(r"bot|\.mnb$", file.name.lower()))
        for place in read.by_reference.values():
            side: Side = "bottom" if below or place.side == "bottom" else "top"
            found.append((side, (place.reference, place.x_mm, place.y_mm, place.rotation_deg, place.package)))
    return found


def _holes(files: tuple[JobFile, ...], films: Mapping[Side, Film], notes: list[str]) -> Hole | None:
    """Holes of all drill files; a file whose holes lie beside the paste is left out, its format misread."""
    pads = [film.pads for film in films.values() if len(film.pads)]
    x = np.concatenate([one.x_mm for one in pads])
    y = np.concatenate([one.y_mm for one in pads])
    rows = []
    for file in files:
        if file.role != "drill":
            continue
        holes = drill_holes(file.data.decode("latin-1"))
        if not len(holes):
            continue
        air = 0.3 * max(float(np.ptp(x)), float(np.ptp(y)), 20.0)
        inside = (np.abs(holes[:, 0] - (x.min() + x.max()) / 2) < np.ptp(x) / 2 + air) & (
            np.abs(holes[:, 1] - (y.min() + y.max()) / 2) < np.ptp(y) / 2 + air
        )
        if inside.mean() < 0.8:
            notes.append(f"{file.name} is left out: its holes do not lie where the paste does")
            continue
        rows.append(holes)
    if not rows:
        return None
    table = np.concatenate(rows)
    return Hole(table[:, 0], table[:, 1], table[:, 2])


def drill_holes(text: str) -> Any:
    """Holes of a drill file as rows of x, y, diameter; slots by their ends and middle. [mm]

    Notes
    -----
    Coordinates with a point are as written. Without one, the digits are those the file states, else 3.3 for
    millimetres and 2.4 for inches.

    >>> drill_holes("M48\\nMETRIC\\nT1C0.3\\n%\\nT1\\nX1.5Y-2.0\\nM30").tolist()
    [[1.5, -2.0, 0.3]]
    """
    metric = bool(re.search(r"METRIC|M71|MOMM|;.*metric", text, re.IGNORECASE)) and not re.search(
        r"^M72|^INCH", text, re.M
    )
    unit = 1.0 if metric else INCH_MM
    trailing = bool(re.search(r"(METRIC|INCH),LZ|LEADING ZEROS KEPT|SUPPRESS TRAILING", text, re.IGNORECASE))
    stated = re.search(r"FILE_FORMAT=(\d)[:.](\d)|FORMAT\s*[:=]\s*(\d)[.:](\d)", text, re.IGNORECASE)
    zeros = re.search(r"(?:METRIC|INCH)[^\n]*?,(0+)\.(0+)", text)
    whole, decimals = (3, 3) if metric else (2, 4)
    if zeros:
        whole, decimals = len(zeros[1]), len(zeros[2])
    elif stated:
        whole, decimals = (int(v) for v in (stated[1] or stated[3], stated[2] or stated[4]))

    def value(figures: str) -> float:
        if "." in figures:
            return float(figures) * unit
        sign = -1 if figures.startswith("-") else 1
        bare = figures.lstrip("+-")
        if trailing:
            bare = bare.ljust(whole + decimals, "0")
        return float(sign * int(bare or 0) / 10**decimals * unit)

    tools = {int(n): float(d) * unit for n, d in re.findall(r"^T0*(\d+)[^\n]*?C([\d.]+)", text, re.MULTILINE)}
    rows: list[tuple[float, float, float]] = []
    tool, x, y = 0.0, 0.0, 0.0
    for line in text.splitlines():
        line = line.strip()
        if match := re.match(r"T0*(\d+)", line):
            tool = tools.get(int(match[1]), tool)
            continue
        if line.startswith((";", "M", "G05", "G90")):
            continue
        points = re.findall(r"X?([+-]?[\d.]+)?Y([+-]?[\d.]+)|X([+-]?[\d.]+)", line)
        ends = []
        for across, up, alone in points:
            x = value(across or alone) if across or alone else x
            y = value(up) if up else y
            ends.append((x, y))
        if tool <= 0 or not ends:
            continue
        rows += [(a, b, tool) for a, b in ends]
        if len(ends) == 2:
            rows.append(((ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2, tool))
    return np.array(rows).reshape(-1, 3)
