"""The order sheet for the stencil maker: what to cut, from which file, and where it comes from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date

import shapely

from landwise.review.causes import causes, named, questions
from landwise.review.model import Array, Floats, Proposal
from landwise.review.reviews import Review, SideReview
from landwise.sheets.look import LIGHT
from landwise.sheets.pdf import typst_document
from landwise.untyped import Table
from landwise.version import __version__

Places = Sequence[tuple[float, float]]  # x and y of fiducials [mm]

TEMPLATE = """#set document(title: "Stencil order")
#set text(font: ("Landwise Sans", "DejaVu Sans"), size: 10pt)
#set page(paper: "a4", margin: 20mm)
#let d = json("data.json")
#text(size: 18pt, weight: 600)[Stencil order: #d.board]
#v(4pt)
#text(fill: rgb("#666666"))[#d.made]
#for s in d.sides [
  #v(8pt)
  #text(size: 12pt, weight: 600)[#s.title]
  #table(
    columns: (42mm, 1fr), stroke: none, inset: (x: 0pt, y: 3pt),
    ..s.rows.map(r => (
      text(weight: 600, r.at(0)), text(weight: if r.at(0) == "State" { 600 } else { 400 }, r.at(1))
    )).flatten(),
  )
  #if s.asks.len() > 0 [
    *Please answer before cutting*
    #for a in s.asks [- #a
    ]
  ]
]
#v(8pt)
#d.foot
"""


def order_of(
    result: Review, layers: Mapping[str, bytes], day: date, array: Array | None = None, places: Places = ()
) -> dict[str, object]:
    """The sheet as plain data.

    Parameters
    ----------
    result : Review
    layers : mapping of file name to content
        Films that go with it.
    day : date
    array : Array, optional
        The panel, where one was built.
    places : sequence of (x, y)
        Its fiducials. [mm]
    """
    return {
        "board": result.board.name,
        "made": f"{day.isoformat()}, by landwise {__version__}",
        "sides": [_side(side, result, layers, array, places) for side in result.sides],
        "foot": (
            "Order no stencil from a corrected layer that nobody has looked at. Foils, powder and step limits rest on"
            " the review that lies beside this sheet; where the maker's own practice differs, it goes first."
        ),
    }


def _side(
    side: SideReview, result: Review, layers: Mapping[str, bytes], array: Array | None, places: Places
) -> dict[str, object]:
    name = f"panel-{side.side}.gbr" if f"panel-{side.side}.gbr" in layers else f"paste-{side.side}.gbr"
    own = name in layers
    box = shapely.total_bounds(side.after.polygon)
    step = side.choice.step
    on = "a board" if side.boards == 1 else "on the panel"
    came = next((one for one in result.board.sides if one.side == side.side), None)
    file = (came.film if came is not None else "") or "the paste film as it came"
    total = hashlib.sha256(layers[name]).hexdigest() if own else came.film_sha256 if came is not None else ""
    rows = [
        ("State", _state(side, own)),
        ("Film", f"{name}, made by us from {file}" if own else f"{file}, as it came"),
        *([("SHA-256", f"{total[:32]} {total[32:]}")] if total else []),
        (
            "Changed openings",
            f"{len(side.written)} of {len(side.given.paste)}, listed in changes.csv" if own else "none",
        ),
        ("Foil", f"{_foil(side, own)}, {result.line.technology}"),
        ("Openings", f"{len(side.after)} {on}; least area ratio {_least(side, own):.2f} on this foil"),
        ("Extent", _extent(box, array if name.startswith("panel") else None)),
        ("Polarity", "positive: what is drawn is open"),
        (
            "Drawn as seen",
            "from the squeegee side of this stencil"
            if side.side == "top"
            else "from the board's top, through the board: mirror it to see the squeegee side",
        ),
        ("Panel", _panel(array if array is not None else side.array)),
        ("Fiducials", _fiducials(places)),
    ]
    if step is not None:
        zones = "; ".join(
            f"{x2 - x1:.2f} × {y2 - y1:.2f} mm from {x1:.2f}, {y1:.2f}"
            for x1, y1, x2, y2 in (zone.bounds for zone in step.zones)
        )
        stepped = f"{step.base_um:g} µm thick, {step.thin_um:g} µm within step-{side.side}.gbr: {zones}"
        rows.append(("Or a stepped foil", stepped))
        rows.append(("Its keep-outs", f"{step.keep_out_mm:.2f} mm inside, {step.keep_out_thick_mm:.2f} mm outside"))
    its = questions(causes(side), side.proposals, side.given.under.foil.technology)
    asks = list(its.get("stencil maker", ()))
    return {"title": f"{side.side.capitalize()} side", "rows": rows, "asks": asks}


def _state(side: SideReview, own: bool) -> str:
    """Whether this film may be cut, or what has to be settled first."""
    written = {change.proposal for change in side.written}
    refused = {change.proposal for change in side.changes if change.decided == "refused"}
    open_ = [one for one in side.proposals if one.number not in written | refused and one.rule != "designed"]
    asked = [one for one in open_ if one.asked]
    plain = [one for one in open_ if not one.asked]
    bits = []
    if side.given.seat:
        bits.append(f"the film is out of registration ({side.given.seat})")
    if plain:
        bits.append(f"corrections proposed and not made for {_whose(plain)}")
    if asked:
        bits.append(f"the designer's answer is open for {_whose(asked)}")
    offered = {part for one in side.proposals if one.rule != "designed" for part in one.parts}
    left = [one for one in side.findings if one.level == "fails" and one.component not in offered]
    if left and not own:
        names = tuple(dict.fromkeys(one.component for one in left if one.component))
        bits.append(f"no correction is proposed for what fails{' at ' + named(names) if names else ''}")
    if side.choice.step is not None:
        bits.append("the assembler says whether the foil is plain or stepped")
    if bits:
        return f"NOT RELEASED: {'; '.join(bits)}"
    return "for release by the assembler, once somebody has looked at the film"


def _whose(proposals: Sequence[Proposal]) -> str:
    """The parts of some proposals, a few by name."""
    parts = tuple(dict.fromkeys(part for one in proposals for part in one.parts))
    return named(parts) if parts else "openings of no part"


def _foil(side: SideReview, own: bool) -> str:
    """The foil to cut: for a film as it came, not the one that serves best only once it is corrected."""
    choice = side.choice
    cut_um = _cut_um(side, own)
    if cut_um == choice.best_um:
        return f"{cut_um:g} µm thick"
    return f"{cut_um:g} µm thick for the film as it came ({choice.best_um:g} µm once it is corrected)"


def _cut_um(side: SideReview, own: bool) -> float:
    choice = side.choice
    return choice.best_um if own or choice.uncorrected_um in choice.equal_um else choice.uncorrected_um


def _least(side: SideReview, own: bool) -> float:
    ratio = side.after.area_mm2 / side.after.wall_mm / (_cut_um(side, own) / 1000)
    return float(ratio.min()) if len(ratio) else float("inf")


def _extent(box: Floats, array: Array | None) -> str:
    """What the openings of the film take up, of all boards where a panel was built."""
    width, height = box[2] - box[0], box[3] - box[1]
    corner = f"lower left corner at {box[0]:.2f}, {box[1]:.2f} mm in the film"
    if array is None:
        return f"{width:.2f} × {height:.2f} mm; {corner}"
    wide = width + (array.columns - 1) * array.pitch_x_mm
    high = height + (array.rows - 1) * array.pitch_y_mm
    return f"{wide:.2f} × {high:.2f} mm, the openings of all boards; {corner}"


def _panel(array: Array | None) -> str:
    if array is None:
        return "one board as drawn; ask the assembler for the panel"
    return array.says(3)


def _fiducials(places: Places) -> str:
    if not places:
        return "none in these films; the assembler says which marks the printer looks at"
    listed = "; ".join(f"{x:.2f}, {y:.2f}" for x, y in places)
    return f"1.00 mm discs, half etched, not cut through, at {listed} mm (fiducials.gbr)"


def order_text(order: Table) -> str:
    """The sheet as plain text."""
    lines = [f"Stencil order: {order['board']}", order["made"], ""]
    for side in order["sides"]:
        lines.append(side["title"])
        lines += [f"  {name + ':':18} {text}" for name, text in side["rows"]]
        lines += ["  Please answer before cutting:", *(f"  - {ask}" for ask in side["asks"])] if side["asks"] else []
        lines.append("")
    return "\n".join([*lines, order["foot"], ""])


def order_pdf(order: Mapping[str, object]) -> bytes:
    """The sheet as a page."""
    return typst_document(TEMPLATE, data={**order, "colours": dict(LIGHT.colours)}, files={})
