"""Pictures of a reviewed board: the whole side with its margins, and the worst openings enlarged with dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from landwise.review.measuring import discs
from landwise.review.model import Change, Finding, Openings
from landwise.review.partverdicts import PartVerdict
from landwise.review.reviews import SideReview
from landwise.review.verdicts import FAILS, MARGINAL
from landwise.shapes import Geometry
from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.lettering import line_mm, shortened, width_mm
from landwise.sheets.look import DASHED, FINE, HAIR, LONG_DASH, NARROW, PHANTOM_LINE, SMALL, WIDE, Stroke
from landwise.sheets.marks import mm_rule, mm_text, scale_text
from landwise.sheets.svg import Box, Many, Mark, Picture, Text, joined, rectangle, write_svg

PAGE_MM = (172.0, 215.0)  # room for the picture on a page
SCALES = (10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.1, 0.05)
NARROW_MARGIN = 0.15
MOST_LABELS = 36
DETAIL_MM, DETAIL_SCALES = (
    52.0,
    (200.0, 150.0, 100.0, 80.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 10.0, 8.0, 5.0, 3.0, 2.0, 1.0),
)
WORST = 10
ROUND_PAPER_MM = 0.03  # chords of drawn arcs stay this near to them on paper
FAIL_BOX, MARGIN_BOX = Stroke("brick", WIDE), Stroke("umber", NARROW, DASHED)
ZONE = Stroke("plum", WIDE, LONG_DASH)


@dataclass(frozen=True)
class View:
    """Board millimetres onto paper: y turns, because paper's runs down; the bottom is seen through the board."""

    left: float
    top: float
    scale: float

    def at(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points on paper. [mm]"""
        return np.column_stack([(xy[:, 0] - self.left) * self.scale, (self.top - xy[:, 1]) * self.scale])

    def many(
        self, shapes: NDArray[np.object_], fill: str = "", stroke: Stroke | None = None, opacity: float = 1.0
    ) -> list[Mark]:
        """Shapes as one mark; none for no shapes."""
        import shapely

        shapes = np.atleast_1d(np.asarray(shapes, dtype=object))
        shapes = shapes[(shapely.get_type_id(shapes) == 3) & ~shapely.is_empty(shapes)]
        if not len(shapes):
            return []
        many = shapely.get_num_coordinates(shapes) > 8
        if many.any():
            shapes = shapes.copy()
            box = shapely.bounds(shapes)
            wide, tall = box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]
            # Small discs are drawn as twelve-sided ones: the eye can't tell, and thousands of them are quick.
            small = many & discs(shapely.area(shapes), wide, tall) & (wide * self.scale < 2.0)
            middles = shapely.points((box[small, :2] + box[small, 2:]) / 2)
            shapes[small] = shapely.buffer(middles, wide[small] / 2, quad_segs=3)
            many &= ~small
            shapes[many] = shapely.simplify(shapes[many], ROUND_PAPER_MM / self.scale)
        rings = shapely.get_rings(shapes)
        counts = shapely.get_num_points(rings)
        xy = shapely.get_coordinates(rings)
        # The last point of a ring repeats its first.
        last = np.cumsum(counts) - 1
        kept = np.ones(len(xy), dtype=bool)
        kept[last] = False
        starts = np.concatenate([[0], np.cumsum(counts - 1)[:-1]]).astype(np.int64)
        return [Many(self.at(xy[kept]), starts, fill, stroke, opacity)]


def classes(side: SideReview) -> list[tuple[str, str, NDArray[np.bool_]]]:
    """The classes of margin: what the legend says, fill, which apertures."""
    under = side.given.under
    wide = under.margin >= NARROW_MARGIN
    share = f"{100 * NARROW_MARGIN:.0f} %"
    return [
        ("fail", "brick", under.code == FAILS),
        ("are marginal", "ochre", under.code == MARGINAL),
        (
            f"hold, area ratio less than {100 * NARROW_MARGIN:.0f} % above its limit",
            "steel",
            (under.code == 0) & ~wide,
        ),
        (f"hold by {share} and more", "solder", (under.code == 0) & wide),
    ]


def board_svg(side: SideReview, outline: Geometry | None, prefix: str) -> str:
    """The whole side, each aperture by its margin, failing and marginal parts boxed and named."""
    picture, scale = board_picture(side, outline)
    x1, y1, x2, y2 = picture.box
    counts = ", ".join(f"{int(rows.sum())} {name}" for name, _, rows in classes(side))
    return write_svg(
        picture,
        (min(x1, 0.0) - 1, y1 - 1, max(x2, PAGE_MM[0]) + 1, y2 + 1),
        title=f"{side.side} side, {scale_text(scale)}",
        description=f"apertures: {counts}",
        prefix=prefix,
    )


def board_picture(side: SideReview, outline: Geometry | None) -> tuple[Picture, float]:
    """The marks of `board_svg`, and the scale."""
    import shapely

    paste = side.given.paste
    bounds = shapely.total_bounds(paste.polygon)
    bounds = bounds + np.array([-2, -2, 2, 2])
    if outline is not None:
        edge = np.array(outline.bounds)
        # An outline far larger than the paste (a drawing sheet's frame) is no board.
        if np.prod(edge[2:] - edge[:2]) < 25 * np.prod(bounds[2:] - bounds[:2]):
            bounds = np.concatenate([np.minimum(bounds[:2], edge[:2]), np.maximum(bounds[2:], edge[2:])])
        else:
            outline = None
    size = bounds[2:] - bounds[:2]
    scale = next((s for s in SCALES if size[0] * s <= PAGE_MM[0] and size[1] * s <= PAGE_MM[1]), SCALES[-1])
    view = View(float(bounds[0]), float(bounds[3]), scale)
    marks: list[Mark] = []
    if outline is not None:
        marks += view.many(shapely.get_parts(outline), "board", Stroke("graphite", NARROW))
    for _, fill, rows in reversed(classes(side)):
        pen = Stroke("ink", HAIR) if fill == "ochre" and scale >= 1 else None
        marks += view.many(paste.polygon[rows], fill, pen)
    zones, named = _zones(side, view), _boxes(side, view)
    width, height = float(size[0] * scale), float(size[1] * scale)
    legend = _legend(side, scale).moved(0.0, height + 4.0)
    rule_length = max(1.0, min(50.0, np.floor(0.5 * width / scale)))
    rule = mm_rule(float(rule_length), scale, start_text="mm")
    rule = rule.moved(max(0.0, width - float(rule_length) * scale), height + 4.0)
    return joined([Picture(tuple(marks)), zones, named, legend, rule]), scale


def _zones(side: SideReview, view: View) -> Picture:
    step = side.choice.step
    if step is None:
        return Picture()
    marks = view.many(np.array(step.zones, dtype=object), "", ZONE)
    for zone in step.zones:
        x, y = view.at(np.array([[zone.bounds[0], zone.bounds[3]]]))[0]
        marks.append(Text(float(x), float(y) - 0.8, f"{step.thin_um:g} µm", SMALL, "plum", "bold"))
    return Picture(tuple(marks))


def _boxes(side: SideReview, view: View) -> Picture:
    """Boxes around parts that fail or are marginal, the worst with their names."""
    import shapely

    given = side.given
    marks: list[Mark] = []
    wanted = [part for part in side.parts if part.verdict in ("fails", "marginal")]
    boxes: list[Box] = []
    for part in wanted:
        its = np.array(given.parts[part.part].lands)
        x1, y1, x2, y2 = shapely.total_bounds(given.lands.polygon[its])
        corners = view.at(np.array([[x1, y2], [x2, y1]]))
        (left, low), (right, high) = corners.tolist()
        boxes.append((left - 0.6, low - 0.6, right + 0.6, high + 0.6))
        marks.append(rectangle(boxes[-1], "", FAIL_BOX if part.verdict == "fails" else MARGIN_BOX))
    alone = np.flatnonzero((given.part_of < 0) & (given.under.code > 0) | (given.matched.land < 0))
    for row in alone if given.lands.basis != "paste" else ():
        x, y = view.at(np.array([[given.paste.x_mm[row], given.paste.y_mm[row]]]))[0]
        marks.append(rectangle((x - 1.2, y - 1.2, x + 1.2, y + 1.2), "", FAIL_BOX))
    return Picture(tuple(marks)) + _names(side, wanted, boxes)


def _names(side: SideReview, wanted: Sequence[PartVerdict], boxes: Sequence[Box]) -> Picture:
    """Names above, below or beside their boxes, where they touch nothing."""
    taken: list[Box] = list(boxes)
    marks: list[Mark] = []
    for part, (x1, y1, x2, y2) in list(zip(wanted, boxes, strict=True))[:MOST_LABELS]:
        name = side.given.parts[part.part].name
        colour = "brick" if part.verdict == "fails" else "umber"
        wide = width_mm(name, SMALL)
        middle = (x1 + x2) / 2
        for x, y in (
            (middle - wide / 2, y1 - 0.9),
            (middle - wide / 2, y2 + 3.0),
            (x2 + 0.7, (y1 + y2) / 2 + 1.1),
            (x1 - wide - 0.7, (y1 + y2) / 2 + 1.1),
        ):
            text = Text(x, y, name, SMALL, colour)
            box = text.box
            if not any(box[0] < o[2] and o[0] < box[2] and box[1] < o[3] and o[1] < box[3] for o in taken):
                taken.append(box)
                marks.append(text)
                break
    return Picture(tuple(marks))


def _legend(side: SideReview, scale: float) -> Picture:
    pictures: list[Picture] = []
    y = 0.0
    for name, fill, rows in classes(side):
        count = int(rows.sum())
        marks: list[Mark] = [
            rectangle((0.8, y + 0.6, 5.0, y + 3.0), fill, Stroke("ink", HAIR) if fill == "ochre" else None)
        ]
        marks.append(Text(7.4, y + 2.9, f"openings that {name}: {count}", SMALL))
        pictures.append(Picture(tuple(marks)))
        y += line_mm(SMALL) * 1.25
    for word, pen in (("fails", FAIL_BOX), ("marginal", MARGIN_BOX)):
        count = sum(part.verdict == word for part in side.parts)
        box = rectangle((0.8, y + 0.6, 5.0, y + 3.0), "", pen)
        says = f"parts with a finding that {'fails' if word == 'fails' else 'is marginal'}: {count}"
        pictures.append(Picture((box, Text(7.4, y + 2.9, says, SMALL))))
        y += line_mm(SMALL) * 1.25
    foot = f"{side.side} paste under {side.given.under.foil.thickness_um:g} µm, drawn {scale_text(scale)}"
    foot += ", seen from the top through the board" if side.side == "bottom" else ""
    if side.choice.step:
        step = side.choice.step
        foot += f"; long dashes: zones stepped from {step.base_um:g} to {step.thin_um:g} µm"
    pictures.append(Picture((Text(0.0, y + 2.9, shortened(foot, PAGE_MM[0], SMALL), SMALL, "graphite"),)))
    return joined(pictures)


# --- the worst, enlarged ---


def worst_findings(side: SideReview, most: int = WORST) -> list[Finding]:
    """The worst findings that can be shown, no part and check and no openings twice, different checks first."""
    found: list[Finding] = []
    seen: set[tuple[object, ...]] = set()
    usable = [f for f in side.findings if drawable(f) and f.level in ("fails", "marginal")]
    for level in ("fails", "marginal"):
        rounds: dict[str, list[Finding]] = {}
        for finding in usable:
            if finding.level == level:
                rounds.setdefault(finding.key, []).append(finding)
        while rounds and len(found) < most:
            for key in list(rounds):
                finding = rounds[key].pop(0)
                if not rounds[key]:
                    del rounds[key]
                its = {(finding.component or finding.apertures[:1], key), finding.apertures or (finding.component, key)}
                if seen.isdisjoint(its) and len(found) < most:
                    seen |= its
                    found.append(finding)
    return found


def drawable(finding: Finding) -> bool:
    """Whether a finding shows somewhere: on openings, or on a land that has none."""
    return bool(finding.apertures) or (finding.key == "missing" and bool(finding.component))


def details_svg(side: SideReview, findings: Sequence[Finding], prefix: str) -> list[str]:
    """Each finding enlarged: lands, openings, dimensions of the worst one, and its corrected outline."""
    changes = {change.aperture: change for change in side.changes if change.aperture >= 0}
    made = []
    for number, finding in enumerate(findings):
        picture, scale = detail_picture(side, finding, changes)
        x1, y1, x2, y2 = picture.box
        title = f"{finding.component or 'no part'}: {finding.says}"
        made.append(
            write_svg(
                picture,
                (x1 - 1, y1 - 1, x2 + 1, y2 + 1),
                title=title,
                description=f"drawn {scale_text(scale)}",
                prefix=f"{prefix}{number}",
            )
        )
    return made


def _worst_row(side: SideReview, finding: Finding) -> int:
    rows = np.array(finding.apertures)
    under = side.given.under
    if finding.key == "bridging":
        return int(rows[np.argmin(under.slump_share[rows])])
    if finding.key == "off-land":
        return int(rows[np.argmin(side.given.matched.on_land[rows])])
    if finding.key == "volume":
        share = under.share[rows]
        return int(rows[np.nanargmin(share) if np.nanmin(share) < 1 else np.nanargmax(share)])
    return int(rows[np.argmin(under.area_ratio[rows])])


def detail_picture(side: SideReview, finding: Finding, changes: dict[int, Change]) -> tuple[Picture, float]:
    """The marks of one detail, and its scale."""
    import shapely

    given, paste = side.given, side.given.paste
    if not finding.apertures:
        return _bare_picture(side, finding)
    row = _worst_row(side, finding)
    box = np.array(paste.polygon[row].bounds)
    if finding.key in ("unlike-paste", "unlike-copper", "centre"):
        box = shapely.total_bounds(paste.polygon[np.array(finding.apertures)])
    half = max(0.75 * float(max(box[2] - box[0], box[3] - box[1])), 0.25)
    if finding.key == "bridging" and np.isfinite(given.under.gap_mm[row]):
        half = max(half, 0.6 * float(paste.width_mm[row]) + float(given.under.gap_mm[row]) + 0.1)
    scale = next((s for s in DETAIL_SCALES if 2 * half * s <= DETAIL_MM), DETAIL_SCALES[-1])
    half = DETAIL_MM / scale / 2
    x, y = float(box[0] + box[2]) / 2, float(box[1] + box[3]) / 2
    frame = shapely.box(x - half, y - half, x + half, y + half)
    view = View(x - half, y + half, scale)
    marks: list[Mark] = []
    if given.lands.basis != "paste":
        marks += view.many(_within(given.lands.polygon, frame), "ochre")
    near = _within(paste.polygon, frame)
    marks += view.many(near, "hatch/ink", Stroke("ink", NARROW))
    own = shapely.intersection(paste.polygon[row], frame)
    marks += view.many(shapely.get_parts(own), "", Stroke("brick", WIDE))
    change = changes.get(row)
    if change is not None and change.after:
        after = np.array([shapely.intersection(shape, frame) for shape in change.after], dtype=object)
        marks += view.many(shapely.get_parts(after), "", PHANTOM_LINE)
    field: Box = (0.0, 0.0, DETAIL_MM, DETAIL_MM)
    marks.append(rectangle(field, "", Stroke("grid", FINE)))
    dimensioned = Dimensioned(Picture(tuple(marks)), field)
    _dimension(dimensioned, paste, row, view, frame)
    whole = dimensioned.picture()
    return whole, scale


def _bare_picture(side: SideReview, finding: Finding) -> tuple[Picture, float]:
    """Lands that no opening prints among those that are, and the openings that are proposed for them."""
    import shapely

    given = side.given
    part = next(one for one in given.parts if one.name == finding.component)
    bare = np.array([land for land in part.lands if not given.matched.printed[land]], dtype=np.int64)
    away = np.hypot(given.lands.x_mm[bare] - finding.x_mm, given.lands.y_mm[bare] - finding.y_mm)
    land = int(bare[np.argmin(away)])
    x1, y1, x2, y2 = given.lands.polygon[land].bounds
    half = max(2.0 * float(max(x2 - x1, y2 - y1)), 0.25)
    scale = next((s for s in DETAIL_SCALES if 2 * half * s <= DETAIL_MM), DETAIL_SCALES[-1])
    half = DETAIL_MM / scale / 2
    x, y = float(x1 + x2) / 2, float(y1 + y2) / 2
    frame = shapely.box(x - half, y - half, x + half, y + half)
    view = View(x - half, y + half, scale)
    marks = view.many(_within(given.lands.polygon, frame), "ochre")
    marks += view.many(_within(given.paste.polygon, frame), "hatch/ink", Stroke("ink", NARROW))
    marks += view.many(_within(given.lands.polygon[bare], frame), "", Stroke("brick", WIDE))
    added = [shape for change in side.changes if change.aperture < 0 for shape in change.after]
    if added:
        marks += view.many(_within(np.array([*added, None], dtype=object)[:-1], frame), "", PHANTOM_LINE)
    marks.append(rectangle((0.0, 0.0, DETAIL_MM, DETAIL_MM), "", Stroke("grid", FINE)))
    return Picture(tuple(marks)), scale


def _within(shapes: NDArray[np.object_], frame: Geometry) -> NDArray[np.object_]:
    import shapely

    near = shapes[shapely.intersects(shapes, frame)]
    cut = shapely.get_parts(shapely.intersection(near, frame))
    kept: NDArray[np.object_] = cut[shapely.get_type_id(cut) == 3]
    return kept


def _dimension(drawn: Dimensioned, paste: Openings, row: int, view: View, frame: Geometry) -> None:
    """Width and height of the opening where it lies wholly in view."""
    x1, y1, x2, y2 = paste.polygon[row].bounds
    fx1, fy1, fx2, fy2 = frame.bounds
    if x1 < fx1 or x2 > fx2 or y1 < fy1 or y2 > fy2:
        return
    turn = float(paste.angle_deg[row]) % 90
    if min(turn, 90 - turn) > 0.5:
        # The box of a turned opening says nothing of its size.
        size = f"{mm_text(round(float(paste.length_mm[row]), 3))} × {mm_text(round(float(paste.width_mm[row]), 3))}"
        note = Text(
            0.0, DETAIL_MM + line_mm(SMALL), f"{size}, turned {float(paste.angle_deg[row]):.0f}°", SMALL, "graphite"
        )
        drawn.view = drawn.view + Picture((note,))
        return
    (left, top), (right, bottom) = view.at(np.array([[x1, y2], [x2, y1]]))
    drawn.below.add(float(left), float(right), (float(bottom), float(bottom)), mm_text(round(x2 - x1, 3)))
    drawn.right.add(float(top), float(bottom), (float(right), float(right)), mm_text(round(y2 - y1, 3)))
