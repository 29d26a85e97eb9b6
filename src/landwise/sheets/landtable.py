"""The rows of a land-pattern table: one a land, or one a run of equal, evenly spaced lands where there are many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from landwise.lands.model import Land, LandPattern
from landwise.printing.model import Print
from landwise.shapes import Placed, Shape
from landwise.sheets.marks import mm_text

Openings = Mapping[str, tuple[Placed, ...]]


def signed(value: float) -> str:
    """A coordinate with a true minus sign.

    >>> signed(-1.27), signed(-0.0)
    ('−1.27', '0.00')
    """
    text = mm_text(abs(value))
    return f"−{text}" if round(value, 4) < 0 else text


def shape_text(shape: Shape) -> str:
    """Size of a land or aperture: length × width, or a diameter.

    >>> from landwise.shapes import circle, rectangle
    >>> shape_text(rectangle(1.5, 0.6)), shape_text(circle(0.25))
    ('1.50 × 0.60', 'Ø 0.25')
    """
    if shape.kind == "circle":
        return f"Ø {mm_text(shape.length_mm)}"
    return f"{mm_text(shape.length_mm)} × {mm_text(shape.width_mm)}"


@dataclass(frozen=True)
class LandRow:
    """One land, or a run of them, in words."""

    terminal: str
    x: str
    y: str
    land: str
    aperture: str
    hole: str

    def cells(self, *, aperture: bool, hole: bool) -> tuple[str, ...]:
        """Those of the cells that the table shows."""
        shown = [self.terminal, self.x, self.y, self.land]
        shown += [self.aperture] if aperture else []
        return (*shown, *([self.hole] if hole else []))


def land_rows(pattern: LandPattern, print_: Print | None, *, explicit: bool = True) -> tuple[LandRow, ...]:
    """Rows for every land of a pattern, in terminal order: one a land, or one a run of equal lands."""
    openings = {aperture.terminal: aperture.openings for aperture in print_.apertures} if print_ else {}
    rows = []
    for run in [[land] for land in pattern.lands] if explicit else _runs(pattern.lands, openings):
        first, last = run[0], run[-1]
        opened = openings.get(first.terminal, ())
        size = shape_text(opened[0].shape) if opened else "none"
        rows.append(
            LandRow(
                terminal=first.terminal if len(run) == 1 else f"{first.terminal}…{last.terminal}",
                x=_along(first.place.x_mm, last.place.x_mm),
                y=_along(first.place.y_mm, last.place.y_mm),
                land=shape_text(first.place.shape),
                aperture=f"{len(opened)} of {size}" if len(opened) > 1 else size,
                hole="" if first.hole_mm is None else f"Ø {mm_text(first.hole_mm)}",
            )
        )
    return tuple(rows)


def _along(first: float, last: float) -> str:
    return signed(first) if abs(first - last) < 5e-4 else f"{signed(first)}…{signed(last)}"


def _runs(lands: Sequence[Land], openings: Openings) -> list[list[Land]]:
    """Consecutive lands of one shape, direction and step."""
    runs: list[list[Land]] = []
    for land in lands:
        run = runs[-1] if runs else []
        if run and _alike(run[-1], land, openings) and _in_step(run, land):
            run.append(land)
        else:
            runs.append([land])
    return runs


def _alike(one: Land, other: Land, openings: Openings) -> bool:
    def shown(land: Land) -> tuple[object, ...]:
        opened = openings.get(land.terminal, ())
        return (
            shape_text(land.place.shape),
            land.place.angle_deg,
            land.hole_mm,
            len(opened),
            shape_text(opened[0].shape) if opened else "",
        )

    return shown(one) == shown(other)


def _in_step(run: Sequence[Land], land: Land) -> bool:
    dx, dy = land.place.x_mm - run[-1].place.x_mm, land.place.y_mm - run[-1].place.y_mm
    if len(run) == 1:
        return min(abs(dx), abs(dy)) < 5e-4
    px, py = run[-1].place.x_mm - run[-2].place.x_mm, run[-1].place.y_mm - run[-2].place.y_mm
    return abs(dx - px) < 5e-4 and abs(dy - py) < 5e-4


def mask_text(pattern: LandPattern) -> str:
    """One sentence about the mask's openings."""
    if all(land.mask_defined for land in pattern.lands):
        return "Lands are mask-defined: sizes are those of the mask's openings."
    margins = {
        round((land.opening.shape.length_mm - land.place.shape.length_mm) / 2, 3)
        for land in pattern.lands
        if not land.mask_defined
    }
    low, high = min(margins), max(margins)
    size = mm_text(low) if low == high else f"{mm_text(low)} to {mm_text(high)}"
    return f"Mask openings stand back {size} mm from the copper."
