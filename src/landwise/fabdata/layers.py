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
from typing import Any

from landwise.errors import FileError, InputError
from landwise.fabdata.drills import is_drill, read_drill
from landwise.fabdata.gerber import read_gerber

MOST_FILES = 600
MOST_FILE_BYTES = 120_000_000
MOST_BYTES = 400_000_000
MOST_RATIO = 400.0  # unpacked over packed: text of coordinates packs 4 to 15 times
MOST_DEPTH = 6
UNKNOWN_LAYER = "a Gerber layer of unknown use"

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
    layers = []
    for name in sorted(files):
        role, why = (named[name], "told by --layer") if name in named else recognise(name, files[name])
        layers.append(JobLayer(name, role, why, files[name] if role != "bill" else b""))
    layers = _numbered(layers, set(named))
    return Job(path.name, tuple(_one_each(layers, set(named), notes)), tuple(notes))


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


def _placements(data: bytes, file: str) -> Any:
    from landwise.fabdata.placements import read_placements

    name = re.sub(r"[^\w. -]", "_", PurePosixPath(file).name) or "placement.csv"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return read_placements(path)


# -- recognising -----------------------------------------------------------------------------------------

_FUNCTION = re.compile(rb"T(?:F|f)\.FileFunction,([^*%\r\n]{1,200})")
_SIDES = {"top": "top", "bot": "bottom", "bottom": "bottom"}


def recognise(name: str, data: bytes) -> tuple[str, str]:
    """What a file is, and by what it was told.

    Examples
    --------
    >>> recognise("x.gbr", b"%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%M02*")
    ('paste-top', 'attribute Paste,Top')
    >>> recognise("board.GBP", b"%FSLAX24Y24*%%MOIN*%M02*")[0]
    'paste-bottom'
    """
    head = data[:60_000]
    gerber = b"%FS" in head or b"%ADD" in head or b"%MO" in head or re.search(rb"^G0?4[ :*]", head, re.M) is not None
    if gerber and b"\0" not in head[:2000]:
        attribute = _FUNCTION.search(head)
        if attribute:
            role = _by_attribute(attribute[1].decode("latin-1"))
            if role:
                return role, f"attribute {attribute[1].decode('latin-1').strip()}"
        said = _by_comments(head.decode("latin-1"))
        if said:
            return said
        role = _by_name(name)
        return (role, "name") if role else ("other", UNKNOWN_LAYER)
    text = head.decode("latin-1")
    if b"\0" not in head[:2000] and is_drill(text):
        return "drill", "content: a drill header"
    return _by_table(name, data)


def _by_attribute(text: str) -> str | None:
    fields = [part.strip() for part in text.split(",")]
    kind = fields[0].lower()
    side = next((_SIDES[part.lower()] for part in fields[1:] if part.lower() in _SIDES), None)
    simple = {"paste": "paste", "soldermask": "mask", "legend": "legend"}
    if kind in simple and side:
        return f"{simple[kind]}-{side}"
    if kind == "copper":
        return f"copper-{side}" if side else "copper-inner"
    if kind in ("plated", "nonplated", "mixedplating"):
        return "drill"
    return {"profile": "outline"}.get(kind, "other")


def _by_comments(text: str) -> tuple[str, str] | None:
    """Layer names that programs write into comments."""
    lines = re.findall(r"^(?:G0?4[ :]?|;)\s*(.{0,120})", text, re.M)[:60]
    said = [
        m
        for line in lines
        if (m := re.match(r"(?:Layer|Film Name|Layer name|Layer_Physical_Order)\s*:?\s*(.+)", line, re.I))
    ]
    for match in said:
        words = match[1].strip().rstrip("*").lower()
        flat = re.sub(r"[^a-z]+", " ", words.replace("pastemask", "paste ").replace("soldermask", "mask "))
        side = "top" if re.search(r"\btop|primary\b", flat) or words.startswith("top") else None
        side = side or ("bottom" if re.search(r"bot", flat) or words.startswith("bottom") else None)
        for pattern, kind in (("past", "paste"), ("mask", "mask"), ("silk", "legend")):
            if pattern in flat and side:
                return f"{kind}-{side}", f"content: its comments name {words[:40]}"
        if re.search(r"board ?outline", flat) and len(said) == 1:
            return "outline", f"content: its comments name {words[:40]}"
    return None


_SUFFIX = {
    ".gtp": "paste-top",
    ".gbp": "paste-bottom",
    ".tp": "paste-top",
    ".bp": "paste-bottom",
    ".crc": "paste-top",
    ".crs": "paste-bottom",
    ".gts": "mask-top",
    ".gbs": "mask-bottom",
    ".stc": "mask-top",
    ".sts": "mask-bottom",
    ".gtl": "copper-top",
    ".gbl": "copper-bottom",
    ".cmp": "copper-top",
    ".sol": "copper-bottom",
    ".gto": "legend-top",
    ".gbo": "legend-bottom",
    ".plc": "legend-top",
    ".pls": "legend-bottom",
    ".gko": "outline",
    ".gm1": "outline",
    ".gml": "outline",
    ".oln": "outline",
    ".spt": "paste-top",
    ".spb": "paste-bottom",
    ".smt": "mask-top",
    ".smb": "mask-bottom",
    ".toppaste": "paste-top",
}
_TOP = r"(?:^|[^a-z])(?:f|top|t|front|pri|primary|comp|l1)(?:$|[^a-z])"
_BOTTOM = r"(?:^|[^a-z])(?:b|bot|bottom|back|sec|secondary|sold|solder\s*side)(?:$|[^a-z])"


def _by_name(name: str) -> str | None:
    """A layer's role from the habits of file names."""
    path = PurePosixPath(name.lower())
    stem = path.name if path.suffix in ("", ".gbr", ".ger", ".art", ".pho", ".gb", ".txt", ".gbx") else path.stem
    stem = re.sub(r"\.(gbr|ger|art|pho|gb|txt|gbx)$", "", stem)
    short = re.fullmatch(r"(sp|sm|ss)(pr|se)", stem)
    if short:
        kind = {"sp": "paste", "sm": "mask", "ss": "legend"}[short[1]]
        return f"{kind}-{'top' if short[2] == 'pr' else 'bottom'}"
    spread = re.sub(r"(top|bottom|front|back)", r" \1 ", re.sub(r"[._-]+", " ", stem))
    spread = re.sub(r"(solder)?(paste|mask|silkscreen|copper)", r" \2 ", spread)
    side = "top" if re.search(_TOP, spread) else "bottom" if re.search(_BOTTOM, spread) else None
    for pattern, kind in (
        (r"past|cream|stencil", "paste"),
        (r"mask|resist", "mask"),
        (r"silk|legend|overlay", "legend"),
    ):
        if re.search(pattern, spread) and side:
            return f"{kind}-{side}"
    if path.suffix in _SUFFIX:
        return _SUFFIX[path.suffix]
    if re.search(r"edge|outline|profile|border|\bkeepout", spread):
        return "outline"
    if "copper" in spread and side:
        return f"copper-{side}"
    if re.fullmatch(r"g[0-9]|g[1-9][0-9]?|g\d+l|gp\d", path.suffix.lstrip(".")) or re.search(
        r"inner|\bin\d|\bl[2-9]", spread
    ):
        return "copper-inner"
    if (re.search(r"\bcu\b|copper", spread) and side) or spread.strip() in ("top", "bottom"):
        return f"copper-{side}"
    return None


def _by_table(name: str, data: bytes) -> tuple[str, str]:
    """Placement and bill files by their name and the words of their heads."""
    path = PurePosixPath(name.lower())
    if path.suffix not in (".csv", ".txt", ".tsv", ".pos", ".mnt", ".mnb", ".xy", ".xlsx", ".rpt"):
        return "other", "unknown"
    for mark in (b"\xff\xfe", b"\xfe\xff"):
        if data.startswith(mark):
            text = data[:8000].decode("utf-16", errors="replace")
            break
    else:
        text = data[:4000].decode("latin-1")
    low = text.lower()
    placed = re.search(
        r"(pick.?place|placement|\bpos\b|centroid|body.?center|\bcpl\b|-all-pos|top-pos|bottom-pos)", path.stem
    )
    head = re.search(r"(pos ?x|mid ?x|center-?x|ref ?x|x\(mm\)|sym_x|locationx)", low)
    if path.suffix in (".mnt", ".mnb", ".pos") or (placed and path.suffix != ".xlsx") or head:
        return "placement", "content: columns of coordinates" if head else "name"
    if re.search(r"bom|bill|parts", path.stem) or re.search(r"designator|reference|refdes", low):
        return "bill", "name or heading"
    return "other", "unknown"
