"""A part's lands and openings as the assembly room reads them: an outline by its lands, their pattern, its print.

What a bare film does not say, the terminals, is taken from the lands: each from the land formula of the land-pattern
standard solved for the part (`terminalsizes`), a ball is its land over 0.8. That is what the board's own designer most
likely drew the lands from; it is an assumption, and pages that show levels say so. Where a file names the package the
catalogue's outline is taken instead (`catalogued`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from landwise.lands.goals import goals
from landwise.lands.model import Land, LandPattern
from landwise.outlines.model import Family, Outline, Range
from landwise.outlines.patterns import terminals
from landwise.printing.model import Aperture, Deposit, Foil, Powder, Print
from landwise.printing.paste import paste_metal_fraction, powder_verdict
from landwise.printing.release import area_ratio, aspect_ratio
from landwise.printing.transfer import release_verdict, transfer_or_none
from landwise.review.terminalsizes import NONE_KNOWN, terminal_of_land, usual
from landwise.shapes import Placed, Shape, circle, rectangle, rounded

BALL_SHARE = 0.8  # a grid's land over its ball: the usual reduction
BALL_HEIGHT = 0.75  # of a ball's diameter, before melting
OFF_PLACE = 0.3  # of the pitch: how far a land may stand off its place in the row
PULLED_MM = 0.05
FAMILY_OF: Mapping[str, Family] = MappingProxyType(
    {
        "gull-wing dual": "gull-wing dual",
        "gull-wing quad": "gull-wing quad",
        "leadless dual": "leadless dual",
        "leadless quad": "leadless quad",
        "chip": "leadless dual",
        "chip array": "leadless dual",
        "grid": "ball grid",
    }
)
SOURCE = "ipc-7351b-goals"


@dataclass(frozen=True)
class Spot:
    """A land or an opening in its part's frame: middle, sides, direction of the longer side, area. [mm, deg, mm²]"""

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    angle_deg: float
    area_mm2: float

    def placed(self) -> Placed:
        """As a shape of the same sides and area."""
        return Placed(shape_of(self.length_mm, self.width_mm, self.area_mm2), self.x_mm, self.y_mm, self.angle_deg)


@dataclass(frozen=True)
class PartRead:
    """A part read from its lands: outline, pattern, terminal of each land ("" for none), quarters it was turned by."""

    outline: Outline
    pattern: LandPattern
    terminal_of: tuple[str, ...]
    turned: int = 0


def shape_of(length_mm: float, width_mm: float, area_mm2: float) -> Shape:
    """A rectangle, rounded rectangle or circle of these sides and, as near as corners can bring it, this area.

    >>> shape_of(0.6, 0.3, 0.18).kind, shape_of(0.3, 0.3, 0.0707).kind, shape_of(0.6, 0.3, 0.17).kind
    ('rectangle', 'circle', 'rounded')
    """
    length, width = max(length_mm, width_mm), max(min(length_mm, width_mm), 1e-4)
    corner = math.sqrt(max(0.0, length * width - area_mm2) / (4 - math.pi))
    if corner > 0.47 * width and length < 1.02 * width:
        return circle(2 * math.sqrt(area_mm2 / math.pi))
    return rounded(length, width, min(corner, 0.4999 * width)) if corner > 0.01 * width else rectangle(length, width)


def read_part(kind: str, lands: Sequence[Spot], centre: Sequence[int], pitch_mm: float | None) -> PartRead | None:
    """The outline that a part's lands belong to; None where its family is not told by them.

    Parameters
    ----------
    kind : str
        What the lands look like, as in `Component`.
    lands : sequence of Spot
        In the part's frame: rows along its axes.
    centre : sequence of int
        Lands under the middle of the body.
    pitch_mm : float or None

    Examples
    --------
    >>> rows = [Spot(s * 2.9, 0.65 * (k - 1.5), 1.4, 0.35, 0.0, 0.49) for s in (-1, 1) for k in range(4)]
    >>> found = read_part("gull-wing dual", rows, (), 0.65)
    >>> found.outline.terminals, round(found.outline.foot_mm.nom, 2), found.terminal_of[0]
    (8, 0.45, '4')
    """
    family = FAMILY_OF.get(kind)
    outer = [k for k in range(len(lands)) if k not in set(centre)]
    if family is None or len(outer) < 2:
        return None
    if family == "ball grid":
        return _grid(lands, pitch_mm or 0.0)
    return _rows(kind, family, lands, outer, tuple(centre), pitch_mm)


def _rows(
    kind: str,
    family: Family,
    lands: Sequence[Spot],
    outer: Sequence[int],
    centre: tuple[int, ...],
    pitch_mm: float | None,
) -> PartRead | None:
    turned = _lies(kind, lands, outer)
    lands = [quarter_turned(one) for one in lands] if turned else lands
    sides: dict[str, list[int]] = {}
    for k in outer:
        one = lands[k]
        flat = family.endswith("dual") or _towards_x(one, lands, outer)
        side = ("left" if one.x_mm < 0 else "right") if flat else ("bottom" if one.y_mm < 0 else "top")
        sides.setdefault(side, []).append(k)
    first = lands[outer[0]]
    pitch = pitch_mm or 2 * max(min(first.length_mm, first.width_mm), 0.2)
    reach = max(
        abs(lands[k].y_mm if side in ("left", "right") else lands[k].x_mm) for side in sides for k in sides[side]
    )
    count = round(2 * reach / pitch) + 1
    places, taken = {}, {}
    for side, its in sides.items():
        along = [lands[k].y_mm if side in ("left", "right") else lands[k].x_mm for k in its]
        exact = [(count - 1) / 2 + (-v if side in ("left", "top") else v) / pitch for v in along]
        number = [round(v) for v in exact]
        off = max(abs(a - b) for a, b in zip(exact, number, strict=True))
        if off > OFF_PLACE or len(set(number)) < len(number) or not all(0 <= n < count for n in number):
            return None
        places[side] = "".join("1" if n in set(number) else "0" for n in range(count))
        taken[side] = dict(zip(number, its, strict=True))
    if "left" not in sides and "right" not in sides:
        return None
    outline = _outline(kind, family, lands, sides, places, pitch)
    pad = lands[centre[0]] if len(centre) == 1 else None
    if pad is not None:
        across = _quarter(pad.angle_deg)
        size = (pad.width_mm, pad.length_mm) if across == 0 else (pad.length_mm, pad.width_mm)
        outline = Outline(
            **{**outline.__dict__, "exposed_length_mm": Range.exact(size[0]), "exposed_width_mm": Range.exact(size[1])}
        )
    terminal_of, made = [""] * len(lands), []
    numbers = terminals(outline)
    order: dict[str, list[int]] = {side: [taken[side][n] for n in sorted(taken[side])] for side in taken}
    for side, its in order.items():
        own = [terminal for terminal in numbers if terminal.side == side]
        for k, terminal in zip(its, own, strict=True):
            terminal_of[k] = terminal.number
            made.append(spot_land(terminal.number, lands[k], terminal.outward_deg))
    if pad is not None:
        terminal_of[centre[0]] = "EP"
        made.append(spot_land("EP", pad, 90.0))
    return PartRead(outline, pattern_of(outline.name, made), tuple(terminal_of), int(turned))


def _lies(kind: str, lands: Sequence[Spot], outer: Sequence[int]) -> bool:
    """Whether a dual's rows lie above each other instead of at the left and the right."""
    if kind.endswith("quad"):
        return False
    if kind == "chip":
        return abs(lands[outer[0]].y_mm) > abs(lands[outer[0]].x_mm)
    slender = [lands[k] for k in outer if lands[k].length_mm > 1.05 * lands[k].width_mm]
    return sum(_quarter(one.angle_deg) for one in slender) * 2 > len(slender)


def quarter_turned(one: Spot) -> Spot:
    """A spot seen from a frame a quarter further, counterclockwise."""
    return Spot(one.y_mm, -one.x_mm, one.length_mm, one.width_mm, (one.angle_deg + 90) % 180, one.area_mm2)


def _quarter(angle_deg: float) -> int:
    """0 for a direction nearer x, 1 for one nearer y."""
    return int(45 < angle_deg % 180 < 135)


def _towards_x(one: Spot, lands: Sequence[Spot], outer: Sequence[int]) -> bool:
    if one.length_mm > 1.05 * one.width_mm:
        return _quarter(one.angle_deg) == 0
    wide = max(abs(lands[k].x_mm) for k in outer)
    tall = max(abs(lands[k].y_mm) for k in outer)
    return abs(one.x_mm) / max(wide, 1e-9) > abs(one.y_mm) / max(tall, 1e-9)


def _form(kind: str, pitch: float, length: float) -> str:
    if kind.startswith("gull-wing"):
        return "gull-wing" if pitch > 0.625 else "gull-wing fine"
    if kind.startswith("chip"):
        return "chip" if length > 0.75 else "small chip"
    return "leadless"


def _outline(
    kind: str,
    family: Family,
    lands: Sequence[Spot],
    sides: Mapping[str, list[int]],
    places: Mapping[str, str],
    pitch: float,
) -> Outline:
    def outward(k: int, side: str) -> tuple[float, float, float]:
        one = lands[k]
        flat = side in ("left", "right")
        along_x = _quarter(one.angle_deg) == 0
        out = one.length_mm if along_x == flat else one.width_mm
        return abs(one.x_mm if flat else one.y_mm), out, one.length_mm + one.width_mm - out

    spans: dict[str, tuple[float, float, float]] = {}
    for side, its in sides.items():
        places_, outs, wides = zip(*(outward(k, side) for k in its), strict=True)
        spans[side] = (max(places_), sorted(outs)[len(outs) // 2], sorted(wides)[len(wides) // 2])
    middle, out, wide = spans.get("left") or spans["right"]
    goal = goals(_form(kind, pitch, out))
    count = sum(len(its) for its in sides.values())
    lone = max(len(its) for its in sides.values()) == 1
    its_usual = NONE_KNOWN if kind.startswith("chip") else usual(family, round(pitch, 3))
    read = terminal_of_land(middle, out, wide, goal, its_usual, None if lone else pitch)
    foot, tip = read.foot_mm, read.span_mm
    above = next((spans[side] for side in ("top", "bottom") if side in spans), None)
    tall = (
        terminal_of_land(*above, goal, its_usual, pitch).span_mm
        if above
        else max(len(next(iter(places.values()))) * pitch, wide)
    )
    leaded = family.startswith("gull-wing")
    inner = max(tip - 2 * foot - 0.4, 0.3) if leaded else tip
    upright = max(tall - 2 * foot - 0.4, 0.3) if leaded and above else tall
    return Outline(
        name=f"{kind} {count}",
        family=family,
        terminals=count,
        pitch_mm=pitch,
        body_length_mm=Range.exact(upright),
        body_width_mm=Range.exact(inner),
        height_mm=Range.exact(0.5),
        terminal_width_mm=Range.exact(min(read.width_mm, 0.95 * pitch)),
        mark="assumption",
        sources=(SOURCE,),
        span_mm=Range.exact(tip),
        span_length_mm=Range.exact(tall) if above else None,
        foot_mm=Range.exact(foot),
        terminal_thickness_mm=Range.exact(its_usual.thick_mm),
        standoff_mm=Range.exact(its_usual.standoff_mm),
        sides=MappingProxyType(dict(places)),
    )


def _grid(lands: Sequence[Spot], pitch: float) -> PartRead | None:
    if pitch <= 0:
        return None
    across = [one.x_mm for one in lands]
    along = [one.y_mm for one in lands]
    columns, rows = round((max(across) - min(across)) / pitch) + 1, round((max(along) - min(along)) / pitch) + 1
    letters = "ABCDEFGHJKLMNPRTUVWY"
    if not 0 < rows <= len(letters):
        return None
    named: dict[str, int] = {}
    for k, one in enumerate(lands):
        column, row = round((one.x_mm - min(across)) / pitch), round((max(along) - one.y_mm) / pitch)
        named.setdefault(f"{letters[row]}{column + 1}", k)
    if len(named) < len(lands):
        return None
    size = sorted(one.width_mm for one in lands)[len(lands) // 2]
    ball = size / BALL_SHARE
    every = [f"{letters[row]}{column + 1}" for row in range(rows) for column in range(columns)]
    outline = Outline(
        name=f"grid {len(lands)}",
        family="ball grid",
        terminals=len(lands),
        pitch_mm=pitch,
        body_length_mm=Range.exact(rows * pitch),
        body_width_mm=Range.exact(columns * pitch),
        height_mm=Range.exact(1.0),
        terminal_width_mm=Range.exact(ball),
        mark="assumption",
        sources=(SOURCE,),
        standoff_mm=Range.exact(BALL_HEIGHT * ball),
        columns=columns,
        rows=rows,
        absent=tuple(name for name in every if name not in named),
        package_land_mm=Range.exact(size),
    )
    terminal_of = [""] * len(lands)
    made = []
    for name, k in named.items():
        terminal_of[k] = name
        made.append(spot_land(name, lands[k], lands[k].angle_deg))
    return PartRead(outline, pattern_of(outline.name, made), tuple(terminal_of))


def spot_land(terminal: str, one: Spot, outward_deg: float) -> Land:
    """A land whose length runs outward."""
    along = _quarter(one.angle_deg) == _quarter(outward_deg)
    shape = shape_of(one.length_mm, one.width_mm, one.area_mm2)
    if not along and shape.kind != "circle":
        shape = Shape(shape.kind, one.width_mm, one.length_mm, shape.corner_mm)
    place = Placed(shape, one.x_mm, one.y_mm, outward_deg)
    return Land(terminal, place, place, place)


def pattern_of(name: str, lands: Sequence[Land]) -> LandPattern:
    """Lands as they lie on the board."""
    return LandPattern(name, "read", "nominal", tuple(lands), (0.0, 0.0), 0.0, 0.0)


def apertures_of(read: PartRead, spots: Sequence[Sequence[Spot]], land_area: Sequence[float]) -> tuple[Aperture, ...]:
    """The openings of each land in the order of the part's terminals; lands without openings are left out.

    Parameters
    ----------
    read : PartRead
    spots : sequence of sequences of Spot
        Openings of each land, in the order of the part's lands.
    land_area : sequence of float
        [mm²]
    """
    apertures = []
    for name, its, area in zip(read.terminal_of, spots, land_area, strict=True):
        if not name or not its:
            continue
        own = list(its)
        for _ in range(read.turned):
            own = [quarter_turned(one) for one in own]
        apertures.append(Aperture(name, tuple(one.placed() for one in own), area))
    order = {one.number: k for k, one in enumerate(terminals(read.outline))}
    return tuple(sorted(apertures, key=lambda one: order[one.terminal]))


def printed(apertures: tuple[Aperture, ...], foil: Foil, powder: Powder) -> Print:
    """What the openings of a part leave under one foil."""
    metal = paste_metal_fraction(powder, "sac305")
    deposits = tuple(_deposit(aperture, foil, powder, metal) for aperture in apertures)
    least = min((one.area_ratio for one in deposits), default=math.inf)
    return Print(foil, powder, apertures, deposits, least, "holds", "")


def _deposit(opening: Aperture, foil: Foil, powder: Powder, metal: float) -> Deposit:
    # The weakest opening of an aperture decides its release; panes are equal, so one stands for all.
    shape = min((one.shape for one in opening.openings), key=lambda s: area_ratio(s, foil.thickness_um))
    ratio = area_ratio(shape, foil.thickness_um)
    band = transfer_or_none(ratio, foil.technology, powder)
    full = opening.area_mm2 * foil.thickness_um / 1000
    return Deposit(
        terminal=opening.terminal,
        area_ratio=ratio,
        aspect_ratio=aspect_ratio(shape, foil.thickness_um),
        transfer=band,
        paste_mm3=full * band.mean,
        paste_low_mm3=full * band.low,
        paste_high_mm3=full * band.high,
        paste_sd_mm3=full * band.sd,
        solder_mm3=full * band.mean * metal,
        verdict=release_verdict(band),
        powder_verdict=powder_verdict(1000 * min(shape.length_mm, shape.width_mm), powder),
        wet_height_um=foil.thickness_um * band.mean,
        solder_height_um=full * band.mean * metal / opening.land_area_mm2 * 1000,
    )
