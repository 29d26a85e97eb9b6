"""A board as one file of the open CAD board format (S-expressions): its layers as plain shapes, holes, placements.

What is read: pads with the margins of pad, footprint and board, drawings on outer copper, mask and paste, filled
zones, tracks, vias, the edge, references, positions and sides. What is left out, each with a note: text on those
layers, slots, pads of more than one shape, inner copper, pictures, and zones that were never filled. Vias are taken
as covered by the mask, as the format's usual setting has it.

Its films are those that the file states; what the program that writes films is told on top is not in it.
Source of the names: the format's public description ("Board File Format", "S-Expression Format"), November 2026.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

from landwise.errors import InputError
from landwise.fabdata.boardfileshapes import Frame, drawn, number, numbers, on_board, pad_shape, path_of, stroke_width
from landwise.fabdata.expressions import Expression, every, first, head, read_expression, words
from landwise.fabdata.product import Drilled, Placed, Product, Shapes
from landwise.shapes import Geometry

FORM = "board file"
MOST_SHAPES = 2_000_000
EDGE = "Edge.Cuts"
OUTER = {"F": "top", "B": "bottom"}
KINDS: Mapping[str, str] = {"Cu": "copper", "Mask": "mask", "Paste": "paste"}
DRAWINGS = ("line", "rect", "circle", "arc", "poly", "curve")
SAME_MM = 0.001  # ends of edge lines nearer than this are one corner
_START = re.compile(rb"\s*\(\s*kicad_pcb\b")
_REFERENCE = "Reference"


def is_board_file(data: bytes) -> bool:
    """Whether a file is of this format.

    >>> is_board_file(b"(kicad_pcb (version 20240108))"), is_board_file(b"%FSLAX46Y46*%")
    (True, False)
    """
    return _START.match(data[:200].removeprefix(b"\xef\xbb\xbf")) is not None


def read_board_file(data: bytes, file: str) -> Product:
    """Read a file.

    Raises
    ------
    InputError
        For what can't be understood, lacks its numbers, or is longer, deeper or larger than any board; with file,
        place, found and expected.

    Examples
    --------
    >>> text = '''(kicad_pcb (version 20240108) (layers (0 "F.Cu" signal) (31 "B.Cu" signal))
    ... (footprint "L:R" (layer "F.Cu") (at 10 20 90) (property "Reference" "R1")
    ... (pad "1" smd rect (at -1 0 90) (size 0.6 0.3) (layers "F.Cu" "F.Paste" "F.Mask"))))'''
    >>> found = read_board_file(text.encode(), "b")
    >>> [tuple(round(end, 6) for end in one.bounds) for one in found.layers["paste-top"].polygons]
    [(9.85, -21.3, 10.15, -20.7)]
    """
    root = read_expression(data, file)
    if head(root) != "kicad_pcb":
        raise InputError("not a board file", file=file, found=head(root)[:40] or "none", expected="kicad_pcb")
    return _Reader(root, file).read()


class _Reader:
    def __init__(self, root: Expression, file: str) -> None:
        self.root, self.file = root, file
        self.layers: dict[str, Shapes] = {}
        self.left: Counter[str] = Counter()
        self.edges: list[object] = []
        self.holes: dict[tuple[int, int], list[tuple[float, float, float]]] = {}
        self.placed: list[Placed] = []
        self.count = 0
        self.setup = first(root, "setup") or ["setup"]
        # In stacking order: a file may number its layers otherwise.
        names = [str(one[1]) for one in (first(root, "layers") or [""])[1:] if isinstance(one, list) and len(one) > 1]
        inner = sorted((one for one in names if re.fullmatch(r"In\d{1,2}\.Cu", one)), key=lambda one: int(one[2:-3]))
        self.coppers = ["F.Cu", *inner, "B.Cu"]

    def read(self) -> Product:
        for item in self.root[1:]:
            kind = head(item)
            if kind in ("footprint", "module"):
                self._footprint(item)
            elif kind == "via":
                self._via(item)
            elif kind in ("segment", "arc"):
                self._stroke(item, self._roles(item), Frame())
            elif kind == "zone":
                self._zone(item)
            elif kind.startswith("gr_"):
                self._drawing(item, Frame())
            elif kind == "image":
                self.left["pictures"] += 1
        return Product(
            self.layers,
            tuple(Drilled(*_columns(rows), span) for span, rows in sorted(self.holes.items())),
            tuple(self.placed),
            self._outline(),
            tuple(f"{self.file}: {count} {what}" for what, count in self.left.items()),
            FORM,
        )

    # -- layers --------------------------------------------------------------------------------------------

    def _roles(self, item: Expression) -> tuple[str, ...]:
        """Roles of an item's layers, a star or two sides at once included."""
        found: dict[str, None] = {}
        for name in words(first(item, "layer")) + words(first(item, "layers")):
            sides, _, kind = name.partition(".")
            if kind in KINDS:
                both = ("F", "B") if sides in ("*", "F&B") else (sides,)
                found |= dict.fromkeys(f"{KINDS[kind]}-{OUTER[one]}" for one in both if one in OUTER)
        return tuple(found)

    def _put(self, role: str, shape: Geometry, *, pad: bool = False, component: str = "", pin: str = "") -> None:
        self.count += 1
        if self.count > MOST_SHAPES:
            raise InputError("more shapes than any board", file=self.file, expected=f"at most {MOST_SHAPES}")
        self.layers.setdefault(role, Shapes()).put(shape, pad=pad, component=component, pin=pin)

    # -- footprints ----------------------------------------------------------------------------------------

    def _footprint(self, item: Expression) -> None:
        at = numbers(first(item, "at"), self.file, 2, "footprint at")
        frame = Frame(at[0], -at[1], at[2] if len(at) > 2 else 0.0)
        name = self._reference(item)
        attributes = words(first(item, "attr"))
        if "dnp" in attributes:
            self.left["parts marked as not fitted; their paste, if any, is in the film all the same"] += 1
        side = "bottom" if words(first(item, "layer"))[:1] == ["B.Cu"] else "top"
        pads = every(item, "pad")
        for pad in pads:
            self._pad(pad, item, frame, name)
        for one in item[1:]:
            if head(one).startswith("fp_"):
                self._drawing(one, frame)
            elif head(one) == "zone":
                self._zone(one)
        if name and pads and "board_only" not in attributes:
            package = str(item[1]).rpartition(":")[2] if len(item) > 1 and isinstance(item[1], str) else ""
            self.placed.append(Placed(name, frame.x_mm, frame.y_mm, frame.angle_deg % 360, side, package))

    @staticmethod
    def _reference(item: Expression) -> str:
        for one in every(item, "property", "fp_text"):
            told = words(one)
            if len(told) > 1 and told[0] in (_REFERENCE, "reference"):
                return told[1]
        return ""

    def _pad(self, pad: Expression, owner: Expression, frame: Frame, name: str) -> None:
        if len(pad) < 4:
            raise InputError(
                "a pad without a kind and a shape", file=self.file, place=f"{name} pad", found=str(pad)[:40]
            )
        if first(pad, "padstack") is not None:
            self.left["pads of more than one shape, taken as they are on the front"] += 1
        roles = self._roles(pad)
        # Margins are for pads of copper: an opening drawn by itself is as drawn.
        bare = not any(one.endswith(".Cu") for one in words(first(pad, "layers")))
        shapes: dict[tuple[float, float], Geometry | None] = {}
        drill = first(pad, "drill")
        hollow = pad[2] == "np_thru_hole" and drill is not None
        for role in roles:
            if hollow and role.startswith("copper") and self._all_hole(pad, drill):
                continue
            margin = (0.0, 0.0) if bare else self._margin(role, pad, owner)
            if margin not in shapes:
                shape = pad_shape(pad, self.file, margin)
                shapes[margin] = None if shape is None else on_board(shape, pad, frame, self.file)
            put = shapes[margin]
            if put is not None:
                pin = str(pad[1]) if isinstance(pad[1], str) else ""
                self._put(role, put, pad=True, component=name, pin=pin)
        if drill is not None and len(drill) > 1:
            if "oval" in words(drill):
                self.left["slots are left out"] += 1
                return
            at = numbers(first(pad, "at"), self.file, 2, "pad at")
            self._hole(*frame.at(at[0], at[1]), number(drill[1], self.file, "drill"), (1, len(self.coppers)))

    def _all_hole(self, pad: Expression, drill: Expression | None) -> bool:
        """Whether a bare hole takes away all the copper that its pad would be."""
        sizes = numbers(first(pad, "size"), self.file, 2, "size")[:2]
        return bool(
            numbers([one for one in drill or [""] if one != "oval"], self.file, 1, "drill")[0] >= max(sizes) - 1e-6
        )

    def _margin(self, role: str, pad: Expression, owner: Expression) -> tuple[float, float]:
        """What a layer's opening has more than its pad at every edge: told for the pad, its footprint, or the board."""
        if role.startswith("copper"):
            return 0.0, 0.0
        if role.startswith("mask"):
            told = self._told("solder_mask_margin", "pad_to_mask_clearance", pad, owner)
            return told, told
        more = self._told("solder_paste_margin", "pad_to_paste_clearance", pad, owner)
        share = self._told(
            "solder_paste_margin_ratio", "pad_to_paste_clearance_ratio", pad, owner, "solder_paste_ratio"
        )
        width, height = numbers(first(pad, "size"), self.file, 2, "size")[:2]
        return more + share * width, more + share * height

    def _told(self, name: str, of_board: str, pad: Expression, owner: Expression, older: str = "") -> float:
        for item, key in ((pad, name), (owner, name), (owner, older), (self.setup, of_board)):
            told = first(item, key) if key else None
            if told is not None:
                value = numbers(told, self.file, 1, key)[0]
                # Files before 2024 write 0 for "as my owner has it"; a true 0 under another value is not told apart.
                if value != 0:
                    return value
        return 0.0

    # -- the rest ------------------------------------------------------------------------------------------

    def _drawing(self, item: Expression, frame: Frame) -> None:
        kind = head(item)[3:]
        on_edge = EDGE in words(first(item, "layer"))
        roles = self._roles(item)
        if kind not in DRAWINGS:
            if roles:
                self.left[f"drawings of kind {kind} on copper, mask or paste are left out"] += 1
            return
        if on_edge:
            import shapely

            points, closed = path_of(item, frame, self.file)
            if len(points) > 1:
                self.edges.append(shapely.LineString([*points, points[0]] if closed else points))
        elif roles and kind in ("line", "arc", "curve") and stroke_width(item, self.file) > 0:
            self._stroke(item, roles, frame)
        elif roles:
            for shape in drawn(item, frame, self.file):
                for role in roles:
                    self._put(role, shape)

    def _stroke(self, item: Expression, roles: tuple[str, ...], frame: Frame) -> None:
        """A track or a drawn line: told from lands by being a stroke."""
        width = stroke_width(item, self.file)
        points, _ = path_of(item, frame, self.file)
        for role in roles:
            if len(points) > 1 and width > 0:
                self.count += 1
                self.layers.setdefault(role, Shapes()).strokes.append((points, width))

    def _zone(self, item: Expression) -> None:
        import shapely

        if first(item, "keepout") is not None:
            return
        fills = every(item, "filled_polygon")
        if not fills and self._roles(item):
            self.left["zones that were never filled are left out"] += 1
        for fill in fills:
            points, _ = path_of(["gr_poly", *fill[1:]], Frame(), self.file)
            if len(points) < 3:
                continue
            shape = shapely.make_valid(shapely.Polygon(points))
            for role in self._roles(fill) or self._roles(item):
                for part in shapely.get_parts(shape):
                    if part.geom_type == "Polygon" and part.area > 0:
                        self._put(role, part)

    def _via(self, item: Expression) -> None:
        from shapely import Point

        x, y = numbers(first(item, "at"), self.file, 2, "via at")[:2]
        size = numbers(first(item, "size"), self.file, 1, "via size")[0]
        ends = [self.coppers.index(one) + 1 for one in words(first(item, "layers")) if one in self.coppers]
        span = (min(ends), max(ends)) if len(ends) > 1 else (1, len(self.coppers))
        for role, number_ in (("copper-top", 1), ("copper-bottom", len(self.coppers))):
            if number_ in span and size > 0:
                self._put(role, Point(x, -y).buffer(size / 2, quad_segs=16))
        drill = first(item, "drill")
        if drill is not None:
            self._hole(x, -y, numbers(drill, self.file, 1, "via drill")[0], span)

    def _hole(self, x: float, y: float, diameter: float, span: tuple[int, int]) -> None:
        if diameter > 0:
            self.holes.setdefault(span, []).append((x, y, diameter))

    def _outline(self) -> Geometry | None:
        """The largest area that the edge's lines enclose."""
        import shapely

        if not self.edges:
            return None
        lines = shapely.set_precision(shapely.union_all(self.edges), SAME_MM)
        faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
        if not len(faces):
            self.left["edge lines that enclose nothing"] += len(self.edges)
            return None
        # A hole in the board is a face of its own within the largest.
        largest: Geometry = shapely.Polygon(max(faces, key=lambda one: shapely.Polygon(one.exterior).area).exterior)
        return largest


def _columns(rows: list[tuple[float, float, float]]) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    x, y, size = zip(*rows, strict=True)
    return x, y, size
