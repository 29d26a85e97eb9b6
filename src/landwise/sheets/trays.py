"""Today's parts and the chosen ones on two trays at one scale, each in its courtyard: what the board would save."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from landwise.judging.results import OptionResult
from landwise.sheets.lettering import line_mm, width_mm
from landwise.sheets.look import BODY, COURTYARD, HEAVY, SMALL, TEXT, THIN, Stroke
from landwise.sheets.marks import mm_rule, scale_text
from landwise.sheets.plan import Layer, top_view
from landwise.sheets.svg import Mark, Picture, Text, joined, line, rectangle, write_svg

Draw = Callable[[Hashable, object, Callable[[], Picture]], Picture]
PX_PER_MM = 96 / 25.4  # the screen's unit, exact by definition
SCALES = (20.0, 15.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
LAYERS: tuple[Layer, ...] = ("land", "hole", "terminal", "body", "courtyard", "first")
HIGHEST_MM = 100.0  # of a tray, on paper
BETWEEN_MM = 9.0  # trays
GAP_MM = 1.4  # between parts
MOST_APART = 120  # parts drawn one by one; beyond it each kind once, with how many there are
MOST_DETAILED = 60  # parts drawn with their lands
LINE_MM = line_mm(SMALL)


@dataclass(frozen=True)
class Item:
    """One place of the board: its reference and its part."""

    label: str
    option: OptionResult

    def size_mm(self, m: float) -> tuple[float, float]:
        """Room on paper, its label included."""
        width, height = self.option.geometry.pattern.courtyard_mm
        return max(width * m, width_mm(self.label, SMALL)), height * m + LINE_MM


@dataclass(frozen=True)
class Tray:
    """Parts side by side: a title, what they take of the board, and that as a share of today's."""

    title: str
    area: str
    share: float
    items: Sequence[Item]


def items_of(parts: Sequence[tuple[Sequence[str], OptionResult]]) -> list[Item]:
    """Every place of every part; of a crowded board each kind of part once."""
    if sum(len(refs) for refs, _ in parts) <= MOST_APART:
        return [Item(ref, option) for refs, option in parts for ref in refs]
    return [Item(refs[0] if len(refs) == 1 else f"{refs[0]} ×{len(refs)}", option) for refs, option in parts]


def trays_svg(
    trays: Sequence[Tray],
    room_px: float,
    draw: Draw,
    prefix: str = "trays",
    title: str = "Parts today and after, at one scale",
) -> tuple[str, str]:
    """Trays side by side, and their common scale in words.

    Parameters
    ----------
    trays : sequence of Tray
    room_px : float
        Width of the whole. [px]
    draw : callable
        Keeps the drawing of a part.
    """
    wide = (room_px / PX_PER_MM - BETWEEN_MM * (len(trays) - 1)) / len(trays)
    m = _scale(trays, wide)
    pictures = [
        _tray(tray, wide, m, draw).moved(number * (wide + BETWEEN_MM), 0.0) for number, tray in enumerate(trays)
    ]
    low = max(picture.box[3] for picture in pictures) + 4.0
    rule = min(_round_length(0.7 * wide / m), 1000.0)
    inset = width_mm("0", SMALL) / 2  # so that the rule's first number ends where the trays do
    pictures.append(mm_rule(rule, m).moved(inset, low))
    pictures.append(Picture((Text(inset + rule * m + 2.5, low + LINE_MM - 0.6, "mm", SMALL, "graphite"),)))
    picture = joined(pictures)
    box = (-0.8, 0.0, len(trays) * (wide + BETWEEN_MM) - BETWEEN_MM + 0.8, picture.box[3] + 0.8)
    said = "; ".join(f"{tray.title}: {', '.join(f'{i.label} {i.option.name}' for i in tray.items)}" for tray in trays)
    return write_svg(picture, box, title=title, description=said, prefix=prefix), scale_text(m)


def _round_length(least: float) -> float:
    return max((step for step in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0) if step <= least), default=1.0)


def _scale(trays: Sequence[Tray], wide: float) -> float:
    for m in SCALES:
        widest = max((item.size_mm(m)[0] for tray in trays for item in tray.items), default=0.0)
        if widest <= wide and all(_places(tray.items, wide, m)[1] <= HIGHEST_MM for tray in trays):
            return m
    return SCALES[-1]


def _places(items: Sequence[Item], wide: float, m: float) -> tuple[list[tuple[Item, float, float]], float]:
    """Parts in rows, the tallest first: middle of each courtyard's upper edge, and the height of all."""
    placed, x, y, tall = [], 0.0, 0.0, 0.0
    for item in sorted(items, key=lambda one: -one.option.geometry.pattern.courtyard_mm[1]):
        width, height = item.size_mm(m)
        if x and x + width > wide:
            x, y, tall = 0.0, y + tall + GAP_MM, 0.0
        placed.append((item, x + width / 2, y))
        x, tall = x + width + GAP_MM, max(tall, height)
    return placed, y + tall


def _tray(tray: Tray, wide: float, m: float, draw: Draw) -> Picture:
    base = line_mm(TEXT)
    top = base + 4.5
    marks: list[Mark] = [
        Text(0.0, base - 1.0, tray.title, TEXT, font="bold"),
        Text(width_mm(tray.title, TEXT, "bold") + 2.5, base - 1.0, tray.area, TEXT, "graphite"),
        line([(0.0, base + 1.6), (wide, base + 1.6)], THIN),
    ]
    if tray.share > 0:
        marks.append(line([(0.0, base + 1.6), (wide * min(tray.share, 1.0), base + 1.6)], Stroke("ink", HEAVY)))
    placed, _ = _places(tray.items, wide, m)
    pictures = [Picture(tuple(marks))]
    for item, x, y in placed:
        height = item.option.geometry.pattern.courtyard_mm[1] * m
        pictures.append(_part(item.option, m, len(placed), draw).moved(x, top + y + height / 2))
        label = Text(x, top + y + height + LINE_MM - 1.2, item.label, SMALL, "ink", anchor="middle")
        pictures.append(Picture((label,)))
    return joined(pictures)


def _part(option: OptionResult, m: float, count: int, draw: Draw) -> Picture:
    geometry = option.geometry
    if count <= MOST_DETAILED:
        return draw(
            ("tray", m),
            geometry.pattern,
            lambda: top_view(geometry.outline, geometry.pattern, None, magnification=m, layers=LAYERS),
        )
    width, height = geometry.pattern.courtyard_mm
    body_w, body_l = geometry.outline.body_width_mm.nom * m / 2, geometry.outline.body_length_mm.nom * m / 2
    return Picture(
        (
            rectangle((-width * m / 2, -height * m / 2, width * m / 2, height * m / 2), "", COURTYARD),
            rectangle((-body_w, -body_l, body_w, body_l), "body", BODY),
        )
    )
