"""Placement files: where each part sits, on which side, and what package the design program calls it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from landwise.errors import InputError
from landwise.fabdata.grids import HEADER_SEARCH_ROWS, SPREADSHEETS, decode, plain, read_bytes
from landwise.fabdata.references import looks_like_references
from landwise.fabdata.tables import read_headed
from landwise.quantities import INCH_MM, some_of

FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        name: tuple(words.split())
        for name, words in {
            "ref": "ref designator refdes reference part component name refdesignator"
            " referencedesignator references bauteil referenz repere referencia riferimento onderdeel"
            " composant componente bezeichner bauteilname 位号 标号 元件标号 部品番号 部品記号 回路記号"
            " 記号 обозначение",
            "x": "posx midx centerx centrex x xmm xmil xin posxmm locx midxmm centerxmm symx xlocation"
            " centerxmil centerxin midxmil midxin posxmil posxin refx xpos xcoord xcoordinate"
            " xposition positionx locationx bodycenterx xcenter coordx",
            "y": "posy midy centery centrey y ymm ymil yin posymm locy midymm centerymm symy ylocation"
            " centerymil centeryin midymil midyin posymil posyin refy ypos ycoord ycoordinate"
            " yposition positiony locationy bodycentery ycenter coordy",
            "rotation": "rot rotation angle orientation rotationdeg theta winkel drehung anglecw angledeg rotdeg"
            " angulo rotacion rotacao rotazione angolo rotatie hoek drehwinkel rotdegccw"
            " 角度 旋转 旋转角度 方向 回転 回転角 回転角度 угол",
            "side": "side layer tb mirror mirrored boardside topbottom seite lage face cote lado cara lato zijde kant"
            " couche capa bestuckungsseite placedside placementside bestuckseite layername"
            " 层 板层 层面 贴装面 面 安装面 実装面 部品面 レイヤ サイド сторона слой",
            "package": "package footprint pattern symname case componentpackage gehause bauform boitier"
            " 封装 パッケージ 外形 корпус",
            "value": "val value comment compvalue description parttype wert valeur valor valore designation partnumber"
            " 型号 规格 名称 参数 部品名 品名 型番 定数 номинал",
        }.items()
    }
)
LARGEST_BOARD_MM = 1000.0


@dataclass(frozen=True)
class Placement:
    """One placed part. [mm, deg]"""

    reference: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: str
    package: str
    value: str


@dataclass(frozen=True)
class Placements:
    """All placements of a file by reference, with notes on how they were read."""

    file: str
    by_reference: Mapping[str, Placement]
    notes: tuple[str, ...]


def read_placements(path: str | Path) -> Placements:
    """Read a placement file.

    Raises
    ------
    FileError, InputError
        As for bills; also when no line holds two coordinates.
    """
    path = Path(path)
    rows, header, file, notes = _rows_of(path)
    factor, why = _unit(rows, header)
    notes.append(why)
    found: dict[str, Placement] = {}
    passed: list[str] = []
    twice: list[str] = []
    for row in rows:
        placement = _placement(row, factor)
        if placement is None:
            passed.append(row["row"])
        elif placement.reference in found:
            twice.append(placement.reference)
        else:
            found[placement.reference] = placement
    if not found and rows:
        raise InputError(
            "no line of the placement file holds a reference with two coordinates",
            file=file,
            place=f"row {rows[0]['row']}",
            found=" ".join(value for name, value in rows[0].items() if name != "row")[:60],
        )
    notes += _remarks(rows, passed, twice)
    return Placements(file, MappingProxyType(found), tuple(notes))


def _rows_of(path: Path) -> tuple[list[dict[str, str]], str, str, list[str]]:
    """Rows by field, the header of the coordinates or what the file says of its unit, its name, and notes."""
    raw = read_bytes(path)
    text = "" if raw.startswith(SPREADSHEETS) else decode(raw, path.name)
    spaced = _spaced_lines(text)
    if spaced:
        return spaced, _unit_said(text), path.name, ["columns told by the words of the header, between blanks"]
    try:
        table = read_headed(path, FIELDS, key="ref", what="a placement file", is_key=looks_like_references)
        if not {"x", "y"} <= set(table.columns):
            raise InputError("no columns of coordinates", file=path.name, expected="columns such as PosX and PosY")
    except InputError:
        rows = _bare_lines(text, path.name)
        notes = ["no header: columns taken as reference, x, y, rotation, then package texts"]
        return rows, _unit_said(text), path.name, notes
    rows = [{"row": str(row.number), **row.cells} for row in table.rows]
    if plain(table.columns.get("side", "")).startswith("mirror"):
        rows = [
            {**row, "side": _MIRRORED.get(row.get("side", "").strip().lower(), row.get("side", ""))} for row in rows
        ]
    heading = table.columns["x"]
    told = any(re.search(rf"(?<![a-z])(?:{pattern})", heading.lower()) for pattern, _, _ in _UNITS)
    return rows, heading if told else _unit_said(text), table.file, list(table.notes)


# Words for the sides, before the first letter decides: a German component side begins as "bottom" does.
_SIDE_WORDS = (
    (
        re.compile(
            r"best|comp|top|front|oben|f\.?cu|dessus|sup|sopra|boven|alto|haut|верх|[顶頂正表上]|元件面|部品面", re.I
        ),
        "top",
    ),
    (
        re.compile(
            r"l[öo]t|solder|bot|back|unten|r[üu]ck|b\.?cu|mirr|dessous|inf|sotto|onder|bas|soud|abajo|низ"
            r"|[底反背裏里下]|[焊銲]|はんだ",
            re.I,
        ),
        "bottom",
    ),
)
_BOTTOM = ("b", "2", "m", "y", "u", "s")  # bottom, mirrored, yes (mirrored), unten, solder side
_TOP = ("t", "1", "n", "o", "c", "f", "0", "")  # top, not mirrored, oben, component side, front


def _placement(row: Mapping[str, str], factor: float) -> Placement | None:
    x, y = _number(row.get("x", "")), _number(row.get("y", ""))
    reference = row.get("ref", "").strip()
    if not reference or x is None or y is None:
        return None
    rotation = _ROTATION.fullmatch(row.get("rotation", "").strip())
    return Placement(
        reference,
        x * factor,
        y * factor,
        float(rotation["angle"].replace(",", ".")) if rotation else 0.0,
        _side(row.get("side", ""), mirrored=bool(rotation and rotation["mirrored"])),
        row.get("package", ""),
        row.get("value", ""),
    )


# `90`, `R90`, `MR180`: the letters say that the part is turned, and mirrored to the other side.
_ROTATION = re.compile(r"(?P<mirrored>M)?S?R?(?P<angle>[-+]?\d{1,6}(?:[.,]\d{0,12})?)\s*(?:°|deg\w*)?", re.I)


def _side(text: str, *, mirrored: bool = False) -> str:
    """Which side a mark means.

    >>> _side("m"), _side("b"), _side("Bottom Layer"), _side("T"), _side("Bestückungsseite"), _side("", mirrored=True)
    ('bottom', 'bottom', 'bottom', 'top', 'top', 'bottom')
    """
    word = text.strip().lower()
    for pattern, side in _SIDE_WORDS:
        if pattern.match(word):
            return side
    if not word and mirrored:
        return "bottom"
    return "bottom" if word[:1] in _BOTTOM else "top"


def _remarks(rows: Sequence[Mapping[str, str]], passed: Sequence[str], twice: Sequence[str]) -> list[str]:
    """What was not as a placement file should be."""
    notes = []
    if passed:
        notes.append(f"{len(passed)} rows without a reference and two coordinates were passed over: row {_few(passed)}")
    if twice:
        notes.append(f"placed twice, the first place is kept: {_few(twice)}")
    turned = [
        row["row"]
        for row in rows
        if not _ROTATION.fullmatch(row.get("rotation", "").strip()) and row["row"] not in passed
    ]
    if turned:
        notes.append(f"no rotation readable in {len(turned)} rows, taken as 0: row {_few(turned)}")
    odd = {side for row in rows if (side := row.get("side", "").strip().lower()) and not _known_side(side)}
    if odd:
        notes.append(f"guess: side {_few(sorted(odd))} taken as top")
    return notes


# A column that says whether a part is mirrored; in columns of sides and layers 1 is the top.
_MIRRORED = {
    **dict.fromkeys(("1", "true", "yes", "y", "x"), "bottom"),
    **dict.fromkeys(("0", "false", "no", "n", ""), "top"),
}
_SIDE_IN_SIGNS = re.compile(r"[顶頂正表底反背裏]")
_SIDE_MARKS = ("t", "top", "b", "bot", "bottom", "m", "mirror", "mirrored", "f", "front", "back")


def _known_side(side: str) -> bool:
    return any(pattern.match(side) for pattern, _ in _SIDE_WORDS) or side[0] in (*_BOTTOM, *_TOP)


def _few(words: Sequence[str]) -> str:
    return some_of(words, 5)


def joined(files: Sequence[Placements]) -> Placements:
    """Several files, such as those of the two sides, as one; a reference in two of them keeps its first place."""
    places: dict[str, Placement] = {}
    for file in files:
        for reference, placement in file.by_reference.items():
            places.setdefault(reference, placement)
    notes = tuple(f"{file.file}: {note}" for file in files for note in file.notes)
    return Placements(", ".join(file.file for file in files), MappingProxyType(places), notes)


_UNIT_SAID = re.compile(
    r"\bu*units?\b\W{0,5}(?:used\W*|in\W*|are\W*)?(mm|millimet\w+|mils?|thou|in(?:ch(?:es)?)?)\b", re.I
)


def _unit_said(text: str) -> str:
    """The unit that the head of a file speaks of, or an empty text."""
    said = _UNIT_SAID.search(text[:HEAD])
    return said[1] if said else ""


HEAD = 4000  # characters in which a file says what it is
_SPELLED = {spelling: field for field, names in FIELDS.items() for spelling in names}


def _spaced_lines(text: str) -> list[dict[str, str]]:
    """Rows of words between blanks under a header whose every word is a known heading; empty if there is none."""
    lines = [(number, line.strip()[:LONGEST_LINE]) for number, line in enumerate(text.splitlines(), 1)]
    for at, (_, line) in enumerate(lines[:HEADER_SEARCH_ROWS]):
        if "\t" in line:
            continue  # tabs part cells, whose headings may have several words
        words = [word for word in line.lstrip("#;!/ ").split() if word]
        fields = [_SPELLED.get(plain(re.sub(r"[(\[].*$", "", word))) for word in words]
        if None in fields or not {"ref", "x", "y"} <= set(fields) or len(set(fields)) < len(fields):
            continue
        found = [_aligned([name for name in fields if name], line.split(), number) for number, line in lines[at + 1 :]]
        return [row for row in found if row]
    return []


LONGEST_LINE = 2000
_TEXTS = ("value", "package")


def _aligned(fields: Sequence[str], words: Sequence[str], number: int) -> dict[str, str]:
    """One row's words under their fields: a value of several words keeps them, an empty one leaves its place."""
    if not words or words[0].startswith(("#", ";", "!")):
        return {}
    if len(words) == len(fields):
        return {"row": str(number), **dict(zip(fields, words, strict=True))}
    texts = [at for at, name in enumerate(fields) if name in _TEXTS]
    if not texts:
        return {}
    first, last = texts[0], texts[-1]
    after = len(fields) - 1 - last
    if len(words) < first + after:
        return {}
    row = {"row": str(number), **dict(zip(fields[:first], words[:first], strict=True))}
    row.update(dict(zip(fields[last + 1 :], words[len(words) - after :], strict=True)))
    middle = list(words[first : len(words) - after])
    # The package is one word; what is left over is the value.
    if "package" in fields and middle:
        row["package"] = middle.pop(-1 if fields.index("package") >= last else 0)
    if "value" in fields:
        row["value"] = " ".join(middle)
    return row


def _bare_lines(text: str, file: str) -> list[dict[str, str]]:
    """Lines of a reference, two coordinates and a rotation among other words, without a header."""
    rows: list[dict[str, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        cells = _bare_cells(line.strip()[:LONGEST_LINE])
        if len(cells) < 4 or not re.fullmatch(r"[A-Za-z]+\w*", cells[0]):
            continue
        at = next((k for k in range(1, len(cells) - 1) if _coordinates(cells[k : k + 2])), None)
        if at is None:
            continue
        rest = [*cells[1:at], *cells[at + 2 :]]
        rotation = next((word for word in rest if _ROTATION.fullmatch(word)), "")
        side = next((word for word in rest if word.lower() in _SIDE_MARKS or _SIDE_IN_SIGNS.match(word)), "")
        texts = [word for word in rest if word not in (rotation, side)]
        rows.append(
            {
                "row": str(number),
                "ref": cells[0],
                "x": cells[at],
                "y": cells[at + 1],
                "rotation": rotation,
                "side": side,
                "package": texts[-1] if texts else "",
                "value": " ".join(texts[:-1]),
            }
        )
    if not rows:
        raise InputError(
            "not a placement file",
            file=file,
            expected="a header with a reference and coordinates, or lines of reference, x, y, rotation",
        )
    return rows


def _bare_cells(line: str) -> list[str]:
    """The cells of a line; a comma between digits is a decimal one where something else parts the cells.

    >>> _bare_cells("U1;10,5;20,25;90"), _bare_cells("U1 10,5 20,25 90"), _bare_cells("U1,10.5,20.25,90")
    (['U1', '10,5', '20,25', '90'], ['U1', '10,5', '20,25', '90'], ['U1', '10.5', '20.25', '90'])
    """
    if ";" in line or "\t" in line:
        parts = re.split(r"[;\t]", line)
    elif re.search(r"\d,\d+\s+[-+]?\d+(?:,\d+)?\s", line) and not re.search(r",\s|,[A-Za-z]", line):
        parts = line.split()
    else:
        parts = re.split(r",|\s+", line)
    return [cell for part in parts if (cell := part.strip('" '))]


def _coordinates(pair: Sequence[str]) -> bool:
    return all(_number(cell) is not None for cell in pair)


_NUMBER = re.compile(r"\s*([-+]?\d{1,9}(?:[.,]\d{0,12})?(?:[eE][+-]?\d{1,2})?)\s*(mm|mils?|in|inch|[uµμ]m|\")?\s*")
_GROUPED = re.compile(r"(?<=\d)(?P<group>[.,' \u00a0])(?=\d{3}(?!\d).*(?!(?P=group))[.,]\d)")


def _number(text: str) -> float | None:
    """A coordinate; a point or comma parts thousands only where the other one follows as the decimal mark.

    >>> _number("1.010,5"), _number("1,010.5"), _number("10,5"), _number("1010.5mil"), _number("x")
    (1010.5, 1010.5, 10.5, 1010.5, None)
    """
    match = _NUMBER.fullmatch(_GROUPED.sub("", text))
    return float(match[1].replace(",", ".")) if match else None


_UNITS = (
    (r"[uµμ]m(?![a-z])|micron", 0.001, "µm"),
    (r"mm|millimet", 1.0, "mm"),
    (r"mils?(?![a-z])|thou", INCH_MM / 1000, "mil"),
    (r"in(?:ch(?:es)?)?(?![a-z])|\"", INCH_MM, "inch"),
)


def _unit(rows: Sequence[Mapping[str, str]], header: str) -> tuple[float, str]:
    first = rows[0].get("x", "").strip().lower() if rows else ""
    for pattern, factor, name in _UNITS:
        if re.search(rf"\d\s*(?:{pattern})$", first):
            return factor, f"coordinates in {name}, as written beside them"
        if re.search(rf"(?<![a-z])(?:{pattern})", header.lower()):
            return factor, f"coordinates in {name}, as the file says"
    values = [abs(value) for row in rows if (value := _number(row.get("x", ""))) is not None]
    if values and max(values) > LARGEST_BOARD_MM:
        return INCH_MM / 1000, "guess: coordinates in mil, since a board of a metre would be needed in mm"
    return 1.0, "guess: coordinates in mm, the usual unit; nothing in the file says so"
