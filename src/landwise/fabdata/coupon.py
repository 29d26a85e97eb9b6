"""A coupon that a trial is built on: rival packages in rows, chains through their joints, lands to probe them.

Every row holds one package, repeated. The terminals of a package's two long sides are chained: the board joins the
second to the third, the fourth to the fifth and so on, and the last of one part to the first of the next; the part
itself must join the first to the second (a daisy-chain part). Each chain ends on two lands for a probe.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely

from landwise.errors import InputError
from landwise.fabdata.gerber.writer import write_gerber
from landwise.fabdata.partfilms import FUNCTIONS, flash_of
from landwise.lands.model import Land, LandPattern
from landwise.printing.model import Print
from landwise.shapes import Geometry, Placed, rectangle

BORDER_MM = 5.0  # free all round, for the panel's rails and the depanelling cut (common practice, no source)
ROW_GAP_MM = 2.0
PART_GAP_MM = 1.0  # between courtyards of a row: rework reaches each part by itself
PROBE_MM = 1.5  # a hand-held tip finds it (common practice, no source)
MOST_TRACK_MM = 0.2


@dataclass(frozen=True)
class Row:
    """One package of a coupon: its lands, its print under each foil, and how often it stands there."""

    name: str
    pattern: LandPattern
    prints: Mapping[str, Print]
    count: int


@dataclass(frozen=True)
class Spot:
    """One part on the coupon: reference, package, middle [mm] and turn [deg]."""

    reference: str
    package: str
    x_mm: float
    y_mm: float
    turn_deg: float


@dataclass(frozen=True)
class Chain:
    """One chain: its name, the two probe lands' middles [mm], and how many joints it runs through."""

    name: str
    ends: tuple[tuple[float, float], tuple[float, float]]
    joints: int


@dataclass(frozen=True)
class Coupon:
    """A coupon as drawn.

    Parameters
    ----------
    films : mapping of str to bytes
        Gerber layers by name: copper, mask, one paste layer for each foil, outline.
    spots : tuple of Spot
    chains : tuple of Chain
    size_mm : (float, float)
        Width and height. [mm]
    """

    films: Mapping[str, bytes]
    spots: tuple[Spot, ...]
    chains: tuple[Chain, ...]
    size_mm: tuple[float, float]

    def placement_csv(self) -> str:
        """Reference, package, x, y, turn and side of every part."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["Ref", "Package", "PosX", "PosY", "Rot", "Side"])
        for one in self.spots:
            writer.writerow(
                [one.reference, one.package, f"{one.x_mm:.3f}", f"{one.y_mm:.3f}", f"{one.turn_deg:g}", "top"]
            )
        return out.getvalue()


@dataclass
class _Sheet:
    """Shapes as they are collected: (place, component, pin)."""

    copper: list[tuple[Placed, str, str]]
    mask: list[tuple[Placed, str, str]]
    paste: dict[str, list[tuple[Placed, str, str]]]


def coupon(rows: Sequence[Row], width_mm: float = 100.0) -> Coupon:
    """Draw a coupon.

    Parameters
    ----------
    rows : sequence of Row
        Printed packages; rows longer than the coupon go on in the next line.
    width_mm : float

    Raises
    ------
    InputError
        For a package that is wider than the coupon, or drilled.
    """
    foils = list(dict.fromkeys(foil for row in rows for foil in row.prints))
    sheet = _Sheet([], [], {foil: [] for foil in foils})
    spots: list[Spot] = []
    chains: list[Chain] = []
    y = BORDER_MM
    for row in rows:
        if any(land.hole_mm for land in row.pattern.lands):
            raise InputError("a drilled package has no printed joint to try", place="coupon", found=row.name)
        # Turned by a quarter, so that the sides that carry most terminals run along the row.
        length, height = row.pattern.courtyard_mm[1], row.pattern.courtyard_mm[0]
        reach = PROBE_MM + PART_GAP_MM
        room = width_mm - 2 * (BORDER_MM + reach)
        fits = int((room + PART_GAP_MM) // (length + PART_GAP_MM))
        if fits < 1:
            raise InputError("the package is wider than the coupon", found=row.name, expected=f"below {room:.1f} mm")
        left = row.count
        while left > 0:
            here = min(fits, left)
            middle = y + max(height, 2 * PROBE_MM + 0.5) / 2
            line = [
                Spot(
                    f"U{len(spots) + k + 1}",
                    row.name,
                    BORDER_MM + reach + length / 2 + k * (length + PART_GAP_MM),
                    middle,
                    90.0,
                )
                for k in range(here)
            ]
            _place(sheet, row, line)
            chains += _chained(sheet, row, line, len(chains), width_mm)
            spots += line
            left -= here
            y += max(height, 2 * PROBE_MM + 0.5) + ROW_GAP_MM
    size = (width_mm, y - ROW_GAP_MM + BORDER_MM)
    return Coupon(_films(sheet, size), tuple(spots), tuple(chains), size)


def _turned(place: Placed, spot: Spot) -> Placed:
    """A place in the package's own frame, a quarter turned and moved onto the coupon."""
    return Placed(place.shape, spot.x_mm - place.y_mm, spot.y_mm + place.x_mm, place.angle_deg + spot.turn_deg)


def _place(sheet: _Sheet, row: Row, line: Sequence[Spot]) -> None:
    for spot in line:
        for land in row.pattern.lands:
            sheet.copper.append((_turned(land.copper, spot), spot.reference, land.terminal))
            sheet.mask.append((_turned(land.opening, spot), spot.reference, land.terminal))
        for foil, printed in row.prints.items():
            for aperture in printed.apertures:
                for opening in aperture.openings:
                    sheet.paste[foil].append((_turned(opening, spot), spot.reference, aperture.terminal))


def _chained(sheet: _Sheet, row: Row, line: Sequence[Spot], before: int, width_mm: float) -> list[Chain]:
    """Tracks along both long sides of a row's parts, and their probe lands."""
    found: list[Chain] = []
    for side, lands in enumerate(_long_sides(row.pattern)):
        if len(lands) < 2:
            continue
        sides = [(land.copper.shape.length_mm, land.copper.shape.width_mm) for land in lands]
        track = min(MOST_TRACK_MM, 0.5 * min(min(both) for both in sides))
        name = f"chain {before + len(found) + 1}"
        ends: list[tuple[float, float]] = []
        last: tuple[float, float] | None = None
        for spot in line:
            at = [_middle(_turned(land.copper, spot)) for land in lands]
            if last is not None:
                _join(sheet, last, at[0], track, name)
            else:
                ends.append((BORDER_MM + PROBE_MM / 2, at[0][1]))
                _join(sheet, ends[0], at[0], track, name)
            for k in range(1, len(at) - 1, 2):
                _join(sheet, at[k], at[k + 1], track, name)
            last = at[-1]
        assert last is not None
        ends.append((min(width_mm - BORDER_MM - PROBE_MM / 2, last[0] + PART_GAP_MM + PROBE_MM), last[1]))
        _join(sheet, last, ends[1], track, name)
        middle, away = line[0].y_mm, 1 if side else -1
        for number, (x, y) in enumerate(list(ends)):
            # Two sides may lie nearer than two probe lands are wide: they step apart, away from the part's middle.
            probe = Placed(rectangle(PROBE_MM, PROBE_MM), x, middle + away * max(abs(y - middle), PROBE_MM / 2 + 0.2))
            _join(sheet, (x, y), (x, probe.y_mm), track, name)
            sheet.copper.append((probe, name, str(number + 1)))
            sheet.mask.append((probe, name, str(number + 1)))
            ends[number] = (probe.x_mm, probe.y_mm)
        found.append(Chain(name, (ends[0], ends[1]), len(lands) * len(line)))
    return found


def _long_sides(pattern: LandPattern) -> tuple[tuple[Land, ...], tuple[Land, ...]]:
    """The lands of the two sides that run along the row once the package is turned, each in the row's order.

    The first side is that below the row's middle.
    """
    xs = [land.place.x_mm for land in pattern.lands]
    edge = max(abs(x) for x in xs)
    outer = [land for land in pattern.lands if abs(abs(land.place.x_mm) - edge) < 1e-3 + 0.1 * edge]
    sides = []
    for sign in (-1, 1):
        side = [land for land in outer if land.place.x_mm * sign > 0]
        sides.append(tuple(sorted(side, key=lambda land: -land.place.y_mm)))
    return sides[0], sides[1]


def _middle(place: Placed) -> tuple[float, float]:
    return place.x_mm, place.y_mm


def _join(sheet: _Sheet, one: tuple[float, float], other: tuple[float, float], track_mm: float, name: str) -> None:
    """A track, along x first."""
    (x0, y0), (x1, y1) = one, other
    for a, b in (((x0, y0), (x1, y0)), ((x1, y0), (x1, y1))):
        length, rise = abs(b[0] - a[0]), abs(b[1] - a[1])
        if length > 1e-6 or rise > 1e-6:
            shape = rectangle(length + track_mm, rise + track_mm)
            sheet.copper.append((Placed(shape, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2), name, ""))


def _films(sheet: _Sheet, size: tuple[float, float]) -> dict[str, bytes]:
    films: dict[str, bytes] = {"copper": _film(sheet.copper, FUNCTIONS["copper"], "Positive")}
    films["mask"] = _film(sheet.mask, FUNCTIONS["mask"], "Negative")
    for foil, shapes in sheet.paste.items():
        films[f"paste-{foil}"] = _film(shapes, FUNCTIONS["paste"], "Positive")
    edge = shapely.box(0, 0, *size)
    ring: Geometry = edge.difference(edge.buffer(-0.1, join_style="mitre"))
    films["outline"] = write_gerber([ring], {".FileFunction": ("Profile", "NP"), ".FilePolarity": ("Positive",)})
    return films


def _film(shapes: Sequence[tuple[Placed, str, str]], function: tuple[str, ...], polarity: str) -> bytes:
    return write_gerber(
        [place.geometry() for place, _, _ in shapes],
        {".FileFunction": function, ".FilePolarity": (polarity,)},
        components=[component for _, component, _ in shapes],
        pins=[pin for _, _, pin in shapes],
        flashes=[flash_of(place) for place, _, _ in shapes],
    )
