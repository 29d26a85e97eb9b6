"""Write `gerber_agreement.md`: paste openings of real boards, counted and measured by two readers.

`python docs/make_gerber_agreement.py BOARDS` with a folder of boards' fabrication files. The boards are not part of
the project; the page keeps what was measured. The second reader is gerbonara, used for its parameters only: the
polygons are made here.
"""

from __future__ import annotations

import math
import sys
import tempfile
import warnings
from pathlib import Path
from typing import Any

import shapely

from landwise.fabdata.gerber import read_gerber
from landwise.fabdata.layers import open_job

PAGE = Path(__file__).parent / "gerber_agreement.md"
HEAD = """# Paste openings of real boards, by two readers

Written by `docs/make_gerber_agreement.py` from boards of open hardware that are not part of the project; do not edit.

Objects are flashes, strokes and regions before anything is merged; areas are those of their union. The second reader
is gerbonara 1.5.0 (Apache-2.0), of which only the parameters of its primitives are taken. Circles are polygons of 128
corners on both sides. Openings are what landwise judges: objects merged where they touch.

Three layers deviate, each for a reason found by looking at single objects: the second reader draws strokes of a
rectangular aperture as round strokes of a like width (both layers of the panel: 0.82 mm squares drawn 1.16 mm wide),
and it takes the rotation of regular polygons otherwise (handheld, top: 90, 180 and 270° leave a square aperture's
corners where they are, by the format's specification). Every other layer agrees to better than 0.0001 %.

| layer | objects | second reader | area, mm² | second reader | deviation | openings |
|---|---|---|---|---|---|---|
"""


def second(data: bytes) -> tuple[int, float]:
    """Objects and area of their union by the second library."""
    from gerbonara import GerberFile
    from gerbonara.utils import MM

    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = Path(folder) / "layer.gbr"
        path.write_bytes(data)
        film = GerberFile.open(path)
        dark: Any = shapely.Polygon()
        run: list[Any] = []
        polarity = True
        for item in film.objects:
            for one in item.to_primitives(unit=MM):
                if one.polarity_dark != polarity:
                    dark = _joined(dark, run, polarity)
                    run, polarity = [], one.polarity_dark
                run.append(_polygon(one))
        dark = _joined(dark, run, polarity)
    return len(film.objects), float(dark.area)


def _joined(dark: Any, run: list[Any], polarity: bool) -> Any:
    whole = shapely.union_all([shapely.make_valid(shape) for shape in run])
    return dark.union(whole) if polarity else dark.difference(whole)


def _polygon(one: Any) -> Any:
    kind = type(one).__name__
    if kind == "Circle":
        return shapely.Point(one.x, one.y).buffer(one.r, quad_segs=32)
    if kind == "Rectangle":
        box = shapely.box(-one.w / 2, -one.h / 2, one.w / 2, one.h / 2)
        turned = shapely.affinity.rotate(box, one.rotation, origin=(0, 0), use_radians=True)
        return shapely.affinity.translate(turned, one.x, one.y)
    if kind == "Line":
        return shapely.LineString([(one.x1, one.y1), (one.x2, one.y2)]).buffer(one.width / 2, quad_segs=32)
    if kind == "Arc":
        points = _arc((one.x1, one.y1), (one.x2, one.y2), (one.cx, one.cy), one.clockwise)
        return shapely.LineString(points).buffer(one.width / 2, quad_segs=32)
    if kind == "ArcPoly":
        return shapely.Polygon(_with_arcs(one))
    raise SystemExit(f"the second reader gives a {kind}, which this script does not draw")


def _with_arcs(one: Any) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    centers = [*one.arc_centers, *[None] * len(one.outline)]
    for k, start in enumerate(one.outline):
        end = one.outline[(k + 1) % len(one.outline)]
        points += [start] if centers[k] is None else _arc(start, end, centers[k][1], centers[k][0])[:-1]
    return points


def _arc(start: Any, end: Any, center: Any, clockwise: bool) -> list[tuple[float, float]]:
    """Points of an arc; the centre may be given from the start or from the origin, the radii tell which."""
    tries = [center, (start[0] + center[0], start[1] + center[1])]
    cx, cy = min(tries, key=lambda at: abs(math.dist(start, at) - math.dist(end, at)))
    first, last = math.atan2(start[1] - cy, start[0] - cx), math.atan2(end[1] - cy, end[0] - cx)
    sweep = (first - last if clockwise else last - first) % (2 * math.pi) or 2 * math.pi
    radius, turn = math.dist(start, (cx, cy)), -sweep if clockwise else sweep
    angles = [first + turn * k / 128 for k in range(129)]
    return [(cx + radius * math.cos(angle), cy + radius * math.sin(angle)) for angle in angles]


def main() -> int:
    """Measure all boards of the folder and write the page."""
    rows = []
    for board in sorted(path for path in Path(sys.argv[1]).iterdir() if path.is_dir()):
        for one in open_job(board).layers:
            if not one.role.startswith("paste"):
                continue
            ours = read_gerber(one.data, one.file)
            area = float(shapely.union_all(read_gerber(one.data, one.file, merge=False).pads.polygon).area)
            try:
                count, other = second(one.data)
                off = abs(area - other) / other if other else abs(area)
                theirs = (f"{count}", f"{other:.4f}", f"{off:.4%}")
            except (SyntaxError, NameError) as error:
                theirs = (f"refused: {type(error).__name__}", "", "")
            cells = [f"{board.name}, {one.role}", f"{ours.objects}", theirs[0], f"{area:.4f}", *theirs[1:]]
            rows.append("| " + " | ".join([*cells, f"{len(ours.pads)}"]) + " |")
            print(rows[-1], flush=True)
    PAGE.write_text(HEAD + "\n".join(rows) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
