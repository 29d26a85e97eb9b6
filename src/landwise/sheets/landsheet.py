"""The land-pattern drawing: one A4 sheet with the part, its side, its bare lands, and the table of lands."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.lands.model import LandPattern
from landwise.outlines.model import GRIDS, LEADED, Outline, Range, Terminal
from landwise.outlines.patterns import terminals, tip_to_tip
from landwise.printing.model import Print
from landwise.sheets.dimensions import Dimensioned
from landwise.sheets.landtable import land_rows, mask_text
from landwise.sheets.lettering import line_mm, shortened, wrapped
from landwise.sheets.look import (
    APERTURE,
    COURTYARD,
    LIGHT,
    MASK,
    MM_PER_PT,
    NARROW,
    PHANTOM_LINE,
    SMALL,
    TEXT,
    TITLE,
    Stroke,
    Theme,
)
from landwise.sheets.marks import mm_rule, mm_text, range_text, scale_text
from landwise.sheets.plan import BARE, PART, top_view
from landwise.sheets.profile import SCHEMATIC, SideView, SolderProfile, side_view
from landwise.sheets.svg import Mark, Picture, Text, joined, line, rectangle, write_svg
from landwise.sheets.table import ROW_MM, table

A4 = (297.0, 210.0)
MARGIN = 10.0
TOP, BOTTOM = 31.0, 178.0  # of the views and the table; the legend and the rule stand below
BETWEEN = 9.0
CAPTION = 5.0
SCALES = (50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0)
STYLE_WORDS = {
    "goals": "lands by fillet goals",
    "pad-for-pad": "lands the size of the terminals",
    "published": "lands as its maker prints them",
}


def land_drawing(
    outline: Outline,
    pattern: LandPattern,
    print_: Print | None = None,
    *,
    solder: SolderProfile | None = None,
    prefix: str = "land",
    theme: Theme = LIGHT,
) -> str:
    """The A4 sheet a designer draws the footprint from, as SVG.

    Parameters
    ----------
    outline, pattern
    print_ : Print, optional
        Adds the apertures to drawing and table.
    solder : SolderProfile, optional
        Computed solder for the side view.
    """
    return write_svg(
        land_picture(outline, pattern, print_, solder=solder),
        (0.0, 0.0, *A4),
        title=f"Land pattern of {outline.name}",
        description=(
            f"{outline.name} from above and from the side, its land pattern with mask, apertures and courtyard, "
            f"and a table of {len(pattern.lands)} lands. All to one scale."
        ),
        prefix=prefix,
        theme=theme,
    )


def land_picture(
    outline: Outline, pattern: LandPattern, print_: Print | None = None, *, solder: SolderProfile | None = None
) -> Picture:
    """The marks of `land_drawing`."""
    listing = _listing(pattern, print_)
    room = A4[0] - 2 * MARGIN - listing.width - BETWEEN
    blocks, magnification = _fitted(outline, pattern, print_, solder, room)
    return joined(
        [
            _title(outline, pattern, print_),
            blocks,
            listing.moved(A4[0] - MARGIN - listing.width, TOP),
            _foot(outline, pattern, print_, magnification, solder is None),
        ]
    )


def _fitted(
    outline: Outline, pattern: LandPattern, print_: Print | None, solder: SolderProfile | None, room: float
) -> tuple[Picture, float]:
    """Both columns of views at the largest scale that leaves them apart."""
    tall = BOTTOM - TOP
    for magnification in SCALES:
        widest = 2 * pattern.courtyard_mm[0] * magnification + BETWEEN
        if (widest > room or pattern.courtyard_mm[1] * magnification > tall) and magnification > SCALES[-1]:
            continue
        part = _part_column(outline, pattern, print_, solder, magnification)
        bare = _bare_column(outline, pattern, print_, magnification)
        spare = room - part.width - bare.width
        if (spare >= BETWEEN and max(part.height, bare.height) <= tall) or magnification == SCALES[-1]:
            gap = min(spare / 3, 16.0)
            left = MARGIN + (spare - gap) / 2 if spare > 0 else MARGIN
            return (
                joined(
                    [
                        part.moved(left - part.box[0], TOP - part.box[1]),
                        bare.moved(left + part.width + gap - bare.box[0], TOP - bare.box[1]),
                    ]
                ),
                magnification,
            )
    raise AssertionError("the last scale always returns")


def _captioned(picture: Picture, caption: str) -> Picture:
    """A view with its caption above, both starting at one edge."""
    x1, y1, _, _ = picture.box
    return Picture((Text(x1, y1 - CAPTION + 2.0, caption, SMALL, "graphite", "bold"),)) + picture


def _part_column(
    outline: Outline,
    pattern: LandPattern,
    print_: Print | None,
    solder: SolderProfile | None,
    magnification: float,
) -> Picture:
    above = _captioned(_part_view(outline, pattern, print_, magnification), "Part on its lands, from above")
    seen = side_view(outline, pattern, print_, magnification=magnification, solder=solder)
    side = _captioned(_side_dimensions(outline, seen, magnification), "From the side")
    return above + side.moved(0.0, above.box[3] + 5.0 - side.box[1])


def _part_view(outline: Outline, pattern: LandPattern, print_: Print | None, m: float) -> Picture:
    view = Dimensioned(top_view(outline, pattern, print_, magnification=m, layers=PART))
    half_w, half_l = outline.body_width_mm.nom / 2 * m, outline.body_length_mm.nom / 2 * m
    view.above.add(-half_w, half_w, -half_l, range_text(outline.body_width_mm))
    view.left.add(-half_l, half_l, -half_w, range_text(outline.body_length_mm))
    rows = _by_side(terminals(outline))
    right = rows.get("right", [])
    if outline.family in LEADED or outline.drilled:
        span = outline.row_spacing_mm if outline.drilled else tip_to_tip(outline, "left")
        assert span is not None
        _add_span(view, rows, span, m)
    if right:
        last = right[0] if len(right) == 1 else min(right, key=lambda t: t.y_mm)
        tip = (last.x_mm + last.length_mm / 2) * m
        y, half = -last.y_mm * m, last.width_mm / 2 * m
        view.right.add(y - half, y + half, tip, range_text(outline.terminal_width_mm))
    return view.picture()


def _add_span(view: Dimensioned, rows: dict[str, list[Terminal]], span: Range, m: float) -> None:
    for low, high, tracks in (("left", "right", view.above), ("top", "bottom", view.left)):
        if low in rows and high in rows:
            flat = low == "left"
            one, other = rows[low][0], rows[high][-1]
            near = tuple(
                (-t.y_mm * m - t.width_mm / 2 * m) if flat else (t.x_mm * m - t.width_mm / 2 * m)
                for t in (one, other)
            )
            half = span.nom / 2 * m
            tracks.add(-half, half, (near[0], near[1]), range_text(span))


def _side_dimensions(outline: Outline, seen: SideView, m: float) -> Picture:
    view = Dimensioned(seen.picture)
    view.right.add(seen.top, seen.seat, (seen.half_body, seen.half_span), range_text(outline.height_mm))
    if outline.standoff_mm.max > 0:
        edge = -seen.half_body
        view.left.add(seen.underside, seen.seat, (edge, -seen.half_span), range_text(outline.standoff_mm))
    if outline.drilled and outline.foot_mm is not None:
        tip = seen.seat + outline.foot_mm.nom * m
        view.left.add(seen.seat, tip, (-seen.half_span, -seen.half_span), range_text(outline.foot_mm))
    return view.picture()


def _bare_column(outline: Outline, pattern: LandPattern, print_: Print | None, m: float) -> Picture:
    view = Dimensioned(top_view(outline, pattern, print_, magnification=m, layers=BARE))
    half_x, half_y = (side / 2 * m for side in pattern.courtyard_mm)
    view.below.add(-half_x, half_x, half_y, mm_text(pattern.courtyard_mm[0]))
    view.left.add(-half_y, half_y, -half_x, mm_text(pattern.courtyard_mm[1]))
    places = {land.terminal: land for land in pattern.lands}
    rows = _by_side(terminals(outline))
    if outline.family in GRIDS:
        _grid_dimensions(view, rows["grid"], m)
    for low, high in (("left", "right"), ("top", "bottom")):
        pair = [[places[t.number] for t in rows.get(side, []) if t.number in places] for side in (low, high)]
        if pair[0] and pair[1]:
            _row_dimensions(view, low == "left", pair, m)
    caption = "Lands, mask openings and apertures" if print_ and print_.apertures else "Lands and mask openings"
    return _captioned(view.picture(), caption)


def _grid_dimensions(view: Dimensioned, balls: Sequence[Terminal], m: float) -> None:
    xs, ys = sorted({round(b.x_mm, 6) for b in balls}), sorted({round(b.y_mm, 6) for b in balls})
    top, right = -ys[-1] * m, xs[-1] * m
    for first, last in dict.fromkeys(((0, 1), (0, len(xs) - 1))):
        if len(xs) > 1:
            view.above.add(xs[first] * m, xs[last] * m, top, mm_text(xs[last] - xs[first]))
    for first, last in dict.fromkeys(((0, 1), (0, len(ys) - 1))):
        if len(ys) > 1:
            view.right.add(-ys[last] * m, -ys[first] * m, right, mm_text(ys[last] - ys[first]))


def _row_dimensions(view: Dimensioned, flat: bool, pair: list[list], m: float) -> None:  # type: ignore[type-arg]
    """Centre distance and outer distance of two facing rows; pitch, width and length of the lands."""
    low, high = pair[0][0], pair[1][-1]
    across, along = (view.above, view.right) if flat else (view.right, view.above)
    boxes = [land.place.box for land in (low, high)]
    if flat:
        centres = low.place.x_mm * m, high.place.x_mm * m
        outer = boxes[0][0] * m, boxes[1][2] * m
        inner_end = boxes[0][2] * m
        near = -boxes[0][3] * m, -boxes[1][3] * m
    else:
        centres = -low.place.y_mm * m, -high.place.y_mm * m
        outer = -boxes[0][3] * m, -boxes[1][1] * m
        inner_end = -boxes[0][1] * m
        near = boxes[0][2] * m, boxes[1][2] * m
        near = max(b[2] for b in boxes) * m, max(b[2] for b in boxes) * m
    across.add(*centres, near, mm_text((centres[1] - centres[0]) / m))
    across.add(*outer, near, mm_text((outer[1] - outer[0]) / m))
    if flat:
        view.below.add(
            outer[0], inner_end, max(-land.place.box[1] for land in pair[0]) * m, mm_text((inner_end - outer[0]) / m)
        )
    row = sorted(pair[1] if flat else pair[0], key=lambda land: -land.place.y_mm if flat else land.place.x_mm)
    ends = [land.place.box for land in row]
    near_row = max(b[2] for b in ends) * m if flat else -max(b[3] for b in ends) * m
    places = [-land.place.y_mm * m if flat else land.place.x_mm * m for land in row]
    if flat:
        last = ends[-1]
        along.add(-last[3] * m, -last[1] * m, near_row, mm_text(last[3] - last[1]))
    if len(places) > 1:
        along.add(places[0], places[1], near_row, mm_text((places[1] - places[0]) / m))


def _by_side(all_terminals: Sequence[Terminal]) -> dict[str, list[Terminal]]:
    rows: dict[str, list[Terminal]] = {}
    for terminal in all_terminals:
        rows.setdefault(terminal.side, []).append(terminal)
    for side, row in rows.items():
        row.sort(key=lambda t: -t.y_mm if side in ("left", "right") else t.x_mm)
    return rows


def _title(outline: Outline, pattern: LandPattern, print_: Print | None) -> Picture:
    style = STYLE_WORDS.get(pattern.style, pattern.style)
    if pattern.style == "goals":
        style += f", level {pattern.level}"
    facts = [f"{outline.family}, {outline.terminals} terminals, pitch {mm_text(outline.pitch_mm)} mm"]
    if outline.standard:
        facts.append(outline.standard)
    facts.append(style)
    if print_ is not None and print_.apertures:
        facts.append(f"foil {print_.foil.thickness_um:g}\u2009µm {print_.foil.technology}")
    wide = A4[0] - 2 * MARGIN
    return Picture(
        (
            Text(MARGIN, MARGIN + 6.4, f"Land pattern {outline.name}", TITLE, "ink", "bold"),
            Text(MARGIN, MARGIN + 13.2, shortened(" · ".join(facts), wide, TEXT), TEXT, "graphite"),
        )
    )


def _listing(pattern: LandPattern, print_: Print | None) -> Picture:
    apertures = print_ is not None and bool(print_.apertures)
    rows = land_rows(pattern, print_)
    head = ["Terminal", "x", "y", "Land", *(["Aperture"] if apertures else []), *(["Hole"] if pattern.drilled else [])]
    fits = int((BOTTOM - TOP - 22.0) / ROW_MM)
    shown = rows if len(rows) <= fits else rows[: fits - 1]
    cells = [row.cells(aperture=apertures, hole=pattern.drilled) for row in shown]
    align = "lrr" + "r" * (len(head) - 3)
    listed = table(head, cells, align)
    notes = [
        "Sizes and places in mm, from the body's middle, seen from above. Land and aperture: length, outward, × width.",
        mask_text(pattern),
    ]
    if len(shown) < len(rows):
        notes.insert(0, f"{len(rows) - len(shown)} more rows are in the table file.")
    if any(land.place.shape.kind == "polygon" for land in pattern.lands):
        notes.append("Lands with a cut corner are given by their box.")
    y = listed.box[3] + 2.0
    marks: list[Mark] = []
    for note in notes:
        for text in wrapped(note, max(listed.width, 60.0), SMALL):
            y += line_mm(SMALL)
            marks.append(Text(0.0, y - 1.0, text, SMALL, "graphite"))
    return listed + Picture(tuple(marks))


def _foot(
    outline: Outline, pattern: LandPattern, print_: Print | None, magnification: float, schematic: bool
) -> Picture:
    """Legend, scale with its rule, and what is not to scale."""
    y = BOTTOM + 8.0
    keys: list[tuple[str, str, Stroke | None]] = [("land", "ochre", None), ("mask opening", "", MASK)]
    if print_ is not None and print_.apertures:
        keys.append(("aperture", "hatch/ink", APERTURE))
    keys += [("courtyard", "", COURTYARD), ("body", "", PHANTOM_LINE)]
    marks: list[Mark] = []
    x = MARGIN
    for word, fill, pen in keys:
        if fill == "hatch/ink":
            marks.append(rectangle((x, y - 3.2, x + 9.0, y + 0.4), "ochre"))
        marks.append(rectangle((x, y - 3.2, x + 9.0, y + 0.4), fill, pen))
        text = Text(x + 11.0, y, word, SMALL, "graphite")
        marks.append(text)
        x += 11.0 + text.width + 7.0
    low = y + 7.0
    said = Text(MARGIN, low + SMALL * MM_PER_PT + 3.0, f"Drawn {scale_text(magnification)}", SMALL, "ink", "bold")
    length = _rule_length(magnification)
    start = MARGIN + said.width + 9.0
    rule = mm_rule(length, magnification, start_text="").moved(start, low)
    unit = Text(
        start + length * magnification + 4.5, low + SMALL * MM_PER_PT + 3.0, "mm of the part", SMALL, "graphite"
    )
    notes = ["Seen in third-angle arrangement. Dimensions in mm, limits as min…max."]
    if schematic:
        notes.append(f"In the side view, {SCHEMATIC}.")
    left = unit.box[2] + 10.0
    for number, note in enumerate(notes):
        marks.append(
            Text(
                A4[0] - MARGIN,
                low + SMALL * MM_PER_PT + 3.0 - (len(notes) - 1 - number) * line_mm(SMALL),
                shortened(note, A4[0] - MARGIN - left, SMALL),
                SMALL,
                "graphite",
                anchor="end",
            )
        )
    marks.append(line([(MARGIN, BOTTOM + 2.5), (A4[0] - MARGIN, BOTTOM + 2.5)], Stroke("grid", NARROW)))
    return Picture((*marks, said, unit)) + rule


def _rule_length(magnification: float, most_paper: float = 100.0) -> float:
    """A round length of rule, in mm of the part, that is not longer than `most_paper` on paper."""
    return next(n for n in (50, 20, 10, 5, 4, 3, 2, 1) if n * magnification <= most_paper)
