"""A board as one XML file of the open product-data standard IPC-2581: its layers as plain shapes, holes, placements.

What is read: layers of paste, mask and outer copper with their side; pads by primitive or padstack, contours, strokes;
drilled holes by their span; the profile; components. What is left out: steps of panels (the board's own step is read),
slots, text, inner copper, and layers with negative sets, each with a note.

The parser refuses document types and entities, so that no file can grow in memory by referring to itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from xml.etree.ElementTree import Element

from landwise.errors import InputError
from landwise.fabdata.ipc2581shapes import Lookup, number, placed, shape_of, size_in_mm, stroke_of
from landwise.fabdata.product import Drilled, Placed, Product, Shapes
from landwise.shapes import Geometry

FORM = "IPC-2581"
MOST_BYTES = 80_000_000
MOST_SHAPES = 2_000_000
PASTE = frozenset({"SOLDERPASTE", "PASTEMASK"})
MASK = frozenset({"SOLDERMASK"})
COPPER = frozenset({"CONDUCTOR", "SIGNAL", "PLANE", "MIXED", "CONDFILM", "CONDFOIL"})
STROKES = ("Line", "Polyline", "Arc")
DRILL = frozenset({"DRILL"})
SIDES: Mapping[str, str] = {"TOP": "top", "BOTTOM": "bottom"}


def is_product_data(data: bytes) -> bool:
    """Whether a file is of this standard.

    >>> is_product_data(b'<?xml version="1.0"?><IPC-2581 revision="C">'), is_product_data(b"%FSLAX46Y46*%")
    (True, False)
    """
    return b"<IPC-2581" in data[:4000]


def read_product_data(data: bytes, file: str) -> Product:
    """Read a file.

    Raises
    ------
    InputError
        For what is no XML of the standard, has entities or a document type, states no unit, or is longer than any
        board; with file, place, found and expected.

    Examples
    --------
    >>> text = '''<IPC-2581><Content><StepRef name="b"/><DictionaryStandard units="MILLIMETER">
    ... <EntryStandard id="r"><RectCenter width="0.6" height="0.3"/></EntryStandard></DictionaryStandard></Content>
    ... <Ecad><CadHeader units="MILLIMETER"/><CadData><Layer name="P" layerFunction="SOLDERPASTE" side="TOP"/>
    ... <Step name="b"><LayerFeature layerRef="P"><Set><Pad><Xform rotation="90"/><Location x="1" y="2"/>
    ... <StandardPrimitiveRef id="r"/></Pad></Set></LayerFeature></Step></CadData></Ecad></IPC-2581>'''
    >>> [shape.bounds for shape in read_product_data(text.encode(), "b.xml").layers["paste-top"].polygons]
    [(0.85, 1.7, 1.15, 2.3)]
    """
    # defusedxml ships no types.
    from defusedxml import ElementTree  # type: ignore[import-untyped]

    # defusedxml ships no types.
    from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]

    if len(data) > MOST_BYTES:
        raise InputError(
            "the file is too long", file=file, found=f"{len(data)} bytes", expected=f"at most {MOST_BYTES}"
        )
    try:
        root = ElementTree.fromstring(data, forbid_dtd=True)
    except DefusedXmlException:
        raise InputError(
            "a document type or entities in the XML", file=file, expected="plain IPC-2581, without a DOCTYPE"
        ) from None
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise InputError("not well-formed XML", file=file, found=str(error)[:80], expected="an IPC-2581 file") from None
    for one in root.iter():
        # The name without its namespace, which revisions write differently.
        one.tag = one.tag.rsplit("}", 1)[-1] if isinstance(one.tag, str) else ""
    if root.tag != "IPC-2581":
        raise InputError("not a file of this standard", file=file, found=f"<{root.tag[:40]}>", expected="<IPC-2581>")
    return _Reader(root, file).read()


class _Reader:
    def __init__(self, root: Element, file: str) -> None:
        self.root, self.file = root, file
        self.notes: list[str] = []
        header = root.find("./Ecad/CadHeader")
        self.unit = size_in_mm(header.get("units", "") if header is not None else "", file, "CadHeader")
        self.lookup = Lookup(root, file)
        self.count = 0

    def read(self) -> Product:
        step = self._step()
        roles, coppers, drills = self._roles()
        layers: dict[str, Shapes] = {}
        found: list[Drilled] = []
        stacks = {
            (stack.get("name", ""), pad.get("layerRef", "")): pad
            for stack in step.iter("PadStackDef")
            for pad in stack.iter("PadstackPadDef")
        }
        for feature in step.findall("LayerFeature"):
            name = feature.get("layerRef", "")
            if name in drills:
                holes = self._holes(feature, drills[name], coppers)
                found += [holes] if holes.x_mm else []
            elif name in roles:
                if any(one.get("polarity", "").upper() == "NEGATIVE" for one in feature.iter("Set")):
                    self.notes.append(f"{self.file}: layer {name} has negative sets and is left out")
                    continue
                into = layers.setdefault(roles[name], Shapes())
                into.strokes += self._strokes(feature)
                for shape, part, pin, is_pad in self._shapes(feature, name, stacks):
                    self._counted()
                    into.put(shape, pad=is_pad, component=part, pin=pin)
        profile = step.find("Profile")
        outline = shape_of(next(iter(profile), None), self.unit, self.lookup) if profile is not None else None
        if step.find(".//SlotCavity") is not None:
            self.notes.append(f"{self.file}: slots are left out")
        return Product(layers, tuple(found), tuple(self._placed(step)), outline, tuple(self.notes), FORM)

    def _counted(self) -> None:
        self.count += 1
        if self.count > MOST_SHAPES:
            raise InputError("more shapes than any board", file=self.file, expected=f"at most {MOST_SHAPES}")

    def _step(self) -> Element:
        steps = self.root.findall("./Ecad/CadData/Step")
        if not steps:
            raise InputError("no board in it", file=self.file, place="CadData", expected="a Step with LayerFeature")
        named = {one.get("name", "") for one in self.root.findall("./Content/StepRef")}
        bare = [one for one in steps if one.find("StepRepeat") is None] or steps
        best: Element = max(bare, key=lambda one: (len(one.findall("LayerFeature")), one.get("name", "") in named))
        left = [one.get("name", "") for one in steps if one is not best]
        if left:
            self.notes.append(f"{self.file}: step {best.get('name', '')} is read; left out {', '.join(left[:4])}")
        return best

    def _roles(self) -> tuple[dict[str, str], list[str], dict[str, Element]]:
        """Roles of layers by name, the copper layers in order, and the drill layers."""
        roles: dict[str, str] = {}
        coppers: list[str] = []
        drills: dict[str, Element] = {}
        for layer in self.root.findall("./Ecad/CadData/Layer"):
            name, what = layer.get("name", ""), layer.get("layerFunction", "").upper()
            side = SIDES.get(layer.get("side", "").upper())
            if what in COPPER:
                coppers.append(name)
            if what in DRILL:
                drills[name] = layer
            if layer.get("polarity", "POSITIVE").upper() == "NEGATIVE" and what in PASTE | MASK | COPPER:
                self.notes.append(f"{self.file}: layer {name} is negative and is left out")
                continue
            for kinds, kind in ((PASTE, "paste"), (MASK, "mask"), (COPPER, "copper")):
                if what in kinds and side is not None:
                    roles[name] = f"{kind}-{side}"
        return roles, coppers, drills

    def _shapes(
        self, feature: Element, layer: str, stacks: Mapping[tuple[str, str], Element]
    ) -> Iterator[tuple[Geometry, str, str, bool]]:
        for one in feature.iter("Set"):
            part = one.get("componentRef", "")
            for pad in one.findall("Pad"):
                ref = pad.find("PinRef")
                own = ref.get("componentRef", part) if ref is not None else part
                pin = ref.get("pin", "") if ref is not None else ""
                shape = self._pad(pad, stacks.get((pad.get("padstackDefRef", ""), layer)))
                if shape is not None and not shape.is_empty:
                    yield shape, own, pin, True
            for group in one.findall("Features"):
                bare = group.find("Xform") is None and group.find("Location") is None
                for item in group:
                    if item.tag in ("Xform", "Location") or (bare and item.tag in STROKES):
                        continue
                    shape = shape_of(item, self.unit, self.lookup)
                    if shape is not None and not shape.is_empty:
                        yield self._placed_shape(shape, group), part, "", False

    def _strokes(self, feature: Element) -> Iterator[tuple[list[tuple[float, float]], float]]:
        """Lines and arcs that stand where they are drawn: tracks, which are told from lands by being strokes."""
        for group in feature.iter("Features"):
            if group.find("Xform") is None and group.find("Location") is None:
                for item in group:
                    found = stroke_of(item, self.unit, self.lookup)
                    if found is not None:
                        self._counted()
                        yield found

    def _pad(self, pad: Element, stack: Element | None) -> Geometry | None:
        """A pad's shape on the board: its own primitive, or its padstack's on this layer."""
        own = next((one for one in pad if one.tag not in ("Xform", "Location", "PinRef")), None)
        shape = shape_of(own, self.unit, self.lookup)
        if shape is None and stack is not None:
            drawn = next((one for one in stack if one.tag not in ("Xform", "Location")), None)
            shape = shape_of(drawn, self.unit, self.lookup)
            shape = self._placed_shape(shape, stack) if shape is not None else None
        return self._placed_shape(shape, pad) if shape is not None else None

    def _placed_shape(self, shape: Geometry, holder: Element) -> Geometry:
        return placed(shape, holder.find("Xform"), holder.find("Location"), self.unit, self.file)

    def _holes(self, feature: Element, layer: Element, coppers: list[str]) -> Drilled:
        span = layer.find("Span")
        ends = [span.get(key, "") for key in ("fromLayer", "toLayer")] if span is not None else []
        first, last = (coppers.index(one) + 1 if one in coppers else 0 for one in ends) if len(ends) == 2 else (0, 0)
        rows = []
        for hole in feature.iter("Hole"):
            self._counted()
            rows.append([self.unit * number(hole, key, self.file) for key in ("x", "y", "diameter")])
        x, y, size = zip(*rows, strict=True) if rows else ((), (), ())
        whole = (1, max(len(coppers), 2))
        ordered = (min(first, last), max(first, last))
        return Drilled(tuple(x), tuple(y), tuple(size), ordered if ordered[0] else whole)

    def _placed(self, step: Element) -> Iterator[Placed]:
        side_of = {
            layer.get("name", ""): SIDES.get(layer.get("side", "").upper(), "top")
            for layer in self.root.findall("./Ecad/CadData/Layer")
        }
        for one in step.findall("Component"):
            where, turn = one.find("Location"), one.find("Xform")
            if where is None:
                continue
            rotation = number(turn, "rotation", self.file, 0.0) if turn is not None else 0.0
            x, y = (self.unit * number(where, key, self.file) for key in ("x", "y"))
            side = side_of.get(one.get("layerRef", ""), "top")
            yield Placed(one.get("refDes", ""), x, y, math.fmod(rotation, 360.0), side, one.get("packageRef", ""))
