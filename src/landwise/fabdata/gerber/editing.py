"""Writing a layer again with a few openings changed: every other statement stays as it stood, byte for byte."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import numpy as np

from landwise.errors import InputError
from landwise.fabdata.gerber.model import Layer, Limits, Pen
from landwise.fabdata.gerber.tokens import cut
from landwise.quantities import INCH_MM
from landwise.shapes import Geometry

_KEPT = re.compile(r"G0?[1-37][45]?|X[+-]?[\d.]+|Y[+-]?[\d.]+")
_CODE = re.compile(r"%ADD0*(\d+)")
_MOST_CORNERS = 5000  # of one outline in a macro: the specification's own limit


def edited(
    layer: Layer,
    removed: Iterable[int],
    added: Sequence[Geometry],
    names: Sequence[str] = (),
    *,
    head: Sequence[str] = (),
    places: Sequence[tuple[float, float]] = ((0.0, 0.0),),
) -> bytes:
    """The layer's file with some openings taken out and some put in.

    Parameters
    ----------
    layer : Layer
        As read, with its file's bytes.
    removed : iterable of int
        Rows of its pads to take out: their flashes, strokes and contours become moves.
    added : sequence of shapely polygons
        Openings to put in, in mm; each becomes an outline of its own macro, flashed on the file's grid, so
        that its corners are exact to a nanometre whatever the file's coordinate format.
    names : sequence of str, optional
        Component of each, written as an attribute where the file carries attributes.
    head : sequence of str, optional
        Comments to put at the head of the file: that it was changed, by what, from what.
    places : sequence of (float, float), optional
        How far from `added` each of them is put in: the copies of a panel drawn board by board. [mm]

    Raises
    ------
    InputError
        For a row that a block or a repeat made, which no single statement can take out; and where an outline
        has more corners than a macro may.

    Examples
    --------
    >>> import shapely
    >>> from landwise.fabdata.gerber.reader import read_gerber
    >>> layer = read_gerber(b"%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%D10*X0Y0D03*X5000000D03*M02*", "a.gtp")
    >>> again = read_gerber(edited(layer, [0], [shapely.box(0, 0, 0.4, 0.2)]), "a.gtp")
    >>> [round(float(area), 9) for area in again.pads.area_mm2]
    [1.0, 0.08]
    """
    gone: set[int] = set()
    for row in sorted(set(removed)):
        statements = layer.pads.statements[row]
        if statements is None:
            raise InputError(
                "an opening made by a block or a repeat can't be changed alone",
                file=layer.file,
                place=f"line {int(layer.pads.line[row])}",
                expected="a layer with its blocks and repeats written out",
            )
        gone.update(statements)
    source = cut(layer.data, layer.file, Limits())
    # In a film that repeats its image new openings stand within the repeat, so that every copy has them.
    inside = None if layer.copied else layer.repeats[-1]
    emptied = _emptied(layer, gone, source.statements)
    pieces: list[str] = []
    last = 0
    insert = _insert(layer, added, names, places)
    if inside is not None and insert:
        insert += _as_before(layer, inside.pen)
    end_done = False
    for number, (extended, body, start, end) in enumerate(source.statements):
        replacement: str | None = None
        if inside is not None and number == inside.last and not end_done:
            replacement, end_done = insert + source.text[start:end], True
        elif number in gone:
            replacement = _move(body)
        elif number in emptied:
            replacement = ""
        elif (gone or inside is not None) and number in layer.modal:
            replacement = f"{body}D0{layer.modal[number]}*"
        elif inside is None and not extended and not end_done and re.fullmatch(r"M0?[02]", body):
            replacement, end_done = insert + source.text[start:end], True
        if replacement is not None:
            pieces += [source.text[last:start], replacement]
            last = end
    pieces.append(source.text[last:])
    if not end_done:
        pieces.append("\n" + insert + "M02*\n")
    return (_comments(head) + "".join(pieces)).encode("latin-1")


def _comments(lines: Sequence[str]) -> str:
    """Comments of the format: letters, digits and what it does not reserve."""
    return "".join(f"G04 {re.sub(r'[^ -~]|[*%]', '_', line)[:400]}*\n" for line in lines)


def _emptied(layer: Layer, gone: set[int], statements: Sequence[tuple[bool, str, int, int]]) -> set[int]:
    """Begin and end of the regions that keep no contour: an empty region is not valid."""
    found: set[int] = set()
    for begin, end in layer.regions.values():
        inner = range(begin + 1, end)
        if not any(k in gone for k in inner):
            continue
        draws = [k for k in inner if not statements[k][0] and re.search(r"D0?1$", statements[k][1])]
        draws += [k for k in inner if layer.modal.get(k) == 1]
        if all(k in gone for k in draws):
            found |= {begin, end}
    return found


def _move(body: str) -> str:
    kept = "".join(_KEPT.findall(body))
    return f"{kept}D02*" if re.search(r"[XY]", kept) else "D02*" if not kept else f"{kept}*"


def _insert(
    layer: Layer, added: Sequence[Geometry], names: Sequence[str], places: Sequence[tuple[float, float]]
) -> str:
    import shapely

    if not len(added):
        return ""
    text = layer.data.decode("latin-1")
    code = max([9, *(int(found) for found in _CODE.findall(text)), *(int(c) for c in re.findall(r"%ABD0*(\d+)", text))])
    factor = 1.0 if layer.unit == "mm" else INCH_MM
    grid = factor * 10.0**-layer.decimals
    digits = 9 if layer.unit == "inch" else 7
    attribute = "%{}*%\n" if ("%TO" in text or "%TF" in text) else "G04 #@! {}*\n" if "#@! T" in text else ""
    lines = ["\n", "%LPD*%\n", "G01*\n"]
    lines += ["%LMN*%\n", "%LR0.0*%\n", "%LS1.0*%\n"] if re.search(r"%L[MRS]", text) else []
    known: dict[str, int] = {}
    trailing = re.search(r"%FST", text) is not None
    whole = re.search(r"%FS[LTD]?[AI]?X(\d)", text)
    width = (int(whole[1]) if whole else 2) + layer.decimals
    for number, shape in enumerate(added):
        middle = np.array(shape.envelope.centroid.coords[0])
        steps = np.round(middle / grid).astype(int)
        outline = _outline(shapely.transform(shape, lambda xy, at=steps * grid: (xy - at) / factor), digits, layer.file)
        if outline not in known:
            code += 1
            known[outline] = code
            lines.append(f"%AMLW{code}*\n{outline}%\n%ADD{code}LW{code}*%\n")
        if attribute and len(names) > number and names[number]:
            lines.append(attribute.format(f"TO.C,{names[number]}"))
        lines.append(f"D{known[outline]}*\n")
        for x, y in (steps + np.round(np.asarray(places) / grid)).astype(np.int64).tolist():
            lines.append(f"X{_digits(x, trailing, width)}Y{_digits(y, trailing, width)}D03*\n")
        if attribute and len(names) > number and names[number]:
            lines.append(attribute.format("TD.C"))
    return "".join(lines)


def _as_before(layer: Layer, pen: Pen) -> str:
    """Statements that bring the state back to what the file's next statement counts on."""
    factor = 1.0 if layer.unit == "mm" else INCH_MM
    steps = [round(value / factor * 10.0**layer.decimals) for value in (pen.x_mm, pen.y_mm)]
    text = layer.data.decode("latin-1")
    trailing = re.search(r"%FST", text) is not None
    whole = re.search(r"%FS[LTD]?[AI]?X(\d)", text)
    x, y = (_digits(step, trailing, (int(whole[1]) if whole else 2) + layer.decimals) for step in steps)
    lines = [f"X{x}Y{y}D02*", f"G0{pen.mode}*", f"%LP{'D' if pen.dark else 'C'}*%"]
    lines += [f"D{pen.code}*"] if pen.code >= 10 else []
    if re.search(r"%L[MRS]", text):
        lines += [f"%LM{pen.mirror}*%", f"%LR{pen.turn_deg}*%", f"%LS{pen.scale}*%"]
    return "".join(f"{line}\n" for line in lines)


def _digits(value: int, trailing: bool, width: int) -> str:
    if not trailing:
        return str(value)
    sign = "-" if value < 0 else ""
    return sign + (str(abs(value)).zfill(width).rstrip("0") or "0")


def _outline(shape: Geometry, digits: int, file: str) -> str:
    rings = [(1, shape.exterior), *((0, ring) for ring in shape.interiors)]
    text = ""
    for exposure, ring in rings:
        points = np.round(np.asarray(ring.coords), digits) + 0.0
        if len(points) > _MOST_CORNERS:
            raise InputError(
                "an outline has too many corners",
                file=file,
                found=str(len(points)),
                expected=f"at most {_MOST_CORNERS}",
            )
        listed = ",".join(f"{x:.{digits}f},{y:.{digits}f}" for x, y in points)
        text += f"4,{exposure},{len(points) - 1},{listed},0*\n"
    return text
