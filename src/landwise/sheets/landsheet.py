"""The land-pattern drawing: one A4 sheet with the part, its side, its bare lands, and the table of lands."""

from __future__ import annotations

import math
from collections.abc import Sequence

from landwise.lands.model import Land, LandPattern
from landwise.outlines.model import GRIDS, LEADED, Outline, Range, Terminal
from landwise.outlines.patterns import terminals, tip_to_tip
from landwise.printing.model import Print
from landwise.sheets.dimensions import Dimensioned, Tracks
from landwise.sheets.landtable import LandRow, land_rows, mask_text
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
from landwise.sheets.section import NOTE, section_of, weakest
from landwise.sheets.svg import Mark, Picture, Text, joined, line, rectangle, write_svg
from landwise.sheets.table import ROW_MM, table

A4 = (297.0, 210.0)
MARGIN = 10.0
TOP, BOTTOM = 31.0, 178.0  # of the views and the table; the legend and the rule stand below
BETWEEN = 9.0
CAPTION = 5.0
LEAST_NOTE_MM = 66.0  # width of the notes below a narrow table
SHIFT = 0.3  # an extension line begins this much nearer than its usual gap to a numeral
SCALES = (50.0, 40.0, 30.0, 25.0, 20.0, 15.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0)
SECTION_SCALES = (100.0, 80.0, 60.0, 50.0, 40.0, 30.0, 25.0, 20.0, 15.0)
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
    part, bare, magnification = _fitted(outline, pattern, print_, solder, room)
    listing = listing.moved(A4[0] - MARGIN - listing.width, TOP)
    section = Picture()
    if print_ is not None and print_.apertures:
        section = _section(pattern, print_, part, bare, listing)
    foot = _foot(print_, magnification, solder is None)
    return joined([_title(outline, pattern, print_), part, bare, section, listing, foot])


def _section(pattern: LandPattern, print_: Print, part: Picture, bare: Picture, listing: Picture) -> Picture:
    """The print of the weakest terminal in section, where the sheet has a free corner for it."""
    terminal = weakest(print_)
    left = max(bare.box[0], part.box[2] + BETWEEN) if part.box[3] > bare.box[3] + 20 else bare.box[0]
    corners = (
        (left, max(bare.box[3], listing.box[3]), A4[0] - MARGIN),
        (left, bare.box[3], listing.box[0] - BETWEEN),
        (bare.box[2] + BETWEEN, listing.box[3], A4[0] - MARGIN),
    )
    for magnification in SECTION_SCALES:
        drawn = section_of(pattern, print_, terminal, magnification=magnification)
        caption = f"Print of terminal {terminal} in section, drawn {scale_text(magnification)}"
        whole = _captioned(drawn, caption)
        for x, y, right in corners:
            if whole.width <= right - x and whole.height + 8.0 <= BOTTOM - y:
                return whole.moved(x - whole.box[0], y + 8.0 - whole.box[1])
    return Picture()


def _fitted(
    outline: Outline, pattern: LandPattern, print_: Print | None, solder: SolderProfile | None, room: float
) -> tuple[Picture, Picture, float]:
    """Both columns of views in their places, at the largest scale that leaves them apart."""
    tall = BOTTOM - TOP
    for magnification in SCALES:
        widest = 2 * pattern.courtyard_mm[0] * magnification + BETWEEN
        if (widest > room or pattern.courtyard_mm[1] * magnification > tall) and magnification > SCALES[-1]:
            continue
        bare = _bare_column(outline, pattern, print_, magnification)
        part = _part_column(outline, pattern, print_, solder, magnification, level=False)
        if part.height > tall:  # figures beside their lines need width instead of height
            part = _part_column(outline, pattern, print_, solder, magnification, level=True)
        spare = room - part.width - bare.width
        if (spare >= BETWEEN and max(part.height, bare.height) <= tall) or magnification == SCALES[-1]:
            gap = min(spare / 3, 16.0)
            left = MARGIN + (spare - gap) / 2 if spare > 0 else MARGIN
            return (
                part.moved(left - part.box[0], TOP - part.box[1]),
                bare.moved(left + part.width + gap - bare.box[0], TOP - bare.box[1]),
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
    *,
    level: bool,
) -> Picture:
    above = _captioned(_part_view(outline, pattern, print_, magnification), "Part on its lands, from above")
    seen = side_view(outline, pattern, print_, magnification=magnification, solder=solder)
    side = _captioned(_side_dimensions(outline, seen, magnification, level=level), "From the side")
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
    half = span.nom / 2 * m
    if "left" in rows and "right" in rows:
        one, other = ((-rows[side][0].y_mm - rows[side][0].width_mm / 2) * m for side in ("left", "right"))
        view.above.add(-half, half, (one, other), range_text(span))
    if "top" in rows and "bottom" in rows:
        one, other = ((rows[side][0].x_mm - rows[side][0].width_mm / 2) * m for side in ("top", "bottom"))
        view.left.add(-half, half, (one, other), range_text(span))


def _side_dimensions(outline: Outline, seen: SideView, m: float, *, level: bool) -> Picture:
    view = Dimensioned(seen.picture)
    view.left.level = view.right.level = level
    view.right.add(seen.top, seen.seat, (seen.half_body, seen.half_span), range_text(outline.height_mm))
    if outline.standoff_mm.max > 0:
        edge = -seen.half_body
        view.left.add(seen.underside, seen.seat, (edge, -seen.half_span), range_text(outline.standoff_mm))
    if outline.drilled and outline.foot_mm is not None:
        tip = seen.seat + outline.foot_mm.nom * m
        tracks, edge = (view.right, seen.half_span) if level else (view.left, -seen.half_span)
        tracks.add(seen.seat, tip, edge, range_text(outline.foot_mm))
    return view.picture()


def _bare_column(outline: Outline, pattern: LandPattern, print_: Print | None, m: float) -> Picture:
    view = Dimensioned(top_view(outline, pattern, print_, magnification=m, layers=BARE))
    half_x, half_y = (side / 2 * m for side in pattern.courtyard_mm)
    view.below.add(-half_x, half_x, half_y, mm_text(pattern.courtyard_mm[0]))
    view.left.add(-half_y, half_y, -half_x, mm_text(pattern.courtyard_mm[1]))
    places = {land.terminal: land for land in pattern.lands}
    rows = {
        side: [places[t.number] for t in row if t.number in places]
        for side, row in _by_side(terminals(outline)).items()
    }
    if outline.family in GRIDS:
        _grid_dimensions(view, rows["grid"], m)
    # Extension lines begin outside the numerals, so that none is struck through.
    clear = view.view.box
    if rows.get("left") and rows.get("right"):
        left, right = rows["left"], rows["right"]
        near = (-left[0].place.box[3] * m, -right[0].place.box[3] * m)
        _across(view.above, left[0].place.x_mm * m, right[0].place.x_mm * m, near, m)
        _across(view.above, left[0].place.box[0] * m, right[0].place.box[2] * m, near, m)
        x1, low, x2, _ = left[-1].place.box
        _across(view.below, x1 * m, x2 * m, -low * m if "bottom" not in rows else clear[3] - SHIFT, m)
        _, low, _, high = right[-1].place.box
        _across(view.right, -high * m, -low * m, clear[2] - SHIFT, m)
        if len(right) > 1:
            _across(view.right, -right[-2].place.y_mm * m, -right[-1].place.y_mm * m, clear[2] - SHIFT, m)
        elif len(left) > 1:
            _across(view.left, -left[-2].place.y_mm * m, -left[-1].place.y_mm * m, clear[0] + SHIFT, m)
    if rows.get("top") and rows.get("bottom"):
        top, bottom = rows["top"][-1].place, rows["bottom"][-1].place
        near = (top.box[2] * m, bottom.box[2] * m)
        _across(view.right, -top.y_mm * m, -bottom.y_mm * m, near, m)
        _across(view.right, -top.box[3] * m, -bottom.box[1] * m, near, m)
        if len(rows["top"]) > 1:
            one, other = rows["top"][0].place.x_mm * m, rows["top"][1].place.x_mm * m
            _across(view.above, one, other, clear[1] + SHIFT, m)
    caption = "Lands, mask openings and apertures" if print_ and print_.apertures else "Lands and mask openings"
    return _captioned(view.picture(), caption)


def _across(tracks: Tracks, start: float, end: float, near: float | tuple[float, float], m: float) -> None:
    tracks.add(start, end, near, mm_text(abs(end - start) / m))


def _grid_dimensions(view: Dimensioned, balls: Sequence[Land], m: float) -> None:
    """Pitch and whole extent of a grid, both ways."""
    xs, ys = (
        {round(at, 6) for at in places} for places in zip(*((b.place.x_mm, b.place.y_mm) for b in balls), strict=True)
    )
    clear = view.view.box
    for places, tracks, near in (
        ([x * m for x in sorted(xs)], view.above, clear[1] + SHIFT),
        ([-y * m for y in sorted(ys, reverse=True)], view.right, clear[2] - SHIFT),
    ):
        if len(places) > 1:
            _across(tracks, places[-2], places[-1], near, m)
            _across(tracks, places[0], places[-1], near, m)


def _by_side(all_terminals: Sequence[Terminal]) -> dict[str, list[Terminal]]:
    rows: dict[str, list[Terminal]] = {}
    for terminal in all_terminals:
        rows.setdefault(terminal.side, []).append(terminal)
    for side, row in rows.items():
        row.sort(key=lambda t: -t.y_mm if side in ("left", "right") else t.x_mm)
    return rows


def _title(outline: Outline, pattern: LandPattern, print_: Print | None) -> Picture:
    style = STYLE_WORDS.get(pattern.style, pattern.style)
    if outline.family in GRIDS and pattern.style == "goals":
        style = "lands by ball diameter"
    elif outline.drilled:
        style = f"lands by lead and hole, level {pattern.level}"
    elif pattern.style == "goals":
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
    """The table of lands with its notes: land by land if that fits the sheet, else by runs of equal lands."""
    for explicit in (True, False):
        listing = _listed(pattern, print_, land_rows(pattern, print_, explicit=explicit), 0)
        if listing.height <= BOTTOM - TOP:
            return listing
    rows = land_rows(pattern, print_, explicit=False)
    over = math.ceil((listing.height + line_mm(SMALL) - (BOTTOM - TOP)) / ROW_MM)
    return _listed(pattern, print_, rows[: len(rows) - over], over)


def _listed(pattern: LandPattern, print_: Print | None, rows: Sequence[LandRow], left_out: int) -> Picture:
    printed = print_ is not None and bool(print_.apertures)
    equal = printed and all(row.aperture == row.land for row in rows)
    apertures = printed and not equal
    head = ["Terminal", "x", "y", "Land", *(["Aperture"] if apertures else [])]
    head += ["Hole"] if pattern.drilled else []
    cells = [row.cells(aperture=apertures, hole=pattern.drilled) for row in rows]
    listed = table(head, cells, "lrr" + "r" * (len(head) - 3))
    notes = [f"{left_out} more rows are in the table file."] if left_out else []
    notes += [
        "Places in mm from the body's middle, seen from above. Sizes in mm: outward length × width.",
        mask_text(pattern),
    ]
    if equal:
        notes.append("Every aperture is its land's size.")
    if any(land.place.shape.kind == "polygon" for land in pattern.lands):
        notes.append("Lands with a cut corner are given by their box.")
    y = listed.box[3] + 2.0
    marks: list[Mark] = []
    for note in notes:
        for text in wrapped(note, max(listed.width, LEAST_NOTE_MM), SMALL):
            y += line_mm(SMALL)
            marks.append(Text(0.0, y - 1.0, text, SMALL, "graphite"))
    return listed + Picture(tuple(marks))


def _foot(print_: Print | None, magnification: float, schematic: bool) -> Picture:
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
    if print_ is not None and print_.apertures:
        notes.append(NOTE)
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


def _rule_length(magnification: float, most_paper: float = 85.0) -> float:
    """A round length of rule, in mm of the part, that is not longer than `most_paper` on paper."""
    return next(n for n in (50, 20, 10, 5, 4, 3, 2, 1) if n * magnification <= most_paper)
